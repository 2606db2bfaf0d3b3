"""The JSON form of facts, what is refused in it, and the chain."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.quantities import Kind
from splicewright.store import Fact, Stream
from splicewright.store.facts.facts import (
    FIRST_HASH,
    LARGEST,
    link,
    microseconds,
    read_back,
    to_data,
)
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import JointSeen, PlateInspected, ReadingTaken
from splicewright.store.facts.kinds import KINDS
from splicewright.store.facts.plant_facts import SiteAdded, StockMoved
from store.strategies import CONTENT_OF, facts

ID = UUID("00000000-0000-4000-8000-000000000001")
SITE = UUID("00000000-0000-4000-8000-000000000002")
AT = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
FACT = Fact(ID, AT, "Ada Example", StockMoved(SITE, "bolt", 12.5), device="phone 1")


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_json_gives_the_fact_back(kind: str) -> None:
    @given(facts(CONTENT_OF[kind]))
    @settings(max_examples=examples(25), deadline=None)
    def holds(fact: Fact) -> None:
        assert fact.kind == kind
        text = fact.to_json()
        again = Fact.from_json(text)
        assert again == fact
        assert again.to_json() == text
        assert read_back(text) == fact

    holds()


def test_the_form_is_canonical_json() -> None:
    # RFC 8259 JSON; keys sorted, no spaces, so that anybody can work out the hash.
    text = FACT.to_json()
    assert text == json.dumps(json.loads(text), sort_keys=True, separators=(",", ":"))
    assert json.loads(text) == {
        "format": 1,
        "id": str(ID),
        "at": "2026-05-04T06:00:00+00:00",
        "by": "Ada Example",
        "person": None,
        "device": "phone 1",
        "kind": "stock moved",
        "what": {"site": str(SITE), "item": "bolt", "count": 12.5, "why": "", "job": None},
    }


def test_the_chain_is_plain_sha_256() -> None:
    # FIPS 180-4 over the bytes that the docstring of `link` names, put together by hand.
    body = FACT.to_json()
    by_hand = hashlib.sha256(bytes(32) + b"1 1777874400000000\n" + body.encode("utf-8")).digest()
    assert link(FIRST_HASH, 1, AT, body) == by_hand
    assert link(by_hand, 1, AT, body) != by_hand
    assert microseconds(AT) == 1_777_874_400_000_000  # date -u -d @1777874400


def _with(**changes: Any) -> dict[str, Any]:
    data = to_data(FACT)
    for path, value in changes.items():
        place = data
        *outer, last = path.split("__")
        for part in outer:
            place = place[part]
        if value is ...:
            del place[last]
        else:
            place[last] = value
    return data


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (_with(format=2), "format: 2 is not known; accepted is 1"),
        (_with(format=True), "format: true is not known; accepted is 1"),
        (_with(id="1"), 'id: "1" is no id; accepted is a UUID'),
        (_with(id=...), "id: is missing; it must be given"),
        (
            _with(at="2026-05-04T06:00:00"),
            'at: "2026-05-04T06:00:00" has no offset from UTC; accepted is '
            "2026-05-01T08:00:00+02:00",
        ),
        (_with(at="today"), 'at: "today" is no moment; accepted is 2026-05-01T08:00:00+02:00'),
        (
            _with(at="1066-10-14T09:00:00Z"),
            "at: 1066-10-14T09:00:00+00:00 is not believable; accepted is 1900 to 2200",
        ),
        (_with(by=""), "by: is empty; a text must be given"),
        (_with(by="  "), "by: is blank; a text must be given"),
        (_with(by="a\x07"), "by: control characters are not accepted"),
        (_with(by="x" * 121), "by: is longer than 120 characters"),
        (_with(colour="red"), "colour: is no field of this fact"),
        (_with(what__size=1), "what.size: is no field of this fact"),
        (_with(what__count="12"), 'what.count: "12" is no number'),
        (_with(what__count=True), "what.count: true is no number"),
        (_with(what__site=...), "what.site: is missing; it must be given"),
        (_with(what=[]), "what: is missing; accepted is an object"),
    ],
)  # fmt: skip
def test_what_is_refused(data: dict[str, Any], sentence: str) -> None:
    for read in (Fact.from_json, read_back):
        with pytest.raises(InputError) as refused:
            read(json.dumps(data, separators=(",", ":"), sort_keys=True))
        assert str(refused.value) == sentence


def test_all_faults_at_once() -> None:
    with pytest.raises(InputError) as refused:
        Fact.from_json(json.dumps(_with(id="x", by="", what__item="", what__count=None)))
    assert [f.key for f in refused.value.faults] == ["id", "by", "what.item", "what.count"]


def test_an_unknown_kind_lists_those_there_are() -> None:
    with pytest.raises(InputError, match=r'^kind: "joint painted" is no kind of fact; accepted is'):
        Fact.from_json(json.dumps(_with(kind="joint painted")))


@pytest.mark.parametrize(
    "text",
    [b"", b"nul", b"[]", b"\xff\xfe", b"{" * 30_000, b'{"format":1}', b'{"format":NaN}', b"1e999",
     b'"' + b"a" * LARGEST + b'"', b'{"format":1,"kind":"correction","what":{"kind":"correction"}}',
     b'{"format": 1, "kind": {}, "what": null}'],
)  # fmt: skip
def test_hostile_texts_are_refused(text: bytes) -> None:
    with pytest.raises(InputError):
        Fact.from_json(text)


@given(st.binary(max_size=200) | st.text(max_size=200))
@settings(max_examples=examples(200), deadline=None)
def test_any_text_is_a_fact_or_refused(text: bytes | str) -> None:
    with pytest.raises(InputError):
        Fact.from_json(text)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_must_be_finite(bad: float) -> None:
    with pytest.raises(InputError, match="what: holds a number that is not finite"):
        replace(FACT, what=StockMoved(SITE, "bolt", bad)).to_json()


def test_half_characters_are_refused() -> None:
    with pytest.raises(InputError, match="half a character"):
        replace(FACT, by="Ada \ud800").to_json()


def test_made_in_python_is_checked_like_json() -> None:
    with pytest.raises(InputError, match=r"what\.plate: 0 is too small; accepted is 1 or more"):
        wrong: Any = {"joint": SITE, "inspection": ID, "end": "leading end", "plate": 0}
        replace(FACT, what=PlateInspected(**wrong, state="ok")).to_json()  # type: ignore[arg-type]
    with pytest.raises(InputError, match=r"what\.station: -1.0 is too small; accepted is 0"):
        replace(FACT, what=JointSeen(SITE, -1.0)).to_json()
    with pytest.raises(InputError, match=r"at: .* has no offset from UTC"):
        replace(FACT, at=datetime(2026, 5, 4)).to_json()
    with pytest.raises(InputError, match=r"what\.name: is empty"):
        replace(FACT, what=SiteAdded(SITE, "")).to_json()


def test_value_and_typed_must_agree() -> None:
    # The inch is 25.4 mm exactly.
    good = ValueRecorded(SITE, "measure", "thickness", Kind.LENGTH, 0.0127, "1/2 in")
    assert replace(FACT, what=good).to_json()
    wrong = replace(good, value=0.0125)
    with pytest.raises(InputError) as refused:
        replace(FACT, what=wrong).to_json()
    assert str(refused.value) == (
        'what.value: 0.0125 is not what was typed: "1/2 in" is 0.0127 in SI (12.7 mm)'
    )
    with pytest.raises(InputError, match=r'what\.typed: "15 kg" has the unit "kg"'):
        replace(FACT, what=replace(good, typed="15 kg")).to_json()


def test_what_has_readings() -> None:
    reading = ReadingTaken(Stream.PERSON, SITE, "height", Kind.LENGTH, 1.8, "1.8 m")
    with pytest.raises(InputError, match=r'what\.of: "person" has no readings'):
        replace(FACT, what=reading).to_json()
