"""The joints of a shutdown: the choice, how far it holds, what more crew buys, if it fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from splicewright.errors import Fault, InputError
from splicewright.history.shutdown.joint_choice import (
    Candidate,
    Choice,
    ChoiceAdvice,
    advise_renewals,
    choose_renewals,
)
from splicewright.history.shutdown.study import More, Shutdown, ShutdownStudy, study_shutdown
from splicewright.history.shutdown.tasks import Task

SHORT, LONG = 0.7, 1.6
"""Shortest and longest time of a renewal as shares of the stated one (assumption of this tool,
the same as for the steps of a plan)."""
SURE = 0.8
"""Chance to finish with which a set of joints counts as fitting the window (assumption)."""
PEOPLE = "people"
_MOST_TASKS = 60


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

    @property
    def crew_hours(self) -> float:
        """People times window [s]."""
        return self.people * self.window


@dataclass(frozen=True)
class ChoosingStudy:
    """The answer.

    Attributes
    ----------
    asked : what can be done
    advice : the choice, at stated, half and double cost of a failure, with reasons
    crew_twice : the choice with a second crew of as many
    with_power : the choice with power tools; None where they make no difference
    schedule : the chosen joints in the window; None when none is chosen
    sure : those of them that are done within the window with the chance `SURE`; left out are first
        those that do not fit by themselves, then the least gain an hour
    """

    asked: Renewals
    advice: ChoiceAdvice
    crew_twice: Choice
    with_power: Choice | None
    schedule: ShutdownStudy | None
    sure: tuple[str, ...]


def study_choice(asked: Renewals) -> ChoosingStudy:
    """Choose, and see whether the work fits.

    Parameters
    ----------
    asked : joints, window and crew

    Raises
    ------
    InputError
        Values that cannot be; every fault is named.
    """
    faults = []
    if not 1 <= asked.gang <= asked.people:
        said = f"{asked.gang} cannot be; accepted is 1 to the {asked.people} people there are"
        faults.append(Fault("gang", said))
    if not 0 < asked.power_share <= 1:
        said = f"{asked.power_share:g} cannot be; accepted is above 0 and up to 1"
        faults.append(Fault("power share", said))
    if faults:
        raise InputError(*faults)
    advice = advise_renewals(asked.candidates, asked.crew_hours, asked.opening)
    twice = choose_renewals(asked.candidates, 2 * asked.crew_hours, asked.opening)
    power = None
    if asked.power_share < 1:
        quick = [replace(c, hours=c.hours * asked.power_share) for c in asked.candidates]
        power = choose_renewals(quick, asked.crew_hours, asked.opening)
    chosen = [c for c in asked.candidates if c.joint in set(advice.stated.renew)]
    schedule = None
    sure = advice.stated.renew
    if chosen and len(chosen) <= _MOST_TASKS:
        schedule = study_shutdown(_shutdown(asked, chosen))
        sure = _what_fits(asked, chosen, schedule, advice.stated.renew)
    return ChoosingStudy(asked, advice, twice, power, schedule, sure)


def _what_fits(
    asked: Renewals, chosen: Sequence[Candidate], schedule: ShutdownStudy, order: Sequence[str]
) -> tuple[str, ...]:
    """Leave out what does not fit by itself, then the least gain an hour, until the rest fits."""
    if schedule.chance.share >= SURE:
        return tuple(order)

    def fits(names: Sequence[str]) -> bool:
        left = [c for c in chosen if c.joint in set(names)]
        quick = replace(_shutdown(asked, left), more=())
        return study_shutdown(quick).chance.share >= SURE

    kept = [joint for joint in order if fits([joint])]
    while kept and not fits(kept):
        kept.pop()
    return tuple(kept)


def _shutdown(asked: Renewals, chosen: Sequence[Candidate]) -> Shutdown:
    """Open up each conveyor, then its joints side by side as far as the people go."""
    tasks = []
    for conveyor in dict.fromkeys(c.conveyor for c in chosen):
        opening = asked.opening.get(conveyor, 0.0) / asked.gang
        first = f"open up {conveyor}"
        if opening > 0:
            tasks.append(_task(first, opening, (), asked.gang))
        tasks += [
            _task(f"renew {c.joint}", c.hours / asked.gang, (first,) if opening > 0 else (),
                  asked.gang)
            for c in chosen if c.conveyor == conveyor
        ]  # fmt: skip
    more = [More("a second crew", {PEOPLE: asked.people})]
    if asked.power_share < 1:
        faster = {t.name: asked.power_share for t in tasks if t.name.startswith("renew ")}
        more.append(More("power tools", {}, faster))
    return Shutdown(
        asked.name, asked.window, tuple(tasks), {PEOPLE: asked.people}, tuple(more),
        runs=2000, invented=asked.invented,
    )  # fmt: skip


def _task(name: str, likely: float, after: tuple[str, ...], people: int) -> Task:
    return Task(name, SHORT * likely, likely, LONG * likely, after, {PEOPLE: people})
