"""The first decision at a torn or worn place, and how far it hangs on what a failure costs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from splicewright.history.decision.options import (
    JudgedOption,
    Option,
    Situation,
    Way,
    compare_options,
)
from splicewright.quantities.measure import Measure


@dataclass(frozen=True, slots=True)
class Decision:
    """What is to be decided.

    name : of the place
    situation : what there is and what is asked for
    options : the ways
    measure : what use and lives are counted in
    invented : the figures are
    """

    name: str
    situation: Situation
    options: tuple[Option, ...]
    measure: Measure = Measure.TIME
    invented: bool = False


@dataclass(frozen=True, slots=True)
class DecisionStudy:
    """The ways in order, and the first one if a failure costs half or double.

    decision : what was asked
    verdicts : possible ways first, by cost per use
    if_half, if_double : the first possible way then; None when none is possible
    """

    decision: Decision
    verdicts: tuple[JudgedOption, ...]
    if_half: Way | None
    if_double: Way | None

    @property
    def best(self) -> JudgedOption | None:
        """The first possible way, None when there is none."""
        return next((v for v in self.verdicts if v.possible), None)

    @property
    def steady(self) -> bool:
        """Whether the first way stays the first at half and double the cost of a failure."""
        best = self.best.option.way if self.best else None
        return best == self.if_half == self.if_double


def study_decision(decision: Decision) -> DecisionStudy:
    """Judge the ways at a place.

    Raises InputError: as `compare_options`.
    """

    def first(factor: float) -> Way | None:
        changed = replace(decision.situation, failure_cost=factor * decision.situation.failure_cost)
        judged = compare_options(decision.options, changed)
        return judged[0].option.way if judged[0].possible else None

    verdicts = compare_options(decision.options, decision.situation)
    return DecisionStudy(decision, verdicts, first(0.5), first(2.0))
