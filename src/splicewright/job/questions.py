"""What carries the plan and nobody stated: asked on page one, and taken at its bad end."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.plant import Conveyor, Side, Work
from splicewright.quantities import Sentence, Worksheet, sentence
from splicewright.tension import AtRest, Demand
from splicewright.tension.at_rest import at_rest

if TYPE_CHECKING:
    from splicewright.loop import BeltBudget, Path

_PLACES = (0.05, 0.5, 0.95)
"""Tried on each run, as shares of its length: the tension of a stopped belt rises or falls along a
run, so that its worst place is near an end; the middle is for runs that hold their own weight."""
_SHORTEST = 5.0
"""A run shorter than this [m] has no room for clamps and work, and is not tried."""


def worst_place(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, belt: BeltBudget, sheet: Worksheet
) -> Work:
    """The same work where the stopped belt asks most of clamps and hoists, if no place was given.

    Parameters
    ----------
    conveyor, work, path, asked : plant, job, loop and demand
    belt : what the hoists must bring and the take-up can give
    sheet : what was worked so far; nothing is written on it

    Returns
    -------
    Work, unchanged where the distance along its run was stated; where no run was stated either,
    every run of the return side is tried
    """
    if not work.distance.assumed:
        return work
    runs = [
        r
        for r in conveyor.runs()
        if r.name == work.run
        or (not work.run_stated and r.side is Side.RETURN and r.length.value >= _SHORTEST)
    ]
    tried = [
        replace(
            work,
            run=run.name,
            distance=replace(
                work.distance,
                label=f"place of work along {run.name}",
                value=share * run.length.value,
                high=run.length.value,
                reason="place of work not stated: of "
                f"{len(runs) * len(_PLACES)} places tried the one with the largest forces",
            ),
        )
        for run in runs
        for share in _PLACES
    ]

    def force(one: Work) -> tuple[float, ...]:
        trial = Worksheet(sheet.finish())
        slack, there = belt.slack_needed, belt.slack_there
        found = at_rest(conveyor, one, path, asked, slack, there, trial)
        rated, bounds = found.ratings, found.bounds
        return (rated.clamps.value, rated.hoists.value, bounds.acting.largest.value)

    return max(tried, key=force)


def questions(conveyor: Conveyor, stopped: AtRest) -> tuple[Sentence, ...]:
    """What is to be settled before work: doubts of the stopped belt, and the belt's class."""
    asks = [doubt.ask for doubt in stopped.doubts]
    strength = conveyor.belt.strength
    if strength.assumed and strength.low < strength.high:
        asks.append(
            sentence(
                "Class of the belt not stated: {strength} is taken (plausible {low} to {high}). "
                "Read the marking on the cover: joint and kept strength rest on it.",
                strength=strength,
                low=(strength.low, strength.kind),
                high=(strength.high, strength.kind),
            )
        )
    return tuple(asks)
