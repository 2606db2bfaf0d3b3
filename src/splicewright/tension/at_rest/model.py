"""The stopped belt as one model: every force, travel and energy of standing still comes from it.

State by state (`state`) the forces follow from bounds (`bounds`) over all that friction, load and
the stop may have left, and over the ends of what is not known. Ratings come from the largest of
all stages and of all single failures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from splicewright.loop import Path
from splicewright.plant import Conveyor, JobKind, Run, Work
from splicewright.quantities import Figure, Given, Kind, Number, Sentence, Worksheet
from splicewright.tension.at_rest.bounds import Bounds, bounds_at
from splicewright.tension.at_rest.catching import catch_of
from splicewright.tension.at_rest.doubts import Doubt, Weighed, weigh
from splicewright.tension.at_rest.energy import Energies, energies
from splicewright.tension.at_rest.lets_go import LetsGo, lets_go
from splicewright.tension.at_rest.load_rest import LoadRest, load_rests
from splicewright.tension.at_rest.movement import MOVEMENTS, Movement, movement, movement_says
from splicewright.tension.at_rest.remarks import remarks, what_holds
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.run_back import RunBack, run_back
from splicewright.tension.at_rest.stages import Stage, nothing_pulls, stage
from splicewright.tension.at_rest.state import IN_ONE_PIECE, USUAL, Move, states
from splicewright.tension.at_rest.strands import loop_of, unknown_of
from splicewright.tension.at_rest.summary import Summary, summary
from splicewright.tension.at_rest.take_up import holding
from splicewright.tension.resistance.traction import per_width, times
from splicewright.tension.running.demand import Demand
from splicewright.tension.running.running import Running


@dataclass(frozen=True, slots=True)
class Ratings:
    """Least rating of what holds, the stated factor in it [N].

    clamps: each restraining clamp, its chain and anchors; hoists: each hoist and pulling clamp by
    itself, for one may have to carry all; tackle: of the counterweight, None without one; loaded:
    of the clamps were the belt full, None where it is taken as full.
    """

    clamps: Figure
    hoists: Figure
    tackle: Figure | None
    loaded: Figure | None


@dataclass(frozen=True, slots=True)
class AtRest:
    """A stopped belt with a place of work on it: what the crew meets and what must hold.

    bounds: forces at the place [N]; stages: the job move by move; ratings; lets_go: single
    failures; movement: how far things move; energies stored; run_back: pull of the load on the
    uncut belt; load_rests: whether load left stays put; doubts: to be settled before work; holds:
    what holds the belt as far as anybody said; summary: the same in plain SI numbers.
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
    summary: Summary


def at_rest(
    conveyor: Conveyor,
    work: Work,
    path: Path,
    asked: Demand,
    slack: Figure,
    there: Figure,
    sheet: Worksheet,
    moves: tuple[Move, ...] | None = None,
    *,
    tried: bool = False,
) -> AtRest:
    """Work out everything about the stopped belt for one job.

    Parameters
    ----------
    conveyor, work : plant and job
    path : the loop laid out
    asked : the demand, its lines on the same sheet
    slack : belt the hoists must bring so that the joint closes [m]
    there : belt the take-up can give [m]
    sheet : takes every line
    moves : in their order, None for those usual for this kind of job
    tried : only to compare places: what nobody stated is not weighed

    Raises
    ------
    InputError
        A move that cannot follow the state before it.
    """
    moves = moves or (IN_ONE_PIECE if work.job is JobKind.ALONG else USUAL)
    order = states(moves)
    opened = Move.OPEN in moves
    run = next(r for r in conveyor.runs() if r.name == work.run)
    rest = stopped(conveyor, work.load_left, asked.every(), sheet)
    reach = _reach(work, slack, run)
    bounds = bounds_at(rest, run, work.distance, reach, sheet)
    moved = movement(rest, run, work.distance, bounds, slack if opened else None, there, sheet)
    moved = replace(
        moved,
        says=movement_says(
            moved, conveyor.take_up.kind, bounds.acting.largest, work.hoist_travel, opened=opened
        ),
    )
    stored = energies(rest, path, asked.every(), sheet)
    catch = catch_of(rest, sheet)
    failures = lets_go(rest, bounds, moved, stored, catch, sheet, opened=opened)
    nothing = nothing_pulls(sheet)
    table = tuple(stage(m, s, rest, bounds, moved, nothing) for m, s in order)
    back = run_back(conveyor, work.load_left, sheet)
    rests = load_rests(conveyor, sheet) if work.load_left.high > 0 else ()
    weighed = Weighed((), 0.0) if tried else weigh(rest, work, run, reach, catch)
    ratings = _ratings(rest, work, table, failures, weighed.full, stored.hangs, sheet)
    return AtRest(
        bounds=bounds,
        acting_per_width=sheet.work(
            "at_rest.acting_per_width",
            "the same per width",
            per_width,
            tension=bounds.acting.largest,
            width=conveyor.belt.width,
        ),
        stages=table,
        ratings=ratings,
        lets_go=failures,
        movement=moved,
        energies=stored,
        run_back=back,
        load_rests=rests,
        doubts=weighed.doubts,
        holds=what_holds(conveyor),
        remarks=remarks(work, back, rests, ratings.loaded, moved, bounds.sides),
        summary=summary(
            table,
            {"clamps": ratings.clamps, "hoists": ratings.hoists, "tackle": ratings.tackle},
            failures,
            {name: getattr(moved, name) for name in MOVEMENTS},
        ),
    )


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
    return Rest(
        conveyor,
        loop_of(conveyor, every),
        unknown_of(conveyor, load_left),
        load_left,
        holding(conveyor, every, sheet),
    )


