"""The belt at rest: what pulls at the place of work, what may run back, what is stored.

Every figure here is printed on its safe side: friction is never credited where it would help,
and added where it would hurt. Nothing here replaces lock-out, try-out and a competent person.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.loop import Path
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Origin,
    Sentence,
    Worksheet,
    assumed,
    formula,
    sentence,
)
from splicewright.tension.cases import LoadCase
from splicewright.tension.demand import Demand
from splicewright.tension.energy import load_energy, strain_energy, weight_energy
from splicewright.tension.resistance import GRAVITY, main_resistance
from splicewright.tension.traction import per_width, times


@dataclass(frozen=True, slots=True)
class Standing:
    """Forces at the place of work with everything stopped [N], and stored energy [J].

    acting: belt tension with the take-up acting, safe high side; released: with the take-up
    lifted or slacked; hold_below, hold_above: what a clamp must hold of the belt below and
    above the cut, the pull of the other side over the top pulley included; clamp_rating,
    hoist_rating: with the stated factor; friction: of the belt on its way to the take-up;
    pull_together: force to draw the ends together; run_back: pull of the load down its slopes.
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
    belt_energy: Figure
    weight_energy: Figure | None
    load_energy: Figure
    remarks: tuple[Sentence, ...]


@formula(
    "T = max(0, T_t + g q_B (z - z_t) + Σ F_f)",
    gives=("T", Kind.FORCE),
    symbols={
        "take_up": "T_t",
        "belt": "q_B",
        "height": "z",
        "take_up_height": "z_t",
        "friction": "Σ F_f",
    },
    source="statics",
    limits="friction added (safe high side); walked from the take-up without crossing a driven "
    "pulley, which is taken as locked",
)
def tension_at_rest(
    take_up: float, belt: float, height: float, take_up_height: float, friction: float
) -> float:
    """Highest tension the stopped belt can hold at a place.

    Parameters
    ----------
    take_up : tension at the take-up [N]
    belt : belt and what lies on it on the way [kg/m]
    height, take_up_height : of the place and of the take-up [m]
    friction : sum of main resistances on the way [N]

    Returns
    -------
    float, not below zero [N]
    """
    return np.maximum(0.0, take_up + GRAVITY * belt * (height - take_up_height) + friction)


@formula(
    "F = g (q_B + k q_G) max(0, Δz) + T_t",
    gives=("F", Kind.FORCE),
    symbols={
        "belt": "q_B",
        "load": "q_G",
        "share": "k",
        "fall": "Δz",
        "take_up": "T_t",
    },
    source="statics",
    limits="no friction credited; the driven pulley is not trusted to hold",
)
def strand_weight(belt: float, load: float, share: float, fall: float, take_up: float) -> float:
    """What a clamp must hold of the belt on one side of a cut.

    Parameters
    ----------
    belt, load : masses per length [kg/m]
    share : of the full load left on the strand [-]
    fall : height over which the strand hangs [m]
    take_up : tension that may still act [N]

    Returns
    -------
    float [N]
    """
    return GRAVITY * (belt + share * load) * np.maximum(0.0, fall) + take_up


@formula(
    "F_rb = g k q_G Σ h",
    gives=("F_rb", Kind.FORCE),
    symbols={"load": "q_G", "share": "k", "rise": "Σ h"},
    source="statics",
    limits="net pull of the load downhill on the uncut loop; no friction credited",
)
def run_back_force(load: float, share: float, rise: float) -> float:
    """Pull of the load that would run the uncut belt back when nothing holds it.

    Parameters
    ----------
    load : full load per length [kg/m]
    share : of it still on the belt [-]
    rise : sum of the loaded rises that can act together [m]

    Returns
    -------
    float [N]
    """
    return GRAVITY * share * load * np.abs(rise)


