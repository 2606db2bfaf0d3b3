"""When to renew and when to look: the rules, what they are counted in, what they rest on."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.history.inspecting import InspectionRules
from splicewright.history.lives import Measure
from splicewright.history.renewal import AgeRules


@dataclass(frozen=True, slots=True)
class WhenToRenew:
    """The cheapest age of renewal, or why there is none.

    `measure` is what ages are counted in; `known` says what the law of life rests on, `notes` what
    was assumed or left out on the way.
    """

    rules: AgeRules | None
    measure: Measure
    known: str
    why_not: str = ""
    notes: tuple[str, ...] = ()
    invented: bool = False


@dataclass(frozen=True, slots=True)
class WhenToLook:
    """The cheapest interval between looks; `measure` is what it is counted in."""

    rules: InspectionRules
    measure: Measure
