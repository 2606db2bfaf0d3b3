"""Fleets with a known law: what a planner sees of them, and what then happens.

Independent of the library: lives are drawn by NumPy, chances are written out from the Weibull law.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fleet:
    """Joints put to work together and watched until some of them failed.

    shape, scale : the true law
    now : age of those still running
    failed : ages of those that failed
    running : how many run
    """

    shape: float
    scale: float
    now: float
    failed: Array
    running: int

    def chance(self, further: float) -> float:
        """True chance of a running joint to fail within `further`."""
        run = ((self.now + further) / self.scale) ** self.shape - (self.now / self.scale) ** (
            self.shape
        )
        return float(-np.expm1(-run))


def drawn_fleet(
    rng: np.random.Generator, joints: int = 40, failures: int = 6, shape: float | None = None
) -> Fleet:
    """A fleet; its shape lognormal about 2 with a spread of 0.4 where it is not given."""
    true = float(np.exp(np.log(2.0) + 0.4 * rng.standard_normal())) if shape is None else shape
    scale = 8000.0
    lives = np.sort(scale * rng.weibull(true, joints))
    return Fleet(true, scale, float(lives[failures - 1]), lives[:failures], joints - failures)
