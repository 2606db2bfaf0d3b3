"""Who does what at the same time: the steps of a job shared out to the people there are.

Steps begin in the order of their numbers; two are done at the same time only where their moves say
so, and only with people enough for both. A step that a larger crew shortens takes as many people
as shorten the job most. Under these rules the time found is the shortest there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

Way = tuple[int, float]
"""How a step may be done: by so many people, in so long [s]."""
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Task:
    """A step to share out.

    ways : how it may be done, one or more
    waits : positions of the earlier steps that must be done before it begins
    """

    ways: tuple[Way, ...]
    waits: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """When a step is done, from the beginning of the job [s], and by how many people."""

    start: float
    end: float
    people: int


@lru_cache(maxsize=256)
def share_out(tasks: tuple[Task, ...], crew: int) -> tuple[Turn, ...]:
    """The shortest job: a turn for each step.

    tasks : in the order of the steps; a way that takes more people than there are is done by all
    crew : people
    Returns turns in the same order. Of equally short jobs the first found, larger crews at a step
    first.
    """
    ways = tuple(_ways(task, crew) for task in tasks)
    after = _longest_after(tasks, ways)
    best: list[Turn] = []
    shortest = float("inf")

    def place(turns: list[Turn], bound: float) -> None:
        nonlocal best, shortest
        number = len(turns)
        if number == len(tasks):
            best, shortest = list(turns), bound
            return
        for people, time in ways[number]:
            turn = _earliest(turns, tasks[number].waits, (people, time), crew)
            least = max(bound, turn.end + after[number])
            if least < shortest - _SAME:
                place([*turns, turn], least)

    place([], 0.0)
    return tuple(best)


def in_turn(
    tasks: Sequence[Task], crew: int, people: Sequence[int], times: Sequence[float]
) -> tuple[Turn, ...]:
    """Turns of steps by given people in given times [s], each as early as it can be."""
    turns: list[Turn] = []
    for task, hands, time in zip(tasks, people, times, strict=True):
        turns.append(_earliest(turns, task.waits, (hands, time), crew))
    return tuple(turns)


def longest_way(turns: Sequence[Turn]) -> tuple[int, ...]:
    """Positions of the steps that make the job as long as it is, one after the other."""
    positions: list[int] = []
    at = max((turn.end for turn in turns), default=0.0)
    while at > _SAME:
        last = max(
            n
            for n, turn in enumerate(turns)
            if abs(turn.end - at) <= _SAME * max(1.0, at) and turn.start < at
        )
        positions.append(last)
        at = turns[last].start
    return tuple(reversed(positions))


def _ways(task: Task, crew: int) -> tuple[Way, ...]:
    """The ways that can be, quickest first, without those that take more people for no gain."""
    least: dict[int, float] = {}
    for people, time in task.ways:
        hands = min(people, crew)
        least[hands] = min(time, least.get(hands, time))
    ways: list[Way] = []
    for hands, time in sorted(least.items()):
        if not ways or time < ways[-1][1] - _SAME:
            ways.append((hands, time))
    return tuple(reversed(ways))


def _longest_after(tasks: Sequence[Task], ways: Sequence[Sequence[Way]]) -> list[float]:
    """Least time that is left after each step, people not counted [s]."""
    left = [0.0] * len(tasks)
    for number in reversed(range(len(tasks))):
        quickest = min(time for _, time in ways[number])
        for before in tasks[number].waits:
            left[before] = max(left[before], quickest + left[number])
    return left


def _earliest(turns: Sequence[Turn], waits: Sequence[int], way: Way, crew: int) -> Turn:
    """No earlier than the step before it begins, what it waits for is done and people are free."""
    people, time = way
    start = max((turns[n].end for n in waits), default=0.0)
    if turns:
        start = max(start, turns[-1].start)
    # Those at work at `start` only become fewer: no later step is placed yet.
    while True:
        busy = [turn for turn in turns if turn.end > start + _SAME]
        if sum(turn.people for turn in busy) + people <= crew:
            return Turn(start, start + time, people)
        start = min(turn.end for turn in busy)
