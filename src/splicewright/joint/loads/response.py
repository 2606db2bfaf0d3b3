"""How a whole joint answers: the loads of its plates, linear in pull and slack while they bear.

One small inverse per set of assumptions says it all:
    P = F e - K g,    P >= 0
with e the shares of a true and sound joint and K the loads that slack takes away. A plate that is
lost, weak or slack at the moment changes few rows, so every scenario is a system as small as the
number of such plates. Exact: the same equations as `sharing` and `hinge`, eliminated in another
order, and checked against balance each time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import SplicewrightError
from splicewright.joint.loads.hinge import Hinge, hinge_inverse, share_both
from splicewright.joint.loads.membrane import EdgeCompliance
from splicewright.joint.loads.sharing import Guidance, edge_inverse, share, unguided
from splicewright.joint.loads.stiffness import Case
from splicewright.quantities.going_on import go_on

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_PUSH = 1e-11
"""Share of the pull below which a plate counts as neither pushing nor left out [1]."""

_TOGETHER, _ROUNDS = 6, 60
"""Rounds in which all plates that are wrong change at once; then one at a time, to the last."""

Slow = Callable[[Array, float, Array, Flags, float], Array]
"""The direct way, for what does not settle: loads of one scenario from the stiffness of each
plate, pull, slack, plates left and moment."""


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """Loads of all plates of a joint as they answer to pull, slack and moment.

    Attributes
    ----------
    even : load of each plate per pull, true and sound, `(plates,)` [1]
    taken : load that slack takes away, and hands to the others, `(plates, plates)` [N/m]
    turned : load per moment that the belt brings, `(plates,)` [1/m]
    alive : plates that are there, `(plates,)`
    stiffness : of each plate, `(plates,)` [N/m]
    first : plates of the leading end; all of them where one end was worked
    direct : the slow way
    """

    even: Array
    taken: Array
    turned: Array
    alive: Flags
    stiffness: Array
    first: int
    direct: Slow

    def changed(self, plates: NDArray[np.intp], stiffness: Array) -> Response:
        """The joint with some plates weaker, 0 where they are lost.

        Parameters
        ----------
        plates : which; none of them lost before
        stiffness : of these, below what it was [N/m]

        Raises
        ------
        numpy.linalg.LinAlgError
            What is left holds nothing.
        """
        now = self.stiffness[plates]
        # A spring of this stiffness in series with the plate makes it as weak as asked for.
        series = np.where(stiffness > 0, now * stiffness / (now - stiffness), 0.0)
        small = self.taken[np.ix_(plates, plates)] + np.diag(series)
        both = np.linalg.solve(
            small, np.column_stack([self.taken[plates], self.even[plates], self.turned[plates]])
        )
        column = self.taken[:, plates]
        taken = self.taken - column @ both[:, :-2]
        even, turned = self.even - column @ both[:, -2], self.turned - column @ both[:, -1]
        lost = plates[stiffness == 0]
        taken[lost], taken[:, lost], even[lost], turned[lost] = 0.0, 0.0, 0.0, 0.0
        alive, left = self.alive.copy(), self.stiffness.copy()
        alive[lost] = False
        left[plates] = np.where(stiffness > 0, stiffness, now)
        return Response(even, taken, turned, alive, left, self.first, self.direct)

    def loads(self, force: Array, slack: Array, moment: Array | float = 0.0) -> Array:
        """Loads in many scenarios, each checked.

        Parameters
        ----------
        force : pull, `(...)` [N]
        slack : free travel of each plate, `(..., plates)`, broadcast against the pull [m]
        moment : that the belt brings, broadcast against the pull [N m]

        Returns
        -------
        `(..., plates)` [N]; balance to 1e-8, nothing pushes

        Raises
        ------
        SplicewrightError
            The balance was not met.
        """
        go_on()
        turn = np.asarray(moment, dtype=np.float64)[..., None] * self.turned
        loads = force[..., None] * self.even + turn - slack @ self.taken
        shape = loads.shape
        loads, pull = loads.reshape(-1, shape[-1]), np.broadcast_to(force, shape[:-1]).reshape(-1)
        push = loads < -_PUSH * pull[:, None]
        rows = np.flatnonzero(push.any(axis=1))
        if rows.size:
            lag = np.broadcast_to(slack, shape).reshape(-1, shape[-1])
            brought = np.broadcast_to(moment, shape[:-1]).reshape(-1)
            loads[rows] = self._settled(
                loads[rows], push[rows], pull[rows], lag[rows], brought[rows]
            )
        np.maximum(loads, 0.0, out=loads)
        ends = [loads[:, : self.first].sum(axis=1), loads[:, self.first :].sum(axis=1)]
        off = max(float(np.abs(end / pull - 1).max()) for end in ends[: 1 + self.two_ends])
        if not off <= 1e-8:
            msg = (
                f"plate loads: balance missed by {off:.1e} of the pull; the moduli of belt, plates "
                "and pin are too far apart for a sound answer, check their units"
            )
            raise SplicewrightError(msg)
        return loads.reshape(shape)

    @property
    def two_ends(self) -> bool:
        """Whether both belt ends were worked."""
        return self.first < len(self.even)

    def _settled(
        self, linear: Array, off: Flags, force: Array, slack: Array, moment: Array
    ) -> Array:
        """Find which plates hang loose: those that would push, save where that stretches them."""
        settled, first, off = linear.copy(), off, off.copy()
        least = -_PUSH * force
        rows = list(range(len(settled)))
        slow: list[int] = []
        for turn in range(_ROUNDS):
            if turn == _TOGETHER:
                # All at once goes round in a ring, or took off more than can be spared.
                for row in rows:
                    off[row] = _only(first[row], linear[row])
            groups: dict[bytes, list[int]] = {}
            for row in rows:
                groups.setdefault(off[row].tobytes(), []).append(row)
            rows = []
            for group in groups.values():
                at = np.flatnonzero(off[group[0]])
                own, part, low = self.taken[at], linear[group], least[group, None]
                try:
                    # Slack given back to each loose plate until it carries nothing.
                    given = np.linalg.solve(own[:, at], part[:, at].T).T
                except np.linalg.LinAlgError:
                    (slow if turn >= _TOGETHER else rows).extend(group)
                    continue
                now = part - given @ own
                # A loose plate is wrong where slack has to be added: it is stretched.
                now[:, at] = -given * self.stiffness[at]
                wrong = now < low
                for row, flags, loads in zip(group, wrong, now, strict=True):
                    if flags.any():
                        off[row] ^= flags if turn < _TOGETHER else _only(flags, loads)
                        rows.append(row)
                now[:, at] = 0.0
                settled[group] = now
            if not rows:
                break
        for row in (*rows, *slow):
            settled[row] = self.direct(
                self.stiffness, force[row], slack[row], self.alive, float(moment[row])
            )
        return settled


def _only(flags: Flags, loads: Array) -> Flags:
    """The flag of the plate that is most wrong alone."""
    one = np.zeros_like(flags)
    one[np.where(flags, loads, np.inf).argmin()] = True
    return one


def response_of(case: Case) -> Response:
    """The response of a joint under one set of assumptions, sound and true; worked once, kept."""
    hinge = case.hinge
    if hinge is None:
        return _of_edge(case.edge, case.plate_stiffness, case.guidance)
    return _of_hinge(
        hinge.leading,
        hinge.trailing,
        hinge.bending,
        case.plate_stiffness,
        case.guidance or unguided(),
    )


@lru_cache(maxsize=128)
def _of_edge(edge: EdgeCompliance, stiffness: float, guidance: Guidance | None) -> Response:
    def direct(k: Array, force: float, slack: Array, alive: Flags, moment: float) -> Array:
        hold = guidance and guidance.with_moment(moment)
        return share(edge, k, force, slack=slack, alive=alive, guidance=hold).loads

    n = len(edge.row)
    return Response(
        *edge_inverse(edge, stiffness, guidance),
        np.ones(n, dtype=bool),
        np.full(n, stiffness),
        n,
        direct,
    )


@lru_cache(maxsize=128)
def _of_hinge(
    leading: EdgeCompliance,
    trailing: EdgeCompliance,
    bending: float,
    stiffness: float,
    guidance: Guidance,
) -> Response:
    hinge = Hinge(leading, trailing, bending)

    def direct(k: Array, force: float, slack: Array, alive: Flags, moment: float) -> Array:
        hold = guidance.with_moment(moment)
        return share_both(hinge, k, force, slack=slack, alive=alive, guidance=hold)

    n = len(hinge.y)
    return Response(
        *hinge_inverse(hinge, stiffness, guidance),
        np.ones(n, dtype=bool),
        np.full(n, stiffness),
        len(leading.row),
        direct,
    )
