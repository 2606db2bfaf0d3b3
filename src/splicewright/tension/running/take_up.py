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
from splicewright.tension.resistance import traction
from splicewright.tension.running.slip_and_sag import value_of
from splicewright.tension.running.walk import Walked, at_station


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
            key,
            label,
            traction.counterweight_tension,
            mass=take_up.mass,
            strands=strands,
            reeving=take_up.reeving,
        )
    if take_up.force is not None:
        return sheet.get(key) or sheet.work(
            key, label, traction.take_up_tension, force=take_up.force, strands=strands
        )
    return None


@formula(
    "X = (2 T_t - β_1 - β_2)/(α_1 + α_2)",
    gives=("X", Kind.FORCE),
    symbols={
        "tension": "T_t",
        "beta_in": "β_1",
        "beta_out": "β_2",
        "alpha_in": "α_1",
        "alpha_out": "α_2",
    },
    source="statics",
    limits="entering and leaving together carry the take-up, alike or not (a driven pulley)",
)
def datum_between(
    tension: float, beta_in: float, beta_out: float, alpha_in: float, alpha_out: float
) -> float:
    """Tension behind the drive when the take-up pulls on both strands of its pulley [N].

    Parameters
    ----------
    tension : mean of the two strands at the take-up [N]
    beta_in, beta_out : forces up to the entry and the exit of its pulley [N]
    alpha_in, alpha_out : tension factors up to there [-]
    """
    return (2 * tension - beta_in - beta_out) / (alpha_in + alpha_out)


def datum_at_take_up(tension: Figure, at: Walked, sheet: Worksheet, key: str, label: str) -> Figure:
    """Tension behind the drive from the tension at the take-up [N]."""
    return sheet.work(
        key,
        label,
        datum_between,
        tension=tension,
        beta_in=at.beta_in,
        beta_out=at.beta_out,
        alpha_in=at.alpha_in,
        alpha_out=at.alpha_out,
    )


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
        sheet.found(
            f"{key}.mean_alpha",
            "mean tension factor of the loop",
            alphas / lengths,
            Kind.RATIO,
            text,
            ends,
        ),
        sheet.found(
            f"{key}.mean_beta",
            "mean of the forces up to each place",
            betas / lengths,
            Kind.FORCE,
            text,
            ends,
        ),
        sheet.found(
            f"{key}.hangs_at",
            "tension behind the drive at which a place hangs slack",
            floor[()],
            Kind.FORCE,
            "largest of -β/α round the loop",
            ends,
        ),
    )


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
            f"{key}.behind_drive",
            label,
            datum_of_length,
            mean=anchor.tension,
            beta=loop.beta,
            alpha=loop.alpha,
            slack=loop.slack,
        )
    at = at_take_up(conveyor, walked)
    return datum_at_take_up(anchor.tension, at, sheet, f"{key}.behind_drive", label)


def wanted(
    conveyor: Conveyor, walked: Sequence[Walked], behind_drive: Figure, sheet: Worksheet, key: str
) -> Figure:
    """What the take-up must hold so that a wanted tension stands behind the drive [N]."""
    if holds_length(conveyor.take_up):
        loop = means(conveyor, walked, sheet, f"{key}.wanted")
        return sheet.work(
            f"{key}.take_up_needed",
            "mean tension of the loop wanted",
            mean_tension,
            alpha=loop.alpha,
            datum=behind_drive,
            beta=loop.beta,
        )
    at = at_take_up(conveyor, walked)
    ends = [
        sheet.work(
            f"{key}.take_up_needed.{name}",
            f"tension wanted {name} the take-up",
            at_station,
            alpha=alpha,
            datum=behind_drive,
            beta=beta,
        )
        for name, alpha, beta in (
            ("entering", at.alpha_in, at.beta_in),
            ("leaving", at.alpha_out, at.beta_out),
        )
    ]
    return sheet.work(
        f"{key}.take_up_needed",
        "take-up tension wanted",
        mean_of_two,
        entering=ends[0],
        leaving=ends[1],
    )


@formula(
    "T_t = (T_1 + T_2)/2",
    gives=("T_t", Kind.FORCE),
    symbols={"entering": "T_1", "leaving": "T_2"},
    source="statics",
)
def mean_of_two(entering: float, leaving: float) -> float:
    """Mean tension of the two strands at the take-up [N]."""
    return (entering + leaving) / 2


def at_take_up(conveyor: Conveyor, walked: Sequence[Walked]) -> Walked:
    """The take-up's pulley in the walked loop."""
    return next(w for w in walked if w.element.name == conveyor.take_up.pulley)
