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


class JobKind(StrEnum):
    """Which job it is: each has its own order of moves, parts and acceptance.

    What the joint is made of (hinged, solid, riveted, vulcanised) stands apart, in `JointKind`.
    """

    ANEW = "worn joint made anew"
    PIECE = "piece inserted"
    SHORTENED = "belt shortened"
    LENGTHENED = "belt lengthened"
    NEW_BELT = "new belt"
    EMERGENCY = "emergency repair"
    ALONG = "repair along the belt"
    INSPECTION = "inspection round"
    TRACKING = "tracking trouble"

    @property
    def joins(self) -> bool:
        """Whether belt ends are cut and joined; else the belt stays as it is."""
        return self not in {self.EMERGENCY, self.ALONG, self.INSPECTION, self.TRACKING}

    @property
    def clamped(self) -> bool:
        """Whether the belt is clamped and the take-up released."""
        return self not in {self.INSPECTION, self.TRACKING}

    @property
    def plated(self) -> bool:
        """Whether plates of a joint are made or mended."""
        return self.joins or self is self.EMERGENCY


class Damage(StrEnum):
    """What is repaired along the belt, or at a joint in an emergency."""

    PIN = "pin"
    PLATES = "plates"
    RIP = "rip"
    HOLE = "hole"
    EDGE = "edge tear"


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


class RoundWay(StrEnum):
    """How a round comes from joint to joint."""

    BELT = "belt"
    FOOT = "foot"


@dataclass(frozen=True, slots=True)
class JointOnRound:
    """A joint to be looked at: its name, and where it lies while another mark is at the place.

    behind: belt that has to go past the place of work until the joint is there; on foot, the way
    along the stopped belt from the place of work [m].
    """

    name: str
    behind: Given


@dataclass(frozen=True, slots=True)
class Work:
    """One job at one place of the belt.

    run and distance [m]: the work stands on this run, so far along it in the direction of
    travel; cut_out, insert: belt taken out, cut line to cut line, and belt inserted [m];
    thickness: measured across the end, left to right [m]; belt_width [m]; load_left: share
    of the full load still on the belt [-]; window [s]; clamp_factor [-]; hoist_travel: of the
    hoists there are, None when nobody said [m]; job: kind of job, job_why: from what it was
    taken where the file does not say, "" where it does; damage: what is repaired, None where
    belt ends are joined; round: the joints of an inspection round;
    damage_length, damage_width: of it along and across the belt [m];
    anywhere: nobody said on which run, and a plan takes the worst run;
    press_length, press_width, press_bias, press_temperature: of the platens along and across the
    belt [m], their angle to the square line [rad], and what they are held at [K]; air [K] and
    humidity [-] where a vulcanised joint is made; each None when nobody said.
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
    job: JobKind = JobKind.ANEW
    job_why: str = ""
    damage: Damage | None = None
    damage_length: Given | None = None
    damage_width: Given | None = None
    round: tuple[JointOnRound, ...] = ()
    round_way: RoundWay = RoundWay.BELT
    anywhere: bool = False
    press_length: Given | None = None
    press_width: Given | None = None
    press_bias: Given | None = None
    press_temperature: Given | None = None
    air: Given | None = None
    humidity: Given | None = None
