"""One strand of the stopped belt: from the take-up to the place of work, one way round.

The loop, opened at the take-up, is two strands that meet at the place of work. Along a strand
the tension may change by the weight of belt and load and by any friction up to its limit, at a
pulley by any ratio up to its limit, and it is never below zero. The largest and the least tension
at the end of a strand follow: what is added along the way, the load lying where it adds most, from
the point of the way that gives most.

The largest is exact for one strand by itself; the least is a bound. Where two strands meet, the
smaller of two largest and the larger of two least tensions are bounds too: the load is then placed
twice.

Arrays have the pieces of the strand on their last axis, shape (..., pieces), in the order walked
towards the place of work; results have shape (...).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from splicewright.quantities import Given, Kind, Number, formula
from splicewright.tension.at_rest.load_spread import worst_shares
from splicewright.tension.resistance.main import GRAVITY

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Span:
    """The two ends of what an input may be, SI."""

    low: Number
    high: Number

    @classmethod
    def of(cls, given: Given) -> Span:
        """The ends of an input; one that holds many variants is known in each of them."""
        if np.ndim(given.value):
            return cls(given.value, given.value)
        return cls(min(given.low, given.value), max(given.high, given.value))


@dataclass(frozen=True, slots=True)
class Unknown:
    """What moves the forces of a stopped belt and is not known for sure.

    belt, load: masses per length, the load of a full belt [kg/m]; friction: factor f of a
    standing belt [-]; runs: least factor of a belt that runs by itself [-]; metres: of full load
    left on the belt, at most [m]; stiffness: belt modulus times width [N].
    """

    belt: Span
    load: Span
    friction: Span
    runs: Number
    metres: Number
    stiffness: Span


@dataclass(frozen=True, slots=True)
class Strand:
    """A length of belt in pieces, in the order walked.

    length, climb, across: of each piece along, up and level [m], 0 at pulleys; rolls: rotating
    mass per length, at most [kg/m]; held: friction of what presses on the belt there [N];
    carries: whether load can lie on it; turning, gripping: largest ratio of the tensions on both
    sides of a pulley when it turns, and when its drive holds it.
    """

    names: tuple[str, ...]
    driven: tuple[bool, ...]
    length: NDArray[np.float64]
    climb: NDArray[np.float64]
    across: NDArray[np.float64]
    rolls: NDArray[np.float64]
    held: NDArray[np.float64]
    carries: NDArray[np.float64]
    turning: NDArray[np.float64]
    gripping: NDArray[np.float64]

    @property
    def free(self) -> bool:
        """Whether no driven pulley lies on the way."""
        return not any(self.driven)

    def behind_drives(self) -> Strand:
        """Its part behind the last driven pulley on the way."""
        last = max((n for n, driven in enumerate(self.driven) if driven), default=-1)
        return self.part(last + 1, len(self.names))

    def then(self, other: Strand) -> Strand:
        """This strand, and `other` walked after it."""
        arrays = (_join(getattr(self, n), getattr(other, n)) for n in _ARRAYS)
        return Strand(self.names + other.names, self.driven + other.driven, *arrays)

    def turned(self) -> Strand:
        """The same belt walked the other way."""
        arrays = {n: getattr(self, n)[..., ::-1] for n in _ARRAYS}
        arrays["climb"] = -arrays["climb"]
        return Strand(self.names[::-1], self.driven[::-1], **arrays)

    def part(self, first: int, last: int) -> Strand:
        """Its pieces from `first` up to and without `last`."""
        cut = slice(first, last)
        arrays = (getattr(self, n)[..., cut] for n in _ARRAYS)
        return Strand(self.names[cut], self.driven[cut], *arrays)


_ARRAYS = tuple(f.name for f in fields(Strand) if f.name not in {"names", "driven"})


def _join(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    if first.ndim == second.ndim == 1:
        return np.concatenate((first, second))
    lead = np.broadcast_shapes(first.shape[:-1], second.shape[:-1])
    return np.concatenate(
        [np.broadcast_to(a, (*lead, a.shape[-1])) for a in (first, second)], axis=-1
    )


@dataclass(frozen=True, slots=True)
class Pull:
    """The largest tension at the end of a strand, and what it is made of.

    ratio: of pulleys on the tension it starts from [-]; start: that tension [N]; belt, load:
    masses per length it holds with [kg/m]; climb, load_climb: height gained by the belt, and
    height over which full load pulls [m]; friction: added [N]; begins:
    piece of the strand it is counted from.
    """

    tension: Number
    ratio: Number
    start: Number
    belt: Number
    climb: Number
    load: Number
    load_climb: Number
    friction: Number
    begins: Number


@formula(
    "T = max(0, k T_0 + g (q_B z + q_G h*) + F_f)",
    gives=("T", Kind.FORCE),
    symbols={
        "ratio": "k",
        "start": "T_0",
        "belt": "q_B",
        "climb": "z",
        "load": "q_G",
        "load_climb": "h*",
        "friction": "F_f",
    },
    source=("statics", "eytelwein"),
    limits="z climbed by the belt on the way, h* height over which full load pulls, where it "
    "pulls most; F_f friction of belt, load and idlers on the way; all of it times the ratio k of "
    "the pulleys behind it",
)
def strand_tension(
    ratio: Number,
    start: Number,
    belt: Number,
    climb: Number,
    load: Number,
    load_climb: Number,
    friction: Number,
) -> Number:
    """Tension at the end of a strand of the stopped belt.

    Parameters
    ----------
    ratio : of all pulleys on the way [-]
    start : tension at the beginning of the way [N]
    belt, load : masses per length [kg/m]
    climb, load_climb : height the belt gains, height over which full load pulls [m]
    friction : on the way [N]

    Returns
    -------
    float or array, not below 0 [N]
    """
    return np.maximum(0.0, ratio * start + GRAVITY * (belt * climb + load * load_climb) + friction)


def largest(strand: Strand, unknown: Unknown, start: Number, *, held: bool = True) -> Pull:
    """The largest tension that the end of a strand can have.

    Parameters
    ----------
    strand : walked towards the place asked about
    unknown : belt, load and friction with their ends
    start : tension at its beginning, at most [N]; anywhere on the way the belt may hang slack
    held : whether driven pulleys may be held by their drives; else they turn

    Returns
    -------
    Pull; the load lies where it adds most
    """
    return _bound(strand, unknown, start, held=held)


def least(strand: Strand, unknown: Unknown, start: Number) -> Number:
    """The least tension that the end of a strand can have [N].

    Each run is loaded where that takes most, as far as the load left reaches, and each piece has
    the mass of belt that gives least: a bound. Where the belt may go slack on the way nothing is
    counted on, for slack belt on a slope can lean on what lies below it.

    Parameters
    ----------
    strand : walked towards the place asked about
    unknown : belt, load and friction with their ends
    start : tension at its beginning, at least [N]
    """
    f, t = _column(unknown.friction.high), np.asarray(start, dtype=np.float64)
    slope = strand.climb - f * strand.across
    load = _room(strand, unknown) * np.minimum(slope, 0.0)
    belt = np.minimum(_column(unknown.belt.high) * slope, _column(unknown.belt.low) * slope)
    gains = GRAVITY * (belt + load - f * strand.rolls * strand.length) - strand.held
    taut = t > 0.0
    for n in range(len(strand.names)):
        t = t / strand.gripping[..., n] + gains[..., n]
        taut = taut & (t > 0.0)
    return np.where(taut, t, 0.0)[()]


def _room(strand: Strand, unknown: Unknown) -> NDArray[np.float64]:
    """Load on every piece [kg/m], each as far as the load left can fill it."""
    reach = _column(unknown.metres) / np.maximum(strand.length, 1e-9)
    return np.clip(reach, 0.0, 1.0) * strand.carries * _column(unknown.load.high)


def hanging(strand: Strand, unknown: Unknown) -> Pull:
    """The largest tension that what hangs on the end of a strand can bring about by its weight.

    Belt runs down to a place of the way when its weight and load from there on are more than the
    least friction on the way; where none does, nothing hangs there and the tension is 0. Pulleys
    turn: no drive is trusted to hold. Friction may have locked in as much again as it resists.
    """
    return _bound(strand, unknown, 0.0, held=False, by_weight=True)


def profile(strand: Strand, unknown: Unknown, start: Number, *, held: bool = True) -> Profile:
    """The largest tensions along a strand, each run loaded as far as the load left reaches.

    Above the bound of `largest` where load lies on some runs only.
    """
    ratio = strand.gripping if held else strand.turning
    f = _column(unknown.friction.high)
    slope = strand.climb + f * strand.across
    load = _room(strand, unknown) * np.maximum(slope, 0.0)
    belt = np.maximum(_column(unknown.belt.high) * slope, _column(unknown.belt.low) * slope)
    gains = GRAVITY * (belt + load + f * strand.rolls * strand.length) + strand.held
    entering, leaving, t = [], [], np.asarray(start, dtype=np.float64)
    for n in range(len(strand.names)):
        entering.append(t)
        t = np.maximum(0.0, ratio[..., n] * t + gains[..., n])
        leaving.append(t)
    return Profile(
        np.stack(np.broadcast_arrays(*entering), axis=-1),
        np.stack(np.broadcast_arrays(*leaving), axis=-1),
    )


@dataclass(frozen=True, slots=True)
class Profile:
    """Tension entering and leaving every piece of a strand [N], shape (..., pieces)."""

    entering: NDArray[np.float64]
    leaving: NDArray[np.float64]


def _bound(
    strand: Strand, unknown: Unknown, start: Number, *, held: bool, by_weight: bool = False
) -> Pull:
    """The bound from the beginning of the way, and with the mass of the belt, that give most.

    The way may begin at every piece: at the first with `start`, at any other with a belt that
    hangs slack there. `by_weight` leaves out beginnings from which the belt would not run by its
    weight.
    """
    count = len(strand.names)
    ratio = strand.gripping if held else strand.turning
    after = _products(ratio)  # ratio from each piece on
    behind = np.concatenate([after[..., 1:], np.ones_like(after[..., :1])], axis=-1)
    f = _column(unknown.friction.high)
    climb = strand.climb * behind
    rub = f * strand.across * behind
    rolls = (GRAVITY * f * strand.rolls * strand.length + strand.held) * behind
    shares = _load(strand, climb + rub, unknown, count)
    load = GRAVITY * _column(unknown.load.high)
    load_climb, load_rub = (
        0.0 if shares is None else np.sum(shares * a[..., np.newaxis, :], axis=-1)
        for a in (climb, rub)
    )
    climbs, rubs, rolled = (_from_here_on(a) for a in (climb, rub, rolls))
    first = np.zeros(count)
    first[0] = 1.0
    starts = _column(start) * first
    fixed = after * starts + load * (load_climb + load_rub) + rolled
    bounds = []
    for mass in {id(m): m for m in (unknown.belt.low, unknown.belt.high)}.values():
        q = GRAVITY * _column(mass)
        tension = fixed + q * (climbs + rubs)
        if by_weight:
            weighs = q * climbs + load * load_climb
            slows = (q * rubs + load * load_rub + rolled) * _column(
                unknown.runs / unknown.friction.high
            )
            tension = np.where(weighs > slows, tension, 0.0)
        bounds.append((mass, tension, np.max(tension, axis=-1)))
    mass, tension, top = bounds[0]
    if len(bounds) > 1:
        other = bounds[1]
        pick = other[2] > top
        mass = np.where(pick, other[0], mass)[()]
        tension = np.where(pick[..., np.newaxis], other[1], tension)
    best = np.argmax(tension, axis=-1)
    # Where nothing hangs there is nothing to add up.
    there = np.where(tension > 0.0, 1.0, 0.0) if by_weight else None

    def at(array: ArrayLike) -> Any:
        picked = np.asarray(array) if there is None else np.asarray(array) * there
        if picked.ndim == 0:
            return picked[()]
        if picked.ndim == 1:
            return picked[best]
        wide = np.broadcast_to(picked, tension.shape)
        return np.take_along_axis(wide, best[..., np.newaxis], axis=-1)[..., 0][()]

    friction = GRAVITY * _column(mass) * rubs + load * load_rub + rolled
    return Pull(
        np.maximum(0.0, at(tension)),
        at(after),
        at(starts),
        mass,
        at(climbs),
        unknown.load.high,
        at(load_climb),
        at(friction),
        best[()],
    )


def _products(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.cumprod(ratio[..., ::-1], axis=-1)[..., ::-1], dtype=np.float64)


def _load(
    strand: Strand, gain: NDArray[np.float64], unknown: Unknown, count: int
) -> NDArray[np.float64] | None:
    """How far every piece is loaded, a row for every beginning of the way; None where none can be.

    What lies before the beginning adds nothing.
    """
    if not np.any(unknown.metres) or not np.any(strand.carries):
        return None
    weight = strand.carries * gain
    length = np.maximum(strand.length, 1e-9)
    room = np.asarray(unknown.metres) - np.sum(length * strand.carries, axis=-1)
    if np.all(room > -1e-6):  # enough for every piece that gains
        whole = np.where(weight > 0, 1.0, 0.0)[..., np.newaxis, :]
        return whole * np.triu(np.ones((count, count)))
    return (
        worst_shares(
            weight[..., np.newaxis, :] * np.triu(np.ones((count, count))),
            np.broadcast_to(length[..., np.newaxis, :], (*weight.shape[:-1], count, count)),
            _column(unknown.metres),
        )
        * strand.carries[..., np.newaxis, :]
    )


def _from_here_on(array: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.cumsum(array[..., ::-1], axis=-1)[..., ::-1]


def _column(number: ArrayLike) -> NDArray[np.float64]:
    """A value for each variant, ready to meet the pieces of a strand."""
    array = np.asarray(number, dtype=np.float64)
    return array[..., np.newaxis] if array.ndim else array


def more(one: Pull, other: Pull) -> Pull:
    """The one with the larger tension; of many variants, each with its own."""
    first = np.asarray(one.tension) >= np.asarray(other.tension)
    if np.all(first):
        return one
    if not np.any(first):
        return other
    return Pull(
        *(np.where(first, getattr(one, f.name), getattr(other, f.name)) for f in fields(Pull))
    )
