"""The worst partial loading at every station: found, not guessed.

With what the take-up holds known, every station's tension is a sum of one part for each piece of
load, wherever on the belt it lies. The worst loading of a station is therefore exactly the pieces
whose part is above zero: no search is needed, and none is missed. Where the take-up holds its
tension, all pieces of one run count alike, so a run loaded in part is never worse than empty or
full. Where the length is held, a piece counts the more for the mean tension the nearer it lies to
the start of the walk: its part runs straight along the run, and where it changes its sign the run
is loaded up to there, or from there on. Between the ends of a run the worst tension is convex in
the place, so no station inside one is worse than the worse of its ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Run, Side, slug
from splicewright.quantities import Figure, Kind, Number, Worksheet, formula, show
from splicewright.tension.resistance import traction
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.run_forces import forces_with, load_of
from splicewright.tension.running.slip_and_sag import value_of
from splicewright.tension.running.take_up import Anchor, belt_on, datum
from splicewright.tension.running.walk import at_station, drive_shares, walk


@dataclass(frozen=True, slots=True)
class WorstPoint:
    """The largest tension that any loading gives behind one element [N].

    loaded: what carries load then, whole runs or parts of them, in words.
    """

    name: str
    tension: Figure
    loaded: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WorstLoading:
    """The worst loading at every station; largest over the loop, per width [N/m]."""

    points: tuple[WorstPoint, ...]
    largest: Figure
    where: str
    loaded: tuple[str, ...]


@formula(
    "T_w = T_0 + Σ max(0, T_i - T_0)",
    gives=("T_w", Kind.FORCE),
    symbols={"empty": "T_0", "gains": "Σ max(0, T_i - T_0)"},
    source="statics",
    limits="steady running; nothing hangs slack",
)
def worst_tension(empty: float, gains: float) -> float:
    """Largest tension at a station over all loadings.

    Parameters
    ----------
    empty : tension with the belt empty [N]
    gains : sum of what each run, loaded alone, adds where it adds [N]

    Returns
    -------
    float [N]
    """
    return empty + gains


@formula(
    "g_i = max(0, T_i - T_0)",
    gives=("g_i", Kind.FORCE),
    symbols={"loaded": "T_i", "empty": "T_0"},
    source="statics",
)
def gain_of_load(loaded: float, empty: float) -> float:
    """What loading one run alone adds to the tension at a station, if it adds [N]."""
    return np.maximum(0.0, loaded - empty)


@formula(
    "g_i = ∫ max(0, G + b (u - 1/2)) du,  u from 0 to 1 along the run,  G = T_i - T_0,  "
    "b = α (F_1 - F_0) l/(ᾱ L)",
    gives=("g_i", Kind.FORCE),
    symbols={
        "loaded": "T_i",
        "empty": "T_0",
        "alpha": "α",
        "with_load": "F_1",
        "without_load": "F_0",
        "length": "l",
        "mean_alpha": "ᾱ",
        "loop": "L",
    },
    source="elastic",
    limits="length of the loop held; load cut off anywhere along the run",
)
def gain_of_part(
    loaded: Number,
    empty: Number,
    alpha: Number,
    with_load: Number,
    without_load: Number,
    length: Number,
    mean_alpha: Number,
    loop: Number,
) -> Number:
    """What loading the part of a run that adds to the tension at a station adds to it.

    Parameters
    ----------
    loaded, empty : tension at the station with the whole run loaded, and with none [N]
    alpha : tension factors from behind the drive to the station [-]
    with_load, without_load : resistance of the run, loaded and empty [N]
    length, loop : of the run, and of all belt [m]
    mean_alpha : mean tension factor of the loop [-]

    Returns
    -------
    float or array, not negative [N]
    """
    first, last = _ends_of_gain(
        loaded, empty, alpha, with_load, without_load, length, mean_alpha, loop
    )
    # A straight line cut off at zero: a triangle where it crosses, else all or nothing of it.
    steep = np.abs(last - first)
    crosses = np.asarray(first * last < 0)
    over = np.maximum(np.maximum(first, last), 0.0)
    triangle = over**2 / (2 * np.where(crosses, steep, 1.0))
    gain: Number = np.where(crosses, triangle, np.maximum(0.0, (first + last) / 2))[()]
    return gain


def _ends_of_gain(
    loaded: Number,
    empty: Number,
    alpha: Number,
    with_load: Number,
    without_load: Number,
    length: Number,
    mean_alpha: Number,
    loop: Number,
) -> tuple[Number, Number]:
    """What load adds at a station per whole run, when it lies at the run's first and last end."""
    tilt = alpha * (with_load - without_load) * length / (mean_alpha * loop)
    gain = loaded - empty
    return gain - tilt / 2, gain + tilt / 2


