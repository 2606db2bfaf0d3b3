"""A loop whose take-up holds its length: what tension the stop may have left at a place.

A screw or a locked winch keeps the stretch of the loop, so the mean tension stays what it was when
the take-up was set, however the belt came to rest; friction decides where it gathers. The tension
at a place is largest when it falls away from there, both ways round, as steeply as friction, slope
and held drums allow, and least when it rises so. The mean over the loop then gives it.

The curve of the mean over the tension at the place is convex and rising (concave for the least);
it is met by two nested searches on a grid, and the end of the last step on the safe side is taken.

Where the belt comes to lie slack somewhere, the rest of the loop has given that length: the mean is
then above what was set, and bounds nothing. The tension at the place is at most what it can rise to
from that slack point, both ways round; the worst slack point counts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splicewright.tension.at_rest.strand import Strand, Unknown
from splicewright.tension.resistance.main import GRAVITY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from splicewright.quantities import Number

    Array = NDArray[np.float64]

PIECES = 36
"""Pieces the runs of a loop are cut into, by length: with the safe end of the last step of the
search the tension comes out 0.1 to 0.6 % above fine sums (tests/outside/held_by_hand.py)."""

_GRID = 33


def held_tension(
    loop: Strand, unknown: Unknown, mean: Number, drum: Number, *, largest: bool
) -> Number:
    """Largest or least tension at a place of a stopped loop whose length is held.

    Parameters
    ----------
    loop : the whole loop, walked with the travel from the place round to it again
    unknown : belt, load and friction with their ends
    mean : mean tension of the loop [N]
    drum : difference of tension that a held drum may have kept from running, at most [N]
    largest : the largest, else the least

    Returns
    -------
    float or array, not below 0 [N]
    """
    fine = _cut_up(loop)
    # Both masses of the belt at once, on an axis of their own in front.
    belt = np.stack(np.broadcast_arrays(unknown.belt.low, unknown.belt.high))
    held = _held(fine, unknown, belt, mean, drum, largest=largest)
    if not largest:
        return np.min(held, axis=0)[()]
    return np.maximum(np.max(held, axis=0), _slack_somewhere(fine, unknown, drum))[()]


def _slack_somewhere(fine: Strand, unknown: Unknown, drum: Number) -> Array:
    """Largest tension at the place of a loop that lies slack on some piece.

    From the slack piece the tension rises at most so both ways to the place: the smaller of the
    two, for the piece that gives most.
    """
    either = []
    for strand in (fine, fine.turned()):
        low, high = (
            _Steps.of(strand, unknown, belt, largest=False)
            for belt in (unknown.belt.low, unknown.belt.high)
        )
        either.append(_risen(low, np.maximum(low.added, high.added), np.asarray(drum)))
    with_travel, against = either
    best: Array = np.max(np.minimum(with_travel, against[..., ::-1]), axis=-1)
    return best


def _risen(steps: _Steps, added: Array, drum: Array) -> Array:
    """Most that tension rises to at the end of the walk from slack at the start of each piece."""
    count = len(steps.driven)
    t = np.zeros(np.broadcast_shapes(added.shape, (*np.shape(drum), count)))
    for n, driven in enumerate(steps.driven):
        ratio = steps.ratio[..., n, np.newaxis]
        begun = t[..., : n + 1]
        passed = begun * ratio
        if driven:
            passed = np.minimum(passed, begun + drum[..., np.newaxis])
        t[..., : n + 1] = np.maximum(0.0, passed + added[..., n, np.newaxis])
    return t


def _held(
    fine: Strand, unknown: Unknown, belt: Array, mean: Number, drum: Number, *, largest: bool
) -> Array:
    """The same for every mass of the belt, these on the first axis."""
    mean, drum = np.asarray(mean, dtype=np.float64), np.asarray(drum, dtype=np.float64)
    round_ = _Round.of(fine, unknown, belt, largest=largest)
    reach = np.sum(np.abs(round_.added), axis=(0, -1))
    lost = np.prod(fine.turning, axis=-1)
    low = np.zeros(np.broadcast_shapes(mean.shape, np.shape(reach)))
    high = low + lost * (mean + reach + (1.0 + sum(fine.driven)) * drum)
    for _ in range(2):
        grid = low + (high - low) * np.linspace(0.0, 1.0, _GRID).reshape(-1, *[1] * low.ndim)
        means = round_.mean_with(grid, drum, fine.length, largest=largest)
        below = np.sum(means <= mean, axis=0) if largest else np.sum(means < mean, axis=0)
        first = np.clip(below - 1, 0, _GRID - 2)
        low, high = (np.take_along_axis(grid, (first + n)[np.newaxis], axis=0)[0] for n in (0, 1))
    return high if largest else low


class _Steps:
    """What every piece adds and divides by when walked one way, outwards from the place."""

    def __init__(self, added: Array, ratio: Array, driven: tuple[bool, ...]) -> None:
        self.added, self.ratio, self.driven = added, ratio, driven

    @classmethod
    def of(cls, strand: Strand, unknown: Unknown, belt: Number, *, largest: bool) -> _Steps:
        """Least that each piece adds (for the largest at the place), else most."""
        sign = -1.0 if largest else 1.0
        f, q = _last(unknown.friction.high), _last(belt)
        slope = strand.climb + sign * f * strand.across
        load = _last(unknown.load.high) * _share(strand, unknown)
        gain = load * np.minimum(slope, 0.0) if largest else load * np.maximum(slope, 0.0)
        added = GRAVITY * (q * slope + gain) + sign * (
            GRAVITY * f * strand.rolls * strand.length + strand.held
        )
        return cls(added, np.broadcast_to(strand.gripping, added.shape), strand.driven)


class _Round:
    """The loop walked both ways round from the place at once, the two ways on the first axis."""

    def __init__(self, added: Array, ratio: Array, driven: NDArray[np.bool_]) -> None:
        self.added, self.ratio, self.driven = added, ratio, driven

    @classmethod
    def of(cls, fine: Strand, unknown: Unknown, belt: Array, *, largest: bool) -> _Round:
        """With the travel and against it."""
        ways = [_Steps.of(s, unknown, belt, largest=largest) for s in (fine, fine.turned())]
        return cls(
            np.stack(np.broadcast_arrays(*(w.added for w in ways))),
            np.stack(np.broadcast_arrays(*(w.ratio for w in ways))),
            np.array([w.driven for w in ways]),
        )

    def mean_with(self, start: Array, drum: Array, length: Array, *, largest: bool) -> Array:
        """Least (or most) mean tension of the loop with so much at the place.

        Both ways round bound every point: the larger of two least, the smaller of two most. Over a
        piece the bound is taken as the better of the two straight ones, which errs to the safe
        side. start has a grid on its first axis.
        """
        t = np.broadcast_to(start, (2, *start.shape))
        added, ratio = (np.moveaxis(a, -1, 0)[:, :, np.newaxis] for a in (self.added, self.ratio))
        driven = np.moveaxis(self.driven, -1, 0).reshape(-1, 2, *[1] * start.ndim)
        drums = np.any(self.driven, axis=0)
        entering = np.empty((len(added), *np.broadcast_shapes(t.shape, added.shape[1:])))
        leaving = np.empty_like(entering)
        for n in range(len(added)):
            passed = t / ratio[n] if largest else t * ratio[n]
            if drums[n]:
                kept = np.maximum(passed, t - drum) if largest else np.minimum(passed, t + drum)
                passed = np.where(driven[n], kept, passed)
            entering[n], leaving[n] = passed, passed + added[n]
            t = np.maximum(0.0, leaving[n])
        # Where the belt goes slack on a piece, nothing is counted on it: less than there is.
        means = np.where(leaving < 0.0, 0.0, (entering + np.maximum(0.0, leaving)) / 2)
        there, back = means.swapaxes(0, 1)
        better = np.maximum if largest else np.minimum
        best = np.moveaxis(better(there, back[::-1]), 0, -1)
        total: Array = np.sum(best * length, axis=-1)
        return total / np.sum(length, axis=-1)


def _cut_up(loop: Strand) -> Strand:
    """The loop with its runs in shorter pieces."""
    lengths = np.max(loop.length.reshape(-1, loop.length.shape[-1]), axis=0)
    counts = np.maximum(1, np.ceil(lengths / max(np.sum(lengths) / PIECES, 1e-9))).astype(int)
    index = np.repeat(np.arange(len(counts)), counts)
    parts = 1.0 / counts[index]
    return Strand(
        tuple(loop.names[n] for n in index),
        tuple(loop.driven[n] for n in index),
        loop.length[..., index] * parts,
        loop.climb[..., index] * parts,
        loop.across[..., index] * parts,
        loop.rolls[..., index],
        loop.held[..., index] * parts,
        loop.carries[..., index],
        loop.turning[..., index],
        loop.gripping[..., index],
    )


def _share(strand: Strand, unknown: Unknown) -> Array:
    """How far a piece can be loaded at most."""
    room = _last(unknown.metres) / np.maximum(strand.length, 1e-9)
    return strand.carries * np.clip(room, 0.0, 1.0)


def _last(number: Number) -> Array:
    array = np.asarray(number, dtype=np.float64)
    return array[..., np.newaxis] if array.ndim else array
