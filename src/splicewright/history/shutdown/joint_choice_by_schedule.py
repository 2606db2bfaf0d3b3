"""The best set of joints that a crew can finish in the window, by simulating its schedule.

Adding up crew hours is not enough: two people cannot do 21 h of work in a window of 11 h, whatever
the others leave free. So every set that is proposed is put in order for the gangs there are, its
times are drawn, and it counts only if it is done in time with the chance asked for.

Small cases are exact: sets are tried in the order of what they could save at most, until no set
left can save more than the best found. Large ones begin with the optimum of a relaxation, which
also bounds what any set could save, and are improved by simulation; the gap is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.shutdown.joint_choice import Candidate, Choice, choose_renewals
from splicewright.history.shutdown.schedule import best_schedule
from splicewright.history.shutdown.study import More, Shutdown
from splicewright.history.shutdown.tasks import Task, build_network, draw_pert, with_common_cause

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHORT, LONG = 0.7, 1.6
"""Shortest and longest time of a renewal as shares of the stated one (assumption of this tool,
the same as for the steps of a plan)."""
SURE = 0.8
"""Chance to finish with which a set of joints counts as fitting the window (assumption)."""
PEOPLE = "people"
RUNS = 2000
EXACT = 12
"""Most joints worth renewing for which every set is weighed."""
_ROUNDING = 1e-9  # of shares that are counts over runs
_TRIES = 200  # sets simulated in a large case


@dataclass(frozen=True, slots=True)
class Renewals:
    """What can be done in a shutdown.

    Attributes
    ----------
    name : of it
    candidates : joints that could be renewed
    window : time there is [s]
    people : how many work
    gang : how many of them work on one joint
    opening : conveyor -> crew hours to isolate, open up and close it, once [s]
    power_share : share of a renewal's time that it takes with power tools; 1 where none are to be
        had or they are in use already [0..1]
    invented : the figures are
    notes : what was assumed or left out on the way, to be told with the answer
    chance : to finish within the window, which a set must have [0..1]
    overrun_cost : of a shutdown that runs over [per s]; nan where not known: then a joint that is
        not done when the window ends has cost its renewal and saves nothing, the safe side
    one_at_a_time : only one joint of a conveyor is worked on at once
    common_cause : as in `Shutdown` [1]
    currency : of all costs, to stand beside them; may be empty
    on, until : day of the shutdown, and of the one after it; None where chances are of a table
    """

    name: str
    candidates: tuple[Candidate, ...]
    window: float
    people: int
    gang: int = 2
    opening: Mapping[str, float] = field(default_factory=dict)
    power_share: float = 1.0
    invented: bool = False
    notes: tuple[str, ...] = ()
    chance: float = SURE
    overrun_cost: float = math.nan
    one_at_a_time: bool = False
    common_cause: float = 0.0
    on: date | None = None
    until: date | None = None
    currency: str = ""

    @property
    def crew_hours(self) -> float:
        """People times window [s]."""
        return self.people * self.window

    @property
    def gangs(self) -> int:
        """How many gangs can work side by side."""
        return self.people // self.gang


def shutdown_of(asked: Renewals, chosen: Sequence[Candidate]) -> Shutdown:
    """The work on some joints: open up each conveyor, then its joints as far as the people go."""
    tasks, crew = [], {PEOPLE: asked.people}
    for conveyor in dict.fromkeys(c.conveyor for c in chosen):
        opening = asked.opening.get(conveyor, 0.0) / asked.gang
        first = _opening(conveyor)
        needs = {PEOPLE: asked.gang}
        if opening > 0:
            tasks.append(_task(first, opening, (), needs))
        if asked.one_at_a_time:
            crew[conveyor] = 1
            needs = {**needs, conveyor: 1}
        tasks += [
            _task(_renewal(c), c.hours / asked.gang, (first,) if opening > 0 else (), needs)
            for c in chosen
            if c.conveyor == conveyor
        ]
    more = [More("a second crew", {PEOPLE: asked.people})]
    if asked.power_share < 1:
        faster = {t.name: asked.power_share for t in tasks if t.name.startswith("renew ")}
        more.append(More("power tools", {}, faster))
    return Shutdown(
        asked.name,
        asked.window,
        tuple(tasks),
        crew,
        tuple(more),
        common_cause=asked.common_cause,
        runs=RUNS,
        invented=asked.invented,
    )


def choose_by_schedule(asked: Renewals) -> Choice:
    """Choose the joints that save most and are done in the window with the chance asked for.

    Parameters
    ----------
    asked : joints, window, crew and chance

    Raises
    ------
    InputError
        As `choose_renewals`.
    """
    hours = asked.people * asked.window
    relaxed = choose_renewals(asked.candidates, hours, asked.opening)  # checks all values, too
    worth = [c for c in asked.candidates if c.gain > 0]
    search = _Search(asked, worth)
    kept = [k for k in range(len(worth)) if search.alone[k] >= asked.chance - _ROUNDING]
    if len(kept) <= EXACT:
        best, bound = search.all_sets(kept)
    else:
        best, bound = search.from_relaxation(kept)
    none = relaxed.cost_if_none
    chosen = [worth[k] for k in best.joints]
    total = math.fsum(c.hours for c in chosen)
    total += math.fsum(asked.opening.get(v, 0.0) for v in {c.conveyor for c in chosen})
    first = sorted(chosen, key=lambda c: -c.gain / c.hours)
    return Choice(
        tuple(c.joint for c in first),
        none - best.saving,
        none,
        total,
        best.chance,
        max(bound, best.saving),
    )


def chance_of_set(asked: Renewals, joints: Sequence[str]) -> float:
    """Chance that a set of joints, by name, is done within the window [0..1]."""
    chosen = [c for c in asked.candidates if c.joint in set(joints)]
    return _Search(asked, chosen).tried(tuple(range(len(chosen)))).chance


@dataclass(frozen=True, slots=True)
class _Tried:
    joints: tuple[int, ...]
    chance: float
    saving: float


class _Search:
    """The joints worth renewing, with the times drawn once for all sets."""

    def __init__(self, asked: Renewals, worth: Sequence[Candidate]) -> None:
        self.asked, self.worth = asked, worth
        self.times: dict[str, Array] = {}
        self.done: dict[tuple[int, ...], _Tried] = {}
        if not worth:
            self.alone, self.most = np.zeros(0), np.zeros(0)
            return
        every = build_network(shutdown_of(asked, worth).tasks)
        drawn = with_common_cause(draw_pert(every, RUNS), asked.common_cause)
        self.times = {t.name: row for t, row in zip(every.tasks, drawn, strict=True)}
        nothing = np.zeros(RUNS)
        self.opens = {c.conveyor: self.times.get(_opening(c.conveyor), nothing) for c in worth}
        self.work = np.array([self.times[_renewal(c)] for c in worth])
        paths = np.array([self.opens[c.conveyor] for c in worth]) + self.work
        self.alone = np.asarray((paths <= asked.window).mean(axis=1))
        gain = np.array([c.gain for c in worth])
        spared = gain + np.array([c.renewal_cost for c in worth])
        counted = math.isnan(asked.overrun_cost)
        # none can save more: it is done no sooner than alone
        self.most = gain - (1 - self.alone) * spared * counted

    def tried(self, joints: tuple[int, ...]) -> _Tried:
        """Simulate a set."""
        if joints not in self.done:
            self.done[joints] = self._simulated(joints)
        return self.done[joints]

    def _simulated(self, joints: tuple[int, ...]) -> _Tried:
        asked, chosen = self.asked, [self.worth[k] for k in joints]
        if not chosen:
            return _Tried((), 1.0, 0.0)
        work = shutdown_of(asked, chosen)
        network = build_network(work.tasks)
        times = np.array([self.times[t.name] for t in network.tasks])
        _, schedules = best_schedule(network, times, work.crew)
        finish = schedules.finish
        chance = float((finish <= asked.window).mean())
        saving = math.fsum(c.gain for c in chosen)
        if math.isnan(asked.overrun_cost):
            ends = {t.name: e for t, e in zip(network.tasks, schedules.end, strict=True)}
            for c in chosen:
                late = float((ends[_renewal(c)] > asked.window).mean())
                saving -= late * (c.gain + c.renewal_cost)
        else:
            over = float(np.maximum(finish - asked.window, 0.0).mean())
            saving -= over * asked.overrun_cost
        return _Tried(joints, chance, saving)

    def all_sets(self, kept: Sequence[int]) -> tuple[_Tried, float]:
        """The best of all sets: by what they could save at most, until none can be better."""
        number = len(kept)
        masks = np.arange(1 << number)
        bits = (masks[:, None] >> np.arange(number)) & 1
        bound = bits @ self.most[list(kept)]
        possible = np.flatnonzero((bound > 0) & self._may_fit(kept, bits))
        best = self.tried(())
        for mask in possible[np.argsort(-bound[possible], kind="stable")]:
            if bound[mask] <= best.saving:
                break
            joints = tuple(kept[int(k)] for k in np.flatnonzero(bits[mask]))
            if self._least_chance_to_fail(joints) > 1 - self.asked.chance + _ROUNDING:
                continue
            candidate = self.tried(joints)
            if candidate.chance >= self.asked.chance - _ROUNDING and candidate.saving > best.saving:
                best = candidate
        return best, best.saving

    def _may_fit(self, kept: Sequence[int], bits: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Sets whose work, in the runs that go well, the gangs could do without a pause."""
        conveyors = [self.worth[k].conveyor for k in kept]
        work = bits @ np.array([self._in_good_runs(self.work[k]) for k in kept])
        for conveyor in dict.fromkeys(conveyors):
            used = bits[:, [c == conveyor for c in conveyors]].any(axis=1)
            work = work + used * self._in_good_runs(self.opens[conveyor])
        return np.asarray(work <= self.asked.gangs * self.asked.window * (1 + 1e-9))

    def _in_good_runs(self, times: Array) -> float:
        """Least mean time over as many runs as must be done in time."""
        number = max(1, math.ceil(self.asked.chance * times.size - 1e-9))
        return float(np.sort(times)[:number].mean())

    def _least_chance_to_fail(self, joints: tuple[int, ...]) -> float:
        """Share of runs in which no order of the work is done in time: too much, or too long."""
        conveyors = dict.fromkeys(self.worth[k].conveyor for k in joints)
        total = self.work[list(joints)].sum(axis=0) + sum(self.opens[v] for v in conveyors)
        late = total > self.asked.gangs * self.asked.window
        for k in joints:
            late |= self.opens[self.worth[k].conveyor] + self.work[k] > self.asked.window
        return float(late.mean())

    def from_relaxation(self, kept: Sequence[int]) -> tuple[_Tried, float]:
        """A good set of many joints, and the most that any set could save."""
        asked = self.asked
        easy = [
            replace(self.worth[k], hours=asked.gang * self._in_good_runs(self.work[k]))
            for k in kept
        ]
        opening = {v: asked.gang * self._in_good_runs(t) for v, t in self.opens.items()}
        hours = asked.gangs * asked.gang * asked.window
        relaxed = choose_renewals(easy, hours, opening)
        bound = relaxed.cost_if_none - relaxed.cost
        at = {self.worth[k].joint: k for k in kept}
        by_hour = sorted(kept, key=lambda k: -self.most[k] / self.worth[k].hours)
        taken = self._until_it_fits([at[j] for j in relaxed.renew])
        best = self.tried(tuple(sorted(taken)))
        better = True
        while better and len(self.done) < _TRIES:
            better = False
            for joints in self._neighbours(best, by_hour):
                if len(self.done) >= _TRIES:
                    break
                candidate = self.tried(joints)
                if (
                    candidate.chance >= asked.chance - _ROUNDING
                    and candidate.saving > best.saving + 1e-9
                ):
                    best, better = candidate, True
                    break
        return best, bound

    def _until_it_fits(self, order: list[int]) -> list[int]:
        """As many of the first as are done in time, found by halving."""
        low, high = 0, len(order)
        while low < high:
            middle = (low + high + 1) // 2
            if self.tried(tuple(sorted(order[:middle]))).chance >= self.asked.chance - _ROUNDING:
                low = middle
            else:
                high = middle - 1
        return order[:low]

    def _neighbours(self, best: _Tried, by_hour: Sequence[int]) -> list[tuple[int, ...]]:
        """Sets with one joint more, or one for another, the most promising first."""
        inside = set(best.joints)
        outside = [k for k in by_hour if k not in inside]
        moves = [(float(self.most[k]), inside | {k}) for k in outside]
        moves += [
            (float(self.most[k] - self.most[j]), (inside - {j}) | {k})
            for j in inside
            for k in outside
            if self.most[k] > self.most[j]
        ]
        sets = [tuple(sorted(s)) for _, s in sorted(moves, key=lambda m: -m[0])]
        spare = 1 - self.asked.chance + _ROUNDING
        return [s for s in sets if s not in self.done and self._least_chance_to_fail(s) <= spare]


def _opening(conveyor: str) -> str:
    return f"open up {conveyor}"


def _renewal(joint: Candidate) -> str:
    return f"renew {joint.joint}"


def _task(name: str, likely: float, after: tuple[str, ...], needs: Mapping[str, int]) -> Task:
    return Task(name, SHORT * likely, likely, LONG * likely, after, needs)
