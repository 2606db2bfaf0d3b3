"""Hypothesis strategies for facts of every kind, made from what their fields may hold."""

from __future__ import annotations

import types
import typing
from datetime import datetime, timedelta, timezone
from enum import StrEnum
from typing import Any
from uuid import UUID

from hypothesis import strategies as st

from splicewright.quantities import POLICY, Kind, read
from splicewright.store import Correction, Fact, Stream, What
from splicewright.store.facts.job_facts import Gap, PlanId, ValueRecorded
from splicewright.store.facts.joint_facts import (
    HINGED,
    SOLID,
    Bolts,
    Construction,
    Part,
    PhotoAdded,
    ReadingTaken,
    WearLimitSet,
)
from splicewright.store.facts.kinds import KINDS, Amount, Digest, Moment, Name, Number, Text, Words
from splicewright.store.facts.photo_facts import PhotographMeasured, ToMeasure, ValueTaken

_LETTERS = st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"))
NAMES = st.text(_LETTERS, min_size=1, max_size=120).filter(str.strip)
TEXTS = st.text(_LETTERS | st.sampled_from("\n\t"), max_size=300)
ZONES = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
MOMENTS = st.datetimes(datetime(1900, 1, 2), datetime(2199, 12, 30)).flatmap(
    lambda t: ZONES.map(lambda z: t.replace(tzinfo=z))
)
_EXACT: list[tuple[Any, st.SearchStrategy[Any]]] = [
    (Name, NAMES),
    (Text, TEXTS),
    (Words, NAMES),
    (Digest, st.text("0123456789abcdef", min_size=64, max_size=64)),
    (Number, st.floats(allow_nan=False, allow_infinity=False)),
    (Amount, st.floats(0, 1e9)),
    (Part, st.floats(0, 1)),
    (Bolts, st.integers(0, 100)),
    (Moment, MOMENTS),
    (UUID, st.uuids()),
    (bool, st.booleans()),
]


def _field(hint: Any) -> st.SearchStrategy[Any]:
    for exact, strategy in _EXACT:
        if hint == exact:
            return strategy
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return st.sampled_from(list(hint))
    if typing.get_origin(hint) in {types.UnionType, typing.Union}:
        return st.one_of(
            *(st.none() if h is type(None) else _field(h) for h in typing.get_args(hint))
        )
    if hint == Construction:
        return st.sampled_from(["", HINGED, SOLID, "vulcanised step"])
    if hint == PlanId:
        return st.from_regex(r"\A[A-Za-z0-9]{0,20}\Z")
    if typing.get_origin(hint) is typing.Annotated and typing.get_args(hint)[0] is int:
        return st.integers(1, 1000)
    if typing.get_args(hint)[:1] == (tuple[Gap, ...],):
        how = st.sampled_from(["missing", "too small", "too large"])
        gap = st.builds(Gap, st.sampled_from(["Belt thickness", "Torque"]), st.integers(0, 5), how)
        return st.lists(gap, max_size=3).map(tuple)
    if hint is ToMeasure:
        shows, end = st.sampled_from(["cut", "plates"]), st.sampled_from(["leading", "trailing"])
        bars = st.floats(0.1, 0.3)
        return st.builds(ToMeasure, st.uuids(), shows, end, bars, st.none() | bars)
    if typing.get_args(hint)[:1] == (tuple[ValueTaken, ...],):
        number = st.floats(allow_nan=False, allow_infinity=False)
        kinds, wide = st.sampled_from(list(Kind)), st.floats(0, 1e9)
        one = st.builds(ValueTaken, NAMES, NAMES, kinds, number, wide, st.none() | number, TEXTS)
        return st.lists(one, max_size=3).map(tuple)
    if typing.get_origin(typing.get_args(hint)[0]) is tuple:
        return st.lists(st.integers(1, 1000), max_size=3).map(tuple)
    raise AssertionError(hint)


TYPED = st.sampled_from(list(Kind)).flatmap(
    lambda k: st.tuples(st.just(k), st.sampled_from(POLICY[k].example.split(" or ")))
)
_HAVE_READINGS = st.sampled_from([Stream.CONVEYOR, Stream.BELT, Stream.JOINT, Stream.JOB])


def _contents(made_by: type[What]) -> st.SearchStrategy[What]:
    hints = typing.get_type_hints(made_by, include_extras=True)
    fields = {name: _field(hint) for name, hint in hints.items()}
    if made_by in {ReadingTaken, PhotoAdded, PhotographMeasured}:
        fields["of"] = _HAVE_READINGS
    if made_by in {ReadingTaken, ValueRecorded}:
        rest = {n: s for n, s in fields.items() if n not in {"measure", "typed", "value"}}
        return TYPED.flatmap(
            lambda t: st.builds(
                made_by, measure=st.just(t[0]), typed=st.just(t[1]),
                value=st.just(read(t[1], t[0])), **rest,
            )
        )  # fmt: skip
    if made_by is WearLimitSet:
        fields["of"] = st.sampled_from([Stream.CONVEYOR, Stream.BELT, Stream.JOINT])
        rest = {n: s for n, s in fields.items() if n not in {"typed", "limit"}}
        lengths = st.sampled_from(["3 mm", "1/8 in", "0.0025 m"])
        return lengths.flatmap(
            lambda t: st.builds(
                made_by, typed=st.just(t), limit=st.just(read(t, Kind.LENGTH)), **rest
            )
        )
    return st.builds(made_by, **fields)


def _correction(instead: What) -> st.SearchStrategy[What]:
    kind = next(k for k in KINDS.values() if k.made_by is type(instead))
    of, about = kind.stream_of(instead), kind.subject(instead)
    return st.builds(
        Correction, st.just(of), st.just(about), st.uuids(), st.sampled_from([instead, None]), NAMES
    )


_PLAIN = {n: _contents(k.made_by) for n, k in KINDS.items() if k.made_by is not Correction}
CONTENT_OF = {**_PLAIN, "correction": st.one_of(*_PLAIN.values()).flatmap(_correction)}
"""A strategy for each kind of fact."""


def facts(contents: st.SearchStrategy[What]) -> st.SearchStrategy[Fact]:
    """Facts that say this."""
    person, device = st.none() | st.uuids(), st.text(_LETTERS, max_size=99)
    return st.builds(Fact, st.uuids(), MOMENTS, NAMES, contents, person, device)
