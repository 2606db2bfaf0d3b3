"""Tension round the running loop by the resistance way, load case by load case.

Every station's tension is T = alpha X + beta of the tension X behind the last driven pulley
(`walk`). X follows from the take-up where its pull is known, else from the slip and sag limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Run, slug
from splicewright.quantities import Figure, Worksheet
from splicewright.tension.resistance import main as law
from splicewright.tension.resistance import traction
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.run_forces import RunForce, case_forces, load_of
from splicewright.tension.running.slip_and_sag import hangs, sag_limits, slip_limits
from splicewright.tension.running.take_up import (
    Anchor,
    at_take_up,
    datum,
    datum_at_take_up,
    holds_length,
    known_tension,
    mean_tension,
    means,
    wanted,
)
from splicewright.tension.running.walk import Walked, at_station, drive_shares, walk


@dataclass(frozen=True, slots=True)
class Point:
    """Tension at one element of the loop [N].

    per_width: the larger of entering and leaving over the belt width [N/m]; safety: belt
    strength over it [-]; sag: of a run at its slacker end, share of the idler spacing [-],
    None at pulleys and where the run hangs.
    """

    name: str
    is_run: bool
    entering: Figure
    leaving: Figure
    per_width: Figure
    safety: Figure
    sag: Figure | None


@dataclass(frozen=True, slots=True)
class Running:
    """One load case, solved: forces [N] and tensions round the loop.

    pull: what the drives give; power: at the motors [W]; needed: tension that slip and sag
    want behind the drive; behind_drive: X; largest: over the loop, per width [N/m]; where:
    behind which element it is; grip_kept, sag_kept: whether the limits hold.
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


def running(
    conveyor: Conveyor, cases: Sequence[LoadCase], sheet: Worksheet, prefix: str = ""
) -> tuple[tuple[Running, ...], Anchor]:
    """Solve the given load cases for one direction of travel.

    Parameters
    ----------
    conveyor : in the direction of travel wanted
    cases : to solve; the take-up, where unknown, is set by the most demanding of the ordinary
        ones (a blocked chute or a holdback sets it only where nothing else is asked)
    sheet : takes every line
    prefix : put before each key, to tell directions apart

    Returns
    -------
    One `Running` for each case in the order given, and what the take-up holds in all of them
    """
    worked = [_Case(conveyor, case, sheet, prefix) for case in cases]
    held = anchor_of(conveyor, worked, sheet, prefix)
    return tuple(w.solve(held) for w in worked), held


def anchor_of(conveyor: Conveyor, worked: Sequence[_Case], sheet: Worksheet, prefix: str) -> Anchor:
    """What the take-up holds: known, or the least that keeps slip and sag in ordinary cases."""
    take_up = conveyor.take_up
    known = known_tension(take_up, sheet)
    fixed = holds_length(take_up)
    if known is not None and not fixed:
        return Anchor(False, known)
    if known is not None:
        empty = next((w for w in worked if w.case is LoadCase.EMPTY), worked[0])
        at = at_take_up(conveyor, empty.walked)
        x = datum_at_take_up(
            known, at, sheet, f"{prefix}take_up.set_datum", "tension behind the drive as set, empty"
        )
        loop = means(conveyor, empty.walked, sheet, f"{prefix}take_up.set")
        mean = sheet.work(
            f"{prefix}take_up.mean",
            "mean tension of the loop as set",
            mean_tension,
            alpha=loop.alpha,
            datum=x,
            beta=loop.beta,
        )
        return Anchor(True, mean)
    ordinary = [w for w in worked if w.case.steady or w.case.transient]
    needed = [w.take_up_wanted() for w in ordinary or worked]
    label = "mean tension of the loop" if fixed else "take-up tension"
    least = sheet.largest(
        f"{prefix}take_up.tension_needed",
        f"{label}, not known: the least that holds slip and sag in every case",
        needed,
    )
    taken = sheet.work(
        f"{prefix}take_up.tension_taken",
        f"{label} taken, not known",
        traction.times,
        factor=take_up.preload,
        pull=least,
    )
    return Anchor(fixed, taken)


