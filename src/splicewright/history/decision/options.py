"""Repair, re-make, insert or replace: the crew's first decision at a torn or worn place.

Each way is set beside the others with what it takes and what it gives; one that cannot be done
is kept in the list with the reason. The tool orders, the crew decides: local law, site rules,
the maker's instructions and a competent person take precedence.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from splicewright.errors import Fault, InputError
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import mean_run
from splicewright.quantities import Kind, Sentence, formula, sentence


class Way(StrEnum):
    """What can be done at a damaged place."""

    REPAIR = "repair"
    REMAKE = "re-make the joint"
    INSERT = "insert a piece of belt"
    REPLACE = "replace the belt"

    @classmethod
    def _missing_(cls, value: object) -> Way | None:
        """Files written before the word was changed are still read."""
        return cls.INSERT if value == "let in a piece of belt" else None


@dataclass(frozen=True, slots=True)
class Option:
    """One way, with what it takes and gives.

    Attributes
    ----------
    way : what is done
    time : stop it takes [s]
    cost : material and work
    kept_strength : joint or repair over belt, static [0..1]
    life : law of life of what is made [measure of use]
    belt_taken : belt cut out and not put back [m]
    belt_let_in : belt from stock [m]
    joints_more : joints the loop has more than before
    """

    way: Way
    time: float
    cost: float
    kept_strength: float
    life: Weibull
    belt_taken: float = 0.0
    belt_let_in: float = 0.0
    joints_more: int = 0


@dataclass(frozen=True, slots=True)
class Situation:
    """What there is and what is asked for.

    Attributes
    ----------
    window : stop there is time for [s]
    strength_needed : least kept strength that the duty allows [0..1]
    belt_spare : belt that the take-up can give [m]
    belt_in_stock : belt on the shelf [m]
    stop_cost : of standing still [per s]
    failure_cost : of a failure in service
    until : use until the next planned stop, when it would be made good [measure of use]
    """

    window: float
    strength_needed: float
    belt_spare: float
    belt_in_stock: float
    stop_cost: float
    failure_cost: float
    until: float


@dataclass(frozen=True, slots=True)
class JudgedOption:
    """One option judged.

    Attributes
    ----------
    option : the way
    refused : why it cannot be done; empty when it can
    chance_of_failing : before the next planned stop [0..1]
    expected_cost : work, stop and expected failure
    cost_per_use : the same over the mean use it gives by then
    reasons : what speaks for and against it, in words
    """

    option: Option
    refused: tuple[Sentence, ...]
    chance_of_failing: float
    expected_cost: float
    cost_per_use: float
    reasons: tuple[Sentence, ...]

    @property
    def possible(self) -> bool:
        """True when nothing stands against it."""
        return not self.refused


@formula(
    "C = c + s τ + c_f F",
    gives=("C", Kind.RATIO),
    symbols={"cost": "c", "stop_cost": "s", "time": "τ", "failure_cost": "c_f", "chance": "F"},
    source="expectation",
    limits="in the money of the costs",
)
def expected_cost(
    cost: float, stop_cost: float, time: float, failure_cost: float, chance: float
) -> float:
    """Cost to expect of one way until the next planned stop.

    Parameters
    ----------
    cost : material and work
    stop_cost : of standing still [per s]
    time : of the stop [s]
    failure_cost : of a failure in service
    chance : of failing before the next planned stop [0..1]
    """
    return cost + stop_cost * time + failure_cost * chance


def compare_options(options: Sequence[Option], situation: Situation) -> tuple[JudgedOption, ...]:
    """Judge each option and order them: possible ones first, by cost per use.

    expected cost = cost + stop cost x time + failure cost x chance of failing by the next
    planned stop; cost per use divides it by the mean use until then, ∫₀ᵀ S.

    Raises
    ------
    InputError
        No option, or values that cannot be; every fault is named.
    """
    _check(options, situation)
    judged = [_judge(option, situation) for option in options]
    best = [v for v in judged if v.possible]
    if best:
        quickest = min(best, key=lambda v: v.option.time)
        surest = min(best, key=lambda v: v.chance_of_failing)
        cheapest = min(best, key=lambda v: v.cost_per_use)
        marks = ((cheapest, "cheapest"), (surest, "surest"), (quickest, "quickest"))
        judged = [_marked(v, [word for b, word in marks if b is v]) for v in judged]
    return tuple(sorted(judged, key=lambda v: (not v.possible, v.cost_per_use)))


def _judge(option: Option, situation: Situation) -> JudgedOption:
    refused = []
    spare, stock = (situation.belt_spare, Kind.DISTANCE), (situation.belt_in_stock, Kind.DISTANCE)
    if option.time > situation.window:
        refused.append(
            sentence(
                "takes {time}, the window is {window}",
                time=(option.time, Kind.TIME),
                window=(situation.window, Kind.TIME),
            )
        )
    if option.kept_strength < situation.strength_needed:
        refused.append(
            sentence(
                "keeps {kept} of the belt's strength, the duty needs {needed}",
                kept=(option.kept_strength, Kind.SHARE),
                needed=(situation.strength_needed, Kind.SHARE),
            )
        )
    net = option.belt_taken - option.belt_let_in
    if net > situation.belt_spare:
        refused.append(
            sentence(
                "shortens the loop by {net}, the take-up can give {spare}",
                net=(net, Kind.DISTANCE),
                spare=spare,
            )
        )
    if option.belt_let_in > situation.belt_in_stock:
        refused.append(
            sentence(
                "needs {need} of belt, {stock} is in stock",
                need=(option.belt_let_in, Kind.DISTANCE),
                stock=stock,
            )
        )
    chance = float(option.life.failed(situation.until))
    cost = expected_cost(
        option.cost, situation.stop_cost, option.time, situation.failure_cost, chance
    )
    reasons = [
        sentence(
            "fails before the next planned stop with a chance of {chance}",
            chance=(chance, Kind.SHARE),
        )
    ]
    if option.joints_more:
        plural = "s" if option.joints_more > 1 else ""
        reasons.append(sentence(f"leaves {option.joints_more} joint{plural} more to maintain"))
    if 0 < net <= situation.belt_spare:
        reasons.append(
            sentence(
                "uses {net} of the {spare} the take-up can give",
                net=(net, Kind.DISTANCE),
                spare=spare,
            )
        )
    return JudgedOption(
        option,
        tuple(refused),
        chance,
        cost,
        cost / float(mean_run(option.life, situation.until)),
        tuple(reasons),
    )


def _marked(verdict: JudgedOption, words: list[str]) -> JudgedOption:
    if not words:
        return verdict
    first = sentence(f"the {' and '.join(words)} of those that can be done")
    return JudgedOption(
        verdict.option,
        verdict.refused,
        verdict.chance_of_failing,
        verdict.expected_cost,
        verdict.cost_per_use,
        (first, *verdict.reasons),
    )


def _check(options: Sequence[Option], situation: Situation) -> None:
    if not options:
        raise InputError(Fault("options", "there are none; give at least one"))
    faults = []
    for option in options:
        for name in ("time", "cost", "belt_taken", "belt_let_in", "joints_more"):
            value = getattr(option, name)
            if not (math.isfinite(value) and value >= 0):
                sentence = f"{name.replace('_', ' ')} {value:g}; accepted is zero or more"
                faults.append(Fault(option.way, sentence))
        if not 0 < option.kept_strength <= 1:
            sentence = f"kept strength {option.kept_strength:g}; accepted is above 0 and up to 1"
            faults.append(Fault(option.way, sentence))
    for name in ("window", "strength_needed", "belt_spare", "belt_in_stock", "stop_cost"):
        value = getattr(situation, name)
        if not (math.isfinite(value) and value >= 0):
            sentence = f"{value:g}; accepted is zero or more"
            faults.append(Fault(name.replace("_", " "), sentence))
    if not (math.isfinite(situation.failure_cost) and situation.failure_cost >= 0):
        faults.append(
            Fault("failure cost", f"{situation.failure_cost:g}; accepted is zero or more")
        )
    if not (math.isfinite(situation.until) and situation.until > 0):
        faults.append(
            Fault("use until the next stop", f"{situation.until:g}; accepted is above zero")
        )
    if faults:
        raise InputError(*faults)
