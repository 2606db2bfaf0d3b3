"""The load on every plate: springs that pull and never push, between belt and hinge pin.

The belt is an `EdgeCompliance`; the pin is straight. With both ends alike it stays straight
by symmetry; where only one end is damaged, that is the safe side for the other end and makes
no difference to the damaged one if the pin is either stiff or limp.

For plate i that bears:  P_i / k_i + Σ C_ij P_j + y_i θ = δ - g_i,  P_i >= 0,  Σ P = F,
and for the swing θ of the end:  Σ y_i P_i - θ / r = M.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.joint.loads.membrane import EdgeCompliance
from splicewright.joint.loads.meshing import Strip
from splicewright.quantities import Kind, formula

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

SHEAR_SHARE = 5.0 / 6.0
"""Share of a rectangular section that works in shear."""

_FREE = 1e13
"""Swing per moment, over that of the plates alone, that counts as free."""

_ROUNDS = 12
"""Rounds in which whole groups of plates are taken off or put back before the slow way."""


@formula(
    "λ = √(E B³/12 / S)",
    gives=("λ", Kind.LENGTH),
    symbols={"bending_stiffness": "E B³/12", "lateral_stiffness": "S"},
    source="shear-bending",
    limits="belt straight over several times this length",
)
def swing_length(bending_stiffness: float, lateral_stiffness: float) -> float:
    """Length over which a swing of the belt end in its own plane fades to 1/e.

    λ = √(E B^3/12 / S), from EI ψ'' = S ψ for the angle ψ of a cross-section; a moment M at
    the end swings it by M λ/EI.

    Parameters
    ----------
    bending_stiffness : E B^3 / 12 [N m2]
    lateral_stiffness : S, force that holds a leaning section back per angle [N]
    """
    return math.sqrt(bending_stiffness / lateral_stiffness)


@dataclass(frozen=True, slots=True)
class Guidance:
    """What keeps the belt end from swinging in its own plane.

    Make it with `guided`, `straightened` or `unguided`. The truth lies between the first
    and the last.

    Attributes
    ----------
    name : for the sheet
    swing : swing of the end per moment, 0 to infinity [rad/(N m)]
    moment : moment about the centreline that the belt itself brings: pull off centre, a
        curve [N m]
    """

    name: str
    swing: float
    moment: float = 0.0

    def with_moment(self, moment: float) -> Guidance:
        """The same guidance with a belt that brings a moment [N m]."""
        return Guidance(self.name, self.swing, moment)


def guided(strip: Strip) -> Guidance:
    """Idlers and guide rolls hold the centreline all along: S = 5/6 G B, shear alone gives."""
    bending = strip.bending_stiffness
    shear = SHEAR_SHARE * strip.shear_modulus * strip.width
    return Guidance("guided all along", swing_length(bending, shear) / bending)


def straightened(strip: Strip, total_force: float) -> Guidance:
    """Only the belt's own pull and length keep it straight: 1/S = 1/F + 1/(5/6 G B)."""
    bending = strip.bending_stiffness
    shear = SHEAR_SHARE * strip.shear_modulus * strip.width
    lateral = total_force * shear / (total_force + shear)
    return Guidance("straightened by its own pull", swing_length(bending, lateral) / bending)


def unguided() -> Guidance:
    """Nothing holds the end: the plates carry no moment but what the belt brings."""
    return Guidance("not guided", math.inf)


