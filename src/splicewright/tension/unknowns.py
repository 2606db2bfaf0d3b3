"""What is not known: the demand as a range, the chance of passing a rating, what to measure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from splicewright.plant import Conveyor, Side
from splicewright.quantities import Given, Origin, Worksheet
from splicewright.tension.running.demand import governing
from splicewright.tension.running.slip_and_sag import hangs

Array = NDArray[np.float64]

SAMPLES = 4096
"""Samples of an uncertainty run: a power of two, as the sequence wants."""
SEED = 20_251
"""Seed used when none is given, so that the same file gives the same answer."""


@dataclass(frozen=True, slots=True)
class Swing:
    """How far one unknown input moves the governing running tension [N/m], end to end.

    at_low, at_high : demand with the input at the ends of its plausible span
    """

    given: Given
    at_low: float
    at_high: float

    @property
    def size(self) -> float:
        """Distance between the two answers [N/m]."""
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True, slots=True)
class Span:
    """A demand as a range [N/m]: median, 5 % and 95 % of the samples."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Influence:
    """How much of the spread of the running demand one unknown is behind [-].

    alone : first-order Sobol index; total : with all it acts together with
    """

    given: Given
    alone: float
    total: float


@dataclass(frozen=True, slots=True)
class Unknowns:
    """The demand with everything that is not known left open.

    exceeded : chance that the running demand passes the rating asked about, None without one;
    influences : the unknowns by how much they move the running demand, largest first
    """

    running: Span
    starting: Span
    rating: float | None
    exceeded: float | None
    samples: int
    seed: int
    influences: tuple[Influence, ...]


def open_inputs(conveyor: Conveyor) -> tuple[Given, ...]:
    """The inputs of a conveyor that have a span, each once, in order."""
    by_key: dict[str, Given] = {}
    for given in inputs_of(conveyor):
        if given.low != given.high:
            by_key.setdefault(given.key, given)
    return tuple(by_key.values())


def from_uniform(given: Given, share: Array) -> Array:
    """Values of an unknown input from uniform numbers between 0 and 1.

    An assumption is taken as triangular (low, likely, high), a stated range as uniform, a
    value with a standard deviation as normal, cut off at its span.

    Parameters
    ----------
    given : the input
    share : any shape, 0 to 1

    Returns
    -------
    The values [SI], same shape
    """
    low, high = given.low, given.high
    if given.sd > 0:
        from scipy.special import ndtr, ndtri

        ends = ndtr((np.array([low, high]) - given.value) / given.sd)
        return np.asarray(given.value + given.sd * ndtri(ends[0] + share * (ends[1] - ends[0])))
    if given.origin is not Origin.ASSUMED:
        return np.asarray(low + share * (high - low))
    peak = (given.value - low) / (high - low)
    rising = low + np.sqrt(share * peak) * (high - low)
    falling = high - np.sqrt((1 - share) * (1 - peak)) * (high - low)
    return np.asarray(np.where(share < peak, rising, falling))


