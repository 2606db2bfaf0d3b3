"""Several laws of life at once, each with its weight: doubt about the law carried along.

A cost or chance worked at the most likely law alone is too sure of itself; worked at each
of these laws and weighted, the doubt is in the answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.history.life.weibull import Weibull


@dataclass(frozen=True, slots=True)
class Mixture:
    """Laws of life and how much each is believed.

    Attributes
    ----------
    laws : the laws
    weights : one for each, zero or more; they sum to 1
    """

    laws: tuple[Weibull, ...]
    weights: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse weights that are none."""
        if len(self.laws) != len(self.weights) or not self.laws:
            sentence = f"{len(self.weights)} for {len(self.laws)} laws; give one for each law"
            raise InputError(Fault("weights", sentence))
        total = math.fsum(self.weights)
        if min(self.weights) < 0 or not math.isclose(total, 1.0, rel_tol=1e-9):
            sentence = f"sum to {total:g}; accepted are weights of zero or more that sum to 1"
            raise InputError(Fault("weights", sentence))
