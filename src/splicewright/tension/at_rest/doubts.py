"""Inputs nobody stated that move a safety figure: taken at their bad end, and asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import Run, Work
from splicewright.quantities import Given, Number, Sentence, sentence
from splicewright.tension.at_rest.held import held_tension
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strand import Span, Unknown, hanging, largest

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Doubt:
    """An input nobody stated that moves a safety figure: taken at its bad end, to be settled."""

    key: str
    ask: Sentence


def doubts_of(rest: Rest, work: Work, run: Run, reach: Number) -> tuple[Doubt, ...]:
    """Inputs that nobody stated and that move the pull on the clamps by more than a tenth.

    Each is put back to what is likely, all others left at their bad ends, in one broadcast.
    """
    conveyor, unknown = rest.conveyor, rest.unknown
    open_ = [
        (conveyor.belt.line_mass, "belt"),
        (conveyor.material.line_mass, "load"),
        (conveyor.method.standing_friction, "friction"),
        (work.load_left, "metres"),
    ]
    open_ = [(g, name) for g, name in open_ if g.assumed and np.ndim(g.value) == 0]
    take_up = () if rest.holds.known else ("take_up",)
    count = 1 + len(open_) + len(take_up)
    spans = {
        name: (
            np.full(count, getattr(unknown, name).low),
            np.full(count, getattr(unknown, name).high),
        )
        for name in ("belt", "load", "friction")
    }
    metres = np.full(count, unknown.metres)
    for n, (given, name) in enumerate(open_, 1):
        if name == "metres":
            metres[n] *= given.value / max(Span.of(given).high, 1e-9)
        else:
            for end in spans[name]:
                end[n] = given.value
    pull = np.full(count, rest.holds.largest.value)
    if take_up:
        pull[-1] = rest.holds.least.value
    belt, load, friction = (Span(*spans[name]) for name in ("belt", "load", "friction"))
    many = replace(unknown, metres=metres, belt=belt, load=load, friction=friction)
    most, _ = pull_on_clamps(rest, many, pull, run, work.distance.value, reach)
    moved = [most[0] / max(value, 1e-9) > _MATTERS for value in most[1:]]
    asks = [_ask(given) for given, _ in open_] + [_ASK_TAKE_UP for _ in take_up]
    keys = [given.key for given, _ in open_] + ["take_up.force" for _ in take_up]
    found = [Doubt(k, sentence(a)) for k, a, m in zip(keys, asks, moved, strict=True) if m]
    if take_up and not any(d.key == "take_up.force" for d in found):
        found.append(Doubt("take_up.force", sentence(_ASK_TAKE_UP)))
    if work.distance.assumed:
        found.append(
            Doubt(
                "work.distance",
                sentence(
                    f"Where is the work? Nobody stated the run: {{along}} along {run.name} is "
                    "taken, where the clamps must hold most."
                    if work.anywhere
                    else f"Where on {run.name} is the work? Not stated: {{along}} along it is "
                    "taken, where the clamps must hold most.",
                    along=work.distance,
                ),
            )
        )
    return tuple(found)


def pull_on_clamps(
    rest: Rest, unknown: Unknown, pull: Number, run: Run, along: Number, reach: Number
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Largest static pull on a clamp of many variants at once, and with the take-up released [N].

    The same bounds as `bounds.bounds_at` without the worksheet: what a stated input changes is
    asked for many values of it.

    Parameters
    ----------
    rest : the stopped conveyor
    unknown, pull : what is not known, and what the take-up holds, each with its variants
    run, along : the place of work
    reach : farthest a clamp stands from it [m]
    """
    ring = rest.loop.round_from(run.name, along)
    ways = rest.loop.behind(run.name, along), rest.loop.ahead(run.name, along)
    on_take_up = [hanging(w.turned(), unknown).tension for w in reversed(ways)]
    drawn = [largest(w, unknown, s).tension for w, s in zip(ways, on_take_up, strict=True)]
    if rest.holds.fixed:
        acting = held_tension(ring, unknown, pull, rest.holds.drum.value, largest=True)
    else:
        acting = np.minimum(*(np.asarray(largest(w, unknown, pull).tension) for w in ways))
    off, on = [np.minimum(d, acting) for d in drawn], [acting]
    for behind, hung in zip((True, False), on_take_up, strict=True):
        away = along - reach if behind else along + reach
        for place in (along, np.clip(away, 0.0, run.length.value)):
            way = (rest.loop.behind if behind else rest.loop.ahead)(run.name, place)
            around = rest.loop.round_from(run.name, place)
            off.append(hanging(around if behind else around.turned(), unknown).tension)
            off.append(largest(way, unknown, hung, held=False).tension)
            if not rest.holds.fixed:
                on.append(largest(way, unknown, pull, held=False).tension)
    released = np.max(np.stack(np.broadcast_arrays(*off)), axis=0)
    return np.maximum(released, np.max(np.stack(np.broadcast_arrays(*on)), axis=0)), released


_MATTERS = 1.1
"""An unknown that moves a force by more than a tenth is asked for on page one."""

_ASK_TAKE_UP = (
    "Pull of the take-up not known: the high end of what crews tighten to is taken. MEASURE it: "
    "the sag of the empty return belt between two idlers gives it."
)


def _ask(given: Given) -> str:
    label = given.label[0].upper() + given.label[1:]
    return f"{label} not stated: its bad end is taken ({given.reason})."
