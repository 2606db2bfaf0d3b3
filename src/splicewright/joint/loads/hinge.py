"""Both belt ends and the hinge pin between them, solved as one system.

Damage on one end alone leaves the other end more even, and any hold of the pin lies between
the limits of side guidance: `sharing` covers it. Damage on both ends does not: plates lost
opposite each other weaken one place, plates lost staggered twist the joint, and plates left on
opposite sides hold nothing at all. Here the pin is a beam that bends, shifts and tilts freely.

For plate i of either end that bears, w the pin's movement, positive towards the leading end:
    P_i/k_i + Σ C_ij P_j + y_i θ + w(y_i) = δ - g_i   leading end
    P_i/k_i + Σ C_ij P_j + y_i θ - w(y_i) = δ' - g_i  trailing end
    w(y) = φ y + Σ ±P_j |y - y_j|³/(12 E I)
and the pin in balance: Σ P = F on both ends, Σ y P = M + θ/r on both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.joint.loads.membrane import EdgeCompliance, PlateRow
from splicewright.joint.loads.sharing import Guidance, inverted, swing_ease
from splicewright.quantities import Kind, formula

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

STEEL = 2.05e11
"""Elastic modulus of steel pins, carbon and stainless alike within 5 %; from memory [Pa]."""

_ROUNDS = 25


@formula(
    "B = E π d⁴/64",
    gives=("B", Kind.RATIO),
    symbols={"diameter": "d", "modulus": "E"},
    source="pin-beam",
    limits="round and solid; a pin of wires bends as its wires alone: less by their number",
)
def pin_bending(diameter: float, modulus: float = STEEL) -> float:
    """Bending stiffness of a round hinge pin [N m2].

    B = E π d^4/64

    Parameters
    ----------
    diameter : where it is thinnest, for the soft side [m]
    modulus : [Pa]
    """
    return modulus * math.pi * diameter**4 / 64


@dataclass(frozen=True, eq=False)
class Hinge:
    """Two belt ends with a pin between them.

    Parameters
    ----------
    leading, trailing : the belt ends, sides free
    bending : stiffness of the pin [N m2]
    """

    leading: EdgeCompliance
    trailing: EdgeCompliance
    bending: float

    def __post_init__(self) -> None:
        if not (self.leading.swings and self.trailing.swings):
            raise InputError(
                Fault("edge", "a belt whose weft is locked cannot be hinged: take free sides")
            )
        if not 0 < self.bending < math.inf:
            raise InputError(
                Fault("bending", f"{self.bending:g} N m2 is not accepted: give a number above 0")
            )

    @cached_property
    def y(self) -> Array:
        """Plate middles, leading end first, each from the left, `(plates of both,)` [m]."""
        return np.concatenate([self.leading.row.y, self.trailing.row.y])

    @cached_property
    def side(self) -> Array:
        """+1 for plates of the leading end, -1 for those of the trailing, `(plates of both,)`."""
        ones = np.ones(len(self.leading.row)), -np.ones(len(self.trailing.row))
        return np.concatenate(ones)

    @cached_property
    def matrix(self) -> Array:
        """Compliance of both belt ends and of the pin, `(plates of both,) * 2` [m/N].

        The pin's part is exact for loads that hold each other in balance, and only such come:
        what it would make of others is taken out, which leaves it positive and its numbers small
        enough for a limp pin.
        """
        n, y, side = len(self.leading.row), self.y, self.side
        compliance = np.abs(y[:, None] - y) ** 3 / (12 * self.bending) * side[:, None] * side
        shift_and_tilt, _ = np.linalg.qr(np.column_stack([side, side * y]))
        held = np.eye(len(y)) - shift_and_tilt @ shift_and_tilt.T
        compliance = held @ compliance @ held
        compliance[:n, :n] += self.leading.matrix
        compliance[n:, n:] += self.trailing.matrix
        return np.asarray(compliance)


def turned(edge: EdgeCompliance) -> EdgeCompliance:
    """The other end of a joint whose ends are alike: turned by half a turn about the pin."""
    row = PlateRow(tuple(-y for y in reversed(edge.row.centres)), edge.row.plate_width)
    return replace(
        edge,
        row=row,
        matrix=edge.matrix[::-1, ::-1],
        stretches=-edge.stretches[::-1],
        lift=edge.lift[:, ::-1, ::-1],
    )


def with_turned_end(edge: EdgeCompliance, bending: float) -> EdgeCompliance:
    """One end that stands for both of a joint whose ends are alike, pin included.

    Every plate of the turned end carries what its counterpart carries, so their pull on the
    pin can be counted at once: the pin's part is (|y_i - y_j|³ - |y_i + y_j|³)/(12 E I). The
    moments of both ends can balance only where they are nil: share it `unguided`.

    Parameters
    ----------
    edge : of the leading end
    bending : stiffness of the pin [N m2]
    """
    y = edge.row.y
    pin = (np.abs(y[:, None] - y) ** 3 - np.abs(y[:, None] + y) ** 3) / (12 * bending)
    return replace(edge, matrix=edge.matrix + pin)


def hold_each_other(hinge: Hinge, alive: Flags, guidance: Guidance, lever: float = 0.0) -> Flags:
    """Whether the plates left on both ends can be in balance, `(scenarios,)`.

    The pull must pass through the pin at one place that lies between the plates left of both
    ends; where nothing guides the belt that place is the line of the pull itself, `lever` from
    the centreline [m]. `alive` is `(scenarios, plates of both)`.
    """
    n, y = len(hinge.leading.row), hinge.y
    most, least = np.full(len(alive), math.inf), np.full(len(alive), -math.inf)
    for part in (slice(0, n), slice(n, None)):
        most = np.minimum(most, np.where(alive[:, part], y[part], -np.inf).max(axis=1))
        least = np.maximum(least, np.where(alive[:, part], y[part], np.inf).min(axis=1))
    if math.isinf(guidance.swing):
        return np.asarray((least < lever) & (lever < most))
    return np.asarray(least <= most)


def share_both(
    hinge: Hinge,
    stiffness: ArrayLike,
    total_force: ArrayLike,
    *,
    guidance: Guidance,
    slack: ArrayLike = 0.0,
    alive: ArrayLike = True,
) -> Array:
    """Share the pull among the plates of both ends.

    Everything but belt, pin and guidance broadcasts.

    Parameters
    ----------
    hinge : both ends and the pin
    stiffness : of each plate from its patch of belt to the pin, `(..., plates of both)` [N/m]
    total_force : pull of the whole belt, `(...)` [N]
    guidance : what holds either end from swinging
    slack : free travel of each plate before it pulls, `(..., plates of both)` [m]
    alive : False for a plate that is lost, `(..., plates of both)`

    Returns
    -------
    Loads, leading end first, `(..., plates of both)` [N]; balance on both ends checked to 1e-9

    Raises
    ------
    InputError
        A stiffness or pull not above 0, or plates left that cannot hold each other.
    SplicewrightError
        The balance was not met.
    """
    plates = len(hinge.y)
    pull = np.asarray(total_force, dtype=np.float64)
    k, g, live = (np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (stiffness, slack, alive))
    shape = np.broadcast_shapes(k.shape[:-1], g.shape[:-1], live.shape[:-1], pull.shape)
    k, g, live = (np.broadcast_to(a, (*shape, plates)).reshape(-1, plates) for a in (k, g, live))
    force = np.broadcast_to(pull, shape).reshape(-1)
    for name, values in (("stiffness", k), ("total_force", force)):
        if not (np.isfinite(values) & (values > 0)).all():
            raise InputError(Fault(name, "not every value is above 0: give numbers above 0"))
    living = live.astype(bool)
    if not hold_each_other(hinge, living, guidance, guidance.moment / float(force.min())).all():
        raise InputError(
            Fault(
                "alive",
                "the plates left on the two ends cannot hold each other: they lie on "
                "opposite sides, or beside the pull; the joint tears open from the side",
            )
        )
    problem = _Both(hinge, k, force, g, guidance)
    return problem.settle(living).reshape(*shape, plates)


def hinge_inverse(hinge: Hinge, stiffness: float, guidance: Guidance) -> tuple[Array, Array, Array]:
    """What `share_both` answers while every plate bears, as one inverse.

    Returns
    -------
    load of each plate per pull, `(plates of both,)` [1]; load that slack takes away,
    `(plates of both,) * 2` [N/m]; load per moment that the belt brings, `(plates of both,)` [1/m]
    """
    n = len(hinge.y)
    problem = _Both(hinge, np.full((1, n), stiffness), np.ones(1), np.zeros((1, n)), guidance)
    inverse = inverted(problem.system(np.ones(n, dtype=bool), np.full(n, stiffness)))
    turned = problem.looseness()[0] / problem.reach * inverse[:n, n + 3]
    return inverse[:n, n] + inverse[:n, n + 1], stiffness * inverse[:n, :n], turned


@dataclass(eq=False)
class _Both:
    """Many one-sided contact problems on one hinge; first axis is the scenario."""

    hinge: Hinge
    stiffness: Array
    force: Array
    slack: Array
    guidance: Guidance

    def __post_init__(self) -> None:
        self._matrix, self._y, self._side = self.hinge.matrix, self.hinge.y, self.hinge.side
        self._k0, self.reach = float(self.stiffness.mean()), float(np.abs(self._y).max())
        self._lead = self._side > 0
        # Scenarios mostly differ in pull and slack alone: those that bear alike are one system.
        self._alike = bool((self.stiffness == self.stiffness[:1]).all())

    def solve(self, rows: NDArray[np.intp], bearing: Flags) -> Array:
        """Loads, both approaches, tilt of the pin and swing, `(rows, plates + 4)`, over F.

        Not finite where too few plates bear to hold each other.
        """
        n, k0 = len(self._y), self._k0
        right = np.zeros((len(rows), n + 4))
        right[:, :n] = np.where(bearing, -self.slack[rows], 0.0) * k0 / self.force[rows, None]
        right[:, n : n + 2] = 1.0
        loose = self.looseness()[0]
        right[:, n + 3] = loose * self.guidance.moment / (self.force[rows] * self.reach)
        groups: dict[object, list[int]] = {}
        for at, key in enumerate(np.packbits(bearing, axis=1)):
            groups.setdefault(key.tobytes() if self._alike else at, []).append(at)
        answer = np.empty((len(rows), n + 4))
        for group in groups.values():
            system = self.system(bearing[group[0]], self.stiffness[rows[group[0]]])
            try:
                answer[group] = np.linalg.solve(system, right[group].T).T
            except np.linalg.LinAlgError:
                answer[group] = np.nan
        return answer

    def looseness(self) -> tuple[float, float]:
        """Weights of "moment is nil" and "no swing" by what the guidance gives way."""
        ease = swing_ease(self.guidance, self._k0, self._y)
        return ease / (1 + ease), 1 / (1 + ease)

    def system(self, bearing: Flags, stiffness: Array) -> Array:
        """The equations of one set of bearing plates, `(plates + 4, plates + 4)`."""
        n, k0 = len(self._y), self._k0
        on = bearing.astype(np.float64)
        arm, lead = self._y / self.reach, self._lead.astype(np.float64)
        loose, tight = self.looseness()
        system = np.zeros((n + 4, n + 4))
        system[:n, :n] = k0 * self._matrix * on[:, None] * on
        index = np.arange(n)
        system[index, index] += np.where(bearing, k0 / stiffness, 1.0)
        # Force balance of either end, moment balance of the pin, swing of both ends alike.
        for column, share in (
            (n, -lead),
            (n + 1, lead - 1),
            (n + 2, self._side * arm),
            (n + 3, arm),
        ):
            system[:n, column] = on * share
        system[n, :n], system[n + 1, :n] = on * lead, on * (1 - lead)
        system[n + 2, :n] = on * self._side * arm
        system[n + 3, :n] = loose * on * arm / 2
        system[n + 3, n + 3] = -tight
        return system

    def gaps(self, rows: NDArray[np.intp], answer: Array) -> Array:
        """How far each plate would be stretched if it could push, over F/k0, `(rows, plates)`."""
        n, arm = len(self._y), self._y / self.reach
        loads = answer[:, :n]
        approach = np.where(self._lead, answer[:, n, None], answer[:, n + 1, None])
        turned = (self._side * answer[:, n + 2, None] + answer[:, n + 3, None]) * arm
        slack = self.slack[rows] * self._k0 / self.force[rows, None]
        return np.asarray(approach - slack - turned - loads @ self._matrix * self._k0)

    def settle(self, alive: Flags) -> Array:
        """Find which plates bear, and return their loads [N]."""
        cases, n = alive.shape
        bearing, answer = alive.copy(), np.zeros((cases, n + 4))
        rows, slow = np.arange(cases), [np.empty(0, dtype=np.intp)]
        for _ in range(_ROUNDS):
            answer[rows] = self.solve(rows, bearing[rows])
            # A round may take off so many plates that the rest cannot hold each other.
            solved = np.isfinite(answer[rows]).all(axis=1)
            slow.append(rows[~solved])
            rows = rows[solved]
            wrong = bearing[rows] & (answer[rows, :n] < -1e-11)
            wrong |= alive[rows] & ~bearing[rows] & (self.gaps(rows, answer[rows]) > 1e-11)
            bearing[rows] ^= wrong
            rows = rows[wrong.any(axis=1)]
            if not rows.size:
                break
        for row in np.concatenate([*slow, rows]):
            bearing[row] = self._bearing_by_least_squares(int(row), alive[row])
            answer[[row]] = self.solve(np.array([row]), bearing[[row]])
        loads = np.where(bearing, answer[:, :n], 0.0)
        self._check(alive, bearing, loads, answer)
        return loads * self.force[:, None]

    def _bearing_by_least_squares(self, row: int, alive: Flags) -> Flags:
        """The slow way: energy of belts, plates, pin and swing as non-negative least squares."""
        from scipy.optimize import nnls

        at = np.flatnonzero(alive)
        k0, arm, side = self._k0, self._y[at] / self.reach, self._side[at]
        energy = k0 * (self._matrix[np.ix_(at, at)] + np.diag(1 / self.stiffness[row, at]))
        ease = self.guidance.swing * k0 * self.reach**2
        moment = self.guidance.moment / (self.force[row] * self.reach)
        held = np.array([side > 0, side < 0, side * arm], dtype=np.float64)
        wanted = np.array([1.0, 1.0, 0.0])
        if math.isinf(ease):
            held, wanted = np.vstack([held, arm]), np.append(wanted, 2 * moment)
        else:
            energy = energy + ease / 2 * np.outer(arm, arm)
        linear = -self.slack[row, at] * k0 / self.force[row]
        if not math.isinf(ease):
            linear = linear + ease * moment * arm
        # Zero wherever the pin is in balance, it makes the pin's part positive elsewhere too.
        weight = 1e3 * float(np.abs(energy).max())
        upper = np.linalg.cholesky(energy + weight * held.T @ held).T
        right = np.linalg.solve(upper.T, linear + weight * held.T @ wanted)
        firm = 1e4 * math.sqrt(weight)
        loads, _ = nnls(
            np.vstack([upper, firm * held]),
            np.concatenate([right, firm * wanted]),
            maxiter=100 * len(at),
        )
        bearing = np.zeros(len(alive), dtype=bool)
        bearing[at[loads > 1e-9]] = True
        return bearing

    def _check(self, alive: Flags, bearing: Flags, loads: Array, answer: Array) -> None:
        """Balance of both ends and of the pin, nothing pushes, nothing stretched is left out."""
        n, arm = len(self._y), self._y / self.reach
        off = [np.abs(loads @ self._lead - 1), np.abs(loads @ ~self._lead - 1)]
        off.append(np.abs(loads @ (self._side * arm)))
        stretch = self.gaps(np.arange(len(loads)), np.concatenate([loads, answer[:, n:]], axis=1))
        own = loads * self._k0 / self.stiffness
        off.append(np.where(bearing, np.abs(stretch - own), -loads).max(axis=1))
        off.append(np.where(bearing, -loads, 0.0).max(axis=1))
        off.append(np.where(alive & ~bearing, stretch, 0.0).max(axis=1))
        worst = max(float(a.max()) for a in off)
        if not worst <= 1e-8 * max(1.0, float(np.abs(stretch).max())):
            msg = (
                f"plate loads of both ends: balance missed by {worst:.1e} of the pull; the moduli "
                "of belt, plates and pin are too far apart for a sound answer, check their units"
            )
            raise SplicewrightError(msg)
