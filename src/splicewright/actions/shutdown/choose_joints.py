"""Choose the joints to renew in a shutdown: from the register or a table, within crew and hours."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
    from splicewright.store import Register


@dataclass(frozen=True, slots=True)
class WindowRules:
    """What a set of joints must keep to.

    chance : to finish within the window [0..1]; overrun : cost of running over [per s], nan where
    not known; one_at_a_time : one joint of a conveyor at once; common_cause : spread of what slows
    or speeds up all work together [1]
    """

    chance: float = 0.8
    overrun: float = math.nan
    one_at_a_time: bool = False
    common_cause: float = 0.0


_RULES = WindowRules()
VALUED = (
    "a renewal is valued as on the planner's page: the failures it spares before the shutdown "
    "after this one, less the further use of the joint that is given up, at the least cost per "
    "use in the long run"
)
NOTHING_LATER = (
    "no joint of the table says what its renewal is worth later: each counts with its whole cost, "
    "which leaves more joints than a choice by the register would"
)


def choose_joints(
    joints: Readable,
    window: str,
    people: int,
    *,
    gang: int = 2,
    power_share: float = 1.0,
    rules: WindowRules = _RULES,
    currency: str = "",
) -> ChoosingStudy:
    """Choose among the joints of a table.

    window : time there is, with unit
    people, gang : how many work, and how many of them on one joint
    power_share : share of a renewal's time that it takes with power tools [0..1]
    rules : what the chosen set must keep to
    currency : that stands beside every cost; may be empty
    Raises InputError: anything wrong in the file or the values.
    """
    from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
    from splicewright.history.shutdown.joint_choice_file import load_candidates
    from splicewright.history.shutdown.joint_choice_study import study_choice

    candidates, opening, invented = load_candidates(joints)
    notes = () if any(c.later for c in candidates) else (NOTHING_LATER,)
    return study_choice(
        Renewals(
            joints.stem,
            candidates,
            _window(window),
            people,
            gang,
            opening,
            power_share,
            invented,
            notes,
            rules.chance,
            rules.overrun,
            rules.one_at_a_time,
            rules.common_cause,
            currency=currency,
        )
    )


def choose_recorded_joints(
    register: Register,
    now: datetime,
    window: str,
    people: int,
    *,
    on: date | None = None,
    until: date,
    each: str,
    failure_cost: float,
    renewal_cost: float,
    opening: str = "",
    gang: int = 2,
    power_share: float = 1.0,
    conveyor: str | UUID = "",
    use: UseName = "",
    rules: WindowRules = _RULES,
    currency: str = "",
) -> ChoosingStudy:
    """Choose among the running joints of the register.

    window, people, gang, power_share, rules, currency : as for `choose_joints`
    on : day of this shutdown; today where it is not given
    until : the shutdown after this one; a joint that is left may fail before it
    each : crew hours of one renewal, with unit
    failure_cost, renewal_cost : of a failure and of a renewal, in one currency
    opening : crew hours to isolate, open up and close a conveyor, with unit
    Raises InputError: no running joint, no failure on file, or values that cannot be.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into, unmistakable
    from splicewright.history.planner.at_stop import at_stop
    from splicewright.history.planner.next_stop import PlannerCosts
    from splicewright.history.shutdown.joint_choice import Candidate, worth_later
    from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
    from splicewright.history.shutdown.joint_choice_study import study_choice

    looked = look_into(register, now, conveyor=conveyor, use=use)
    day = on or looked.today
    if day < looked.today:
        raise InputError(Fault("on", f"{day} is before today, {looked.today}"))
    if until <= day:
        wording = f"{until} is not after this shutdown, {day}; accepted is a later day"
        raise InputError(Fault("until", wording))
    hours = read(each, Kind.TIME, "each")
    opens = read(opening, Kind.TIME, "opening") if opening else 0.0
    there = at_stop(lives_of_register(looked, kinds=False).joints, looked.today, day, until)
    if there is None:
        raise InputError(Fault("joints", f"none of {looked.name} runs; there is nothing to choose"))
    costs = PlannerCosts(renewal_cost, failure_cost)
    worths = [there.choice(costs.if_failure(times)) for times in (1.0, 0.5, 2.0)]
    fails = there.fails()
    left = (fails[1] - fails[0]).mean(axis=0).tolist()
    new = there.fails_renewed().mean(axis=0).tolist()
    named = unmistakable([(j.id, f"{j.conveyor} {j.joint}") for j in there.runs])
    candidates = []
    for n, joint in enumerate(there.runs):
        later, half, double = (
            worth_later(float(w.leave[n]), left[n], new[n], times * failure_cost, renewal_cost)
            for w, times in zip(worths, (1.0, 0.5, 2.0), strict=True)
        )
        candidates.append(
            Candidate(
                named[joint.id],
                joint.conveyor,
                left[n],
                new[n],
                failure_cost,
                renewal_cost,
                hours,
                later,
                (half, double),
                worths[0].span(n),
            )
        )
    conveyors = {c.conveyor for c in candidates}
    return study_choice(
        Renewals(
            f"{looked.name}, joints to renew",
            tuple(candidates),
            _window(window),
            people,
            gang,
            dict.fromkeys(conveyors, opens),
            power_share,
            looked.invented,
            (VALUED, *looked.assumed, *looked.left_out),
            rules.chance,
            rules.overrun,
            rules.one_at_a_time,
            rules.common_cause,
            day,
            until,
            currency,
        ),
        (worths[0].by_law, worths[1].by_law, worths[2].by_law),
    )


def _window(text: str) -> float:
    value = read(text, Kind.TIME, "window")
    if value <= 0:
        raise InputError(Fault("window", f'"{text}" cannot be; accepted is more than zero'))
    return value
