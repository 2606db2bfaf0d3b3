"""Choose the joints to renew in a shutdown: from the register or a table, within crew and hours."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
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
WHOLE_COST = (
    "a renewal counts with its whole cost, against the failures it spares before the shutdown "
    "after this one only; the planner's page counts what its use is worth later, too, and may "
    "renew a joint that is left here"
)


def choose_joints(
    joints: Path,
    window: str,
    people: int,
    *,
    gang: int = 2,
    power_share: float = 1.0,
    rules: WindowRules = _RULES,
) -> ChoosingStudy:
    """Choose among the joints of a table.

    Parameters
    ----------
    window : time there is, with unit
    people, gang : how many work, and how many of them on one joint
    power_share : share of a renewal's time that it takes with power tools [0..1]
    rules : what the chosen set must keep to

    Raises
    ------
    InputError
        Anything wrong in the file or the values.
    """
    from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
    from splicewright.history.shutdown.joint_choice_file import load_candidates
    from splicewright.history.shutdown.joint_choice_study import study_choice

    candidates, opening, invented = load_candidates(joints)
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
            (),
            rules.chance,
            rules.overrun,
            rules.one_at_a_time,
            rules.common_cause,
        )
    )


def choose_recorded_joints(
    register: Register,
    now: datetime,
    window: str,
    people: int,
    *,
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
) -> ChoosingStudy:
    """Choose among the running joints of the register.

    Parameters
    ----------
    window, people, gang, power_share, rules : as for `choose_joints`
    until : the shutdown after this one; a joint that is left may fail before it
    each : crew hours of one renewal, with unit
    failure_cost, renewal_cost : of a failure and of a renewal, in one currency
    opening : crew hours to isolate, open up and close a conveyor, with unit

    Raises
    ------
    InputError
        No running joint, no failure on file, or values that cannot be.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into, unmistakable
    from splicewright.history.fleet.joints import chance_spared, renewal_chances
    from splicewright.history.shutdown.joint_choice import Candidate
    from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
    from splicewright.history.shutdown.joint_choice_study import study_choice

    looked = look_into(register, now, conveyor=conveyor, use=use)
    if until <= looked.today:
        said = f"{until} is not after today, {looked.today}; accepted is a later day"
        raise InputError(Fault("until", said))
    read_ = lives_of_register(looked, kinds=False)
    hours = read(each, Kind.TIME, "each")
    opens = read(opening, Kind.TIME, "opening") if opening else 0.0
    chances = renewal_chances(read_.joints, (until - looked.today).days)
    if not chances:
        raise InputError(Fault("joints", f"none of {looked.name} runs; there is nothing to choose"))
    named = unmistakable([(j.id, f"{j.conveyor} {j.joint}") for j, _, _ in chances])
    candidates = tuple(
        Candidate(
            named[joint.id],
            joint.conveyor,
            left,
            new,
            failure_cost,
            renewal_cost,
            hours,
        )
        for joint, left, new in chances
    )
    conveyors = {c.conveyor for c in candidates}
    spared = chance_spared(read_.joints, (until - looked.today).days)
    return study_choice(
        Renewals(
            f"{looked.name}, joints to renew",
            candidates,
            _window(window),
            people,
            gang,
            dict.fromkeys(conveyors, opens),
            power_share,
            looked.invented,
            (WHOLE_COST, *looked.assumed, *looked.left_out),
            rules.chance,
            rules.overrun,
            rules.one_at_a_time,
            rules.common_cause,
        ),
        spared,
    )


def _window(text: str) -> float:
    value = read(text, Kind.TIME, "window")
    if value <= 0:
        raise InputError(Fault("window", f'"{text}" cannot be; accepted is more than zero'))
    return value
