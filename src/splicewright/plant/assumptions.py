"""Every named assumption about a conveyor: value, plausible span and reason, in one place.

None of these is a fact of a given machine. Each is shown to the user wherever it is used, and
is there to be replaced by a measured or stated value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.plant.belt import Carcass
from splicewright.plant.conveyor import Lagging
from splicewright.quantities import Kind

_DEG = math.pi / 180


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value used when nobody gave one [SI], its plausible span, and why."""

    value: float
    low: float
    high: float
    kind: Kind
    reason: str


FRICTION = Assumption(
    0.022,
    0.016,
    0.030,
    Kind.RATIO,
    "friction factor f not given; ordinary plant about 0.020, poor upkeep to 0.030 (from memory)",
)
DRUM_FRICTION: dict[Lagging, Assumption] = {
    Lagging.BARE: Assumption(
        0.20, 0.10, 0.25, Kind.RATIO,
        "belt on bare steel: 0.25 dry, 0.10 wet in a published summary; taken between",
    ),
    Lagging.RUBBER: Assumption(
        0.30, 0.30, 0.35, Kind.RATIO,
        "belt on grooved rubber: 0.35 dry or clean wet, 0.30 muddy in a published summary",
    ),
    Lagging.CERAMIC: Assumption(
        0.35, 0.35, 0.80, Kind.RATIO,
        "belt on ceramic tiles: 0.35 muddy to 0.8 dry in a published summary; low end taken",
    ),
    Lagging.UNKNOWN: Assumption(
        0.25, 0.10, 0.35, Kind.RATIO,
        "surface of the driven pulley not given; dry bare steel taken",
    ),
}  # fmt: skip
EFFICIENCY = Assumption(
    0.90,
    0.86,
    0.95,
    Kind.SHARE,
    "efficiency from motor to pulley not given; published sheets use 0.86 to 0.95 per stage",
)
START_FACTOR = Assumption(
    1.5,
    1.3,
    2.0,
    Kind.RATIO,
    "start factor not given; 1.3 (soft) to 2.0 (direct) is usual (from memory)",
)
STOPPING_TIME = Assumption(
    10.0, 5.0, 20.0, Kind.TIME, "stopping time with the brake on not given; 10 s taken (no source)"
)
BREAKDOWN_FACTOR = Assumption(
    2.2,
    1.8,
    2.8,
    Kind.RATIO,
    "largest pull of the motor over its rated pull not given; 2.2 (from memory)",
)
PRELOAD = Assumption(
    1.0,
    1.0,
    1.5,
    Kind.RATIO,
    "pull of the take-up not known: the least that holds slip and sag is taken; crews often "
    "tighten more. MEASURE it",
)
SLIP_MARGIN = Assumption(
    1.0, 1.0, 1.0, Kind.RATIO, "no extra margin on the slip limit: starting is a case of its own"
)
SAG_LIMIT = Assumption(
    0.01,
    0.01,
    0.01,
    Kind.SHARE,
    "sag limit 1 % of the idler spacing (DIN 22101:2002, steady state)",
)
STANDING_FRICTION = Assumption(
    0.04,
    0.02,
    0.06,
    Kind.RATIO,
    "friction factor of a standing belt drawn by hand; stiff idlers turn hard (no source)",
)
NO_LOSS = Assumption(
    1.0, 1.0, 1.04, Kind.RATIO, "loss at undriven pulleys is part of the secondary resistance C"
)
CARRY_SPACING = Assumption(
    1.2, 1.0, 1.5, Kind.LENGTH, "idler spacing on the carry side not given; 1.2 m is usual"
)
RETURN_SPACING = Assumption(
    3.0, 2.4, 3.6, Kind.LENGTH, "idler spacing on the return side not given; 3 m is usual"
)
CARRY_TROUGH = Assumption(
    35 * _DEG, 20 * _DEG, 45 * _DEG, Kind.ANGLE, "trough angle not given; 35° is usual"
)
RETURN_TROUGH = Assumption(0.0, 0.0, 10 * _DEG, Kind.ANGLE, "flat return idlers taken")
CLAMP_ROOM = Assumption(
    1.5,
    1.0,
    3.0,
    Kind.DISTANCE,
    "room at each belt end for bench, template and tools: 1.5 m; common practice, no source",
)
CLAMP_GAP = Assumption(
    1.0,
    0.5,
    2.0,
    Kind.DISTANCE,
    "pulling clamp to restraining clamp before the pull: 1 m for hooks and slings, no source",
)
CLAMP_CLEAR = Assumption(
    1.0,
    0.5,
    2.0,
    Kind.DISTANCE,
    "1 m left free between a restraining clamp and a pulley or its transition, no source",
)
LEAST_FRICTION = Assumption(
    0.012,
    0.010,
    0.016,
    Kind.RATIO,
    "0.012 to 0.016 for belts that run away (from memory of the standard); low end taken",
)
LOAD_FRICTION = Assumption(
    0.5,
    0.3,
    0.7,
    Kind.RATIO,
    "friction of the load on the belt not given; 0.5 to 0.7 from memory of the standard, low end "
    "taken; wet fines less (no source)",
)
SURCHARGE = Assumption(
    15 * _DEG, 5 * _DEG, 25 * _DEG, Kind.ANGLE, "surcharge angle not given; 15° taken"
)
BULK_DENSITY = Assumption(
    1600.0, 800.0, 2500.0, Kind.DENSITY, "bulk density not given; crushed stone taken"
)
JERK = Assumption(
    0.3,
    0.1,
    0.5,
    Kind.ACCELERATION,
    "belts start and stop with 0.1 to 0.3 m/s² (from memory); a hoist's jerk taken as the most",
)
MIDDLE_ROLL: dict[int, tuple[float, float, float]] = {
    1: (0.999, 0.9, 1.0),
    2: (0.0, 0.0, 0.0),
    3: (0.38, 0.34, 0.42),
}
"""Part of the belt width on the middle roll by the number of rolls: taken, low, high. Three alike:
as the rolls printed in published trough tables; more than three: as three (no source)."""
CROWN_FLAT = Assumption(
    0.0,
    0.0,
    0.0,
    Kind.LENGTH,
    "no cylinder in the middle stated: cones up to the middle taken (tightest middle)",
)
CARRY_ROLLS_PER_WIDTH = Assumption(
    18.0,
    10.0,
    30.0,
    Kind.LINE_MASS,
    "rotating idler mass on the carry side not given; taken as 18 kg per metre of length and "
    "metre of belt width",
)
RETURN_ROLLS_PER_WIDTH = Assumption(
    6.0,
    3.0,
    10.0,
    Kind.LINE_MASS,
    "rotating idler mass on the return side not given; taken as 6 kg per metre of length and "
    "metre of belt width",
)
BELT_DENSITY = Assumption(
    1250.0, 1150.0, 1350.0, Kind.DENSITY, "mass of the belt not given; worked from its thickness"
)
THICKNESS = Assumption(
    0.011,
    0.006,
    0.020,
    Kind.LENGTH,
    "belt thickness not given and not to be had from the marking: MEASURE IT before any choice",
)
COVERS = {
    "top": Assumption(0.005, 0.002, 0.010, Kind.LENGTH, "top cover not given; 5 mm taken"),
    "bottom": Assumption(0.002, 0.001, 0.004, Kind.LENGTH, "bottom cover not given; 2 mm taken"),
}
STRENGTH = Assumption(
    500e3, 200e3, 1600e3, Kind.WIDTH_FORCE, "belt strength not given; 500 N/mm taken"
)
MODULUS_MULTIPLE: dict[Carcass, tuple[float, float, float]] = {
    Carcass.POLYESTER: (10.0, 8.0, 13.0),
    Carcass.POLYAMIDE: (5.5, 4.0, 7.0),
    Carcass.COTTON: (10.0, 6.0, 15.0),
    Carcass.ARAMID: (25.0, 15.0, 40.0),
    Carcass.SOLID_WOVEN: (8.0, 5.0, 12.0),
    Carcass.STEEL_CORD: (70.0, 60.0, 80.0),
}
"""Stiffness over nominal strength: likely, low, high. Polyester, polyamide and steel cord from
memory; the others without source."""
STRETCH: dict[Carcass, tuple[float, float, float]] = {
    Carcass.POLYESTER: (0.015, 0.013, 0.018),
    Carcass.POLYAMIDE: (0.020, 0.018, 0.023),
    Carcass.COTTON: (0.020, 0.018, 0.023),
    Carcass.ARAMID: (0.004, 0.002, 0.006),
    Carcass.SOLID_WOVEN: (0.015, 0.010, 0.020),
    Carcass.STEEL_CORD: (0.002, 0.002, 0.0025),
}
"""Elastic and lasting stretch of a new belt by GB 50431 clause 8.6.3 (cotton, polyamide,
polyester, steel cord); the others without source."""
RATE = Assumption(
    0.0, 0.0, 0.0, Kind.LINE_MASS, "no load stated: the full case equals the empty one"
)
AMBIENT = Assumption(
    288.15, 253.15, 313.15, Kind.TEMPERATURE, "ambient temperature not given; 15 °C taken"
)
DRIVE_WRAP = Assumption(
    180 * _DEG,
    180 * _DEG,
    210 * _DEG,
    Kind.ANGLE,
    "wrap of the driven pulley not given; no snub pulley taken (safe side: more slack-side pull)",
)
WRAP = {
    "head": Assumption(180 * _DEG, 180 * _DEG, 210 * _DEG, Kind.ANGLE, "half turn at the head"),
    "tail": Assumption(180 * _DEG, 180 * _DEG, 210 * _DEG, Kind.ANGLE, "half turn at the tail"),
    "drive": Assumption(180 * _DEG, 180 * _DEG, 210 * _DEG, Kind.ANGLE, "half turn at the drive"),
    "snub": Assumption(30 * _DEG, 10 * _DEG, 60 * _DEG, Kind.ANGLE, "30° at a snub pulley"),
    "bend": Assumption(90 * _DEG, 45 * _DEG, 180 * _DEG, Kind.ANGLE, "quarter turn at a bend"),
    "take-up": Assumption(180 * _DEG, 180 * _DEG, 180 * _DEG, Kind.ANGLE, "half turn, take-up"),
}
PULLEY = Assumption(
    0.40,
    0.25,
    0.80,
    Kind.LENGTH,
    "pulley diameter not given: MEASURE the smallest pulley before any choice",
)
DROP = Assumption(3.0, 1.5, 8.0, Kind.DISTANCE, "depth of the take-up loop not given; 3 m taken")
_TRAVEL = "take-up travel not given; taken as {} of the centre distance"
TRAVEL_SHARE = {
    "gravity": Assumption(0.015, 0.01, 0.02, Kind.SHARE, _TRAVEL.format("1.5 %")),
    "winch": Assumption(0.015, 0.01, 0.02, Kind.SHARE, _TRAVEL.format("1.5 %")),
    "screw": Assumption(0.010, 0.005, 0.015, Kind.SHARE, _TRAVEL.format("1 %")),
}
POSITION_SHARE = Assumption(
    0.5, 0.0, 1.0, Kind.SHARE, "present place of the take-up not given: READ IT; half its travel"
)
NO_REEVING = Assumption(
    1.0,
    1.0,
    1.0,
    Kind.RATIO,
    "counterweight taken as hanging on its pulley itself; LOOK: a rope over sheaves multiplies its "
    "pull",
)
BIGHT = Assumption(
    0.3,
    0.2,
    0.5,
    Kind.DISTANCE,
    "belt drawn into a bight so that it hangs slack before it is opened: 0.3 m; common practice, "
    "no source",
)
SLACK_SAG = Assumption(
    0.03, 0.01, 0.05, Kind.SHARE, "sag of slack belt between idlers, over their spacing; no source"
)
CLAMP_MASS = Assumption(
    40.0, 20.0, 80.0, Kind.LINE_MASS, "mass of a clamp for each metre of belt width; no source"
)
TACKLE_GIVE = Assumption(
    0.015,
    0.010,
    0.030,
    Kind.LENGTH,
    "give of chain, sling, hoist and clamp under the force they hold; no source",
)
CHAIN_SLACK = Assumption(
    0.0,
    0.0,
    0.05,
    Kind.LENGTH,
    "chains and hoists kept snug; 50 mm of slack shown beside; common practice, no source",
)
CLAMP_FACTOR = Assumption(
    2.0,
    1.5,
    3.0,
    Kind.RATIO,
    "factor on every clamp and hoist force, no source; site rules and rigging law take precedence",
)
SERVICE_FACTOR = Assumption(
    1.0,
    1.0,
    1.5,
    Kind.RATIO,
    "no service factor stated by site or maker; none taken on the running tension",
)
LOAD_LEFT = Assumption(
    1.0,
    0.0,
    1.0,
    Kind.SHARE,
    "load on the stopped belt not stated: taken as fully loaded (safe side)",
)
OLD_JOINT = Assumption(
    0.4,
    0.2,
    1.0,
    Kind.DISTANCE,
    "belt cut out with the old joint not stated; 0.4 m taken: MEASURE it",
)
NOTHING_CUT = Assumption(
    0.0, 0.0, 0.0, Kind.DISTANCE, "nothing stated about belt cut out or inserted: none"
)
HUMIDITY = Assumption(
    1.0,
    0.4,
    1.0,
    Kind.SHARE,
    "humidity of the air not given: MEASURE IT; taken as saturated, so that dew forms at the "
    "temperature of the air itself (safe side)",
)
DEW_MARGIN = Assumption(
    3.0,
    2.0,
    5.0,
    Kind.RATIO,
    "open faces 3 K (5 °F) warmer than the dew point, as coatings are commonly done; from memory",
)
PRESS_BEYOND = Assumption(
    0.10,
    0.05,
    0.15,
    Kind.LENGTH,
    "how far the press reaches past the joint not stated by the range: 100 mm at each end; no "
    "source",
)
HEAT_OVERLAP = Assumption(
    0.10,
    0.05,
    0.20,
    Kind.LENGTH,
    "overlap of one heat over the next not stated by the range: 100 mm; no source",
)
