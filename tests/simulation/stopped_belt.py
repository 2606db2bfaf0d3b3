"""A stopped conveyor belt, simulated: what any model of its forces can be held against.

Nothing here knows the product. A closed elastic belt is cut into lumped masses joined by springs
that cannot push; idlers hold each mass by Coulomb friction, locked drums by friction round their
wrap. A move of the crew is many small steps, and each step finds its equilibrium by Newton's
method on friction with memory (stick is a stiff spring that yields at its capacity), so that what
stands afterwards depends on how it came about, as on a real belt.

Displacements are small against runs: weight, friction and load stay where they were on the path.
A belt that slid down a slope with nothing to hang from leans on what stops it (`PILE`).

All SI: m, kg, N, s, rad. Forward is the direction of travel; a segment's tension is never below 0.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgtsv

Array: TypeAlias = NDArray[np.float64]
Hold: TypeAlias = Literal["free", "forward", "locked"]  # forward: turns with the travel, never back
Side: TypeAlias = Literal["behind", "ahead"]

G = 9.81
SEAT = 2e-4  # m: movement in which idler friction builds up
LOOSE = 1e-5  # stiffness of a slack belt over that of a taut one: keeps the equations solvable
FINE = 1e4  # drag over the least at which a step is taken again in smaller ones
FINEST = 15.0  # parts of a step at the most
MOST_STEPS = 1000  # of a force that is let down or a belt made taut: more is a fault
PILE = 0.5  # a slack segment shorter than this share of its length leans on the next one
SIDES: tuple[Side, Side] = ("behind", "ahead")


@dataclass(frozen=True, slots=True)
class Belt:
    mass: float  # kg/m of length
    modulus: float  # N/m of width per unit strain
    width: float


@dataclass(frozen=True, slots=True)
class Run:
    """A straight stretch; the pulley of the same number stands at its end."""

    length: float
    rise: float
    roll_mass: float = 0.0  # of one idler set
    spacing: float = 1.0
    carry: bool = True


@dataclass(frozen=True, slots=True)
class Pulley:
    loss: float = 0.0  # bearing drag over the mean of both tensions
    driven: bool = False
    locked_out: Hold = "free"  # what its drive does once locked out
    friction: float = 0.3
    wrap: float = np.pi
    reduced_mass: float = 0.0  # at the belt, kg


@dataclass(frozen=True, slots=True)
class TakeUp:
    pulley: int
    kind: Literal["gravity", "held"]
    tension: float  # of one strand; held: set while the belt runs empty


@dataclass(frozen=True, slots=True)
class Place:
    """Distances along the loop: behind < pull_behind < pull_ahead < ahead."""

    behind: float
    pull_behind: float
    pull_ahead: float
    ahead: float


@dataclass(frozen=True, slots=True)
class Gear:
    """Chains, hoists and clamps."""

    chain_stiffness: float = 3e6  # N/m, both chains of a clamp
    hoist_stiffness: float = 1e6  # N/m, all hoists
    clamp_mass: float = 60.0  # kg, each of the four


@dataclass(frozen=True, slots=True)
class Conveyor:
    belt: Belt
    runs: tuple[Run, ...]
    pulleys: tuple[Pulley, ...]
    take_up: TakeUp
    friction: float
    place: Place
    gear: Gear = Gear()

    @property
    def length(self) -> float:
        return sum(run.length for run in self.runs)


@dataclass(frozen=True, slots=True)
class State:
    """How everything stands. Forces of clamps: positive holds the belt from moving away from
    the place of work, negative (only a clamp fixed both ways) from moving towards it."""

    move: str
    station: Array  # (segments,) middle of each, along the loop
    tension: Array  # (segments,)
    position: Array  # (nodes,) displacement forward
    clamp: dict[Side, float]
    clamp_position: dict[Side, float]  # displacement forward of the restraining clamps
    hoist: float
    place_tension: float  # in the belt between the pulling clamps
    gap: float  # between the pulling clamps, m
    strands: tuple[float, float]  # at the take-up, before and behind its pulley
    take_up_position: float
    drum: dict[int, float]  # of each driven pulley: pull on the belt, positive forward
    slipped: frozenset[int]  # driven pulleys the belt slipped over in this move
    elastic: float
    potential: float  # of the weight, from where the belt first lay
    runs_away: bool  # nothing held it: the belt was still moving when the steps ran out

    def tension_at(self, s: float) -> float:
        return float(self.tension[np.argmin(np.abs(self.station - s))])


@dataclass(frozen=True, slots=True)
class Drawing:
    state: State
    hoist: Array  # N, step by step
    travel: float  # of the hoists
    reached: bool
    clamp_moved: dict[Side, float]  # of the restraining clamps, towards the place


@dataclass(frozen=True, slots=True)
class Failure:
    """What happened after one thing let go."""

    before: dict[str, float]  # N: "behind" and "ahead" (clamps), "hoist", "strand", "belt"
    peak: dict[str, float]
    end_travel: dict[Side, float]  # of the belt at the pulling clamps, farthest
    end_speed: dict[Side, float]  # fastest
    time: Array
    ends: Array  # (samples, 2) position of the end behind and the end ahead
    kinetic: Array
    energy: Array  # kinetic, elastic and potential, and what friction and damping took


@dataclass(slots=True)
class _Clamp:
    node: int
    away: float  # direction that leads away from the place
    on: bool = False
    both_ways: bool = False
    stop: float = 0.0  # where the chain is snug

    def hold(self, u: Array, stiffness: float) -> tuple[float, float]:
        """Force that holds (positive: from moving away) and its stiffness."""
        over = self.away * (float(u[self.node]) - self.stop)
        if not self.on or (over <= 0.0 and not self.both_ways):
            return 0.0, 0.0
        return stiffness * over, stiffness


@dataclass(slots=True)
class _Forces:
    residual: Array
    take_up: float
    tension: Array
    idlers: Array
    drums: Array
    diagonal: Array = field(default_factory=lambda: np.empty(0))
    below: Array = field(default_factory=lambda: np.empty(0))
    above: Array = field(default_factory=lambda: np.empty(0))
    closing: float = 0.0
    column: Array = field(default_factory=lambda: np.empty(0))
    row: Array = field(default_factory=lambda: np.empty(0))
    corner: float = 0.0


class _TooCoarseError(Exception):
    """Only much drag would find an equilibrium."""


@dataclass(frozen=True, slots=True)
class _Found:
    u: Array
    x: float
    idlers: Array
    drums: Array


@dataclass(slots=True)
class _Pace:
    """How far to give way next, so that a force falls by about a tenth at a time."""

    first: float
    length: float
    last: float = np.inf
    steps: int = 0

    def step(self, force: float) -> float:
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise ArithmeticError("a force that does not fall as its clamp gives way")
        fell = (self.last - force) / self.first
        self.last = force
        if fell < 0.07:
            self.length *= 1.7
        elif np.isfinite(fell) and fell > 0.2:
            self.length *= 0.5
        return self.length


def _cells(stops: Array, place_end: float, size: float) -> Array:
    """Nodes between the stops: fine beside the place of work (both ends), coarse elsewhere."""
    nodes = [0.0]
    for start, end in pairwise(stops.tolist()):
        at = start
        while end - at > 1e-9:
            near = min(at, place_end - at)
            step = min(size, max(size / 8, 0.25 * near))
            left = end - at
            pieces = max(1, round(left / step))
            at = end if pieces == 1 else at + left / pieces
            nodes.append(at)
    return np.array(nodes)


class StoppedBelt:
    """A belt and what is done to it. Every move returns the `State` it ends in."""

    def __init__(self, conveyor: Conveyor, cells: int = 160) -> None:
        self.conveyor = c = conveyor
        place, total = c.place, c.length
        if len(c.pulleys) != len(c.runs):
            raise ValueError("one pulley stands at the end of each run")
        if abs(sum(run.rise for run in c.runs)) > 1e-6:
            raise ValueError("the runs do not close: their rises must add up to 0")
        if not place.behind < place.pull_behind < place.pull_ahead < place.ahead:
            raise ValueError("the clamps must stand in the order of travel")
        # Nodes lie from the pulling clamp ahead once round to the one behind.
        origin = place.pull_ahead
        ends = np.cumsum([run.length for run in c.runs])
        span = total - (place.pull_ahead - place.pull_behind)
        at_pulleys = (ends - origin) % total
        clamps = np.array([place.ahead - origin, span - (place.pull_behind - place.behind)])
        stops: Array = np.unique(np.round(np.concatenate(([0.0, span], at_pulleys, clamps)), 9))
        if stops[-1] > span + 1e-9:
            raise ValueError("no pulley may stand between the pulling clamps")
        s = _cells(stops, span, total / cells)
        self.count = n = len(s)
        self.lengths = np.diff(s)
        self.station = (origin + 0.5 * (s[:-1] + s[1:])) % total
        self.run_of = np.minimum(np.searchsorted(ends, self.station), len(ends) - 1)
        self.pulley_nodes = np.array([int(np.argmin(np.abs(s - p))) for p in at_pulleys])
        if self.pulley_nodes.min() == 0 or self.pulley_nodes.max() == n - 1:
            raise ValueError("no pulley may stand at a pulling clamp")
        self.natural = place.pull_ahead - place.pull_behind  # belt between the pulling clamps
        self.geometric = self.natural
        place_run = int(np.searchsorted(ends, 0.5 * (place.pull_behind + place.pull_ahead)))
        self._runs = np.append(self.run_of, place_run)
        self._pieces = np.append(self.lengths, self.natural)
        self.stretch = c.belt.modulus * c.belt.width  # N per unit strain
        self.k = self.stretch / self.lengths
        self.take_up_node = int(self.pulley_nodes[c.take_up.pulley])
        self.strand = np.zeros(n - 1)
        self.strand[[self.take_up_node - 1, self.take_up_node]] = 1.0
        self.shortest = -PILE * self.lengths
        self.shortest[self.strand > 0] = -np.inf  # slack hangs freely at the take-up
        # What changes.
        self.u = np.zeros(n)
        self.x = 0.0
        self.weight: float | None = 0.0  # on both strands; None: the take-up is held where it is
        self.idlers = np.zeros(n)
        self.drums = np.zeros(len(c.pulleys))
        self.body = np.zeros(n)
        self.joined = True
        self.rope: float | None = None  # length of the hoists; None: none
        self.clamps: dict[str, _Clamp] = {
            "behind": _Clamp(int(np.argmin(np.abs(s - clamps[1]))), -1.0),
            "ahead": _Clamp(int(np.argmin(np.abs(s - clamps[0]))), 1.0),
        }
        self.load = np.zeros(n)  # kg/m on each segment and, last, between the pulling clamps
        self._weigh()
        self.lower = np.zeros((2, len(c.pulleys)))  # share of the tension before and behind
        self.upper = np.zeros((2, len(c.pulleys)))
        self.holds: list[Hold] = ["free"] * len(c.pulleys)
        self.hold({})
        self._force_scale = max(c.take_up.tension, 1e-5 * self.stretch)
        self._drum_stiffness = np.where(
            [p.driven for p in c.pulleys], self.stretch / 0.1, self.stretch / 5.0
        )
        self._creep = 1e-7 * self.stretch / (total / cells)
        self._slipped: set[int] = set()
        self._runs_away = False
        self._drag = 1.0
        self._most_drag = np.inf
        self.solves = 0
        self._tauten(c.take_up.tension)

    @property
    def driven(self) -> tuple[int, ...]:
        return tuple(i for i, p in enumerate(self.conveyor.pulleys) if p.driven)

    @property
    def gap(self) -> float:
        return self.geometric + float(self.u[0] - self.u[-1])

    # --- what the belt weighs, what holds it -------------------------------------------------

    def _weigh(self) -> None:
        c = self.conveyor
        run = [c.runs[i] for i in self._runs]
        slope = np.array([r.rise / r.length for r in run])
        rolls = np.array([r.roll_mass / r.spacing for r in run])
        mass = (c.belt.mass + self.load) * self._pieces
        down = -G * mass * slope
        grip = c.friction * G * (rolls * self._pieces + mass * np.sqrt(1.0 - slope**2))
        # What lies between the pulling clamps rests half on either.
        self.mass = 0.5 * (np.append(mass[-1], mass[:-1]) + mass)
        self.roll_mass = 0.5 * (
            np.append((rolls * self._pieces)[-1], (rolls * self._pieces)[:-1])
            + rolls * self._pieces
        )
        self.down = 0.5 * (np.append(down[-1], down[:-1]) + down)
        self.grip = 0.5 * (np.append(grip[-1], grip[:-1]) + grip)

    def loads(self, of: Callable[[float], float]) -> Array:
        """A load [kg/m] for each segment from a function of the distance along the loop."""
        place = self.conveyor.place
        middle = 0.5 * (place.pull_behind + place.pull_ahead) % self.conveyor.length
        return np.array([of(float(s)) for s in np.append(self.station, middle)])

    def hold(self, holds: dict[int, Hold]) -> None:
        """What pulleys do from now on; those not named go on as they were."""
        for i, pulley in enumerate(self.conveyor.pulleys):
            hold = holds.get(i, self.holds[i])
            self.holds[i] = hold
            self.lower[:, i] = self.upper[:, i] = 0.5 * pulley.loss
            # A belt slipping over a still drum: the tighter strand is exp(mu phi) times the other.
            rope = float(np.expm1(pulley.friction * pulley.wrap))
            if hold == "locked":
                self.lower[:, i] = (rope, 0.0)
            if hold != "free":
                self.upper[:, i] = (0.0, rope)

    # --- forces and their equilibrium --------------------------------------------------------

    def _forces(
        self, u: Array, x: float, grip: Array, stick: Array, turn: Array, tangent: bool
    ) -> _Forces:
        e = u[1:] - u[:-1] + self.strand * x
        taut, piled = e > 0.0, e < self.shortest
        slope = np.where(taut | piled, self.k, LOOSE * self.k)
        tension = slope * e
        if piled.any():
            tension[piled] -= ((1.0 - LOOSE) * self.k * self.shortest)[piled]
        du = u - self.u
        trial = self.idlers - stick * du
        idlers = np.clip(trial, -grip, grip)
        residual = self.down + self.body + idlers
        residual[:-1] += tension
        residual[1:] -= tension
        at = self.pulley_nodes
        before, after = tension[at - 1], tension[at]
        pull_before, pull_after = np.maximum(before, 0.0), np.maximum(after, 0.0)
        wanted = self.drums - self._drum_stiffness * (du[at] - turn)
        low = -(self.lower[0] * pull_before + self.lower[1] * pull_after)
        high = self.upper[0] * pull_before + self.upper[1] * pull_after
        drums = np.clip(wanted, low, high)
        np.add.at(residual, at, drums)
        gap = self.geometric + u[0] - u[-1]
        place = self.stretch / self.natural * (gap - self.natural) if self.joined else 0.0
        closing = self.stretch / self.natural if place > 0.0 else 0.0
        pull = max(place, 0.0)
        if self.rope is not None and gap > self.rope:
            pull += self.conveyor.gear.hoist_stiffness * (gap - self.rope)
            closing += self.conveyor.gear.hoist_stiffness
        residual[0] -= pull
        residual[-1] += pull
        for clamp in self.clamps.values():
            if clamp.on:
                residual[clamp.node] -= (
                    clamp.away * clamp.hold(u, self.conveyor.gear.chain_stiffness)[0]
                )
        t = self.take_up_node
        weight = 0.0 if self.weight is None else self.weight - tension[t - 1] - tension[t]
        forces = _Forces(residual, float(weight), tension, idlers, drums)
        if not tangent:
            return forces
        diagonal = np.where(np.abs(trial) < grip, stick, 0.0)
        diagonal[:-1] += slope
        diagonal[1:] += slope
        above, below = -slope, -slope
        row = np.zeros(self.count)
        row[t - 1], row[t + 1], row[t] = -slope[t - 1], slope[t], slope[t - 1] - slope[t]
        column = row.copy()
        for i, node in enumerate(at):
            if low[i] < wanted[i] < high[i]:
                diagonal[node] += self._drum_stiffness[i]
                continue
            share = -self.lower[:, i] if wanted[i] <= low[i] else self.upper[:, i]
            on_before = share[0] * slope[node - 1] if before[i] > 0.0 else 0.0
            on_after = share[1] * slope[node] if after[i] > 0.0 else 0.0
            diagonal[node] += on_after - on_before
            below[node - 1] += on_before
            above[node] -= on_after
            column[node] -= on_before * self.strand[node - 1] + on_after * self.strand[node]
        for clamp in self.clamps.values():
            if clamp.on:
                diagonal[clamp.node] += clamp.hold(u, self.conveyor.gear.chain_stiffness)[1]
        forces.diagonal, forces.below, forces.above = diagonal, below, above
        forces.closing = closing
        forces.column, forces.row = column, row
        forces.corner = float(slope[t - 1] + slope[t])
        return forces

    def _now(self) -> _Forces:
        still = np.zeros(len(self.drums))
        return self._forces(self.u, self.x, self.grip, self.grip / SEAT, still, tangent=False)

    def _newton(self, turn: Array, creep: float, guess: _Found | None = None) -> _Found | None:
        """One increment from where the belt is to equilibrium, if it is found.

        `creep` is a drag on movement: it lets a belt that nothing holds slide a bounded way.
        """
        rest = self.u + float(turn.max())  # where all of it goes with the drums
        u, x = (rest, self.x) if guess is None else (guess.u, guess.x)
        stick = self.grip / SEAT
        mode = np.zeros(self.count)
        mode[0], mode[-1] = 1.0, -1.0
        movable = 0.0 if self.weight is None else 1.0

        def at(u: Array, x: float) -> tuple[_Forces, Array, float]:
            f = self._forces(u, x, self.grip, stick, turn, tangent=True)
            self.solves += 1
            return f, f.residual - creep * (u - rest), movable * (f.take_up - creep * (x - self.x))

        f, r, rx = at(u, x)
        for _ in range(10):
            if max(float(np.abs(r).max()), abs(rx)) < 1e-6 * self._force_scale:
                return _Found(u, x, f.idlers, f.drums)
            f.diagonal += creep
            rhs = np.column_stack((r, mode, f.column))
            *_, z, info = dgtsv(f.below, f.diagonal, f.above, rhs)
            if info:
                return None
            # The belt is closed between the pulling clamps, and the take-up moves two strands.
            across = z[0] - z[-1]
            if self.weight is None:
                dx, sigma = 0.0, across[0] / (1.0 + across[1] * f.closing)
            else:
                along = f.row @ z
                m = np.array(
                    [
                        [1.0 + across[1] * f.closing, across[2]],
                        [-along[1] * f.closing, f.corner + creep - along[2]],
                    ]
                )
                det = m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0]
                b0, b1 = across[0], rx - along[0]
                sigma = (b0 * m[1, 1] - m[0, 1] * b1) / det
                dx = (m[0, 0] * b1 - m[1, 0] * b0) / det
            u = u + z[:, 0] - z[:, 1] * (f.closing * sigma) - z[:, 2] * dx
            x += dx
            f, r, rx = at(u, x)
        return None

    def _increment(self, turn: Array) -> float:
        """The belt goes to equilibrium, under as little drag as can be; returns the drag [N/m].

        Much drag gives a first guess for less, always from where the belt was: going on from each
        would make the path depend on the solver.
        """
        drag = min(self._drag, self._most_drag)
        while (found := self._newton(turn, drag * self._creep)) is None:
            if drag >= self._most_drag:
                raise _TooCoarseError
            drag = min(10.0 * drag, max(self._most_drag, 10.0))
            if drag > 1e16:
                raise ArithmeticError("no equilibrium found")
        self._drag = max(1.0, drag / 3.0)
        while drag > 1.0:
            less = max(1.0, drag / 5.0)
            closer = self._newton(turn, less * self._creep, found)
            if closer is None:
                break
            found, drag = closer, less
        self.u, self.x, self.idlers, self.drums = found.u, found.x, found.idlers, found.drums
        return drag * self._creep

    def _settle(self, turn: Array | None = None, *, on: bool = False) -> None:
        """Equilibrium under what now acts; `turn` [m] of each drum's rim is done on the way.

        With `on` the drums keep turning, so often until the belt goes with them unchanged.
        """
        turn = np.zeros(len(self.drums)) if turn is None else turn
        self._runs_away = True
        gone = 0.0
        for _ in range(60 if on else 400):
            before, x = self.u, self.x
            drag = self._increment(turn)
            moved = max(float(np.abs(self.u - before - turn.max()).max()), abs(self.x - x))
            gone += moved
            turn = turn if on else np.zeros(len(self.drums))
            if drag * moved * self.count < 2e-4 * self._force_scale:
                self._runs_away = False
                break
            if gone > 0.2 * self.conveyor.length:
                break
        f = self._now()
        at = self.pulley_nodes
        before, after = np.maximum(f.tension[at - 1], 0.0), np.maximum(f.tension[at], 0.0)
        for i in self.driven:
            low = self.lower[0, i] * before[i] + self.lower[1, i] * after[i]
            high = self.upper[0, i] * before[i] + self.upper[1, i] * after[i]
            at_limit = f.drums[i] >= 0.999999 * high or f.drums[i] <= -0.999999 * low
            # A drum that turns with the travel carries nothing forward: that is no slip.
            if abs(f.drums[i]) > 1e-3 * self._force_scale and at_limit:
                self._slipped |= {i} if self.holds[i] != "free" else set()

    # --- how the belt came to stand ----------------------------------------------------------

    def _tauten(self, tension: float) -> None:
        """The same tension everywhere, as if weight and friction came afterwards."""
        strain = tension / self.stretch
        self.x = 0.5 * strain * self.conveyor.length
        steps = strain * self.lengths - self.strand * self.x
        self.u = np.append(0.0, np.cumsum(steps))

    def _vary(self, change: Callable[[float], None], steps: int) -> None:
        """`change` from 0 to 1 in steps; in smaller ones where only drag found an equilibrium."""
        share, step = 0.0, 1.0 / steps
        while share < 1.0 - 1e-9:
            was = (self.u, self.x, self.idlers, self.drums, set(self._slipped))
            change(min(1.0, share + step))
            self._most_drag = FINE if step > 1.0 / (steps * FINEST) else np.inf
            try:
                self._settle()
            except _TooCoarseError:
                self.u, self.x, self.idlers, self.drums, self._slipped = was
                step *= 0.25
                continue
            finally:
                self._most_drag = np.inf
            share += step
            step = min(1.0 / steps, 2.0 * step)

    def _rope_to(self, length: float) -> None:
        start = length if self.rope is None else self.rope

        def change(share: float) -> None:
            self.rope = (1.0 - share) * start + share * length

        self._vary(change, 1)

    def _take_up_to(self, x: float, steps: int) -> None:
        start = self.x

        def change(share: float) -> None:
            self.x = (1.0 - share) * start + share * x

        self._vary(change, steps)

    def _begin(self) -> None:
        self._slipped = set()

    def tighten(self, *, running: bool = True) -> State:
        """Take-up tightened with the belt empty, standing or running; held ones are then fixed."""
        self._begin()
        tension = self.conveyor.take_up.tension
        self.weight = 2.0 * tension
        self._settle()
        if running:
            self.run()
        if self.conveyor.take_up.kind == "held":
            self.weight = None
        return self.state("tighten")

    def put_load(self, load: Array, steps: int = 8) -> State:
        """Load [kg/m] of each segment, as `loads` gives it, put on or taken off where it lies."""
        self._begin()
        start = self.load.copy()

        def change(share: float) -> None:
            self.load = (1.0 - share) * start + share * load
            self._weigh()

        self._vary(change, steps)
        return self.state("load")

    def _turn(self, distance: float, *, on: bool = False) -> None:
        turn = np.zeros(len(self.drums))
        turn[list(self.driven)] = distance
        self._settle(turn, on=on)

    def run(self, leads: dict[int, float] | None = None) -> State:
        """All drives turn their drums forward until friction works everywhere.

        `leads`: metres by which the drum of a driven pulley turns before the others.
        """
        self._begin()
        self.hold(dict.fromkeys(self.driven, "locked"))
        for i, ahead in (leads or {}).items():
            self._settle(np.where(np.arange(len(self.drums)) == i, ahead, 0.0))
        self._turn(0.01)
        self._turn(0.1)
        self._turn(1.0, on=True)
        self.u = self.u - self.u.mean()  # the belt has gone round: only differences count
        return self.state("run")

    @property
    def all_moved(self) -> bool:
        """Whether friction of all idlers is used up against movement forward."""
        return bool(np.all(self.idlers <= -0.999 * self.grip))

    def stop(self, standing: Hold, braked: float = 0.0, steps: int = 8) -> State:
        """From running to rest; `braked`: drag of the drums over what stops the belt by itself."""
        self._begin()
        pull = float(sum(self.drums[i] for i in self.driven))
        if pull > 0.0:
            inertia = self.mass + self.roll_mass
            push = (1.0 + braked) * pull / inertia.sum() * inertia
            for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
                self.body = float(share) * push
                self._turn(0.05, on=True)
            # At rest: inertia is gone, friction and what stopped the belt remain.
            if standing != "locked" and braked == 0.0:
                self.hold(dict.fromkeys(self.driven, standing))
            for share in np.linspace(1.0, 0.0, steps + 1)[1:]:
                self.body = float(share) * push
                self._settle()
        self._change_hold(dict.fromkeys(self.driven, standing))
        return self.state("stop")

    def attempt(self, distance: float, standing: Hold) -> State:
        """A start that failed: drums turn so far, then stand as given."""
        self._begin()
        self.hold(dict.fromkeys(self.driven, "locked"))
        for _ in range(6):
            self._turn(distance / 6)
        self._change_hold(dict.fromkeys(self.driven, standing))
        return self.state("attempt")

    def creep(self, kept: float) -> State:
        """Friction falls to the share `kept` for a while (vibration, wind, rain) and comes back."""
        self._begin()
        full = self.grip

        def change(share: float) -> None:
            self.grip = (1.0 - share * (1.0 - kept)) * full

        self._vary(change, 6)
        self.grip = full
        self._settle()
        return self.state("creep")

    # --- the job -----------------------------------------------------------------------------

    def _change_hold(self, holds: dict[int, Hold], steps: int = 10) -> None:
        lower, upper = self.lower.copy(), self.upper.copy()
        self.hold(holds)
        new_lower, new_upper = self.lower.copy(), self.upper.copy()
        if np.array_equal(lower, new_lower) and np.array_equal(upper, new_upper):
            return

        def change(share: float) -> None:
            # Fast at first: a full wrap holds far more than it has to.
            left = (1.0 - share) ** 3
            self.lower = left * lower + (1.0 - left) * new_lower
            self.upper = left * upper + (1.0 - left) * new_upper

        self._vary(change, steps)

    def lock_out(self) -> State:
        self._begin()
        self._change_hold({i: self.conveyor.pulleys[i].locked_out for i in self.driven})
        return self.state("lock out")

    def set_clamps(self, slack: float = 0.0, *, both_ways: bool = False) -> State:
        self._begin()
        for clamp in self.clamps.values():
            clamp.on, clamp.both_ways = True, both_ways
            clamp.stop = float(self.u[clamp.node]) + (0.0 if both_ways else clamp.away * slack)
        return self.state("clamps")

    def release(self, slack: float, steps: int = 12) -> State:
        """Counterweight lifted until its strands are loose and `slack` metres of belt more; a held
        take-up slackened by `slack` metres of belt."""
        self._begin()
        self.weight = None
        self._take_up_to(self.x - 0.5 * slack, steps)
        return self.state("release")

    def _hoist_force(self) -> float:
        if self.rope is None:
            return 0.0
        return self.conveyor.gear.hoist_stiffness * max(0.0, self.gap - self.rope)

    def draw(self, slack: float, steps: int = 24, limit: float = np.inf) -> Drawing:
        """Hoists draw the pulling clamps together until `slack` metres of belt lie between them."""
        self._begin()
        aim = self.natural - slack
        if self.rope is None:
            self.rope = max(self.gap, aim)
        start = self.rope
        step = max(self.gap - aim, 0.0) / steps
        forces = [self._hoist_force()]
        while self.gap > aim + 1e-9 and len(forces) < 12 * steps and forces[-1] < limit:
            # Near the end no further than needed, but the hoist's own stretch has to be taken up.
            self._rope_to(self.rope - min(step, max(self.gap - aim, 0.02 * step)))
            forces.append(self._hoist_force())
        moved: dict[Side, float] = {
            side: max(0.0, -self.clamps[side].away * self._past(side)) for side in SIDES
        }
        reached = self.gap <= aim + 1e-6
        return Drawing(self.state("draw"), np.array(forces), start - self.rope, reached, moved)

    def _past(self, side: Side) -> float:
        """How far a restraining clamp is forward of where its chain is snug."""
        clamp = self.clamps[side]
        return float(self.u[clamp.node]) - clamp.stop

    def take_up_chains(self) -> State:
        self._begin()
        for clamp in self.clamps.values():
            if clamp.away * (float(self.u[clamp.node]) - clamp.stop) < 0.0:
                clamp.stop = float(self.u[clamp.node])
        self._settle()
        return self.state("take up chains")

    def ease_hoists(self, slack: float = 0.0) -> State:
        """Hoists paid out until they carry nothing, and `slack` more."""
        self._begin()
        if self.rope is not None:
            pace = _Pace(self._hoist_force(), max(self.gap - self.rope, 1e-4) / 8.0)
            while (force := self._hoist_force()) > 0.0:
                self._rope_to(self.rope + pace.step(force))
            self.rope = max(self.rope, self.gap) + slack
        return self.state("ease hoists")

    def open_joint(self) -> State:
        self._begin()
        self.joined = False
        self._settle()
        return self.state("open")

    def close_joint(self, taken_out: float = 0.0, limit: float = np.inf) -> Drawing:
        """Hoists draw the ends together, with so much belt taken out between them, and pin."""
        self.natural -= taken_out
        drawn = self.draw(0.0, limit=limit)
        self.joined = drawn.reached
        self._settle()
        return Drawing(
            self.state("close"), drawn.hoist, drawn.travel, drawn.reached, drawn.clamp_moved
        )

    def take_off_clamps(self) -> State:
        """Chains slackened a little at a time until they carry nothing, then clamps and hoists."""
        self._begin()
        stiffness = self.conveyor.gear.chain_stiffness
        for clamp in self.clamps.values():
            sign = float(np.sign(clamp.hold(self.u, stiffness)[0]))
            pace = _Pace(clamp.hold(self.u, stiffness)[0] * sign, 1e-3)
            while (force := sign * clamp.hold(self.u, stiffness)[0]) > 1e-4 * self._force_scale:
                clamp.stop += sign * clamp.away * pace.step(force)
                self._settle()
        for clamp in self.clamps.values():
            clamp.on = False
        self.rope = None
        self._settle()
        return self.state("clamps off")

    def restore(self, slack: float = 0.0, steps: int = 12) -> State:
        """The counterweight lowered again; a held take-up taken back by `slack` metres of belt."""
        self._begin()
        if self.conveyor.take_up.kind == "held":
            self._take_up_to(self.x + 0.5 * slack, steps)
        else:
            aim = 2.0 * self.conveyor.take_up.tension
            self.weight = None
            down = 1e-3 * self.conveyor.length / steps
            for _ in range(MOST_STEPS):
                if sum(self._strands()) >= 0.02 * aim:
                    break
                self._take_up_to(self.x + down, 1)
            else:
                raise ArithmeticError("a take-up that does not tauten the belt")
            start = sum(self._strands())

            def lower(share: float) -> None:
                self.weight = (1.0 - share) * start + share * aim

            self._vary(lower, steps)
        return self.state("restore")

    # --- what is seen ------------------------------------------------------------------------

    def _place_tension(self) -> float:
        over = self.gap - self.natural
        return self.stretch / self.natural * max(0.0, over) if self.joined else 0.0

    def _strands(self) -> tuple[float, float]:
        tension = self._now().tension
        t = self.take_up_node
        return max(0.0, float(tension[t - 1])), max(0.0, float(tension[t]))

    def _elastic(self, tension: Array) -> float:
        gear = self.conveyor.gear
        held = [c.hold(self.u, gear.chain_stiffness)[0] for c in self.clamps.values()]
        return float(
            0.5 * np.sum(np.maximum(tension, 0.0) ** 2 / self.k)
            + 0.5 * self._place_tension() ** 2 * self.natural / self.stretch
            + 0.5 * self._hoist_force() ** 2 / gear.hoist_stiffness
            + 0.5 * sum(h**2 for h in held) / gear.chain_stiffness
        )

    def _potential(self) -> float:
        return -float(self.down @ self.u) - (self.weight or 0.0) * self.x

    def state(self, move: str) -> State:
        f = self._now()
        stiffness = self.conveyor.gear.chain_stiffness
        order = np.argsort(self.station)
        tension = np.maximum(f.tension, 0.0)
        t = self.take_up_node
        return State(
            move=move,
            station=self.station[order],
            tension=tension[order],
            position=self.u.copy(),
            clamp={s: self.clamps[s].hold(self.u, stiffness)[0] for s in SIDES},
            clamp_position={s: float(self.u[self.clamps[s].node]) for s in SIDES},
            hoist=self._hoist_force(),
            place_tension=self._place_tension(),
            gap=self.gap,
            strands=(float(tension[t - 1]), float(tension[t])),
            take_up_position=self.x,
            drum={i: float(self.drums[i]) for i in self.driven},
            slipped=frozenset(self._slipped),
            elastic=self._elastic(f.tension),
            potential=self._potential(),
            runs_away=self._runs_away,
        )

    # --- one thing lets go -------------------------------------------------------------------

    def _carried(self, tension: Array) -> dict[str, float]:
        stiffness = self.conveyor.gear.chain_stiffness
        t = self.take_up_node
        return {
            "behind": self.clamps["behind"].hold(self.u, stiffness)[0],
            "ahead": self.clamps["ahead"].hold(self.u, stiffness)[0],
            "hoist": self._hoist_force(),
            "strand": max(0.0, float(tension[t - 1]), float(tension[t])),
            "belt": max(self._place_tension(), float(tension.max())),
        }

    def fail(
        self,
        what: str,
        *,
        duration: float = 1.5,
        chain_slack: float = 0.0,
        hoist_slack: float = 0.0,
        damping: float = 0.1,
        carriage: float = 300.0,
    ) -> Failure:
        """What follows when "behind", "ahead", "hoist", "drum 0" or "tackle" lets go.

        Slack [m] is that of chains and hoists that carry nothing now. Damping is a share of the
        critical one of each cell: with none, ends fly up to a fifth faster than the wave lets
        them on a coarse mesh. `carriage` [kg] goes with the pulley of a held take-up. The belt
        itself stays as it is: what happens is worked on a copy.
        """
        b = deepcopy(self)
        c = b.conveyor
        before = b._carried(b._now().tension)
        for clamp in b.clamps.values():
            if clamp.on and clamp.hold(b.u, c.gear.chain_stiffness)[0] <= 0.0:
                clamp.stop = float(b.u[clamp.node]) + clamp.away * chain_slack
        if b.rope is not None and b._hoist_force() <= 0.0:
            b.rope = b.gap + hoist_slack
        moving = carriage if b.weight is None else b.weight / G
        if what in SIDES:
            b.clamps[what].on = False
        elif what == "hoist":
            b.rope = None
        elif what == "tackle":
            held = c.take_up.kind == "held"
            b.weight = 0.0 if held else 2.0 * c.take_up.tension
            moving = carriage if held else b.weight / G
        elif what.startswith("drum "):
            b.hold({int(what.removeprefix("drum ")): "free"})
        else:
            raise ValueError(f"what lets go: behind, ahead, hoist, drum 0 or tackle, not {what}")
        return b._fly(duration, damping, moving, before)

    def _fly(
        self, duration: float, damping: float, moving: float, before: dict[str, float]
    ) -> Failure:
        c, n = self.conveyor, self.count
        mass = self.mass + self.roll_mass
        np.add.at(mass, self.pulley_nodes, [p.reduced_mass for p in c.pulleys])
        clamps = [0, n - 1, self.clamps["behind"].node, self.clamps["ahead"].node]
        np.add.at(mass, clamps, c.gear.clamp_mass)
        stick = self.grip / SEAT
        stiffness = stick.copy()
        stiffness[:-1] += self.k
        stiffness[1:] += self.k
        np.add.at(stiffness, self.pulley_nodes, self._drum_stiffness)
        np.add.at(stiffness, clamps[2:], c.gear.chain_stiffness)
        np.add.at(stiffness, clamps[:2], c.gear.hoist_stiffness + self.stretch / self.natural)
        dt = 0.6 / float(np.sqrt(np.max(stiffness / mass)))
        drag = 2.0 * damping * np.sqrt(self.k * 0.5 * (mass[1:] + mass[:-1]))
        still = np.zeros(len(self.drums))
        v, vx, taken = np.zeros(n), 0.0, 0.0
        start, speed, travel = self.u.copy(), np.zeros(2), np.zeros(2)
        f = self._now()
        peak = dict(before)
        steps = int(duration / dt)
        kept: list[tuple[float, float, float, float, float]] = []
        for step in range(steps):
            force = f.residual.copy()
            rate = v[1:] - v[:-1] + self.strand * vx
            damp = np.where(f.tension > 0.0, np.maximum(drag * rate, -f.tension), 0.0)
            force[:-1] += damp
            force[1:] -= damp
            t = self.take_up_node
            ax = (f.take_up - damp[t - 1] - damp[t]) / moving if self.weight is not None else 0.0
            new, new_x = v + dt * force / mass, vx + dt * ax
            middle, middle_x = 0.5 * (v + new), 0.5 * (vx + new_x)
            lost = -f.idlers @ middle - f.drums @ middle[self.pulley_nodes]
            turn = middle[1:] - middle[:-1] + self.strand * middle_x
            taken += dt * float(lost + damp @ turn)
            if step % 20 == 0:
                kinetic = 0.5 * float(mass @ middle**2) + 0.5 * moving * middle_x**2
                whole = kinetic + self._elastic(f.tension) + self._potential() + taken
                kept.append((step * dt, float(self.u[-1]), float(self.u[0]), kinetic, whole))
            v, vx = new, new_x
            u = self.u + dt * v
            self.x += dt * vx
            f = self._forces(u, self.x, self.grip, stick, still, tangent=False)
            self.u, self.idlers, self.drums = u, f.idlers, f.drums
            for name, carried in self._carried(f.tension).items():
                peak[name] = max(peak[name], carried)
            ends = u[[n - 1, 0]] - start[[n - 1, 0]]
            travel = np.maximum(travel, np.abs(ends))
            speed = np.maximum(speed, np.abs(v[[n - 1, 0]]))
        samples = np.array(kept)
        return Failure(
            before,
            peak,
            {side: float(travel[i]) for i, side in enumerate(SIDES)},
            {side: float(speed[i]) for i, side in enumerate(SIDES)},
            samples[:, 0],
            samples[:, 1:3],
            samples[:, 3],
            samples[:, 4],
        )
