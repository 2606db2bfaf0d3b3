"""Inputs nobody stated that move a safety figure: taken at their bad end, and asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from splicewright.plant import Run, Side, Work
from splicewright.quantities import Aside, Given, Number, Sentence, sentence
from splicewright.tension.at_rest.bounds import bounds_at
from splicewright.tension.at_rest.catching import Catch, on_clamps, on_hoists
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strand import Span


@dataclass(frozen=True, slots=True)
class Doubt:
    """An input nobody stated that moves a safety figure: taken at its bad end, to be settled."""

    key: str
    ask: Sentence


@dataclass(frozen=True, slots=True)
class Weighed:
    """doubts: to settle before work; full: on a clamp at most, were all of the load left [N]."""

    doubts: tuple[Doubt, ...]
    full: float


def weigh(rest: Rest, work: Work, run: Run, reach: Number, catch: Catch) -> Weighed:
    """Inputs that nobody stated and that move what clamps must hold by more than a tenth.

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
    count = 1 + len(open_) + 1  # the last with all of the load left
    spans = {
        name: (
            np.full(count, getattr(unknown, name).low),
            np.full(count, getattr(unknown, name).high),
        )
        for name in ("belt", "load", "friction")
    }
    metres = np.full(count, unknown.metres)
    for n, (given, name) in enumerate(open_, 1):
        if name == "metres":  # taken as full where nobody stated it; likely it is run empty
            metres[n] = 0.0
        else:
            for end in spans[name]:
                end[n] = given.value
    metres[-1] = sum(r.length.value for r in conveyor.runs() if r.side is Side.CARRY)
    belt, load, friction = (Span(*spans[name]) for name in ("belt", "load", "friction"))
    many = replace(unknown, metres=metres, belt=belt, load=load, friction=friction)
    bounds = bounds_at(replace(rest, unknown=many), run, work.distance, reach, Aside())
    clamps, hoists = (
        np.broadcast_to(np.asarray(most), (count,))
        for most in (on_clamps(bounds, catch), on_hoists(bounds, catch))
    )
    moved = [
        any(most[0] / max(most[n], 1e-9) > _MATTERS for most in (clamps, hoists))
        for n in range(1, count - 1)
    ]
    doubts = [
        Doubt(given.key, sentence(_ask(given)))
        for (given, _), matters in zip(open_, moved, strict=True)
        if matters
    ]
    if not rest.holds.known:  # first, and always: it is what a crew can measure there and then
        doubts.insert(0, Doubt("take_up.force", sentence(_ASK_TAKE_UP)))
    if work.distance.assumed:
        doubts.append(
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
    return Weighed(tuple(doubts), float(clamps[-1]))


_MATTERS = 1.1
"""An unknown that moves a force by more than a tenth is asked for on page one."""

_ASK_TAKE_UP = (
    "Pull of the take-up not known: the high end of what crews tighten to is taken. MEASURE it: "
    "the sag of the empty return belt between two idlers gives it."
)


def _ask(given: Given) -> str:
    if given.key == "work.load_left":
        return (
            "Load left on the belt not stated: all of it is taken. Run it empty, and "
            "say so in the job."
        )
    label = given.label[0].upper() + given.label[1:]
    return f"{label} not stated: its bad end is taken."
