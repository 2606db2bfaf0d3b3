"""The stopped belt as one model: every force, travel and energy of standing still comes from it.

State by state (`state`) the forces follow from bounds (`bounds`) over all that friction, load and
the stop may have left, and over the ends of what is not known. Ratings come from the largest of
all stages and of all single failures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from splicewright.loop import Path
from splicewright.plant import Conveyor, Coupling, Gear, Run, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Number,
    Sentence,
    Worksheet,
    formula,
    sentence,
)
from splicewright.tension.at_rest.bounds import Bounds, Rest, bounds_at
from splicewright.tension.at_rest.energy import Energies, energies
from splicewright.tension.at_rest.held import held_tension
from splicewright.tension.at_rest.lets_go import LetsGo, catch_of, caught, lets_go
from splicewright.tension.at_rest.movement import Movement, movement, movement_says
from splicewright.tension.at_rest.run_back import RunBack, run_back
from splicewright.tension.at_rest.stages import Stage, nothing_pulls, stage
from splicewright.tension.at_rest.state import USUAL, Move, states
from splicewright.tension.at_rest.strand import Span, Unknown, hanging, largest
from splicewright.tension.at_rest.strands import loop_of, unknown_of
from splicewright.tension.at_rest.take_up import holding
from splicewright.tension.demand import Demand
from splicewright.tension.load_rest import LoadRest, load_rests, rest_findings
from splicewright.tension.resistance import GRAVITY
from splicewright.tension.running import Running
from splicewright.tension.traction import per_width, times

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Ratings:
    """Least rating of what holds, the stated factor in it [N].

    clamps: each restraining clamp, its chain and anchors; hoists: each hoist and pulling clamp by
    itself, for one may have to carry all; tackle: of the counterweight, None without one of known
    mass; loaded: of the clamps were the belt full, None where it is taken as full.
    """

    clamps: Figure
    hoists: Figure
    tackle: Figure | None
    loaded: Figure | None


@dataclass(frozen=True, slots=True)
class Doubt:
    """An input nobody stated that moves a safety figure: taken at its bad end, to be settled."""

    key: str
    ask: Sentence


@dataclass(frozen=True, slots=True)
class AtRest:
    """A stopped belt with a place of work on it: what the crew meets and what must hold.

    bounds: forces at the place [N]; stages: the job move by move; ratings; lets_go: single
    failures; movement: how far things move; energies stored; run_back: pull of the load on the
    uncut belt; load_rests: whether load left stays put; doubts: to be settled before work; holds:
    what holds the belt as far as anybody said.
    """

    bounds: Bounds
    acting_per_width: Figure
    stages: tuple[Stage, ...]
    ratings: Ratings
    lets_go: tuple[LetsGo, ...]
    movement: Movement
    energies: Energies
    run_back: RunBack
    load_rests: tuple[LoadRest, ...]
    doubts: tuple[Doubt, ...]
    holds: tuple[Sentence, ...]
    remarks: tuple[Sentence, ...]


def at_rest(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, slack: Figure, there: Figure,
    sheet: Worksheet, moves: tuple[Move, ...] = USUAL,
) -> AtRest:  # fmt: skip
    """Work out everything about the stopped belt for one job.

    Parameters
    ----------
    conveyor, work : plant and job
    path : the loop laid out
    asked : the demand, its lines on the same sheet
    slack : belt the hoists must bring so that the joint closes [m]
    there : belt the take-up can give [m]
    sheet : takes every line
    moves : of the job, in their order

    Raises
    ------
    InputError
        A move that cannot follow the state before it.
    """
    order = states(moves)
    run = next(r for r in conveyor.runs() if r.name == work.run)
    rest = stopped(conveyor, work.load_left, asked.every(), sheet)
    reach = _reach(work, slack, run)
    found = bounds_at(rest, run, work.distance, reach, sheet)
    moved = movement(rest, run, work.distance, found, slack, there, sheet)
    moved = replace(moved, says=movement_says(moved, conveyor.take_up.kind))
    stored = energies(rest, path, asked.every(), sheet)
    failures = lets_go(rest, found, moved, stored, catch_of(rest, sheet), sheet)
    nothing = nothing_pulls(sheet)
    table = tuple(stage(m, s, rest, found, moved, nothing) for m, s in order)
    back = run_back(conveyor, work.load_left, sheet)
    rests = load_rests(conveyor, sheet) if work.load_left.high > 0 else ()
    ratings = _ratings(rest, work, run, reach, table, failures, sheet)
    return AtRest(
        bounds=found,
        acting_per_width=sheet.work(
            "at_rest.acting_per_width", "the same per width", per_width,
            tension=found.acting.largest, width=conveyor.belt.width,
        ),
        stages=table,
        ratings=ratings,
        lets_go=failures,
        movement=moved,
        energies=stored,
        run_back=back,
        load_rests=rests,
        doubts=_doubts(rest, work, run, reach),
        holds=_holds(conveyor),
        remarks=_remarks(work, back, rests, ratings, moved),
    )  # fmt: skip


def stopped(
    conveyor: Conveyor, load_left: Given, every: tuple[Running, ...], sheet: Worksheet
) -> Rest:
    """The stopped conveyor, whatever the place.

    Parameters
    ----------
    conveyor : the plant
    load_left : share of full load on it; its high end is taken
    every : its solved cases, written on the same sheet
    sheet : takes the lines
    """
    return Rest(conveyor, loop_of(conveyor, every), unknown_of(conveyor, load_left), load_left,
                holding(conveyor, every, sheet))  # fmt: skip


def _reach(work: Work, slack: Figure, run: Run) -> Number:
    """Farthest a clamp stands from the place [m]; all of the run where no place was given."""
    if work.distance.assumed:
        return run.length.value
    return _ROOM + work.cut_out.value / 2 + slack.value


def _ratings(
    rest: Rest, work: Work, run: Run, reach: Number, table: tuple[Stage, ...],
    failures: tuple[LetsGo, ...], sheet: Worksheet,
) -> Ratings:  # fmt: skip
    """Least ratings: the largest of all stages and all single failures, times the factor."""
    forces = [(f.key, f.largest) for s in table for f in s.forces]
    others = [(o.name, o.force) for row in failures for o in row.others]
    clamps = [f for key, f in forces if key.startswith("clamp_")]
    clamps += [f for name, f in others if name.startswith("restraining")]
    hoists = [f for key, f in forces if key == "hoists"]
    hoists += [f for name, f in others if "hoist" in name]
    clamp = sheet.largest("at_rest.clamp_force", "largest force on a restraining clamp, all stages "
                          "and single failures", _once(clamps))  # fmt: skip
    hoist = sheet.largest("at_rest.hoist_force", "largest force on hoists and pulling clamps, all "
                          "stages and single failures", _once(hoists))  # fmt: skip
    tackle = None
    if rest.conveyor.take_up.mass is not None:
        weight = sheet.work("at_rest.weight", "weight of the counterweight", weight_of,
                            mass=rest.conveyor.take_up.mass)  # fmt: skip
        tackle = sheet.work("at_rest.tackle_rating", "least rating of the tackle that lifts and "
                            "hangs the counterweight", times, factor=work.clamp_factor, pull=weight)  # fmt: skip
    rated = [
        sheet.work(key, label, times, factor=work.clamp_factor, pull=force)
        for key, label, force in (
            ("at_rest.clamp_rating", "least rating of each restraining clamp, chain and anchor",
             clamp),
            ("at_rest.hoist_rating", "least rating of each hoist and pulling clamp", hoist),
        )
    ]  # fmt: skip
    return Ratings(rated[0], rated[1], tackle, _loaded(rest, work, run, reach, sheet))


def _once(figures: list[Figure]) -> list[Figure]:
    return list({f.key: f for f in figures}.values())


def _loaded(rest: Rest, work: Work, run: Run, reach: Number, sheet: Worksheet) -> Figure | None:
    """What the clamps would need with all load left; None where all of it is taken as left.

    A belt said to be empty is the one input that can make every force here too small.
    """
    load = rest.conveyor.material.line_mass
    if work.load_left.high >= 1 or load.high <= 0:
        return None
    whole = replace(work.load_left, value=1.0, low=1.0, high=1.0)
    full = replace(rest, load_left=whole, unknown=unknown_of(rest.conveyor, whole))
    apart = Worksheet()
    found = bounds_at(full, run, work.distance, reach, apart)
    catch = catch_of(full, apart)
    most = max(
        found.acting.largest.value, found.draw.largest.value,
        *(f.value for s in found.sides for f in (s.acting, s.let_go)),
        *(caught(s.hold.largest.value, catch) for s in found.sides),
        caught(found.draw.largest.value, catch),
    )  # fmt: skip
    return sheet.found(
        "at_rest.clamp_rating_loaded",
        "least rating of each restraining clamp, were the belt fully loaded",
        work.clamp_factor.value * most, Kind.FORCE, "the same with all load left, where it pulls "
        "most", [load, work.clamp_factor], "statics",
    )  # fmt: skip


def _doubts(rest: Rest, work: Work, run: Run, reach: Number) -> tuple[Doubt, ...]:
    """Inputs that nobody stated and that move the pull on the clamps by more than a tenth.

    Each is put back to what is likely, all others left at their bad ends, in one broadcast.
    """
    conveyor, unknown = rest.conveyor, rest.unknown
    open_ = [
        (conveyor.belt.line_mass, "belt"), (conveyor.material.line_mass, "load"),
        (conveyor.method.standing_friction, "friction"), (work.load_left, "metres"),
    ]  # fmt: skip
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
    many = replace(unknown, metres=metres, **{name: Span(*ends) for name, ends in spans.items()})
    most = _most(rest, many, pull, run, work.distance.value, reach)
    moved = [most[0] / max(value, 1e-9) > _MATTERS for value in most[1:]]
    asks = [_ask(given) for given, _ in open_] + [_ASK_TAKE_UP for _ in take_up]
    keys = [given.key for given, _ in open_] + ["take_up.force" for _ in take_up]
    found = [Doubt(k, sentence(a)) for k, a, m in zip(keys, asks, moved, strict=True) if m]
    if take_up and not any(d.key == "take_up.force" for d in found):
        found.append(Doubt("take_up.force", sentence(_ASK_TAKE_UP)))
    if work.distance.assumed:
        found.append(Doubt("work.distance", sentence(
            f"Where on {run.name} is the work? Not stated: forces are the largest anywhere on it."
        )))  # fmt: skip
    return tuple(found)


def _most(
    rest: Rest, unknown: Unknown, pull: Number, run: Run, along: Number, reach: Number
) -> NDArray[np.float64]:
    """Largest static pull on a clamp, for many variants at once [N]."""
    found = []
    for behind in (True, False):
        away = along - reach if behind else along + reach
        for place in (along, np.clip(away, 0.0, run.length.value)):
            one = rest.loop.behind if behind else rest.loop.ahead
            ring = rest.loop.round_from(run.name, place)
            start = 0.0 if rest.holds.fixed else pull
            found.append(largest(one(run.name, place), unknown, start, held=False).tension)
            found.append(hanging(ring if behind else ring.turned(), unknown).tension)
    if rest.holds.fixed:
        ring = rest.loop.round_from(run.name, along)
        found.append(held_tension(ring, unknown, pull, rest.holds.drum.value, largest=True))
    return np.max(np.stack(np.broadcast_arrays(*found)), axis=0)


_ROOM = 10.0
"""A clamp stands no farther from the place than this and the belt that moves: bench, clamps and
hooks on one side; common practice, no source [m]."""

_MATTERS = 1.1
"""An unknown that moves a force by more than a tenth is asked for on page one."""

_ASK_TAKE_UP = (
    "Pull of the take-up not known: the high end of what crews tighten to is taken. MEASURE it: the "
    "sag of the empty return belt between two idlers gives it (splicewright at-rest --sag)."
)


def _ask(given: Given) -> str:
    return f"{given.label[0].upper()}{given.label[1:]} not stated: its bad end is taken ({given.reason})."


def _holds(conveyor: Conveyor) -> tuple[Sentence, ...]:
    """What may hold the belt at each drive, as far as anybody said; none of it is trusted."""
    said = []
    for drive in conveyor.drives:
        parts = []
        if drive.holdback:
            parts.append("its holdback stops the belt running back, not forward")
        if drive.brake:
            parts.append("its brake holds both ways, as far as it grips")
        if drive.gear is Gear.WORM:
            parts.append("its worm gear may hold both ways, and may creep when it is shaken")
        if drive.coupling is Coupling.FLUID:
            parts.append("its fluid coupling holds nothing")
        elif drive.gear is Gear.PLAIN and not drive.holdback and not drive.brake:
            parts.append("its gearbox and motor only drag")
        if parts:
            said.append(sentence(f"{drive.name}: {'; '.join(parts)}. Not trusted to hold."))
        else:
            said.append(sentence(
                f"{drive.name}: nobody said what holds it. Forces are the largest whether it holds "
                "or not; find out, and trust it in neither case."
            ))  # fmt: skip
    return tuple(said)


def _remarks(
    work: Work, back: RunBack, rests: tuple[LoadRest, ...], ratings: Ratings, moved: Movement
) -> tuple[Sentence, ...]:
    said = [
        sentence(
            "At most: every input not measured stands at its bad end, friction works whichever way "
            "is worse, and no drive is trusted to hold."
        )
    ]
    if ratings.loaded is not None:
        said.append(
            sentence(
                "All forces here hold with {share} of a full load left on the belt, as stated: "
                "look along the whole belt first. Fully loaded, each restraining clamp needs a "
                "rating of {rating}.",
                share=work.load_left,
                rating=ratings.loaded,
            )
        )
    if back.most.value > 0:
        said.append(
            sentence(
                "The load alone pulls {pull} down the slope. Set the clamps before the take-up is "
                "released: without them the belt may slip over its held drum and run.",
                pull=back.most,
            )
        )
        said.append(back.says)
    said += rest_findings(rests)
    if work.load_left.value > 0:
        said.append(
            sentence("The belt is taken as loaded. Run it empty where that is still possible.")
        )
    return (*said, *moved.says)


@formula(
    "W = m g",
    gives=("W", Kind.FORCE),
    symbols={"mass": "m"},
    source="statics",
)
def weight_of(mass: Number) -> Number:
    """Weight [N] of a mass [kg]."""
    return mass * GRAVITY