@formula(
    "F_p = g q_B max(0, Δz) + Σ F_f",
    gives=("F_p", Kind.FORCE),
    symbols={"belt": "q_B", "rise": "Δz", "friction": "Σ F_f"},
    source="statics",
    limits="all belt from the take-up to the place of work is drawn; friction added",
)
def drawing_force(belt: float, rise: float, friction: float) -> float:
    """Force to draw one belt end along its run.

    Parameters
    ----------
    belt : mass per length [kg/m]
    rise : it must be drawn up [m]
    friction : resistance of idlers and belt on the way [N]

    Returns
    -------
    float [N]
    """
    return GRAVITY * belt * np.maximum(0.0, rise) + friction


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
    share = work.load_left if run.side is Side.CARRY else _no_load()
    acting = _at_rest("standstill.acting", "belt tension at the place of work, take-up acting",
                      take_up, conveyor, work, path, sheet)  # fmt: skip
    off = assumed("standstill.take_up_off", "tension at the take-up when released", 0.0, Kind.FORCE,
                  "take-up lifted, slacked or unloaded and secured", (0.0, 0.0))  # fmt: skip
    released = _at_rest("standstill.released", "the same, take-up released",
                        off, conveyor, work, path, sheet)  # fmt: skip
    _, height = path.place(work)
    falls = {
        name: _height(f"standstill.{name}_fall", label, value)
        for name, label, value in (
            ("below", "height of the belt below the cut", height - _lowest(path)),
            ("above", "height of the belt above the cut", _highest(path) - height),
        )
    }
    strands = {
        name: sheet.work(
            f"standstill.strand_{name}", f"weight of the strand {name} the cut", strand_weight,
            belt=belt.line_mass, load=load, share=share, fall=falls[name], take_up=take_up,
        )
        for name in ("below", "above")
    }  # fmt: skip
    over = sheet.work(
        "standstill.over_the_top", "pull of the other side over the top pulley", strand_weight,
        belt=belt.line_mass, load=load,
        share=_no_load() if run.side is Side.CARRY else work.load_left,
        fall=_height("standstill.whole_height", "height of the loop",
                     _highest(path) - _lowest(path)),
        take_up=take_up,
    )  # fmt: skip
    holds = [
        sheet.total("standstill.hold_below", "clamp force for the belt below the cut",
                    [strands["below"]]),
        sheet.largest("standstill.hold_above", "clamp force for the belt above the cut",
                      [strands["above"], over]),
    ]  # fmt: skip
    hold = sheet.largest("standstill.hold", "force each restraining clamp must hold",
                         [*holds, acting])  # fmt: skip
    rating = sheet.work("standstill.clamp_rating", "least rating of each restraining clamp",
                        times, factor=work.clamp_factor, pull=hold)  # fmt: skip
    pull = _drawing(conveyor, work, path, _friction(sheet), sheet)
    hoist = sheet.work("standstill.hoist_rating", "least rating of hoist and pulling clamps",
                       times, factor=work.clamp_factor, pull=pull)  # fmt: skip
    rises = [r for r in conveyor.runs() if r.side is Side.CARRY]
    up = sum(max(0.0, r.rise.value) for r in rises)
    down = sum(max(0.0, -r.rise.value) for r in rises)
    run_back = sheet.work(
        "standstill.run_back", "pull of the load down its slopes, nothing credited",
        run_back_force, load=load, share=work.load_left,
        rise=_height("standstill.slope_height", "height of the loaded slopes", max(up, down)),
    )  # fmt: skip
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
    loads = [
        sheet.work(
            f"standstill.load_energy.{n}", f"energy of the load on {r.name}", load_energy,
            load=load, share=work.load_left, length=r.length, rise=r.rise,
        )
        for n, r in enumerate(rises, 1)
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
        run_back=run_back,
        belt_energy=sheet.total("standstill.belt_energy", "energy stored in the stretched belt",
                                energies),
        weight_energy=weight,
        load_energy=sheet.total(
            "standstill.load_energy", "energy of the load on its slopes", loads, Kind.ENERGY
        ),
        remarks=_remarks(conveyor, work, run_back),
    )  # fmt: skip