def variants(conveyor: Conveyor, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Governing running and starting tension per width of many variants at once.

    Parameters
    ----------
    conveyor : the conveyor they vary
    values : key of an input -> its values, all of shape (n,) [SI]

    Returns
    -------
    running, starting : shape (n,) [N/m]
    """
    count = max((np.size(v) for v in values.values()), default=1)
    solved = governing(with_inputs(conveyor, values), Worksheet())
    shape = (count,)
    return (
        np.broadcast_to(np.asarray(solved.running.value, float), shape).copy(),
        np.broadcast_to(np.asarray(solved.starting.value, float), shape).copy(),
    )


def unknowns(
    conveyor: Conveyor,
    rating: float | None = None,
    samples: int = SAMPLES,
    seed: int = SEED,
    *,
    rank: bool = True,
) -> Unknowns:
    """Leave everything open that is not known and say what the demand is then.

    Parameters
    ----------
    conveyor : with all gaps filled; its spans are what is plausible
    rating : tension per width to compare with [N/m]
    samples : of the range; the next power of two is taken
    seed : the same seed gives the same answer
    rank : whether to rank the unknowns too (SciPy's Sobol indices, more samples)

    Returns
    -------
    Unknowns; without any open input the range is one value and nothing is ranked
    """
    given = open_inputs(conveyor)
    if given:
        from scipy.stats import qmc

        # The sequence is even only over a power of two.
        power = max(1, (samples - 1).bit_length())
        samples = 1 << power
        sampler = qmc.Sobol(len(given), rng=np.random.default_rng(seed))
        shares = sampler.random_base2(power).T
        values = {g.key: from_uniform(g, s) for g, s in zip(given, shares, strict=True)}
    else:
        values = {}
    steady, start = variants(conveyor, values)
    exceeded = None if rating is None else float(np.mean(steady > rating))
    moves = rank and bool(given) and np.ptp(steady) > 1e-9 * np.max(np.abs(steady))
    ranked = _ranked(conveyor, given, samples // 4, seed) if moves else ()
    return Unknowns(_span(steady), _span(start), rating, exceeded, samples, seed, ranked)


def _span(values: Array) -> Span:
    low, median, high = np.percentile(values, [5, 50, 95])
    return Span(float(median), float(low), float(high))


class _Quantiles:
    """An input as the distribution that SciPy's Sobol indices sample by its quantiles."""

    def __init__(self, given: Given) -> None:
        self._given = given

    def ppf(self, share: Any) -> Any:
        """Values from uniform numbers."""
        return from_uniform(self._given, np.asarray(share))


def _ranked(
    conveyor: Conveyor, given: tuple[Given, ...], samples: int, seed: int
) -> tuple[Influence, ...]:
    from scipy.stats import sobol_indices

    keys = [g.key for g in given]

    def model(points: Array) -> Array:
        flat = points.reshape(len(keys), -1)
        answer = variants(conveyor, dict(zip(keys, flat, strict=True)))[0]
        return answer.reshape(1, *points.shape[1:])

    power = 1 << max(6, int(samples).bit_length() - 1)
    indices = sobol_indices(
        func=model, n=power, dists=[_Quantiles(g) for g in given], rng=np.random.default_rng(seed)
    )
    first, total = np.ravel(indices.first_order), np.ravel(indices.total_order)
    ranked = [
        Influence(g, float(max(a, 0.0)), float(max(t, 0.0)))
        for g, a, t in zip(given, first, total, strict=True)
    ]
    return tuple(sorted((i for i in ranked if i.total > 1e-4), key=lambda i: -i.total))


def swings(conveyor: Conveyor) -> tuple[Swing, ...]:
    """Move each open input to both ends of its span, one at a time.

    One at a time shows which unknown matters, not how they act together: `unknowns` does.

    Returns
    -------
    Swings, the largest first; inputs without effect are left out
    """
    effects = []
    for given in open_inputs(conveyor):
        ends = np.array([given.low, given.high])
        low, high = variants(conveyor, {given.key: ends})[0]
        swing = Swing(given, float(low), float(high))
        if swing.size > 1e-9 * max(abs(low), abs(high)):
            effects.append(swing)
    return tuple(sorted(effects, key=lambda s: -s.size))


def with_inputs(conveyor: Conveyor, values: Mapping[str, Any]) -> Conveyor:
    """The same conveyor with the inputs of these keys at other values [SI].

    What follows another input follows it. A belt always comes back to where it began: where a
    rise is changed, the return runs take up the difference by their lengths.
    """
    changed: Conveyor = _changed(conveyor, values)
    gap = sum(r.rise.value for r in changed.runs()) - sum(r.rise.value for r in conveyor.runs())
    back = [r for r in changed.runs() if r.side is Side.RETURN and not hangs(r)]
    length = sum(r.length.value for r in back)
    if not back or np.max(np.abs(gap)) < 1e-9:
        return changed
    closed = {
        r.name: replace(r, rise=r.rise.at(r.rise.value - gap * r.length.value / length))
        for r in back
    }
    return replace(changed, loop=tuple(closed.get(e.name, e) for e in changed.loop))


def inputs_of(item: Any) -> list[Given]:
    """All inputs of a conveyor or any part of one, in order, doubles included."""
    if isinstance(item, Given):
        return [item]
    if isinstance(item, tuple):
        return [given for part in item for given in inputs_of(part)]
    if is_dataclass(item):
        return [given for f in fields(item) for given in inputs_of(getattr(item, f.name))]
    return []


def _changed(item: Any, values: Mapping[str, Any]) -> Any:
    if isinstance(item, Given):
        if item.of in values:
            return item.at(item.times * values[item.of])
        return item.at(values[item.key]) if item.key in values else item
    if isinstance(item, tuple):
        return tuple(_changed(part, values) for part in item)
    if is_dataclass(item) and not isinstance(item, type):
        return replace(
            item, **{f.name: _changed(getattr(item, f.name), values) for f in fields(item)}
        )
    return item
