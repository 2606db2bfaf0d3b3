"""What renewing joints in a shutdown saves, and the most that a sum of crew hours allows.

A joint that is left may fail before the next shutdown; renewing it costs money and hours, and
opening up a conveyor costs hours once. By hours alone the choice is a small integer programme,
solved to its optimum by HiGHS through SciPy: the bound for the choice by schedule
(`joint_choice_by_schedule`), which alone says what can be done.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.life.limits import Limits
from splicewright.quantities import Kind, formula


@formula(
    "G = (F_left - F_new) c_f - c_r + W",
    gives=("G", Kind.RATIO),
    symbols={
        "left": "F_left",
        "renewed": "F_new",
        "failure": "c_f",
        "renewal": "c_r",
        "later": "W",
    },
    source="expectation",
    limits="in the money of the costs",
)
def gain_of_renewing(
    left: float, renewed: float, failure: float, renewal: float, later: float
) -> float:
    """Expected cost saved by renewing a joint now.

    Parameters
    ----------
    left, renewed : chance of failing before the next shutdown, as it is and renewed [0..1]
    failure, renewal : what a failure and the renewal cost
    later : what the renewed joint's use is worth after the next shutdown
    """
    return (left - renewed) * failure - renewal + later


def worth_later(leave: float, left: float, renewed: float, failure: float, renewal: float) -> float:
    """W of `gain_of_renewing` by which renewing gains what leaving costs more.

    Parameters
    ----------
    leave : what leaving the joint until the next shutdown costs more than renewing it
        (`history.planner.at_stop`)
    left, renewed, failure, renewal : as there
    """
    return leave - gain_of_renewing(left, renewed, failure, renewal, 0.0)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A joint that could be renewed in the shutdown.

    Attributes
    ----------
    joint, conveyor : names
    chance_if_left : of failing before the next shutdown as it is [0..1]
    chance_if_renewed : the same for a new joint [0..1]
    failure_cost : of a failure in between
    renewal_cost : of renewing it now
    hours : crew hours that takes [s]
    later : what its use is worth after the next shutdown, once renewed
    later_if : the same where a failure costs half, and double; None where it is the same
    span : of what renewing it saves, nine times in ten; None where chances are without doubt
    """

    joint: str
    conveyor: str
    chance_if_left: float
    chance_if_renewed: float
    failure_cost: float
    renewal_cost: float
    hours: float
    later: float = 0.0
    later_if: tuple[float, float] | None = None
    span: Limits | None = None

    def if_failure(self, times: float) -> Candidate:
        """The same where a failure costs half (0.5) or double (2) as much, or as stated (1)."""
        later = self.later
        if self.later_if is not None and times != 1:
            later = self.later_if[times > 1]
        return replace(self, failure_cost=times * self.failure_cost, later=later, later_if=None)

    @property
    def gain(self) -> float:
        """Expected cost saved by renewing; negative when leaving is cheaper."""
        return gain_of_renewing(
            self.chance_if_left,
            self.chance_if_renewed,
            self.failure_cost,
            self.renewal_cost,
            self.later,
        )


@dataclass(frozen=True, slots=True)
class Choice:
    """The joints to renew.

    Attributes
    ----------
    renew : names, largest gain per hour first
    cost : expected cost of renewals and failures
    cost_if_none : the same when nothing is renewed
    hours : crew hours used, opening up included [s]
    chance : to be done within the window [0..1]; nan where no schedule was made
    most : that any choice could save; equal to `saving` where the choice is the best of all, and
        nan where no schedule was made
    span : of what is saved, nine times in ten, as far as the chances are in doubt; None where they
        were given without doubt
    """

    renew: tuple[str, ...]
    cost: float
    cost_if_none: float
    hours: float
    chance: float = math.nan
    most: float = math.nan
    span: Limits | None = None

    @property
    def saving(self) -> float:
        """Expected cost saved."""
        return self.cost_if_none - self.cost

    @property
    def gap(self) -> float:
        """Share of what could be saved at most that a better choice might add [0..1]."""
        return max(0.0, 1 - self.saving / self.most) if self.most > 0 else 0.0


