"""What the take-up holds: a tension (gravity, driven winch) or a length (screw, locked winch).

A gravity take-up gives the same tension at its pulley in every case. A fixed one holds the
length of the loop, so the mean tension of the belt is the same in every case: where one part
is pulled tighter, another slackens. The belt's stiffness cancels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Pulley, Run, TakeUp, TakeUpKind
from splicewright.quantities import Figure, Kind, Worksheet, formula
from splicewright.tension import traction
from splicewright.tension.limits import value_of
from splicewright.tension.walk import Walked, at_station, datum_for


@dataclass(frozen=True, slots=True)
class Anchor:
    """What is the same in every case: the tension at the take-up, or the mean of the loop [N].

    fixed : whether the length is held
    """

    fixed: bool
    tension: Figure


@formula(
    "T_m = ᾱ X + β̄",
    gives=("T_m", Kind.FORCE),
    symbols={"alpha": "ᾱ", "datum": "X", "beta": "β̄"},
    source="elastic",
    limits="means over the length of the loop; linear belt",
)
def mean_tension(alpha: float, datum: float, beta: float) -> float:
    """Mean tension of the loop from the tension behind the drive.

    Parameters
    ----------
    alpha : mean of alpha over the loop [-]
    datum : tension behind the last driven pulley [N]
    beta : mean of beta over the loop [N]

    Returns
    -------
    float [N]
    """
    return alpha * datum + beta


@formula(
    "X = max((T_m - β̄)/ᾱ, X_0)",
    gives=("X", Kind.FORCE),
    symbols={"mean": "T_m", "beta": "β̄", "alpha": "ᾱ", "slack": "X_0"},
    source="elastic",
    limits="length of the loop held; where a place would be pushed it hangs slack instead, and "
    "the tight side keeps its whole pull",
)
def datum_of_length(mean: float, beta: float, alpha: float, slack: float) -> float:
    """Tension behind the drive of a loop whose length is held.

    Parameters
    ----------
    mean : mean tension of the loop, the same in every case [N]
    beta, alpha : means over the loop in this case [N], [-]
    slack : tension behind the drive at which the slackest place just hangs [N]

    Returns
    -------
    float [N]
    """
    return np.maximum((mean - beta) / alpha, slack)


def holds_length(take_up: TakeUp) -> bool:
    """Whether the take-up holds the length of the loop rather than its pull.

    A winch is taken as locked while the belt runs.
    """
    return take_up.kind is not TakeUpKind.GRAVITY


def known_tension(take_up: TakeUp, sheet: Worksheet) -> Figure | None:
    """Belt tension at the take-up where its mass or force is known [N]; else None.

    The force of a screw or locked winch is the one it was set to with the belt running empty.
    """
    key, label, strands = "take_up.tension", "tension at the take-up", float(take_up.strands)
    if take_up.mass is not None:
        return sheet.get(key) or sheet.work(
            key, label, traction.counterweight_tension, mass=take_up.mass, strands=strands
        )
    if take_up.force is not None:
        return sheet.get(key) or sheet.work(
            key, label, traction.take_up_tension, force=take_up.force, strands=strands
        )
    return None


@dataclass(frozen=True, slots=True)
class Means:
    """Means of alpha and beta over the loop's length in one case, and where it would hang [N]."""

    alpha: Figure
    beta: Figure
    slack: Figure


def means(conveyor: Conveyor, walked: Sequence[Walked], sheet: Worksheet, key: str) -> Means:
    """Means over the length of the loop in one case: each element counts by its belt.

    Parameters
    ----------
    conveyor : the plant, for the belt on each element
    walked : the loop walked in this case
    sheet : takes the lines
    key : of the case
    """
    alphas, betas, lengths, floors = 0.0, 0.0, 0.0, []
    for w in walked:
        length = belt_on(conveyor, w.element)
        alphas = alphas + length * (value_of(w.alpha_in) + value_of(w.alpha_out)) / 2
        along = value_of(w.beta_in) + value_of(w.beta_out) - w.at_end
        betas = betas + length * along / 2
        lengths = lengths + length
        floors.append(-np.asarray(value_of(w.beta_out)) / value_of(w.alpha_out))
    floor = np.max(np.broadcast_arrays(*floors), axis=0)
    ends = [f for w in walked for f in (w.beta_out,) if isinstance(f, Figure)]
    text = "mean over the length of the loop"
    return Means(
        sheet.found(f"{key}.mean_alpha", "mean tension factor of the loop", alphas / lengths,
                    Kind.RATIO, text, ends),
        sheet.found(f"{key}.mean_beta", "mean of the forces up to each place", betas / lengths,
                    Kind.FORCE, text, ends),
        sheet.found(f"{key}.hangs_at", "tension behind the drive at which a place hangs slack",
                    floor[()], Kind.FORCE, "largest of -β/α round the loop", ends),
    )  # fmt: skip


def belt_on(conveyor: Conveyor, element: Run | Pulley) -> float:
    """Belt on a run or pulley [m]."""
    if isinstance(element, Run):
        return element.length.value
    thickness = conveyor.belt.thickness.value
    return element.wrap.value * (element.diameter.value + thickness) / 2


def datum(
    anchor: Anchor, conveyor: Conveyor, walked: Sequence[Walked], sheet: Worksheet, key: str
) -> Figure:
    """Tension behind the drive that the take-up brings about in a case [N].

    Parameters
    ----------
    anchor : what the take-up holds
    conveyor, walked : the plant and its loop walked in this case
    sheet : takes the lines
    key : of the case
    """
    label = "tension behind the drive"
    if anchor.fixed:
        loop = means(conveyor, walked, sheet, key)
        return sheet.work(
            f"{key}.behind_drive", label, datum_of_length,
            mean=anchor.tension, beta=loop.beta, alpha=loop.alpha, slack=loop.slack,
        )  # fmt: skip
    at = at_take_up(conveyor, walked)
    return sheet.work(
        f"{key}.behind_drive", label, datum_for,
        tension=anchor.tension, beta=at.beta_in, alpha=at.alpha_in,
    )  # fmt: skip


def wanted(
    conveyor: Conveyor, walked: Sequence[Walked], behind_drive: Figure, sheet: Worksheet, key: str
) -> Figure:
    """What the take-up must hold so that a wanted tension stands behind the drive [N]."""
    if holds_length(conveyor.take_up):
        loop = means(conveyor, walked, sheet, f"{key}.wanted")
        return sheet.work(
            f"{key}.take_up_needed", "mean tension of the loop wanted", mean_tension,
            alpha=loop.alpha, datum=behind_drive, beta=loop.beta,
        )  # fmt: skip
    at = at_take_up(conveyor, walked)
    return sheet.work(
        f"{key}.take_up_needed", "take-up tension wanted", at_station,
        alpha=at.alpha_in, datum=behind_drive, beta=at.beta_in,
    )  # fmt: skip


def at_take_up(conveyor: Conveyor, walked: Sequence[Walked]) -> Walked:
    """The take-up's pulley in the walked loop."""
    return next(w for w in walked if w.element.name == conveyor.take_up.pulley)
