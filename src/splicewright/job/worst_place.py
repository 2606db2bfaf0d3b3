"""The worst place of a run, or of the loop, for a job of which nobody said where it is."""

from __future__ import annotations

from dataclasses import replace

from splicewright.job.clamping import clamping
from splicewright.loop import BeltBudget, Path
from splicewright.plant import Conveyor, Run, Work
from splicewright.quantities import Aside, Figure, Number, Worksheet
from splicewright.tension import AtRest, Demand
from splicewright.tension.at_rest import at_rest

_HALVINGS = 7
"""Of half a run, in the search for the outermost place where clamps fit: to a 250th of the run."""


def worst_place(
    conveyor: Conveyor,
    work: Work,
    path: Path,
    asked: Demand,
    belt: BeltBudget,
    span: Figure,
    sheet: Worksheet,
) -> Work:
    """The work at the place where its clamps must be rated highest, of those where they fit.

    The pull changes evenly along a run, so it is worst at one of its ends; where clamps do not
    fit there, the nearest place inward counts at which they do. Of places alike, the first in the
    direction of travel.

    Parameters
    ----------
    conveyor, work : plant and job; where its run is stated, that run alone
    path, asked, belt, span : of the plan, their lines on `sheet`
    sheet : read only; the place that is taken is worked on it afterwards
    """

    tried: dict[tuple[str, Number], AtRest] = {}

    def rest(there: Work) -> AtRest:
        place = there.run, there.distance.value
        if place not in tried:
            slack, gives = belt.slack_needed, belt.slack_there
            aside = Aside(sheet)
            tried[place] = at_rest(conveyor, there, path, asked, slack, gives, aside, tried=True)
        return tried[place]

    def fits(there: Work) -> bool:
        return clamping(conveyor, there, path, rest(there), span, Aside(sheet)).fits

    ends = []
    for run in conveyor.runs():
        if work.anywhere or run.name == work.run:
            for first in (True, False):
                pull = rest(_at(work, run, 0.0 if first else 1.0)).ratings.clamps.value
                ends.append((pull, run, first))
    worst: tuple[float, Work] | None = None
    for pull, run, first in sorted(ends, key=lambda end: -end[0]):
        if worst is not None and worst[0] >= pull:
            break
        outer, inner = (0.0, 0.5) if first else (1.0, 0.5)
        if fits(_at(work, run, outer)):
            inner = outer
        elif not fits(_at(work, run, inner)):
            continue
        for _ in range(_HALVINGS if inner != outer else 0):
            between = (outer + inner) / 2
            if fits(_at(work, run, between)):
                inner = between
            else:
                outer = between
        there = _at(work, run, inner)
        rated = rest(there).ratings.clamps.value
        if worst is None or rated > worst[0]:
            worst = rated, there
    return worst[1] if worst is not None else work


def _at(work: Work, run: Run, share: float) -> Work:
    """The work on a run, that share of it from its start."""
    along = replace(
        work.distance,
        label=f"place of work along {run.name}",
        high=run.length.value,
        value=share * run.length.value,
        reason="place of work not stated; the worst place taken",
    )
    return replace(work, run=run.name, distance=along)