def swing_ease(guidance: Guidance, stiffness: float, y: Array) -> float:
    """Swing of an end per moment over that of its plates alone, free where it is next to that [1].

    Parameters
    ----------
    guidance : what holds the end
    stiffness : of one plate [N/m]
    y : plate middles, `(plates,)` [m]
    """
    reach = float(np.abs(y).max()) or 1.0
    return min(guidance.swing * stiffness * reach**2, _FREE)


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Loads of the plates in one or many scenarios; leading shape `...` is the scenarios'.

    Attributes
    ----------
    loads : `(..., plates)` [N]
    bearing : which plates pull, `(..., plates)`
    approach : movement of the belt end against the pin, without the belt's far stretch,
        `(...)` [m]
    swing : angle of the end, `(...)` [rad]
    total_force : `(...)` [N]
    """

    loads: Array
    bearing: Flags
    approach: Array
    swing: Array
    total_force: Array

    @property
    def factors(self) -> Array:
        """Load over the mean of all plates, lost ones counted: `(..., plates)` [1]."""
        mean = self.total_force / self.loads.shape[-1]
        return np.asarray(self.loads / mean[..., None])

    @property
    def worst(self) -> Array:
        """The largest plate load, `(...)` [N]."""
        return np.asarray(self.loads.max(axis=-1))

    @property
    def worst_plate(self) -> NDArray[np.intp]:
        """Index of the plate that carries most, from the left, `(...)`."""
        return np.asarray(self.loads.argmax(axis=-1))


def share(
    edge: EdgeCompliance,
    stiffness: ArrayLike,
    total_force: ArrayLike,
    *,
    slack: ArrayLike = 0.0,
    alive: ArrayLike = True,
    guidance: Guidance | None = None,
) -> Shares:
    """Share the pull of the belt among the plates.

    Everything but the belt broadcasts: one call solves thousands of scenarios.

    Parameters
    ----------
    edge : the belt end
    stiffness : of each plate from its patch of belt to the pin, `(..., plates)` or one [N/m]
    total_force : pull of the whole belt, `(...)` [N]
    slack : free travel of each plate before it pulls, against a straight pin,
        `(..., plates)` or one [m]
    alive : False for a plate that is lost, `(..., plates)`
    guidance : what holds the end from swinging; `unguided()` when left out and the belt's
        sides are free. A weft-locked belt is guided by itself and takes none

    Returns
    -------
    Shares, each scenario checked: forces and moment balance to 1e-9, nothing pushes

    Raises
    ------
    InputError
        No plate left; a stiffness or pull not above 0; plates left that cannot balance the
        pull; guidance for a weft-locked belt; lists of the wrong length.
    SplicewrightError
        The balance was not met: the moduli of belt and plates are too far apart.
    """
    plates = len(edge.row)
    if guidance is not None and not edge.swings:
        raise InputError(
            Fault(
                "guidance",
                f"'{guidance.name}' given for a belt whose weft is locked: that belt is held "
                "everywhere, leave guidance out or use the belt with free sides",
            )
        )
    hold = guidance or (unguided() if edge.swings else Guidance("weft locked", 0.0))
    k, g, lives = (
        _per_plate(name, value, plates)
        for name, value in (("stiffness", stiffness), ("slack", slack), ("alive", alive))
    )
    pull = np.asarray(total_force, dtype=np.float64)
    shape = np.broadcast_shapes(k.shape[:-1], g.shape[:-1], lives.shape[:-1], pull.shape)
    k, g, live = (np.broadcast_to(a, (*shape, plates)).reshape(-1, plates) for a in (k, g, lives))
    force = np.broadcast_to(pull, shape).reshape(-1)
    living = live.astype(bool)
    _check(k, force, g, living)
    _check_balance(edge.row.y, force, living, hold)
    problem = _Problem(edge.matrix, edge.row.y, k, force, g, hold)
    bearing, answer = problem.settle(living)
    problem.check(living, bearing, answer)
    loads = np.where(bearing, answer[:, :plates], 0.0)
    return Shares(
        loads.reshape(*shape, plates),
        bearing.reshape(*shape, plates),
        answer[:, plates].reshape(shape),
        answer[:, plates + 1].reshape(shape),
        force.reshape(shape),
    )


def edge_inverse(
    edge: EdgeCompliance, stiffness: float, guidance: Guidance | None
) -> tuple[Array, Array, Array]:
    """What `share` answers while every plate bears, as one inverse.

    Returns
    -------
    load of each plate per pull, `(plates,)` [1]; load that slack takes away, `(plates, plates)`
    [N/m]; load per moment that the belt brings, `(plates,)` [1/m]
    """
    n, y = len(edge.row), edge.row.y
    hold = guidance or (unguided() if edge.swings else Guidance("weft locked", 0.0))
    plates = np.full((1, n), stiffness)
    problem = _Problem(edge.matrix, y, plates, np.ones(1), np.zeros((1, n)), hold)
    system, loose = problem.system(np.zeros(1, dtype=np.intp), np.ones((1, n)))
    inverse = inverted(system[0])
    reach = float(np.abs(y).max()) or 1.0
    turned = loose / reach * inverse[:n, n + 1]
    even = inverse[:n, n]
    return even, stiffness * inverse[:n, :n], turned


def inverted(system: Array) -> Array:
    """The inverse of the equations of a joint, checked.

    Raises
    ------
    SplicewrightError
        It is not one.
    """
    inverse: Array = np.asarray(np.linalg.inv(system), dtype=np.float64)
    off = float(np.abs(system @ inverse - np.eye(len(system))).max())
    if not off <= 1e-9:
        msg = (
            f"plate loads: the equations are met to {off:.1e} only; the moduli of belt and plates "
            "are too far apart for a sound answer, check their units"
        )
        raise SplicewrightError(msg)
    return inverse


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """Many one-sided contact problems on one belt end; first axis is the scenario."""

    compliance: Array
    y: Array
    stiffness: Array
    force: Array
    slack: Array
    guidance: Guidance

    def system(self, rows: NDArray[np.intp], on: Array) -> tuple[Array, float]:
        """The equations with the given plates bearing, and the weight of the moment's.

        Shape `(rows, plates + 2, plates + 2)`, scaled by stiffness and reach.
        """
        n = len(self.y)
        k0, reach = float(self.stiffness.mean()), float(np.abs(self.y).max()) or 1.0
        system = np.zeros((len(rows), n + 2, n + 2))
        system[:, :n, :n] = k0 * self.compliance * on[:, :, None] * on[:, None, :]
        index = np.arange(n)
        system[:, index, index] += np.where(on > 0, k0 / self.stiffness[rows], 1.0)
        arm = self.y / reach
        system[:, :n, n] = -on
        system[:, n, :n] = on
        system[:, :n, n + 1] = on * arm
        # r runs from 0 to infinity: weigh "sum y P - theta/r = M" so that both ends are finite.
        # A trace of hold is left at infinity: one plate on the centreline alone turns freely.
        ease = swing_ease(self.guidance, k0, self.y)
        loose, tight = ease / (1 + ease), 1 / (1 + ease)
        system[:, n + 1, :n] = loose * on * arm
        system[:, n + 1, n + 1] = -tight
        return system, loose

    def solve(self, rows: NDArray[np.intp], bearing: Array | Flags) -> Array:
        """Loads, approach and swing with the given plates bearing, `(rows, plates + 2)`.

        Scaled by stiffness and pull so that all entries are near 1.
        """
        n = len(self.y)
        k0, reach = float(self.stiffness.mean()), float(np.abs(self.y).max()) or 1.0
        on = bearing.astype(np.float64)
        system, loose = self.system(rows, on)
        right = np.zeros((len(rows), n + 2, 1))
        f = self.force[rows]
        right[:, :n, 0] = -on * self.slack[rows] * k0 / f[:, None]
        right[:, n, 0] = 1.0
        right[:, n + 1, 0] = loose * self.guidance.moment / (f * reach)
        answer: Array = np.asarray(np.linalg.solve(system, right)[..., 0], dtype=np.float64)
        answer[:, :n] *= f[:, None]
        answer[:, n] *= f / k0
        answer[:, n + 1] *= f / (k0 * reach)
        return answer

    def gaps(self, rows: NDArray[np.intp], answer: Array) -> Array:
        """How far each plate would be stretched if it could push, over F/k, `(rows, plates)`."""
        n = len(self.y)
        pulls, approach, swing = answer[:, :n], answer[:, n, None], answer[:, n + 1, None]
        stretch = approach - self.slack[rows] - swing * self.y - pulls @ self.compliance
        return np.asarray(stretch * self.stiffness[rows] / self.force[rows, None])

    def settle(self, alive: Flags) -> tuple[Flags, Array]:
        """Find which plates bear: take off what pushes, put back what is stretched."""
        cases, n = alive.shape
        bearing = alive.copy()
        answer = np.zeros((cases, n + 2))
        open_rows = np.arange(cases)
        for _ in range(_ROUNDS):
            answer[open_rows] = self.solve(open_rows, bearing[open_rows])
            wrong = self._wrong(open_rows, bearing[open_rows], alive[open_rows], answer[open_rows])
            bearing[open_rows] ^= wrong
            open_rows = open_rows[wrong.any(axis=1)]
            if not open_rows.size:
                return bearing, answer
        for row in open_rows:
            bearing[row] = self._bearing_by_least_squares(int(row), alive[row])
            answer[[row]] = self.solve(np.array([row]), bearing[[row]])
        return bearing, answer

    def _wrong(self, rows: NDArray[np.intp], bearing: Flags, alive: Flags, answer: Array) -> Flags:
        wrong = bearing & (answer[:, : len(self.y)] < -1e-12 * self.force[rows, None])
        off = alive & ~bearing
        if off.any():
            wrong |= off & (self.gaps(rows, answer) > 1e-12)
        return wrong

    def _bearing_by_least_squares(self, row: int, alive: Flags) -> Flags:
        """Bearing plates as a non-negative least-squares problem: slower, and it ends."""
        from scipy.optimize import nnls

        at = np.flatnonzero(alive)
        k0, f = float(self.stiffness.mean()), float(self.force[row])
        reach = float(np.abs(self.y).max()) or 1.0
        arm = self.y[at] / reach
        flexible = k0 * (self.compliance[np.ix_(at, at)] + np.diag(1 / self.stiffness[row, at]))
        ease, weight = self.guidance.swing * k0 * reach**2, 1e5
        moment = self.guidance.moment / (f * reach)
        upper = np.linalg.cholesky(flexible).T
        rows = [upper, weight * np.ones((1, len(at)))]
        right = [-np.linalg.solve(upper.T, self.slack[row, at] * k0 / f), np.array([weight])]
        root = weight if math.isinf(ease) else math.sqrt(ease)
        rows.append(root * arm[None, :])
        right.append(np.array([root * moment]))
        loads, _ = nnls(np.vstack(rows), np.concatenate(right))
        bearing = np.zeros(len(alive), dtype=bool)
        bearing[at[loads > 1e-10]] = True
        return bearing

    def check(self, alive: Flags, bearing: Flags, answer: Array) -> None:
        """Balance of forces and moment, no plate that pushes, none left out that is stretched."""
        n = len(self.y)
        pulls = np.where(bearing, answer[:, :n], 0.0)
        off = np.abs(pulls.sum(axis=1) / self.force - 1)
        if math.isinf(self.guidance.swing):
            reach = float(np.abs(self.y).max()) or 1.0
            missing = np.abs(pulls @ self.y - self.guidance.moment) / (self.force * reach)
            off = np.maximum(off, missing)
        rows = np.arange(len(pulls))
        stretch = self.gaps(rows, np.concatenate([pulls, answer[:, n:]], axis=1))
        misfit = np.where(bearing, np.abs(stretch - pulls / self.force[:, None]), 0.0)
        push = np.where(bearing, -pulls / self.force[:, None], 0.0)
        left_out = np.where(alive & ~bearing, stretch, 0.0)
        worst = max(float(a.max()) for a in (off, misfit, push, left_out))
        if not worst <= 1e-9 * max(1.0, float(np.abs(stretch).max())):
            msg = (
                f"plate loads: balance missed by {worst:.1e} of the pull; the moduli of belt "
                "and plates are too far apart for a sound answer, check their units"
            )
            raise SplicewrightError(msg)


def _per_plate(name: str, value: ArrayLike, plates: int) -> Array:
    array = np.asarray(value, dtype=np.float64)
    if array.ndim == 0:
        return np.full(plates, array)
    if array.shape[-1] != plates:
        raise InputError(
            Fault(name, f"{array.shape[-1]} values given: give one, or one for each of {plates}")
        )
    return array


def _check(stiffness: Array, force: Array, slack: Array, alive: Flags) -> None:
    faults = []
    for name, values in (("stiffness", stiffness), ("total_force", force)):
        bad = ~(np.isfinite(values) & (values > 0))
        if bad.any():
            faults.append(Fault(name, f"{values[bad][0]:g} is not accepted: give a number above 0"))
    if not np.isfinite(slack).all():
        faults.append(Fault("slack", "a value is not a number: give lengths"))
    if not alive.any(axis=1).all():
        faults.append(
            Fault(
                "alive",
                f"all {alive.shape[1]} plates are lost: nothing holds the belt, no load can be "
                "given; at least one plate must be left",
            )
        )
    if faults:
        raise InputError(*faults)


def can_balance(y: Array, force: Array, alive: Flags, guidance: Guidance) -> Flags:
    """Whether the plates left can hold the belt in line, `(scenarios,)`.

    False where the pull lies outside the plates left and nothing guides the belt: the joint
    tears open from the side. Shapes: y `(plates,)`, force `(scenarios,)`, alive
    `(scenarios, plates)`.
    """
    some = alive.any(axis=1)
    if not math.isinf(guidance.swing):
        return np.asarray(some)
    lever = guidance.moment / force
    left = (np.where(alive, y, -np.inf).max(axis=1) > lever) & some
    return np.asarray(left & (np.where(alive, y, np.inf).min(axis=1) < lever))


def _check_balance(y: Array, force: Array, alive: Flags, guidance: Guidance) -> None:
    bad = np.flatnonzero(~can_balance(y, force, alive, guidance))
    if bad.size:
        at = int(bad[0])
        left = y[alive[at]] * 1e3
        raise InputError(
            Fault(
                "alive",
                f"the plates left lie from {left.min():.0f} to {left.max():.0f} mm and the pull "
                f"at {guidance.moment / force[at] * 1e3:.0f} mm: an end that nothing guides "
                "finds no balance, the joint tears open from the side",
            )
        )