def choose_renewals(
    candidates: Sequence[Candidate], crew_hours: float, opening: Mapping[str, float] | None = None
) -> Choice:
    """Choose the joints whose renewal costs least, within the hours of the crew.

    min Σ x (renewal + chance new failure - worth later) + (1 - x) chance failure,
    subject to Σ x hours + Σ y opening <= crew hours, x <= y of its conveyor, x and y 0 or 1.

    Parameters
    ----------
    candidates : the joints
    crew_hours : people x time there is for joints [s]
    opening : conveyor -> crew hours to isolate, open up and close it, once [s]

    Limits: hours are added up as if work could be shared out freely; no crew is promised to get
    through it in time.

    Raises
    ------
    InputError
        Values that cannot be; every fault is named.
    RuntimeError
        The solver did not reach the optimum.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    setup = dict(opening or {})
    _check(candidates, crew_hours, setup)
    none = math.fsum(c.chance_if_left * c.failure_cost for c in candidates)
    # a joint that saves nothing is never renewed: of a large fleet few are left
    worth = [c for c in candidates if c.gain > 0]
    if not worth:
        return Choice((), none, none, 0.0)
    conveyors = sorted({c.conveyor for c in worth})
    at = {v: k for k, v in enumerate(conveyors)}
    n, m = len(worth), len(conveyors)
    money = max(c.gain for c in worth)
    weight = np.array([-c.gain / money for c in worth] + [1e-9] * m)
    hours = np.array([c.hours for c in worth] + [setup.get(v, 0.0) for v in conveyors])
    # in shares of the hours there are: the solver's tolerance is absolute
    budget = LinearConstraint(hours[None, :] / crew_hours, -np.inf, 1.0)
    rows = np.arange(n)
    used_by = np.array([n + at[c.conveyor] for c in worth])
    link = csr_array(
        (np.repeat([1.0, -1.0], n), (np.tile(rows, 2), np.concatenate([rows, used_by]))),
        shape=(n, n + m),
    )
    solved = milp(
        weight,
        constraints=[budget, LinearConstraint(link, -np.inf, 0.0)],
        integrality=np.ones(n + m, dtype=np.int64),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0},
    )
    if not solved.success:
        msg = f"the integer programme did not settle: {solved.message}"
        raise RuntimeError(msg)
    taken = [c for c, x in zip(worth, solved.x, strict=False) if x > 0.5]
    used = {c.conveyor for c in taken}
    total = math.fsum(c.hours for c in taken) + math.fsum(setup.get(v, 0.0) for v in used)
    first = sorted(taken, key=lambda c: -c.gain / c.hours)
    return Choice(
        tuple(c.joint for c in first), none - math.fsum(c.gain for c in taken), none, total
    )


def _check(
    candidates: Sequence[Candidate], crew_hours: float, opening: Mapping[str, float]
) -> None:
    if not candidates:
        raise InputError(Fault("joints", "there are none; give at least one"))
    faults = []
    if not (math.isfinite(crew_hours) and crew_hours > 0):
        faults.append(Fault("crew hours", f"{crew_hours:g} s must be a finite number above zero"))
    seen: set[str] = set()
    for c in candidates:
        key = f"joint {c.joint}"
        if c.joint in seen:
            faults.append(Fault(key, "is given twice; names must differ"))
        seen.add(c.joint)
        for event, chance in (("left", c.chance_if_left), ("renewed", c.chance_if_renewed)):
            if not 0 <= chance <= 1:
                sentence = f"chance of failing if {event} {chance:g}; accepted is 0 to 1"
                faults.append(Fault(key, sentence))
        for event, value in (("failure", c.failure_cost), ("renewal", c.renewal_cost)):
            if not (math.isfinite(value) and value >= 0):
                sentence = f"cost of a {event} {value:g}; accepted is a number of zero or more"
                faults.append(Fault(key, sentence))
        if not (math.isfinite(c.hours) and c.hours > 0):
            faults.append(Fault(key, f"crew hours {c.hours:g} s; accepted is above zero"))
    for conveyor, value in opening.items():
        if not (math.isfinite(value) and value >= 0):
            sentence = f"opening up {value:g} s; accepted is a number of zero or more"
            faults.append(Fault(f"conveyor {conveyor}", sentence))
    if faults:
        raise InputError(*faults)