class _Case:
    """One load case on its way from resistances to tensions."""

    def __init__(self, conveyor: Conveyor, case: LoadCase, sheet: Worksheet, prefix: str) -> None:
        self.conveyor, self.case, self.sheet = conveyor, case, sheet
        self.forces = case_forces(conveyor, case, sheet, prefix)
        self.key = self.forces.key
        self.loads = {r.name: load_of(conveyor, r, case.loads(r)) for r in conveyor.runs()}
        shares = drive_shares(conveyor, self.forces, sheet)
        self.walked = walk(conveyor, self.forces, shares, sheet)
        self.slip = slip_limits(conveyor, self.forces, shares, self.walked, sheet)
        self.sag = (
            sag_limits(conveyor, self.forces, self.loads, self.walked, sheet)
            if case.steady  # starting and stopping may sag more (DIN 22101)
            else ()
        )

    def take_up_wanted(self) -> Figure:
        """What the take-up must hold to keep slip and sag in this case [N]."""
        x = self.sheet.largest(
            f"{self.key}.needed",
            "tension wanted behind the drive by slip and sag",
            [*self.slip, *self.sag],
        )
        return wanted(self.conveyor, self.walked, x, self.sheet, self.key)

    def solve(self, held: Anchor) -> Running:
        """All tensions, with the take-up holding what it holds."""
        sheet, conveyor, case = self.sheet, self.conveyor, self.case.value
        x = datum(held, conveyor, self.walked, sheet, self.key)
        at = at_take_up(conveyor, self.walked)
        take_up = sheet.work(
            f"{self.key}.take_up",
            f"tension at the take-up, {case}",
            at_station,
            alpha=at.alpha_in,
            datum=x,
            beta=at.beta_in,
        )
        points = []
        entering = x
        for w in self.walked:
            leaving = sheet.work(
                f"{self.key}.{slug(w.element.name)}.tension",
                f"tension behind {w.element.name}, {case}",
                at_station,
                alpha=w.alpha_out,
                datum=x,
                beta=w.beta_out,
            )
            points.append(self._point(w, entering, leaving))
            entering = leaving
        largest = sheet.largest(
            f"{self.key}.largest",
            f"largest tension per width, {case}",
            [p.per_width for p in points],
        )
        power = sheet.work(
            f"{self.key}.pulley_power",
            f"power at the pulleys, {case}",
            law.pulley_power,
            pull=self.forces.pull,
            speed=0.0 if self.case is LoadCase.HOLDING else conveyor.speed,  # it stands
        )
        return Running(
            case=self.case,
            pull=self.forces.pull,
            power=self._motor(power),
            forces=self.forces.runs,
            needed=(*self.slip, *self.sag),
            behind_drive=x,
            take_up=take_up,
            points=tuple(points),
            largest=largest,
            where=_where(points),
            grip_kept=all(_holds(x, n) for n in self.slip),
            sag_kept=all(_holds(x, n) for n in self.sag),
        )

    def _motor(self, power: Figure) -> Figure:
        """Power at the motors: each drive's share over its own efficiency."""
        parts = [
            self.sheet.work(
                f"{self.key}.power.{n}",
                f"power of {drive.name}, {self.case.value}",
                law.motor_power,
                share=drive.share,
                power=power,
                efficiency=drive.efficiency,
            )
            for n, drive in enumerate(self.conveyor.drives, 1)
        ]
        return self.sheet.total(
            f"{self.key}.power", f"power of the motors, {self.case.value}", parts
        )

    def _point(self, w: Walked, entering: Figure, leaving: Figure) -> Point:
        sheet, conveyor, name = self.sheet, self.conveyor, w.element.name
        key = f"{self.key}.{slug(name)}"
        per_width = sheet.work(
            f"{key}.per_width",
            f"tension per width at {name}, {self.case.value}",
            traction.larger_per_width,
            entering=entering,
            leaving=leaving,
            width=conveyor.belt.width,
        )
        safety = sheet.work(
            f"{key}.safety",
            f"belt strength over tension at {name}, {self.case.value}",
            traction.safety_factor,
            strength=conveyor.belt.strength,
            tension=per_width,
        )
        sag = None
        if isinstance(w.element, Run) and not hangs(w.element):
            sag = sheet.work(
                f"{key}.sag_there",
                f"sag of {name}, {self.case.value}",
                traction.sag_at,
                spacing=w.element.idlers.spacing,
                belt=conveyor.belt.line_mass,
                load=self.loads[name],
                entering=entering,
                leaving=leaving,
            )
        return Point(name, isinstance(w.element, Run), entering, leaving, per_width, safety, sag)


def _holds(there: Figure, needed: Figure) -> bool:
    enough = np.asarray(there.value) >= np.asarray(needed.value) - 1e-9 * np.abs(needed.value)
    return bool(np.all(enough))


def _where(points: list[Point]) -> str:
    """The element at which the tension is largest."""
    tops = [float(np.max(np.asarray(p.leaving.value))) for p in points]
    return points[tops.index(max(tops))].name