def worst_loading(
    conveyor: Conveyor, held: Anchor, sheet: Worksheet, prefix: str = ""
) -> WorstLoading | None:
    """Find the worst loading of every station in steady running.

    Parameters
    ----------
    conveyor : in the direction of travel wanted
    held : what the take-up holds in every case
    sheet : takes the lines
    prefix : put before each key

    Returns
    -------
    WorstLoading, or None with fewer than two carry runs: empty and full are then all there is.
    """
    carry = [run for run in conveyor.runs() if run.side is Side.CARRY]
    driven = sum(1 for p in conveyor.pulleys() if p.drive)
    if len(carry) < 2 and not (held.fixed and driven > 1):
        return None
    base = _Loading(conveyor, (), held, sheet, f"{prefix}partial.none")
    alone = {
        run.name: _Loading(conveyor, (run,), held, sheet, f"{prefix}partial.{slug(run.name)}")
        for run in carry
    }
    belt = None
    if held.fixed:
        belt = sheet.found(
            f"{prefix}partial.belt",
            "belt in the loop",
            sum(belt_on(conveyor, e) for e in conveyor.loop),
            Kind.DISTANCE,
            "runs and wraps together",
            [run.length for run in conveyor.runs()],
        )
    points = []
    for name, empty in base.tensions.items():
        gains, loaded = [], []
        for run in carry:
            gain, part = _gain(run, name, alone[run.name], base, belt, sheet, prefix)
            gains.append(gain)
            if part:
                loaded.append(part)
        summed = sheet.total(
            f"{prefix}worst.{slug(name)}.gains", f"what load adds behind {name}", gains
        )
        worst = sheet.work(
            f"{prefix}worst.{slug(name)}",
            f"largest tension behind {name}, any loading",
            worst_tension,
            empty=empty,
            gains=summed,
        )
        points.append(WorstPoint(name, worst, tuple(loaded)))
    top = sheet.largest(
        f"{prefix}worst.largest_force", "largest tension, any loading", [p.tension for p in points]
    )
    largest = sheet.work(
        f"{prefix}worst.largest",
        "largest tension per width, any loading",
        traction.per_width,
        tension=top,
        width=conveyor.belt.width,
    )
    tops = [float(np.max(np.asarray(p.tension.value))) for p in points]
    place = points[tops.index(max(tops))]
    return WorstLoading(tuple(points), largest, place.name, place.loaded)


class _Loading:
    """The loop with load on the given runs only: tensions behind every element [N]."""

    def __init__(
        self, conveyor: Conveyor, loaded: Sequence[Run], held: Anchor, sheet: Worksheet, key: str
    ) -> None:
        names = {run.name for run in loaded}
        loads = {r.name: load_of(conveyor, r, r.name in names) for r in conveyor.runs()}
        forces = forces_with(conveyor, LoadCase.FULL, loads, sheet, key)
        walked = walk(conveyor, forces, drive_shares(conveyor, forces, sheet), sheet)
        x = datum(held, conveyor, walked, sheet, key)
        self.resistances = {f.run: f.total for f in forces.runs}
        self.alphas = {w.element.name: w.alpha_out for w in walked}
        self.mean_alpha = sheet.get(f"{key}.mean_alpha")  # of a held loop, worked by datum()
        self.tensions = {
            w.element.name: sheet.work(
                f"{key}.{slug(w.element.name)}.tension",
                f"tension behind {w.element.name}",
                at_station,
                alpha=w.alpha_out,
                datum=x,
                beta=w.beta_out,
            )
            for w in walked
        }


def _gain(
    run: Run,
    name: str,
    alone: _Loading,
    base: _Loading,
    belt: Figure | None,
    sheet: Worksheet,
    prefix: str,
) -> tuple[Figure, str]:
    """What load on one run adds behind one element where it adds, and which part of it does."""
    key, label = f"{prefix}worst.{slug(name)}.{slug(run.name)}", f"load on {run.name} adds"
    loaded, empty = alone.tensions[name], base.tensions[name]
    if belt is None or base.mean_alpha is None:
        gain = sheet.work(
            key, f"what {label} behind {name}", gain_of_load, loaded=loaded, empty=empty
        )
        return gain, run.name if np.any(np.asarray(gain.value) > 0) else ""
    inputs: dict[str, Figure | float] = {
        "loaded": loaded,
        "empty": empty,
        "alpha": base.alphas[name],
        "with_load": alone.resistances[run.name],
        "without_load": base.resistances[run.name],
        "length": run.length,
        "mean_alpha": base.mean_alpha,
        "loop": belt,
    }
    gain = sheet.work(key, f"what {label} behind {name}", gain_of_part, **inputs)
    if not np.any(np.asarray(gain.value) > 0):
        return gain, ""
    first, last = _ends_of_gain(**{n: value_of(v) for n, v in inputs.items()})
    if np.ndim(first) or first * last >= 0:
        return gain, run.name
    share = float(np.maximum(first, last) / np.abs(last - first))
    return gain, f"the {'first' if first > 0 else 'last'} {show(share, Kind.SHARE)} of {run.name}"
