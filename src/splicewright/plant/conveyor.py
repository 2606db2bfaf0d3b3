"""The conveyor as it stands: the loop of pulleys and runs, load, drives, take-up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from splicewright.plant.belt import Belt
from splicewright.quantities import Given


class Side(StrEnum):
    """Which side of the loop a run lies on."""

    CARRY = "carry"
    RETURN = "return"


class Role(StrEnum):
    """What a pulley is there for."""

    HEAD = "head"
    TAIL = "tail"
    DRIVE = "drive"
    SNUB = "snub"
    BEND = "bend"
    TAKE_UP = "take-up"


class Cover(StrEnum):
    """Which cover of the belt touches a pulley."""

    PULLEY = "pulley cover"
    CARRY = "carry cover"


class Lagging(StrEnum):
    """Surface of a pulley."""

    BARE = "bare steel"
    RUBBER = "rubber, grooved"
    CERAMIC = "ceramic"
    UNKNOWN = "unknown"


class CrownShape(StrEnum):
    """How the face of a crowned pulley rises to its middle."""

    CONES = "cones"
    ARC = "arc"


class Gear(StrEnum):
    """What stands between motor and driven pulley, as far as it decides what holds the belt."""

    PLAIN = "plain gearbox"
    WORM = "worm gear"
    NONE = "no gearbox"


class Coupling(StrEnum):
    """What joins motor and gearbox."""

    RIGID = "rigid coupling"
    FLUID = "fluid coupling"


class TakeUpKind(StrEnum):
    """How the belt is kept tight."""

    GRAVITY = "gravity"
    SCREW = "screw"
    WINCH = "winch"


@dataclass(frozen=True, slots=True)
class Idlers:
    """Idlers of one run: spacing [m], rotating mass per length [kg/m], trough angle [rad].

    middle: part of the belt width that lies on the middle roll, None when not stated [m].
    """

    spacing: Given
    line_mass: Given
    trough: Given
    rolls: int
    middle: Given | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """A straight stretch between two pulleys, in the direction of travel.

    length along the belt [m]; rise, positive when the belt goes up [m]; friction: factor f
    for the rolls, load_friction: for belt and load [-]; curve_radius: of the vertical curve from
    this run into the next, None for none stated [m].
    """

    name: str
    side: Side
    length: Given
    rise: Given
    idlers: Idlers
    friction: Given
    load_friction: Given
    curve_radius: Given | None = None


@dataclass(frozen=True, slots=True)
class Crown:
    """The crown of a pulley: radius in the middle less radius under the belt edges [m].

    flat: width of the cylinder in the middle, between two cones [m].
    """

    height: Given
    shape: CrownShape
    flat: Given


@dataclass(frozen=True, slots=True)
class Pulley:
    """A pulley of the loop: diameter over the lagging, at its edges [m], wrap angle [rad].

    loss: tension leaving over tension entering when not driven [-]; drive: name of the drive
    that turns it, "" for none; transition: to the first full trough, None when not stated [m];
    raised: its top over the middle roll [m]; crown: None for a cylinder.
    """

    name: str
    role: Role
    diameter: Given
    wrap: Given
    loss: Given
    lagging: Lagging
    touches: Cover
    drive: str
    transition: Given | None = None
    raised: Given | None = None
    crown: Crown | None = None


Element = Run | Pulley


@dataclass(frozen=True, slots=True)
class Material:
    """The load: mass per length of belt when full [kg/m] and what is known of it.

    rate [kg/s], density [kg/m3], surcharge angle [rad], lump [m], friction on the belt [-]; None
    when not stated.
    """

    name: str
    line_mass: Given
    rate: Given | None
    density: Given | None
    surcharge: Given | None
    lump: Given | None
    friction: Given | None = None


@dataclass(frozen=True, slots=True)
class Drive:
    """A motor and its gear: rated power [W], efficiency motor to pulley [-], start factor [-].

    share: part of the whole pull this drive gives [-]; holdback, brake: fitted or not, None
    when nobody said; stopping_time: of the full belt with the brake on [s]; breakdown_factor:
    largest pull of the motor over its rated pull [-]; gear, coupling: None when nobody said.
    """

    name: str
    power: Given | None
    efficiency: Given
    start_factor: Given
    share: Given
    holdback: bool | None
    brake: bool | None
    stopping_time: Given
    breakdown_factor: Given
    gear: Gear | None = None
    coupling: Coupling | None = None


@dataclass(frozen=True, slots=True)
class TakeUp:
    """The take-up: kind, tension it gives the belt [N] (None: not known), travel [m].

    mass: counterweight with its pulley and frame [kg]; position: travel already used,
    0 at the slack end [m]; pulley: name of its pulley in the loop; strands: how many
    strands of belt carry the weight; reeving: pull on the pulley over the weight that hangs on
    the rope, 1 where it hangs on the pulley itself [-].
    """

    kind: TakeUpKind
    pulley: str
    mass: Given | None
    force: Given | None
    travel: Given
    position: Given
    strands: int
    preload: Given
    reeving: Given


class SpecialKind(StrEnum):
    """Special resistances of ISO 5048, and an allowance stated as a share."""

    TILT = "idler tilt"
    SKIRTS = "skirts"
    CLEANER = "cleaner"
    PLOUGH = "plough"
    ALLOWANCE = "allowance"
    FORCE = "force"


@dataclass(frozen=True, slots=True)
class Special:
    """One special resistance: its kind, the run it acts on, and its inputs by name."""

    name: str
    kind: SpecialKind
    run: str
    inputs: tuple[tuple[str, Given], ...]

    def __getitem__(self, name: str) -> Given:
        return dict(self.inputs)[name]


@dataclass(frozen=True, slots=True)
class Method:
    """Factors of the resistance method.

    length_coefficient: C [-]; drum_friction: belt on driven pulley [-]; slip_margin: factor
    on the pull in the slip limit [-]; sag_limit: sag over idler spacing [-]; standing
    friction: factor f of a belt moved by hand [-].
    """

    length_coefficient: Given
    drum_friction: Given
    slip_margin: Given
    sag_limit: Given
    standing_friction: Given
    shared_by_grip: bool


@dataclass(frozen=True, slots=True)
class Conveyor:
    """A whole conveyor, all gaps filled by named assumptions.

    loop: elements in the order the belt passes them, a tail-end pulley first; speed [m/s];
    ambient [K].
    """

    name: str
    site: str
    invented: bool
    loop: tuple[Element, ...]
    belt: Belt
    material: Material
    speed: Given
    reversing: bool
    drives: tuple[Drive, ...]
    take_up: TakeUp
    specials: tuple[Special, ...]
    method: Method
    ambient: Given

    def runs(self) -> tuple[Run, ...]:
        """The runs in the order of travel."""
        return tuple(e for e in self.loop if isinstance(e, Run))

    def pulleys(self) -> tuple[Pulley, ...]:
        """The pulleys in the order of travel."""
        return tuple(e for e in self.loop if isinstance(e, Pulley))

    def turned_round(self) -> Conveyor:
        """The same conveyor with the belt travelling the other way.

        Pulleys keep their names; every rise changes its sign. What carried still carries.
        """
        backwards = [
            replace(e, rise=_negated(e.rise)) if isinstance(e, Run) else e
            for e in reversed(self.loop)
        ]
        first = next(n for n, e in enumerate(backwards) if isinstance(e, Pulley))
        return replace(self, loop=tuple(backwards[first:] + backwards[:first]))


@lru_cache(maxsize=1024)
def slug(name: str) -> str:
    """A name as part of a key: "Head pulley 2" -> "head-pulley-2"."""
    return "-".join("".join(c if c.isalnum() else " " for c in name.lower()).split())


def _negated(rise: Given) -> Given:
    return replace(
        rise,
        key=f"{rise.key}.turned",
        label=f"{rise.label}, belt turned round",
        value=-rise.value,
        low=-rise.high,
        high=-rise.low,
    )
