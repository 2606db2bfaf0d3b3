"""Steps shared out to people, against a search that knows nothing of how it is done.

The reference tries every start on a grid of whole minutes and every number of people, and keeps
the shortest job in which nobody is at two steps at once: independent code, no published cases.
"""

from __future__ import annotations

import itertools
import random

import pytest

from depth import sized
from planned import SITE
from splicewright.job import JointPlan, Step, plan
from splicewright.job.steps.drafts import done_beside
from splicewright.job.steps.hands import Task, in_turn, longest_way, share_out
from splicewright.joint import load_ranges
from splicewright.plant import load_conveyor, load_work
from splicewright.tension.at_rest import Move


def shortest_by_trying(tasks: list[Task], crew: int) -> int:
    """Length of the shortest job in whole minutes, by trying every start and every way."""
    longest = sum(max(int(t) for _, t in task.ways) for task in tasks)

    def try_on(number: int, placed: list[tuple[int, int, int]], best: int) -> int:
        if number == len(tasks):
            return min(best, max(end for _, end, _ in placed))
        for wanted, time in tasks[number].ways:
            people = min(wanted, crew)
            for start in range(placed[-1][0] if placed else 0, longest):
                end = start + int(time)
                if end >= best:
                    break
                waits = all(placed[n][1] <= start for n in tasks[number].waits)
                busy = max(
                    (sum(p for s, e, p in placed if s <= minute < e)
                     for minute in range(start, end)), default=0,
                )  # fmt: skip
                if waits and busy + people <= crew:
                    best = try_on(number + 1, [*placed, (start, end, people)], best)
        return best

    return try_on(0, [], longest + 1)


def drawn(rng: random.Random, count: int) -> list[Task]:
    """Tasks with one to three ways, each waiting for some of those before it."""
    made = []
    for number in range(count):
        time = rng.randint(1, 6)
        ways = tuple((people, float(max(1, time - people)))
                     for people in rng.sample((1, 2, 3), rng.randint(1, 2)))  # fmt: skip
        waits = tuple(n for n in range(number) if rng.random() < 0.4)
        made.append(Task(ways, waits))
    return made


@pytest.mark.parametrize("seed", range(sized(25, deep=300)))
def test_the_job_is_as_short_as_it_can_be(seed: int) -> None:
    rng = random.Random(seed)
    tasks, crew = drawn(rng, rng.randint(2, 5)), rng.randint(1, 4)
    turns = share_out(tuple(tasks), crew)
    assert max(turn.end for turn in turns) == shortest_by_trying(tasks, crew)


@pytest.mark.parametrize("seed", range(20))
def test_nobody_is_at_two_steps_and_nothing_waits_in_vain(seed: int) -> None:
    rng = random.Random(1000 + seed)
    tasks, crew = drawn(rng, 9), rng.randint(1, 5)
    turns = share_out(tuple(tasks), crew)
    for task, turn in zip(tasks, turns, strict=True):
        assert all(turns[n].end <= turn.start for n in task.waits)
        at_work = [t.people for t in turns if t.start <= turn.start < t.end]
        assert sum(at_work) <= crew
    assert [t.start for t in turns] == sorted(t.start for t in turns)
    again = in_turn(tasks, crew, [t.people for t in turns], [t.end - t.start for t in turns])
    assert again == turns
    way = longest_way(turns)
    assert turns[way[0]].start == 0
    assert turns[way[-1]].end == max(t.end for t in turns)
    for one, after in itertools.pairwise(way):
        assert turns[one].end == turns[after].start


def test_two_steps_by_hand() -> None:
    """Three people; 2 for 10 min, then beside it 1 for 8 min, then both ends of it 2 for 5 min."""
    tasks = (Task(((2, 10.0),), ()), Task(((1, 8.0),), ()), Task(((2, 5.0),), (1,)))
    assert [(t.start, t.end) for t in share_out(tasks, 3)] == [(0, 10), (0, 8), (10, 15)]
    assert [(t.start, t.end) for t in share_out(tasks, 4)] == [(0, 10), (0, 8), (8, 13)]
    assert [(t.start, t.end) for t in share_out(tasks, 2)] == [(0, 10), (10, 18), (18, 23)]


JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))
RANGES = load_ranges((SITE / "fasteners",))
MOVES_NO_BELT = {Move.LOCK_OUT, Move.SET_CLAMPS}
"""Moves during which the belt itself stands still."""


def by(name: str, crew: int) -> JointPlan:
    from dataclasses import replace

    plant = load_conveyor(SITE / "conveyors" / f"{name.partition('-')[0]}.toml")
    work = load_work(SITE / "jobs" / f"{name}.toml", plant)
    return plan(plant, replace(work, crew=crew), RANGES)


@pytest.mark.parametrize("name", JOBS)
def test_what_is_done_at_the_same_time_may_be(name: str) -> None:
    """Nobody is at the belt while it moves: a step that moves it stands alone at the place.

    Common practice, no source: beside such a step work goes on only at the bench and on paper.
    """
    away = {"lay_out", "limits"}
    for crew in (2, 3, 5):
        made = by(name, crew)
        beside = done_beside(made.steps)
        steps = {step.number: step for step in made.steps}
        for step in made.steps:
            assert step.hands <= crew
            for other in (steps[n] for n in beside.get(step.key, ())):
                assert not (step.running or other.running)
                if set(step.moves) - MOVES_NO_BELT:
                    assert other.key in away, (step.key, other.key)
                assert step.number in beside[other.key]
        _nobody_twice(made.steps, crew)


def _nobody_twice(steps: tuple[Step, ...], crew: int) -> None:
    inside = [(s.start, s.start + s.time.value, s.hands) for s in steps if s.start is not None]
    for start, _, _ in inside:
        at_work = [hands for begin, end, hands in inside if begin <= start < end - 1e-6]
        assert sum(at_work) <= crew


@pytest.mark.parametrize("name", ["incline-worn-joint", "flat-torn-belt", "incline-vulcanised"])
def test_a_larger_crew_is_never_slower(name: str) -> None:
    made = [by(name, crew) for crew in (1, 2, 3, 4, 6, 9)]
    took = [m.timing.likely.value for m in made]
    assert took == sorted(took, reverse=True)
    for crew, one in zip((1, 2, 3, 4, 6, 9), made, strict=True):
        assert one.timing.work is not None
        # Nobody works longer than the job takes.
        assert one.timing.work.value <= crew * one.timing.likely.value * (1 + 1e-9)
        ends = [s.start + s.time.value for s in one.steps if s.start is not None]
        assert one.timing.likely.value == pytest.approx(max(ends))
