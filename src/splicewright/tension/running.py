"""Tension round the running loop: the resistance way, load case by load case.

The loop is walked once from the last driven pulley. Everything on the way adds to the tension
or takes from it, so that each station's tension is T = alpha X + beta of the tension X that
leaves that pulley. X then follows from the take-up where its pull is known, else from the slip
and sag limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from splicewright.plant import (
    Conveyor,
    Element,
    Pulley,
    Run,
    Side,
    Special,
    SpecialKind,
    TakeUp,
    slug,
)
from splicewright.quantities import Figure, Given, Kind, Worksheet, assumed, formula
from splicewright.tension import resistance as law
from splicewright.tension import traction


class LoadCase(StrEnum):
    """How the conveyor runs."""

    EMPTY = "empty"
    FULL = "full"
    STARTING = "starting full"

    @property
    def loaded(self) -> bool:
        """Whether the carry side is loaded."""
        return self is not LoadCase.EMPTY


@dataclass(frozen=True, slots=True)
class Point:
    """Tension at the end of one element of the loop."""

    name: str
    is_run: bool
    entering: Figure
    leaving: Figure


@dataclass(frozen=True, slots=True)
class RunForce:
    """What one run adds to the tension, with its parts."""

    run: str
    main: Figure
    secondary: Figure
    slope: Figure
    special: Figure | None
    starting: Figure | None
    total: Figure


@dataclass(frozen=True, slots=True)
class Running:
    """One load case, solved: forces [N] and tensions round the loop.

    pull: effective pull F_U; power: at the motors [W]; needed: tension that slip and sag want
    behind the drive; behind_drive: X; largest: over the loop, per width [N/m]; grip: share of
    the slip limit used, below 1 when the belt holds.
    """

    case: LoadCase
    pull: Figure
    power: Figure
    forces: tuple[RunForce, ...]
    needed: tuple[Figure, ...]
    behind_drive: Figure
    take_up: Figure
    points: tuple[Point, ...]
    largest: Figure
    where: str
    grip_kept: bool
    sag_kept: bool

    def at(self, name: str) -> Point:
        """The point of the element called `name`; KeyError when there is none."""
        for point in self.points:
            if point.name == name:
                return point
        raise KeyError(name)


@formula(
    "T = α X + β",
    gives=("T", Kind.FORCE),
    symbols={"alpha": "α", "datum": "X", "beta": "β"},
    source="statics",
)
def at_station(alpha: float, datum: float, beta: float) -> float:
    """Tension at a station from the tension behind the drive.

    Parameters
    ----------
    alpha : product of the pulleys' tension factors on the way [-]
    datum : tension leaving the last driven pulley [N]
    beta : sum of what was added on the way [N]

    Returns
    -------
    float [N]
    """
    return alpha * datum + beta


@formula(
    "X = (T - β)/α",
    gives=("X", Kind.FORCE),
    symbols={"tension": "T", "beta": "β", "alpha": "α"},
    source="statics",
)
def datum_for(tension: float, beta: float, alpha: float) -> float:
    """Tension behind the drive that gives a wanted tension at a station [N]."""
    return (tension - beta) / alpha


@formula(
    "β = β_0 ± F",
    gives=("β", Kind.FORCE),
    symbols={"before": "β_0", "sign": "±", "force": "F"},
    source="statics",
    limits="plus for the forces of a run, minus for the pull of a driven pulley",
)
def added_on_the_way(before: float, sign: float, force: float) -> float:
    """Sum of forces from behind the drive up to the end of one element.

    Parameters
    ----------
    before : the sum before it [N]
    sign : 1 where the force adds to the tension, -1 where a drive takes it off [-]
    force : of the element [N]

    Returns
    -------
    float [N]
    """
    return before + sign * force


@formula(
    "α = k α_0",
    gives=("α", Kind.RATIO),
    symbols={"loss": "k", "before": "α_0"},
    source="pulley-factor",
)
def factors_on_the_way(loss: float, before: float) -> float:
    """Product of the tension factors of the undriven pulleys passed so far [-]."""
    return loss * before


@dataclass(frozen=True, slots=True)
class _Walked:
    """alpha and beta entering and leaving one element."""

    element: Element
    alpha_in: Figure | float
    beta_in: Figure | float
    alpha_out: Figure | float
    beta_out: Figure | float


def running(
    conveyor: Conveyor, cases: Sequence[LoadCase], sheet: Worksheet, prefix: str = ""
) -> tuple[Running, ...]:
    """Solve the given load cases for one direction of travel.

    Parameters
    ----------
    conveyor : in the direction of travel wanted
    cases : to solve; the take-up, where unknown, is set by the most demanding of them
    sheet : takes every line
    prefix : put before each key, to tell directions apart

    Returns
    -------
    One `Running` for each case, in the order given.
    """
    worked = [_Case(conveyor, case, sheet, prefix) for case in cases]
    known = _known_tension(conveyor.take_up, sheet)
    if known is None:
        wanted = [w.take_up_wanted() for w in worked]
        known = sheet.largest(
            f"{prefix}take_up.tension_needed",
            "take-up tension not known: the least that holds slip and sag in every case",
            wanted,
        )
    return tuple(w.solve(known) for w in worked)


def _known_tension(take_up: TakeUp, sheet: Worksheet) -> Figure | None:
    if take_up.mass is not None:
        return _once(
            sheet, "take_up.tension", "tension at the take-up", traction.counterweight_tension,
            mass=take_up.mass, strands=float(take_up.strands),
        )  # fmt: skip
    if take_up.force is not None:
        return _once(
            sheet, "take_up.tension", "tension at the take-up", traction.take_up_tension,
            force=take_up.force, strands=float(take_up.strands),
        )  # fmt: skip
    return None


class _Case:
    """The work of one load case, from resistances to the walked loop."""

    def __init__(self, conveyor: Conveyor, case: LoadCase, sheet: Worksheet, prefix: str) -> None:
        self.conveyor, self.case, self.sheet = conveyor, case, sheet
        self.key = f"{prefix}{case.value.replace(' ', '_')}"
        self.nothing = assumed(
            "load.none", "load per metre where the belt is empty", 0.0, Kind.LINE_MASS,
            "no load in this case or on this side", (0.0, 0.0),
        )  # fmt: skip
        self.forces = self._forces()
        self.pull = self._steady_pull()
        self.forces = self._with_start()
        self.drive_pull = self._drive_pull()
        self.walked = self._walk()
        self.needed = self._limits()

    def _load(self, run: Run) -> Given:
        full = self.case.loaded and run.side is Side.CARRY
        return self.conveyor.material.line_mass if full else self.nothing

    def _forces(self) -> list[RunForce]:
        sheet, belt = self.sheet, self.conveyor.belt.line_mass
        made = []
        for run in self.conveyor.runs():
            key = f"{self.key}.{slug(run.name)}"
            load = self._load(run)
            main = sheet.work(
                f"{key}.main", f"main resistance, {run.name}", law.main_resistance,
                friction=run.friction, load_friction=run.load_friction, length=run.length,
                rolls=run.idlers.line_mass, belt=belt, load=load, rise=run.rise,
            )  # fmt: skip
            secondary = sheet.work(
                f"{key}.secondary", f"secondary resistance, {run.name}",
                law.secondary_resistance,
                coefficient=self.conveyor.method.length_coefficient, main=main,
            )  # fmt: skip
            slope = sheet.work(
                f"{key}.slope", f"slope resistance, {run.name}", law.slope_resistance,
                belt=belt, load=load, rise=run.rise,
            )  # fmt: skip
            parts = [
                self._special(special, run, main, secondary, f"{key}.{slug(special.name)}")
                for special in self.conveyor.specials
                if special.run == run.name
            ]
            special = (
                sheet.total(f"{key}.special", f"special resistance, {run.name}", parts)
                if parts
                else None
            )
            shares = [main, secondary, slope, *([special] if special else [])]
            total = sheet.total(f"{key}.steady", f"resistance of {run.name}", shares)
            made.append(RunForce(run.name, main, secondary, slope, special, None, total))
        return made

    def _special(
        self, special: Special, run: Run, main: Figure, secondary: Figure, key: str
    ) -> Figure:
        sheet, conveyor, label = self.sheet, self.conveyor, special.name
        belt, load = conveyor.belt.line_mass, self._load(run)
        if special.kind is SpecialKind.TILT:
            slope = np.minimum(1.0, np.abs(run.rise.value / run.length.value))
            return sheet.work(
                key, label, law.tilt_resistance,
                coefficient=special["coefficient"], friction=special["friction"],
                length=special["length"], belt=belt, load=load,
                cosine=(1 - slope**2) ** 0.5, tilt=special["tilt"],
            )  # fmt: skip
        if special.kind is SpecialKind.SKIRTS:
            return self._skirts(special, load, key)
        if special.kind is SpecialKind.CLEANER:
            return sheet.work(
                key, label, law.cleaner_resistance,
                area=special["area"], pressure=special["pressure"], friction=special["friction"],
            )  # fmt: skip
        if special.kind is SpecialKind.PLOUGH:
            return sheet.work(
                key, label, law.plough_resistance,
                per_width=special["per_width"], width=conveyor.belt.width,
            )  # fmt: skip
        if special.kind is SpecialKind.ALLOWANCE:
            return sheet.work(
                key, label, law.allowance,
                share=special["share"], main=main, secondary=secondary,
            )  # fmt: skip
        return sheet.total(key, label, [sheet.note(special["force"])])

    def _skirts(self, special: Special, load: Given, key: str) -> Figure:
        sheet, conveyor = self.sheet, self.conveyor
        density = conveyor.material.density or _DENSITY
        inputs = dict(special.inputs)
        if "volume_flow" in inputs and self.case.loaded:
            flow: Figure = inputs["volume_flow"]
        else:
            rate = sheet.work(f"{key}.rate", "mass flow over the skirts", law.mass_flow_of,
                              load=load, speed=conveyor.speed)  # fmt: skip
            flow = sheet.work(f"{key}.flow", "volume flow between the skirts", law.volume_flow_of,
                              rate=rate, density=density)  # fmt: skip
        return sheet.work(
            key, special.name, law.skirt_resistance,
            friction=special["friction"], volume_flow=flow, density=density,
            length=special["length"], speed=conveyor.speed, between=special["between"],
        )  # fmt: skip

    def _steady_pull(self) -> Figure:
        totals = [force.total for force in self.forces]
        return self.sheet.total(f"{self.key}.pull", f"effective pull, {self.case.value}", totals)

    def _start_factor(self) -> Given:
        return max((d.start_factor for d in self.conveyor.drives), key=lambda g: g.value)

    def _with_start(self) -> list[RunForce]:
        if self.case is not LoadCase.STARTING:
            return self.forces
        sheet, belt = self.sheet, self.conveyor.belt.line_mass
        masses = [
            sheet.work(
                f"{self.key}.{slug(run.name)}.mass",
                f"moving mass, {run.name}",
                traction.moving_mass,
                length=run.length,
                rolls=run.idlers.line_mass,
                belt=belt,
                load=self._load(run),
            )
            for run in self.conveyor.runs()
        ]
        all_mass = sheet.total(f"{self.key}.mass", "moving mass of the loop", masses)
        made = []
        for force, mass in zip(self.forces, masses, strict=True):
            key = f"{self.key}.{slug(force.run)}"
            extra = sheet.work(
                f"{key}.starting", f"starting force, {force.run}", traction.starting_share,
                factor=self._start_factor(), pull=self.pull, mass=mass, all_mass=all_mass,
            )  # fmt: skip
            total = sheet.total(f"{key}.total", f"all forces of {force.run}", [force.total, extra])
            made.append(
                RunForce(
                    force.run, force.main, force.secondary, force.slope, force.special, extra, total
                )
            )
        return made

    def _drive_pull(self) -> Figure:
        if self.case is not LoadCase.STARTING:
            return self.pull
        totals = [force.total for force in self.forces]
        return self.sheet.total(f"{self.key}.drive_pull", "pull of the drives at the start", totals)

    def _share_of(self, pulley: Pulley) -> Figure:
        drive = next(d for d in self.conveyor.drives if d.name == pulley.drive)
        count = sum(1 for p in self.conveyor.pulleys() if p.drive == pulley.drive)
        return self.sheet.work(
            f"{self.key}.{slug(pulley.name)}.pull", f"pull given at {pulley.name}", _drive_share,
            share=drive.share, pull=self.drive_pull, pulleys=float(count),
        )  # fmt: skip

    def _walk(self) -> list[_Walked]:
        loop = self.conveyor.loop
        last = max(n for n, e in enumerate(loop) if isinstance(e, Pulley) and e.drive)
        order = [*loop[last + 1 :], *loop[: last + 1]]
        added = {f.run: f.total for f in self.forces}
        self.shares = {
            e.name: self._share_of(e) for e in order if isinstance(e, Pulley) and e.drive
        }
        alpha: Figure | float = 1.0
        beta: Figure | float = 0.0
        walked = []
        for element in order:
            a, b = alpha, beta
            key = f"{self.key}.{slug(element.name)}"
            if isinstance(element, Run):
                beta = self._step(key, element.name, beta, added[element.name], 1.0)
            elif element.drive:
                beta = self._step(key, element.name, beta, self.shares[element.name], -1.0)
            elif np.any(np.asarray(element.loss.value) != 1.0):
                name = element.name
                alpha = self.sheet.work(
                    f"{key}.alpha", f"tension factors up to {name}", factors_on_the_way,
                    loss=element.loss, before=alpha,
                )  # fmt: skip
                beta = self.sheet.work(
                    f"{key}.beta", f"forces up to {name}", traction.times,
                    factor=element.loss, pull=beta,
                )  # fmt: skip
            walked.append(_Walked(element, a, b, alpha, beta))
        return walked

    def _step(
        self, key: str, name: str, before: Figure | float, force: Figure, sign: float
    ) -> Figure:
        """Forces from the drive up to the end of an element."""
        return self.sheet.work(
            f"{key}.beta", f"forces up to the end of {name}", added_on_the_way,
            before=before, sign=sign, force=force,
        )  # fmt: skip

    def _datum(
        self,
        key: str,
        label: str,
        tension: Figure,
        alpha: Figure | float,
        beta: Figure | float,
    ) -> Figure:
        return self.sheet.work(key, label, datum_for, tension=tension, beta=beta, alpha=alpha)

    def _limits(self) -> tuple[Figure, ...]:
        return (*self._slip_limits(), *self._sag_limits())

    def _slip_limits(self) -> list[Figure]:
        sheet, method = self.sheet, self.conveyor.method
        driven = [w for w in self.walked if isinstance(w.element, Pulley) and w.element.drive]
        found = []
        if method.shared_by_grip and len(driven) > 1:
            wraps = [w.element.wrap for w in driven if isinstance(w.element, Pulley)]
            wrap = _once_total(sheet, "loop.all_wrap", "wrap of all driven pulleys", wraps)
            together = sheet.work(
                f"{self.key}.slip",
                "tension behind the drive for grip",
                traction.slack_side_for_grip,
                margin=method.slip_margin,
                pull=self.drive_pull,
                friction=method.drum_friction,
                wrap=wrap,
            )
            return [together]
        for w in driven:
            assert isinstance(w.element, Pulley)
            key = f"{self.key}.{slug(w.element.name)}"
            wanted = sheet.work(
                f"{key}.slip", f"tension behind {w.element.name} for grip",
                traction.slack_side_for_grip,
                margin=method.slip_margin, pull=self.shares[w.element.name],
                friction=method.drum_friction, wrap=w.element.wrap,
            )  # fmt: skip
            found.append(
                wanted
                if w is self.walked[-1]
                else self._datum(f"{key}.slip_datum", "the same, behind the last driven pulley",
                                 wanted, w.alpha_out, w.beta_out)
            )  # fmt: skip
        return found

    def _sag_limits(self) -> list[Figure]:
        sheet, belt = self.sheet, self.conveyor.belt.line_mass
        found = []
        for w in self.walked:
            run = w.element
            if not isinstance(run, Run) or np.all(
                np.abs(run.rise.value) > 0.7 * np.asarray(run.length.value)
            ):
                continue  # a run as steep as that hangs and does not sag
            key = f"{self.key}.{slug(run.name)}"
            wanted = sheet.work(
                f"{key}.sag", f"tension for the sag limit, {run.name}", traction.tension_for_sag,
                spacing=run.idlers.spacing, belt=belt, load=self._load(run),
                sag=self.conveyor.method.sag_limit,
            )  # fmt: skip
            gain = np.asarray(_number(w.beta_out)) - _number(w.beta_in)
            ends = ("start", w.alpha_in, w.beta_in), ("end", w.alpha_out, w.beta_out)
            for end, alpha, beta in ends:
                # The slacker end decides; with arrays it may be one here and the other there.
                if np.any(gain >= 0 if end == "start" else gain < 0):
                    found.append(
                        self._datum(
                            f"{key}.sag_datum.{end}",
                            f"behind the drive, for the {end} of {run.name}", wanted, alpha, beta,
                        )
                    )  # fmt: skip
        return found

    def _take_up_at(self) -> _Walked:
        return next(w for w in self.walked if w.element.name == self.conveyor.take_up.pulley)

    def take_up_wanted(self) -> Figure:
        """The tension at the take-up that holds slip and sag in this case."""
        x = self.sheet.largest(
            f"{self.key}.needed", "tension wanted behind the drive by slip and sag", self.needed
        )
        at = self._take_up_at()
        return self.sheet.work(
            f"{self.key}.take_up_needed", f"take-up tension wanted, {self.case.value}", at_station,
            alpha=at.alpha_in, datum=x, beta=at.beta_in,
        )  # fmt: skip

    def solve(self, take_up: Figure) -> Running:
        """All tensions, with the take-up at the given tension."""
        sheet, conveyor = self.sheet, self.conveyor
        at = self._take_up_at()
        x = self._datum(
            f"{self.key}.behind_drive", "tension behind the drive", take_up, at.alpha_in, at.beta_in
        )
        points = []
        entering = x
        for w in self.walked:
            leaving = sheet.work(
                f"{self.key}.{slug(w.element.name)}.tension",
                f"tension behind {w.element.name}, {self.case.value}", at_station,
                alpha=w.alpha_out, datum=x, beta=w.beta_out,
            )  # fmt: skip
            points.append(Point(w.element.name, isinstance(w.element, Run), entering, leaving))
            entering = leaving
        top = sheet.largest(
            f"{self.key}.largest_force", f"largest tension, {self.case.value}",
            [p.leaving for p in points],
        )  # fmt: skip
        largest = sheet.work(
            f"{self.key}.largest", f"largest tension per width, {self.case.value}",
            traction.per_width, tension=top, width=conveyor.belt.width,
        )  # fmt: skip
        power = sheet.work(
            f"{self.key}.pulley_power", f"power at the pulleys, {self.case.value}",
            law.pulley_power, pull=self.drive_pull, speed=conveyor.speed,
        )  # fmt: skip
        motor = sheet.work(
            f"{self.key}.power", f"power of the motors, {self.case.value}", law.motor_power,
            power=power, efficiency=conveyor.drives[0].efficiency,
        )  # fmt: skip
        slips = self._slip_count()
        return Running(
            case=self.case,
            pull=self.drive_pull,
            power=motor,
            forces=tuple(self.forces),
            needed=self.needed,
            behind_drive=x,
            take_up=take_up,
            points=tuple(points),
            largest=largest,
            where=_where(points, top.value),
            grip_kept=all(_holds(x, n) for n in self.needed[:slips]),
            sag_kept=all(_holds(x, n) for n in self.needed[slips:]),
        )

    def _slip_count(self) -> int:
        if self.conveyor.method.shared_by_grip:
            return 1
        return sum(1 for w in self.walked if isinstance(w.element, Pulley) and w.element.drive)


@formula(
    "F_i = k_i F / n_i",
    gives=("F_i", Kind.FORCE),
    symbols={"share": "k_i", "pull": "F", "pulleys": "n_i"},
    source="arithmetic",
)
def _drive_share(share: float, pull: float, pulleys: float) -> float:
    """Pull one driven pulley gives: its drive's share over the pulleys it turns [N]."""
    return share * pull / pulleys


_DENSITY = assumed(
    "material.density", "bulk density", 1600.0, Kind.DENSITY,
    "bulk density not given; crushed stone taken", (800.0, 2500.0),
)  # fmt: skip


def _number(item: Figure | float) -> float:
    return item.value if isinstance(item, Figure) else item


def _holds(there: Figure, needed: Figure) -> bool:
    return bool(np.all(np.asarray(there.value) >= np.asarray(needed.value) * (1 - 1e-9)))


def _where(points: list[Point], top: float) -> str:
    """The element behind which the tension is largest."""
    gaps = [float(np.max(np.asarray(top) - np.asarray(p.leaving.value))) for p in points]
    return points[gaps.index(min(gaps))].name


def _once(sheet: Worksheet, key: str, label: str, law_: object, **inputs: Figure | float) -> Figure:
    """Work a figure that several cases share, only the first time."""
    found = sheet.get(key)
    return found if found is not None else sheet.work(key, label, law_, **inputs)  # type: ignore[arg-type]


def _once_total(sheet: Worksheet, key: str, label: str, parts: Sequence[Figure]) -> Figure:
    found = sheet.get(key)
    return found if found is not None else sheet.total(key, label, parts)
