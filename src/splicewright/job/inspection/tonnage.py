"""How much the belt may carry when the joint may bear only so much.

The load per metre of belt is varied until the running tension at some place of the loop meets
what the joint bears there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from splicewright.job.inspection.joined_belt import ALL_ROUND
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension.running.demand import Governing, governing
from splicewright.tension.unknowns import with_inputs

Array = NDArray[np.float64]

_STEPS, _FINER = 40, 1600


@dataclass(frozen=True, slots=True)
class Tonnage:
    """The load a joint lets the belt carry.

    share : of the full load per metre of belt [1]
    line_mass : [kg/m]
    rate : mass flow at the belt's speed [kg/s]
    tension : largest running tension per width with it [N/m]
    """

    share: float
    line_mass: float
    rate: float
    tension: float


def tensions_at(conveyor: Conveyor, line_mass: Array) -> dict[str, Array]:
    """Largest steady tension per width over the loop and at each pulley, by load.

    line_mass : loads per metre of belt, shape (n,) [kg/m]
    Returns pulley name, and `ALL_ROUND` for the whole loop, -> shape (n,) [N/m].
    """
    solved = governing(with_inputs(conveyor, {"material.line_mass": line_mass}), Worksheet())
    width = conveyor.belt.width.value
    steady = [r for r in (*solved.forward, *solved.backward) if r.case.steady]
    top = [r.largest.value for r in steady] + [w.largest.value for w in solved.worst]
    tensions = {ALL_ROUND: _largest(top, line_mass.shape)}
    for pulley in conveyor.pulleys():
        forces = _forces_at(solved, pulley.name)
        tensions[pulley.name] = _largest(forces, line_mass.shape) / width
    return tensions


def _forces_at(solved: Governing, pulley: str) -> list[float]:
    forces = []
    for running in (*solved.forward, *solved.backward):
        if running.case.steady:
            point = running.at(pulley)
            forces += [point.entering.value, point.leaving.value]
    return forces + [p.tension.value for w in solved.worst for p in w.points if p.name == pulley]


def _largest(values: list[float], shape: tuple[int, ...]) -> Array:
    return np.asarray(
        np.max([np.broadcast_to(np.asarray(v, float), shape) for v in values], axis=0)
    )


def largest_load(
    conveyor: Conveyor, governing_now: float, may: Mapping[str, float]
) -> Tonnage | None:
    """The largest load that keeps every place, at it and at every smaller load, within `may`.

    Where the motor plates give a larger tension than the resistances, the difference is kept
    at every load: the safe side.

    governing_now : governing running tension per width, by which `may` was found [N/m]
    may : pulley, or `ALL_ROUND`, -> tension per width the joint bears there [N/m]
    Returns tonnage; None when not even the empty belt is within it.
    """
    full = conveyor.material.line_mass.value
    shares, tensions = _coarse(conveyor)
    added = {ALL_ROUND: _added(governing_now, tensions[ALL_ROUND][-1])}

    def overloads(tensions: Mapping[str, Array]) -> NDArray[np.bool_]:
        too_much = np.zeros(tensions[ALL_ROUND].shape, dtype=bool)
        for place, limit in may.items():
            # The full load's own rounding must not read as an overload of a joint that bears it.
            too_much |= tensions[place] + added.get(place, 0.0) > limit * (1 + 1e-9)
        return too_much

    wrong = overloads(tensions)
    if wrong[0]:
        return None
    at = len(shares) - 1
    if wrong.any():
        first = int(wrong.argmax())
        shares = np.linspace(shares[first - 1], shares[first], _FINER + 1)
        tensions = tensions_at(conveyor, shares * full)
        at = int(overloads(tensions).argmax()) - 1
    low, tension = float(shares[at]), float(tensions[ALL_ROUND][at])
    rate = low * full * conveyor.speed.value
    return Tonnage(low, low * full, rate, tension + added[ALL_ROUND])


def empty_tensions(conveyor: Conveyor, governing_now: float) -> dict[str, float]:
    """Largest tension per width with nothing on the belt, as `largest_load` counts it [N/m].

    Pulley, or `ALL_ROUND`, -> tension; `governing_now` as for `largest_load`.
    """
    _, tensions = _coarse(conveyor)
    least = {place: float(by_load[0]) for place, by_load in tensions.items()}
    least[ALL_ROUND] += _added(governing_now, tensions[ALL_ROUND][-1])
    return least


@lru_cache(maxsize=8)
def _coarse(conveyor: Conveyor) -> tuple[Array, dict[str, Array]]:
    """Shares of the full load from none to all, and the tensions with them.

    Kept: one joint is asked about tap after tap, and its conveyor is the same.
    """
    shares = np.linspace(0.0, 1.0, _STEPS + 1)
    return shares, tensions_at(conveyor, shares * conveyor.material.line_mass.value)


def _added(governing_now: float, resistances: float) -> float:
    """What the motor plates make of the governing tension above the resistances [N/m]."""
    return max(0.0, governing_now - float(resistances))