def _reach(work: Work, slack: Figure, run: Run) -> Number:
    """Farthest a clamp stands from the place [m]; all of the run where no place was given."""
    if work.distance.assumed:
        return run.length.value
    hurt = 0.0 if work.damage_length is None else work.damage_length.value
    return _ROOM + (work.cut_out.value + hurt) / 2 + slack.value


def _ratings(
    rest: Rest,
    work: Work,
    table: tuple[Stage, ...],
    failures: tuple[LetsGo, ...],
    full: float,
    hangs: Figure | None,
    sheet: Worksheet,
) -> Ratings:
    """Least ratings: the largest of all stages and all single failures, times the factor.

    full : on a clamp at most, were all of the load left [N]
    hangs : weight of the counterweight, at most [N]
    """
    forces = [(f.key, f.largest) for s in table for f in s.forces]
    others = [(o.key, o.force) for row in failures for o in row.others]
    clamps = [f for key, f in forces if key.startswith("clamp_")]
    clamps += [f for key, f in others if key.startswith("clamp_")]
    hoists = [f for key, f in forces if key == "hoists"]
    hoists += [f for key, f in others if "hoist" in key]
    # Where none draws the belt, one still unloads a chain: it bears what the chain may.
    gear = "each hoist and pulling clamp" if hoists else "a hoist that unloads a chain"
    hoists = hoists or clamps
    clamp = sheet.largest(
        "at_rest.clamp_force",
        "largest force on a restraining clamp, all stages and single failures",
        _once(clamps),
    )
    hoist = sheet.largest(
        "at_rest.hoist_force",
        "largest force on hoists and pulling clamps, all stages and single failures",
        _once(hoists),
    )
    tackle = None
    if hangs is not None:
        tackle = sheet.work(
            "at_rest.tackle_rating",
            "least rating of the tackle that lifts and hangs the counterweight",
            times,
            factor=work.clamp_factor,
            pull=hangs,
        )
    rated = [
        sheet.work(key, label, times, factor=work.clamp_factor, pull=force)
        for key, label, force in (
            (
                "at_rest.clamp_rating",
                "least rating of each restraining clamp, chain and anchor",
                clamp,
            ),
            ("at_rest.hoist_rating", f"least rating of {gear}", hoist),
        )
    ]
    return Ratings(rated[0], rated[1], tackle, _loaded(rest, work, full, sheet))


def _once(figures: list[Figure]) -> list[Figure]:
    return list({f.key: f for f in figures}.values())


def _loaded(rest: Rest, work: Work, full: float, sheet: Worksheet) -> Figure | None:
    """What the clamps would need with all load left; None where all of it is taken as left.

    A belt said to be empty is the one input that can make every force here too small.
    """
    load = rest.conveyor.material.line_mass
    if work.load_left.high >= 1 or load.high <= 0:
        return None
    return sheet.found(
        "at_rest.clamp_rating_loaded",
        "least rating of each restraining clamp, were the belt fully loaded",
        work.clamp_factor.value * full,
        Kind.FORCE,
        "the same with all load left, where it pulls most",
        [load, work.clamp_factor],
        "statics",
    )


_ROOM = 10.0
"""A clamp stands no farther from the place than this and the belt that moves: bench, clamps and
hooks on one side; common practice, no source [m]."""
