"""A loop of belt as one elastic ring: what a fixed take-up does, written a second time.

A fixed take-up (screw, locked winch) holds the length of the loop, so the stretch of all its
elements together stays what it was when the take-up was set; the tension level X then moves
with the load case. A gravity take-up holds the tension and moves instead.

Each element has its tension at both ends in the form T = alpha X + beta of the tension X behind
the drive, as `running.running` walks the loop; between the ends it runs straight. A belt cannot be
pushed: where it would be, the slackest station stands at zero tension, the belt left over hangs
there, and all other tensions follow from that station. Stretches are small, so lengths of the
unstretched and the stretched loop are not told apart (error of the order of the strain).

Arrays have the elements on their last axis, shape (..., elements); results have shape (...).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.quantities import Number

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def stretch_from_take_up(strands: Number, position: Number) -> Number:
    """Stretch of the loop that a take-up sets.

    Parameters
    ----------
    strands : of belt that move with the take-up pulley [-]
    position : from where the belt just lies without tension [m]

    Returns
    -------
    float or array [m]
    """
    return strands * position


def stretch_of_loop(
    lengths: ArrayLike, entering: ArrayLike, leaving: ArrayLike, modulus: Number, width: Number
) -> Number:
    """Stretch of the whole loop from its tensions.

    Parameters
    ----------
    lengths : of the elements [m], shape (..., elements)
    entering, leaving : tension at both ends of each [N], shape (..., elements)
    modulus : of the belt, per width [N/m]
    width : of the belt [m]

    Returns
    -------
    float or array [m]
    """
    mean = (np.asarray(entering, dtype=np.float64) + np.asarray(leaving)) / 2
    total: Number = np.sum(np.asarray(lengths) * mean, axis=-1)[()]
    return total / (modulus * width)


def level_for_stretch(
    stretch: Number, modulus: Number, width: Number, lengths: ArrayLike, alpha_in: ArrayLike,
    alpha_out: ArrayLike, beta_in: ArrayLike, beta_out: ArrayLike,
) -> Number:  # fmt: skip
    """Tension behind the drive that gives a loop its stretch, all of it under tension.

    Parameters
    ----------
    stretch : of the loop [m]
    modulus : of the belt, per width [N/m]
    width : of the belt [m]
    lengths : of the elements [m], shape (..., elements)
    alpha_in, alpha_out : factors of X at both ends of each [-], shape (..., elements)
    beta_in, beta_out : forces added to X at both ends of each [N], shape (..., elements)

    Returns
    -------
    float or array, may come out too low to keep every part tight [N]
    """
    length = np.asarray(lengths, dtype=np.float64)
    beta = np.sum(length * (np.asarray(beta_in) + np.asarray(beta_out)), axis=-1) / 2
    alpha = np.sum(length * (np.asarray(alpha_in) + np.asarray(alpha_out)), axis=-1) / 2
    level: Number = ((modulus * width * stretch - beta) / alpha)[()]
    return level


def level_at_slack(
    alpha_in: ArrayLike, alpha_out: ArrayLike, beta_in: ArrayLike, beta_out: ArrayLike
) -> Number:
    """Tension behind the drive at which the slackest station has none left.

    Parameters
    ----------
    alpha_in, alpha_out : factors of X at both ends of each, above 0 [-], shape (..., elements)
    beta_in, beta_out : forces added to X at both ends of each [N], shape (..., elements)

    Returns
    -------
    float or array [N]
    """
    ends = (
        -np.asarray(beta, dtype=np.float64) / np.asarray(alpha, dtype=np.float64)
        for alpha, beta in ((alpha_in, beta_in), (alpha_out, beta_out))
    )
    level: Number = np.max(np.maximum(*ends), axis=-1)[()]
    return level


@dataclass(frozen=True, slots=True)
class FixedLevel:
    """A loop of fixed length, solved.

    level: tension X behind the drive [N], shape (...); entering, leaving: at the elements'
    ends, never negative [N], shape (..., elements); hanging: belt left over that hangs at the
    slackest station [m], 0 for a tight loop: there a drive slips and the belt sags.
    """

    level: Number
    entering: NDArray[np.float64]
    leaving: NDArray[np.float64]
    hanging: Number

    @property
    def slack(self) -> NDArray[np.bool_]:
        """Whether belt hangs somewhere, shape (...)."""
        return np.asarray(np.asarray(self.hanging) > 0)


def fixed_take_up(
    *, stretch: Number, modulus: Number, width: Number, lengths: ArrayLike, alpha_in: ArrayLike,
    alpha_out: ArrayLike, beta_in: ArrayLike, beta_out: ArrayLike,
) -> FixedLevel:  # fmt: skip
    """Tensions of a loop whose length is held by a screw or a locked winch.

    Parameters
    ----------
    stretch : that the take-up gives the loop [m]
    modulus : of the belt, per width [N/m]
    width : of the belt [m]
    lengths : of the elements [m], shape (..., elements)
    alpha_in, alpha_out : factors of X at both ends of each, above 0 [-], shape (..., elements)
    beta_in, beta_out : forces added to X at both ends of each [N], shape (..., elements)
    """
    a1, a2, b1, b2 = (
        np.asarray(a, dtype=np.float64) for a in (alpha_in, alpha_out, beta_in, beta_out)
    )
    tight = np.asarray(level_for_stretch(stretch, modulus, width, lengths, a1, a2, b1, b2))
    slack = np.asarray(level_at_slack(a1, a2, b1, b2))
    level = np.maximum(tight, slack)[..., np.newaxis]
    entering, leaving = (np.maximum(0.0, a * level + b) for a, b in ((a1, b1), (a2, b2)))
    wanted = stretch_of_loop(lengths, entering, leaving, modulus, width)
    hanging: Number = np.where(tight < slack, wanted - stretch, 0.0)[()]
    return FixedLevel(level[..., 0][()], entering, leaving, hanging)


def take_up_moves(before: Number, after: Number, strands: Number) -> Number:
    """How far a take-up that holds its tension moves between two load cases.

    Parameters
    ----------
    before, after : stretch of the loop in both [m]
    strands : of belt that move with the take-up pulley [-]

    Returns
    -------
    float or array, positive where it takes belt up [m]
    """
    return (after - before) / strands
