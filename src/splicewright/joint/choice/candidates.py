"""A size judged: requirements with needed, has and margin, the same for plates and vulcanised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.joint.fasteners.ranges import (
    PLAIN_WORDS,
    Construction,
    Range,
    Size,
    StepSize,
    Words,
)
from splicewright.plant import Conveyor, JointKind, Work
from splicewright.quantities import Figure, Kind, Sentence, sentence, show
from splicewright.quantities.units import System
from splicewright.tension import Demand

_SUITS = {
    JointKind.HINGED: {Construction.HINGED, Construction.RIVETED},
    JointKind.RIVETED: {Construction.RIVETED},
    JointKind.SOLID: {Construction.SOLID},
    JointKind.VULCANISED: {Construction.STEP},
    JointKind.EITHER: set(Construction),
}
"""Constructions that answer to what is asked for: a riveted hinge is a hinge."""


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement judged: what is needed, what the size has, margin, verdict, reason.

    needed, has : numbers [SI] of `kind`, None where the requirement is not a number
    margin : share left over, has/needed - 1 or the like; None where there is none
    """

    name: str
    kind: Kind
    needed: float | None
    has: float | None
    margin: float | None
    met: bool
    reason: Sentence

    def show_needed(self, system: System = "metric") -> str:
        """What is needed, as text; "" where it is not a number."""
        return "" if self.needed is None else show(self.needed, self.kind, system)

    def show_has(self, system: System = "metric") -> str:
        """What the size has, as text; "" where it is not a number."""
        return "" if self.has is None else show(self.has, self.kind, system)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One size of one range with all its requirements: plates, or a vulcanised joint."""

    range_name: str
    invented: bool
    construction: Construction
    joint: Size | StepSize
    material: str
    requirements: tuple[Requirement, ...]
    words: Words = PLAIN_WORDS

    @property
    def size(self) -> Size:
        """The size of its plates; TypeError for a vulcanised joint, which has none."""
        if not isinstance(self.joint, Size):
            msg = f"{self.name} has no plates"
            raise TypeError(msg)
        return self.joint

    @property
    def steps(self) -> StepSize | None:
        """The data of a vulcanised joint, None for plates."""
        return self.joint if isinstance(self.joint, StepSize) else None

    @property
    def name(self) -> str:
        """Range and size."""
        return f"{self.range_name}, {self.joint.name}"

    @property
    def passes(self) -> bool:
        """Whether every requirement is met."""
        return all(r.met for r in self.requirements)

    @property
    def missed(self) -> tuple[Requirement, ...]:
        """The requirements that are not met."""
        return tuple(r for r in self.requirements if not r.met)

    @property
    def margin(self) -> float:
        """The smallest margin of all requirements that have one; negative when one is missed."""
        return min(r.margin for r in self.requirements if r.margin is not None)


def word(name: str, met: bool, reason: str | Sentence) -> Requirement:
    """A requirement that is no number."""
    wording = reason if isinstance(reason, Sentence) else sentence(reason)
    return Requirement(name, Kind.COUNT, None, None, None, met, wording)


def number(name: str, kind: Kind, needed: float, has: float, reason: Sentence) -> Requirement:
    """A requirement met when what the size has reaches what is needed."""
    return Requirement(
        name, kind, needed, has, has / needed - 1, has >= needed * (1 - 1e-9), reason
    )


def construction(fastener: Range, work: Work) -> Requirement:
    """Whether the construction is the one asked for."""
    met = fastener.construction in _SUITS[work.kind]
    return word(
        "construction", met, f"{work.kind.value} asked, {fastener.construction.value} in this range"
    )


def pulleys(asked: Demand, needed: Sequence[float], shares: Sequence[float]) -> list[Requirement]:
    """Every pulley against the smallest the joint may pass.

    Parameters
    ----------
    asked : the demand, with the pulleys
    needed : smallest diameter at each [m]
    shares : running tension there over the rated one [1]
    """
    requirements = []
    for passing, least, share in zip(asked.passings, needed, shares, strict=True):
        reason = sentence(
            passing.pulley + ": {has} at {wrap} wrap and {share} of the rated tension, {needed} "
            "needed",
            has=passing.diameter,
            wrap=passing.wrap,
            share=(share, Kind.SHARE),
            needed=(least, Kind.LENGTH),
        )
        requirements.append(
            number(f"pulley: {passing.pulley}", Kind.LENGTH, least, passing.diameter.value, reason)
        )
    return requirements


def tensions(
    asked: Demand, wanted: Figure, rated: float, starting: float | None
) -> list[Requirement]:
    """Running and starting tension against the ratings.

    Parameters
    ----------
    asked, wanted : the demand, and its running tension with service factor [N/m]
    rated, starting : permitted tensions [N/m]; without one for starting the running one holds
    """
    running = sentence(
        "rated {rated}, {wanted} needed with service factor",
        rated=(rated, Kind.WIDTH_FORCE),
        wanted=wanted,
    )
    allowed = starting or rated
    words = (
        "{allowed} stated for starting"
        if starting
        else "no starting rating, so the running rating {allowed} (safe side)"
    )
    at_start = sentence(
        words + ", {needed} needed", allowed=(allowed, Kind.WIDTH_FORCE), needed=asked.starting
    )
    kind = Kind.WIDTH_FORCE
    return [
        number("running tension", kind, wanted.value, rated, running),
        number("starting tension", kind, asked.starting.value, allowed, at_start),
    ]


def material(fastener: Range, conveyor: Conveyor, work: Work) -> tuple[str, Requirement]:
    """The first material of the range that suits the place, and the verdict on it."""
    asked = set(work.environment)
    lacking: dict[str, list[str]] = {}
    for material in fastener.materials:
        missing = sorted(e.value for e in asked - set(material.suits))
        if material.hottest is not None and conveyor.ambient.value > material.hottest:
            missing.append("the heat")
        if not missing:
            words = ", ".join(sorted(e.value for e in asked)) or "an ordinary place"
            return material.name, word("environment", True, f"{material.name} suits {words}")
        lacking[material.name] = missing
    best = min(lacking, key=lambda name: len(lacking[name]))
    words = ", ".join(lacking[best])
    return best, word("environment", False, f"no material of the range is stated to suit {words}")
