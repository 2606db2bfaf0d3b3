"""The worst partial loading at every station: found, not guessed.

With what the take-up holds known, every station's tension is a sum of one part for each loaded
run. The worst loading of a station is therefore exactly the runs whose part is above zero: no
search is needed, and none is missed. With a gravity take-up parts of a run add in proportion, so
a run loaded in part is never worse than empty or full. Where the length is held, load in one
part of a run can count otherwise than in another: then the answer is the worst over whole runs,
and cutting a run in the file into shorter ones can only raise it, by little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Run, Side, slug
from splicewright.quantities import Figure, Kind, Worksheet, formula
from splicewright.tension import traction
from splicewright.tension.anchor import Anchor, datum
from splicewright.tension.cases import LoadCase
from splicewright.tension.run_forces import forces_with, load_of
from splicewright.tension.walk import at_station, drive_shares, walk


@dataclass(frozen=True, slots=True)
class WorstPoint:
    """The largest tension that any loading gives behind one element [N].

    loaded: the runs that carry load then.
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
    limits="steady running; nothing hangs slack; runs loaded whole (with a held length shorter "
    "runs can give a little more)",
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
    if len(carry) < 2:
        return None
    base = _tensions(conveyor, (), held, sheet, f"{prefix}partial.none")
    alone = {
        run.name: _tensions(conveyor, (run,), held, sheet, f"{prefix}partial.{slug(run.name)}")
        for run in carry
    }
    points = []
    for name, empty in base.items():
        gains, loaded = [], []
        for run in carry:
            gain = sheet.work(
                f"{prefix}worst.{slug(name)}.{slug(run.name)}",
                f"what load on {run.name} adds behind {name}", gain_of_load,
                loaded=alone[run.name][name], empty=empty,
            )  # fmt: skip
            gains.append(gain)
            if np.any(np.asarray(gain.value) > 0):
                loaded.append(run.name)
        summed = sheet.total(
            f"{prefix}worst.{slug(name)}.gains", f"what load adds behind {name}", gains
        )
        worst = sheet.work(
            f"{prefix}worst.{slug(name)}", f"largest tension behind {name}, any loading",
            worst_tension, empty=empty, gains=summed,
        )  # fmt: skip
        points.append(WorstPoint(name, worst, tuple(loaded)))
    top = sheet.largest(f"{prefix}worst.largest_force", "largest tension, any loading",
                        [p.tension for p in points])  # fmt: skip
    largest = sheet.work(
        f"{prefix}worst.largest", "largest tension per width, any loading", traction.per_width,
        tension=top, width=conveyor.belt.width,
    )  # fmt: skip
    tops = [float(np.max(np.asarray(p.tension.value))) for p in points]
    place = points[tops.index(max(tops))]
    return WorstLoading(tuple(points), largest, place.name, place.loaded)


def _tensions(
    conveyor: Conveyor, loaded: Sequence[Run], held: Anchor, sheet: Worksheet, key: str
) -> dict[str, Figure]:
    """Tension behind every element with load on the given runs only [N]."""
    names = {run.name for run in loaded}
    loads = {r.name: load_of(conveyor, r, r.name in names) for r in conveyor.runs()}
    forces = forces_with(conveyor, LoadCase.FULL, loads, sheet, key)
    walked = walk(conveyor, forces, drive_shares(conveyor, forces, sheet), sheet)
    x = datum(held, conveyor, walked, sheet, key)
    return {
        w.element.name: sheet.work(
            f"{key}.{slug(w.element.name)}.tension", f"tension behind {w.element.name}",
            at_station, alpha=w.alpha_out, datum=x, beta=w.beta_out,
        )
        for w in walked
    }  # fmt: skip
