"""The piece of work: where the joint is made, why, what comes out and goes in, with whom."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from splicewright.quantities import Given


class Reason(StrEnum):
    """Why the crew was called."""

    NEW_BELT = "new belt"
    WORN_JOINT = "worn joint"
    TORN_BELT = "torn belt"
    SHORTEN = "shorten belt"
    LENGTHEN = "lengthen belt"


class Travel(StrEnum):
    """What is known of the direction of travel at the joint."""

    KNOWN = "known"
    UNKNOWN = "unknown"
    REVERSING = "reversing"


class Environment(StrEnum):
    """Conditions for the joint besides tension."""

    WET = "wet"
    CORROSIVE = "corrosive"
    HOT = "hot"
    UNDERGROUND = "underground"
    FOOD = "food"
    MAGNETIC_SEPARATOR = "magnetic separator"


class Tools(StrEnum):
    """How holes are punched and nuts run down."""

    HAND = "hand"
    POWER = "power"


class JointKind(StrEnum):
    """Which construction is asked for."""

    HINGED = "hinged"
    RIVETED = "riveted hinge"
    SOLID = "solid plate"
    VULCANISED = "vulcanised"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Work:
    """One job at one place of the belt.

    run and distance [m]: the work stands on this run, so far along it in the direction of
    travel; cut_out, insert: belt taken out, cut line to cut line, and belt inserted [m];
    thickness: measured across the end, left to right [m]; belt_width [m]; load_left: share
    of the full load still on the belt [-]; window [s]; clamp_factor [-]; hoist_travel: of the
    hoists there are, None when nobody said [m]; anywhere: nobody said on which run, and a plan
    takes the worst run.
    """

    name: str
    invented: bool
    reason: Reason
    run: str
    distance: Given
    cut_out: Given
    insert: Given
    joints: int
    thickness: tuple[Given, ...]
    belt_width: Given | None
    travel: Travel
    kind: JointKind
    environment: tuple[Environment, ...]
    scrapers: bool
    window: Given | None
    crew: int
    tools: Tools
    load_left: Given
    clamp_factor: Given
    service_factor: Given
    notch_width: Given | None
    curve_depth: Given | None
    hoist_travel: Given | None = None
    anywhere: bool = False
