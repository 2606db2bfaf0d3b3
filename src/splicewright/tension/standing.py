"""The belt at rest: what pulls at the place of work, what may run back, what is stored.

Every figure here is printed on its safe side: friction is never credited where it would help,
and added where it would hurt. Nothing here replaces lock-out, try-out and a competent person.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from splicewright.loop import Path
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    Worksheet,
    sentence,
)
from splicewright.tension.at_rest import at_rest, height_of, lowest, take_up_off
from splicewright.tension.cases import LoadCase
from splicewright.tension.demand import Demand
from splicewright.tension.energy import load_energy, strain_energy, weight_energy
from splicewright.tension.load_rest import LoadRest, load_rests, rest_findings
from splicewright.tension.run_back import RunBack, load_metres, run_back
from splicewright.tension.spread import worst_rise
from splicewright.tension.statics import (
    drawing_force,
    strand_weight,
)
from splicewright.tension.traction import per_width, times


@dataclass(frozen=True, slots=True)
class Standing:
    """Forces at the place of work with everything stopped [N], and stored energy [J].

    acting: belt tension with the take-up acting, safe high side; released: with the take-up
    lifted or slacked; hold_below, hold_above: what a clamp must hold of the belt below and
    above the cut, the pull of the other side over the top pulley included; clamp_rating,
    hoist_rating: with the stated factor; friction: of the belt on its way to the take-up;
    pull_together: force to draw the ends together; run_back: pull of the load on the uncut belt,
    the way it pulls most; running_back: both ways; load_rests: whether the load stays put.
    """

    acting: Figure
    acting_per_width: Figure
    released: Figure
    hold_below: Figure
    hold_above: Figure
    hold: Figure
    clamp_rating: Figure
    friction: Figure
    pull_together: Figure
    hoist_rating: Figure
    run_back: Figure
    running_back: RunBack
    load_rests: tuple[LoadRest, ...]
    belt_energy: Figure
    weight_energy: Figure | None
    load_energy: Figure
    remarks: tuple[Sentence, ...]


def standing(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, sheet: Worksheet
) -> Standing:
    """Work out what the crew meets at the place of work with everything stopped.

    Parameters
    ----------
    conveyor, work : plant and job
    path : the loop laid out
    asked : the demand, for the take-up tension
    sheet : takes every line
    """
    belt = conveyor.belt
    full = asked.case(LoadCase.FULL)
    take_up = full.take_up
    run = next(r for r in conveyor.runs() if r.name == work.run)
    load = conveyor.material.line_mass
    running_back = run_back(conveyor, work.load_left, sheet)
    acting = at_rest("standstill.acting", "belt tension at the place of work, take-up acting",
                      take_up, conveyor, work, path, asked, sheet)  # fmt: skip
    released = at_rest("standstill.released", "the same, take-up released",
                        take_up_off(), conveyor, work, path, asked, sheet)  # fmt: skip
    _, height = path.place(work)
    pulls = _pulls(conveyor, work, run, running_back, sheet)

    def held(name: str, label: str, pulled: Figure, fall: float) -> Figure:
        return sheet.work(
            f"standstill.{name}", label, strand_weight,
            belt=belt.line_mass, load=load, pulls=pulled, take_up=take_up,
            fall=height_of(f"standstill.{name}_fall", f"height of the belt for the {label}", fall),
            friction=_friction(sheet),
        )  # fmt: skip

    below = held("strand_below", "weight of the strand below the cut", pulls.below,
                 height - lowest(path))  # fmt: skip
    above = held("strand_above", "weight of the strand above the cut", pulls.down_to_the_cut,
                 _highest(path) - height)  # fmt: skip
    over = held("over_the_top", "pull of the other side over the top pulley", pulls.over_the_top,
                _highest(path) - lowest(path))  # fmt: skip
    holds = [
        sheet.total("standstill.hold_below", "clamp force for the belt below the cut", [below]),
        sheet.largest("standstill.hold_above", "clamp force for the belt above the cut",
                      [above, over]),
    ]  # fmt: skip
    hold = sheet.largest("standstill.hold", "force each restraining clamp must hold",
                         [*holds, acting])  # fmt: skip
    rating = sheet.work("standstill.clamp_rating", "least rating of each restraining clamp",
                        times, factor=work.clamp_factor, pull=hold)  # fmt: skip
    pull = _drawing(conveyor, work, path, _friction(sheet), sheet)
    hoist = sheet.work("standstill.hoist_rating", "least rating of hoist and pulling clamps",
                       times, factor=work.clamp_factor, pull=pull)  # fmt: skip
    rests = load_rests(conveyor, sheet) if work.load_left.value > 0 else ()
    loaded = _rating_if_loaded(conveyor, work, path, asked, sheet)
    energies = [
        sheet.work(
            f"standstill.energy.{n}", f"energy stored in {p.name}", strain_energy,
            tension=sheet.largest(f"standstill.energy.{n}.tension", f"tighter end of {p.name}",
                                  [p.entering, p.leaving]),
            length=_run(conveyor, p.name).length,
            modulus=_soft(conveyor), width=belt.width,
        )
        for n, p in enumerate(full.points, 1)
        if p.is_run
    ]  # fmt: skip
    weight = None
    if conveyor.take_up.mass is not None:
        weight = sheet.work(
            "standstill.weight_energy", "energy of the counterweight should it fall",
            weight_energy, mass=conveyor.take_up.mass, drop=conveyor.take_up.travel,
        )  # fmt: skip
    return Standing(
        acting=acting,
        acting_per_width=sheet.work("standstill.acting_per_width", "the same per width",
                                    per_width, tension=acting, width=belt.width),
        released=released,
        hold_below=holds[0],
        hold_above=holds[1],
        hold=hold,
        clamp_rating=rating,
        friction=_friction(sheet),
        pull_together=pull,
        hoist_rating=hoist,
        run_back=running_back.most,
        running_back=running_back,
        load_rests=rests,
        belt_energy=sheet.total("standstill.belt_energy", "energy stored in the stretched belt",
                                energies),
        weight_energy=weight,
        load_energy=_load_energy(conveyor, work, path, sheet),
        remarks=_remarks(conveyor, work, running_back, rests, loaded),
    )  # fmt: skip


def _rating_if_loaded(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, sheet: Worksheet
) -> Figure | None:
    """What the clamps would need with all load left; None where all of it is taken as left.

    A belt said to be empty is the one input that can make every force here too small.
    """
    if work.load_left.value >= 1 or conveyor.material.line_mass.value <= 0:
        return None
    all_left = replace(work.load_left, value=1.0, low=1.0, high=1.0)
    loaded = standing(conveyor, replace(work, load_left=all_left), path, asked, Worksheet())
    return sheet.found(
        "standstill.clamp_rating_loaded",
        "least rating of each restraining clamp, were the belt fully loaded",
        loaded.clamp_rating.value, Kind.FORCE, "the same with all load left, where it pulls most",
        [conveyor.material.line_mass, work.clamp_factor], "statics",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Pulls:
    """Heights over which load in its worst spread pulls on the clamps [m].

    below: away from the cut on the lower side; over_the_top: away from it on the upper side, over
    the top pulley; down_to_the_cut: load above the cut, sliding down to it.
    """

    below: Figure
    over_the_top: Figure
    down_to_the_cut: Figure


def _pulls(conveyor: Conveyor, work: Work, run: Run, back: RunBack, sheet: Worksheet) -> _Pulls:
    """How far load pulls on each side of the cut.

    A cut belt is one strip from one side of the cut round the loop to the other. With the driven
    pulley free, all load that pulls backwards hangs on the end behind the cut, wherever on the
    strip it lies, and all that pulls forwards on the end ahead.
    """
    behind, ahead = back.back.rise, back.forward.rise
    slope = run.rise.value
    if abs(slope) < 1e-9:  # level: neither side is the lower one
        either = sheet.largest("standstill.pulls", "height over which load pulls, either way",
                               [behind, ahead])  # fmt: skip
        behind = ahead = either
    below, over = (behind, ahead) if slope >= 0 else (ahead, behind)
    pieces = _carry_pieces(conveyor, work, ahead=slope >= 0)
    sign = 1.0 if slope >= 0 else -1.0
    down, _ = worst_rise(
        "standstill.pulls_down", "height over which load above the cut pulls down to it",
        [sign * rise for rise, _ in pieces], [length for _, length in pieces],
        load_metres(conveyor, work.load_left),
        [work.load_left, *(r.rise for r in conveyor.runs() if r.side is Side.CARRY)], sheet,
    )  # fmt: skip
    return _Pulls(below, over, down)


def _carry_pieces(conveyor: Conveyor, work: Work, *, ahead: bool) -> list[tuple[float, float]]:
    """Rise and length of the carry side ahead of or behind a cut on it [m]; none for a cut on the
    return side."""
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    names = [r.name for r in carry]
    if work.run not in names:
        return []
    at = names.index(work.run)
    part = min(1.0, work.distance.value / carry[at].length.value)
    rest = carry[at + 1 :] if ahead else carry[:at]
    shares = [(carry[at], 1.0 - part if ahead else part), *((r, 1.0) for r in rest)]
    return [(s * r.rise.value, s * r.length.value) for r, s in shares if s > 0]


def _load_energy(conveyor: Conveyor, work: Work, path: Path, sheet: Worksheet) -> Figure:
    """Energy of the load brought down to the lowest point of the carry side, at most."""
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    ends = [h for r in carry for h in (path.at(r.name).height_in, path.at(r.name).height_out)]
    low, high = min(ends), max(ends)
    load = conveyor.material.line_mass
    full = [
        sheet.work(
            f"standstill.load_energy.{n}", f"energy of full load on {r.name}", load_energy,
            load=load, length=r.length,
            height=height_of(
                f"standstill.load_height.{n}", f"mean height of {r.name} over the lowest place",
                (path.at(r.name).height_in + path.at(r.name).height_out) / 2 - low,
            ),
        )
        for n, r in enumerate(carry, 1)
    ]  # fmt: skip
    left = sheet.work(
        "standstill.load_energy.top", "energy of the load left, all of it at the top", load_energy,
        load=load, height=height_of("standstill.load_height", "height of the carry side",
                                          high - low),
        length=sheet.found(
            "standstill.load_metres", "metres of full load left",
            load_metres(conveyor, work.load_left), Kind.DISTANCE,
            "share left times the length of the carry side",
            [work.load_left, *(r.length for r in carry)],
        ),
    )  # fmt: skip
    whole = sheet.total("standstill.load_energy.full", "energy of a full load", full, Kind.ENERGY)
    return sheet.smallest("standstill.load_energy", "energy of the load on its slopes, at most",
                          [whole, left])  # fmt: skip


def _run(conveyor: Conveyor, name: str) -> Run:
    return next(r for r in conveyor.runs() if r.name == name)


def _highest(path: Path) -> float:
    """Highest point of the loop: from it a strand may run down."""
    return max(max(s.height_in, s.height_out) for s in path.stations)


def _soft(conveyor: Conveyor) -> Given:
    """The belt modulus at its low end: a soft belt stores more."""
    modulus = conveyor.belt.modulus
    return Given(
        "belt.modulus_low", "belt modulus, low end (stores most)", modulus.low, Kind.WIDTH_FORCE,
        modulus.origin, modulus.reason, modulus.low, modulus.low,
    )  # fmt: skip


def _drawing(
    conveyor: Conveyor, work: Work, path: Path, friction: Figure, sheet: Worksheet
) -> Figure:
    """All belt between take-up and place of work is drawn, uphill where there is a hill."""
    _, height = path.place(work)
    climb = abs(height - path.at(conveyor.take_up.pulley).height_in)
    own = next(abs(r.rise.value) for r in conveyor.runs() if r.name == work.run)
    return sheet.work(
        "standstill.pull_together",
        "force to draw the ends together",
        drawing_force,
        belt=conveyor.belt.line_mass,
        rise=height_of(
            "standstill.drawing_rise", "height the belt may be drawn up", max(climb, own)
        ),
        friction=friction,
    )


def _remarks(
    conveyor: Conveyor, work: Work, back: RunBack, rests: tuple[LoadRest, ...],
    loaded: Figure | None,
) -> tuple[Sentence, ...]:  # fmt: skip
    said = [
        sentence("Friction is added, never credited; the driven pulley is not trusted to hold.")
    ]
    if loaded is not None:
        said.append(
            sentence(
                "All forces here hold with {share} of a full load left on the belt, as stated: "
                "look along the whole belt first. Fully loaded, each restraining clamp needs a "
                "rating of {rating}.",
                share=work.load_left,
                rating=loaded,
            )
        )
    if back.most.value > 0:
        said.append(
            sentence(
                "The load alone pulls {pull} down the slope: clear the belt, or hold it, before "
                "anything is loosened.",
                pull=back.most,
            )
        )
        said.append(back.says)
    said += rest_findings(rests)
    if work.load_left.value > 0:
        said.append(
            sentence("The belt is taken as loaded. Run it empty where that is still possible.")
        )
    if conveyor.take_up.kind is TakeUpKind.GRAVITY:
        said.append(
            sentence(
                "The clamp forces hold with the counterweight still acting. Lift and secure it "
                "first all the same."
            )
        )
    if any(d.holdback is None and d.brake is None for d in conveyor.drives) and back.most.value > 0:
        said.append(
            sentence("Nobody said whether a holdback or brake is fitted: find out; trust neither.")
        )
    return tuple(said)


def _friction(sheet: Worksheet) -> Figure:
    found = sheet.get("standstill.released.friction")
    assert found is not None  # written by the tension with the take-up released
    return found