def _no_load() -> Given:
    return assumed(
        "standstill.no_load", "load on the return side", 0.0, Kind.SHARE,
        "the return side carries no load", (0.0, 0.0),
    )  # fmt: skip


def _height(key: str, label: str, value: float) -> Figure:
    """A height read off the laid-out loop."""
    return Given(key, label, value, Kind.DISTANCE, Origin.FILE, "from the loop", value, value)


def _run(conveyor: Conveyor, name: str) -> Run:
    return next(r for r in conveyor.runs() if r.name == name)


def _lowest(path: Path) -> float:
    """Lowest point of the loop: down to it a strand may hang."""
    return min(min(s.height_in, s.height_out) for s in path.stations)


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


def _way_from_take_up(conveyor: Conveyor, work: Work) -> list[Run]:
    """The runs between take-up and place of work, not crossing a driven pulley.

    The place's own run is part of the way. Both directions are tried; the loop has at least
    one driven pulley, so at most one way is open when there is a single drive beside the
    take-up, and the longer of two open ways is taken (more friction: safe side).
    """
    loop = list(conveyor.loop)
    start = next(n for n, e in enumerate(loop) if e.name == conveyor.take_up.pulley)
    ways: list[list[Run]] = []
    for step in (1, -1):
        way: list[Run] = []
        index = start
        for _ in loop:
            index = (index + step) % len(loop)
            element = loop[index]
            if isinstance(element, Run):
                way.append(element)
                if element.name == work.run:
                    ways.append(way)
                    break
            elif element.drive:
                break
    return max(ways, key=lambda w: sum(r.length.value for r in w), default=[])


def _at_rest(
    key: str, label: str, take_up: Figure, conveyor: Conveyor, work: Work, path: Path,
    sheet: Worksheet,
) -> Figure:  # fmt: skip
    belt = conveyor.belt.line_mass
    frictions = []
    for number, run in enumerate(_way_from_take_up(conveyor, work), 1):
        frictions.append(
            sheet.work(
                f"{key}.friction.{number}", f"friction of the standing belt on {run.name}",
                main_resistance,
                friction=conveyor.method.standing_friction,
                load_friction=conveyor.method.standing_friction, length=run.length,
                rolls=run.idlers.line_mass, belt=belt, load=0.0, rise=run.rise,
            )
        )  # fmt: skip
    friction = sheet.total(
        f"{key}.friction", "friction from the take-up to the place of work", frictions, Kind.FORCE
    )
    _, height = path.place(work)
    take_up_height = path.at(conveyor.take_up.pulley).height_in
    lowest = min(min(s.height_in, s.height_out) for s in path.stations)
    base = take_up_height if take_up.value > 0 else lowest
    return sheet.work(
        key, label, tension_at_rest, take_up=take_up, belt=belt,
        height=_height(f"{key}.height", "height of the place of work", height),
        take_up_height=_height(f"{key}.base", "height of take-up, or of the lowest point", base),
        friction=friction,
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
        rise=_height("standstill.drawing_rise", "height the belt may be drawn up", max(climb, own)),
        friction=friction,
    )


def _remarks(conveyor: Conveyor, work: Work, run_back: Figure) -> tuple[Sentence, ...]:
    said = [
        sentence("Friction is added, never credited; the driven pulley is not trusted to hold.")
    ]
    if run_back.value > 0:
        said.append(
            sentence(
                "The load alone pulls {pull} down the slope: clear the belt, or hold it, before "
                "anything is loosened.",
                pull=run_back,
            )
        )
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
    if any(d.holdback is None and d.brake is None for d in conveyor.drives) and run_back.value > 0:
        said.append(
            sentence("Nobody said whether a holdback or brake is fitted: find out; trust neither.")
        )
    return tuple(said)


def _friction(sheet: Worksheet) -> Figure:
    found = sheet.get("standstill.released.friction")
    assert found is not None  # written by the tension with the take-up released
    return found
