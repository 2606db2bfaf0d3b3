"""What each run adds to the belt tension in one load case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from splicewright.plant import Conveyor, Run, Side, Special, SpecialKind, slug
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import Figure, Given, Kind, Worksheet, assumed
from splicewright.tension.resistance import main as law
from splicewright.tension.resistance.traction import nameplate_pull, times
from splicewright.tension.running import load_cases
from splicewright.tension.running.load_cases import LoadCase


@dataclass(frozen=True, slots=True)
class RunForce:
    """What one run adds to the tension, with its parts [N].

    special: None without any; surplus: from speeding up, slowing down or a blocked chute, None
    when the belt runs evenly; total: everything together.
    """

    run: str
    main: Figure
    secondary: Figure
    slope: Figure
    special: Figure | None
    surplus: Figure | None
    total: Figure


@dataclass(frozen=True, slots=True)
class CaseForces:
    """All runs of one case: their forces, the pull the drives give [N]."""

    key: str
    case: LoadCase
    runs: tuple[RunForce, ...]
    pull: Figure


def case_forces(
    conveyor: Conveyor, case: LoadCase, sheet: Worksheet, prefix: str = ""
) -> CaseForces:
    """Work out what every run adds in one load case.

    Parameters
    ----------
    conveyor : in the direction of travel wanted
    case : the load case
    sheet : takes the lines
    prefix : put before each key
    """
    key = f"{prefix}{case.key}"
    loads = {run.name: load_of(conveyor, run, case.loads(run)) for run in conveyor.runs()}
    return forces_with(conveyor, case, loads, sheet, key)


def forces_with(
    conveyor: Conveyor, case: LoadCase, loads: dict[str, Given], sheet: Worksheet, key: str
) -> CaseForces:
    """The same with the load of every run said one by one [kg/m]."""
    forces = [_steady(conveyor, run, case, loads[run.name], sheet, key) for run in conveyor.runs()]
    pull = sheet.total(f"{key}.pull", f"effective pull, {case.value}", [f.total for f in forces])
    if case.steady or case is LoadCase.HOLDING:
        return CaseForces(key, case, tuple(forces), pull)
    moved = _with_surplus(conveyor, case, forces, loads, pull, sheet, key)
    given = sheet.total(
        f"{key}.drive_pull", f"pull of the drives, {case.value}", [f.total for f in moved]
    )
    return CaseForces(key, case, tuple(moved), given)


def load_of(conveyor: Conveyor, run: Run, loaded: bool) -> Given:
    """Load per length on a run: the full load or none [kg/m]."""
    return conveyor.material.line_mass if loaded and run.side is Side.CARRY else NO_LOAD


def density_of(conveyor: Conveyor) -> Given:
    """Bulk density of what is carried, stated or assumed [kg/m3]."""
    return conveyor.material.density or assuming(
        "material.density", "bulk density", assume.BULK_DENSITY
    )


NO_LOAD = assumed(
    "load.none",
    "load per metre where the belt is empty",
    0.0,
    Kind.LINE_MASS,
    "no load in this case or on this side",
    (0.0, 0.0),
)


def _steady(
    conveyor: Conveyor, run: Run, case: LoadCase, load: Given, sheet: Worksheet, case_key: str
) -> RunForce:
    belt = conveyor.belt.line_mass
    key = f"{case_key}.{slug(run.name)}"
    # A held belt stands: friction may act either way, so none is credited.
    still = case is LoadCase.HOLDING
    main = sheet.work(
        f"{key}.main",
        f"main resistance, {run.name}",
        law.main_resistance,
        friction=0.0 if still else run.friction,
        load_friction=0.0 if still else run.load_friction,
        length=run.length,
        rolls=run.idlers.line_mass,
        belt=belt,
        load=load,
        rise=run.rise,
    )
    secondary = sheet.work(
        f"{key}.secondary",
        f"secondary resistance, {run.name}",
        law.secondary_resistance,
        coefficient=conveyor.method.length_coefficient,
        main=main,
    )
    slope = sheet.work(
        f"{key}.slope",
        f"slope resistance, {run.name}",
        law.slope_resistance,
        belt=belt,
        load=load,
        rise=run.rise,
    )
    parts = [
        special_resistance(
            conveyor, one, run, load, main, secondary, sheet, f"{key}.{slug(one.name)}"
        )
        for one in conveyor.specials
        if one.run == run.name and not still
    ]
    special = None
    if parts:
        special = sheet.total(f"{key}.special", f"special resistance, {run.name}", parts)
    shares = [main, secondary, slope, *([special] if special else [])]
    total = sheet.total(f"{key}.steady", f"resistance of {run.name}", shares)
    return RunForce(run.name, main, secondary, slope, special, None, total)


def special_resistance(
    conveyor: Conveyor,
    special: Special,
    run: Run,
    load: Given,
    main: Figure,
    secondary: Figure,
    sheet: Worksheet,
    key: str,
) -> Figure:
    """One special resistance of a run [N]."""
    label, belt = special.name, conveyor.belt.line_mass
    if special.kind is SpecialKind.TILT:
        slope = np.minimum(1.0, np.abs(run.rise.value / run.length.value))
        return sheet.work(
            key,
            label,
            law.tilt_resistance,
            coefficient=special["coefficient"],
            friction=special["friction"],
            length=special["length"],
            belt=belt,
            load=load,
            cosine=(1 - slope**2) ** 0.5,
            tilt=special["tilt"],
        )
    if special.kind is SpecialKind.SKIRTS:
        return _skirts(conveyor, special, load, sheet, key)
    if special.kind is SpecialKind.CLEANER:
        return sheet.work(
            key,
            label,
            law.cleaner_resistance,
            area=special["area"],
            pressure=special["pressure"],
            friction=special["friction"],
        )
    if special.kind is SpecialKind.PLOUGH:
        return sheet.work(
            key,
            label,
            law.plough_resistance,
            per_width=special["per_width"],
            width=conveyor.belt.width,
        )
    if special.kind is SpecialKind.ALLOWANCE:
        return sheet.work(
            key, label, law.allowance, share=special["share"], main=main, secondary=secondary
        )
    return sheet.total(key, label, [sheet.note(special["force"])])


def _skirts(
    conveyor: Conveyor, special: Special, load: Given, sheet: Worksheet, key: str
) -> Figure:
    density = density_of(conveyor)
    inputs = dict(special.inputs)
    if "volume_flow" in inputs and load is not NO_LOAD:
        flow: Figure = inputs["volume_flow"]
    else:
        rate = sheet.work(
            f"{key}.rate",
            "mass flow over the skirts",
            law.mass_flow_of,
            load=load,
            speed=conveyor.speed,
        )
        flow = sheet.work(
            f"{key}.flow",
            "volume flow between the skirts",
            law.volume_flow_of,
            rate=rate,
            density=density,
        )
    return sheet.work(
        key,
        special.name,
        law.skirt_resistance,
        friction=special["friction"],
        volume_flow=flow,
        density=density,
        length=special["length"],
        speed=conveyor.speed,
        between=special["between"],
    )


def _with_surplus(
    conveyor: Conveyor,
    case: LoadCase,
    forces: Sequence[RunForce],
    loads: dict[str, Given],
    pull: Figure,
    sheet: Worksheet,
    key: str,
) -> list[RunForce]:
    if case is LoadCase.BLOCKED:
        return _blocked(conveyor, forces, pull, sheet, key)
    masses = [
        sheet.work(
            f"{key}.{slug(run.name)}.mass",
            f"moving mass, {run.name}",
            load_cases.moving_mass,
            length=run.length,
            rolls=run.idlers.line_mass,
            belt=conveyor.belt.line_mass,
            load=loads[run.name],
        )
        for run in conveyor.runs()
    ]
    mass = sheet.total(f"{key}.mass", "moving mass of the loop", masses)
    surplus = _surplus(conveyor, case, pull, mass, sheet, key)
    return [
        _added(
            force,
            sheet.work(
                f"{key}.{slug(force.run)}.surplus",
                f"{case.value}: share of {force.run}",
                load_cases.share_of_surplus,
                surplus=surplus,
                mass=own,
                all_mass=mass,
            ),
            sheet,
            key,
        )
        for force, own in zip(forces, masses, strict=True)
    ]


def _surplus(
    conveyor: Conveyor, case: LoadCase, pull: Figure, mass: Figure, sheet: Worksheet, key: str
) -> Figure:
    label = f"{case.value}: what speeds up or slows down the loop"
    if case is LoadCase.STARTING:
        factors = [d.start_factor for d in conveyor.drives]
        factor = factors[0]
        if len(factors) > 1:
            strongest = sheet.largest(
                f"{key}.start_factor", "largest start factor of the drives", factors
            )
            return sheet.work(
                f"{key}.surplus", label, load_cases.starting_surplus, factor=strongest, pull=pull
            )
        return sheet.work(
            f"{key}.surplus", label, load_cases.starting_surplus, factor=factor, pull=pull
        )
    if case is LoadCase.COASTING:
        return sheet.work(f"{key}.surplus", label, load_cases.coasting_surplus, pull=pull)
    stops = [d.stopping_time for d in conveyor.drives if d.brake]
    shortest: Figure = stops[0]
    if len(stops) > 1:
        shortest = sheet.smallest(
            f"{key}.stopping_time", "shortest stopping time of the brakes", stops
        )
    return sheet.work(
        f"{key}.surplus",
        label,
        load_cases.braking_surplus,
        pull=pull,
        mass=mass,
        speed=conveyor.speed,
        time=shortest,
    )


def _blocked(
    conveyor: Conveyor, forces: Sequence[RunForce], pull: Figure, sheet: Worksheet, key: str
) -> list[RunForce]:
    """All the surplus acts where the load leaves the belt: on the last carry run."""
    largest = [
        sheet.work(
            f"{key}.breakdown.{number}",
            f"largest pull of {drive.name}",
            times,
            factor=drive.breakdown_factor,
            pull=sheet.work(
                f"{key}.plate.{number}",
                f"pull at rated power, {drive.name}",
                nameplate_pull,
                power=drive.power,
                efficiency=drive.efficiency,
                speed=conveyor.speed,
            ),
        )
        for number, drive in enumerate(conveyor.drives, 1)
        if drive.power is not None
    ]
    breakdown = sheet.total(f"{key}.breakdown", "largest pull of all drives", largest, Kind.FORCE)
    extra = sheet.work(
        f"{key}.surplus",
        "held back by the blocked chute",
        load_cases.blocked_surplus,
        breakdown=breakdown,
        pull=pull,
    )
    carry = [run.name for run in conveyor.runs() if run.side is Side.CARRY]
    last = carry[-1] if carry else forces[-1].run
    return [_added(f, extra, sheet, key) if f.run == last else f for f in forces]


def _added(force: RunForce, extra: Figure, sheet: Worksheet, key: str) -> RunForce:
    total = sheet.total(
        f"{key}.{slug(force.run)}.total", f"all forces of {force.run}", [force.total, extra]
    )
    return replace(force, surplus=extra, total=total)
