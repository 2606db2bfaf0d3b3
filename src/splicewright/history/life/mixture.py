"""Several laws of life at once, each with its weight: doubt about the law carried along.

A cost or chance worked at the most likely law alone is too sure of itself; worked at each
of these laws and weighted, the doubt is in the answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.life.limits import likelihood_region
from splicewright.history.life.weibull import Weibull, WeibullFit


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


def laws_around(fit: WeibullFit, points: int = 9) -> Mixture:
    """The laws a fit leaves in doubt, weighted by their likelihood.

    A Gauss-Hermite grid about the most likely law, `points` to the axis, weighted by the
    likelihood itself, so that a lopsided likelihood is kept.

    Assumption: every ln scale and ln shape was as likely as any other beforehand, but for shapes
    below 0.05 and scales e^20 times off, which no joint has. With two or three failures that
    still lets in laws far from anything seen; `pooling` has a firmer belief.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(points)
    across, along = (g.ravel() for g in np.meshgrid(nodes, nodes))
    region = likelihood_region(fit)
    log_shape, log_scale = region.logs(across, along)
    value = region.likelihood.value(log_scale - region.likelihood.centre, log_shape)
    # the grid lies evenly in ln hazard, which a step in ln scale moves by the shape
    rise = value - fit.loglik + (across**2 + along**2) / 2 - log_shape
    share = np.outer(weights, weights).ravel() * np.exp(np.minimum(rise, 600.0))
    sane = (log_shape > math.log(0.05)) & (np.abs(log_scale - math.log(fit.law.scale)) < 20)
    share = np.where(sane, share, 0.0)
    share = share / share.sum()
    kept = share > 1e-12
    share = share[kept] / share[kept].sum()
    shape, scale = np.exp(log_shape[kept]), np.exp(log_scale[kept])
    laws = tuple(Weibull(float(b), float(c)) for b, c in zip(shape, scale, strict=True))
    return Mixture(laws, tuple(float(w) for w in share))
