"""The one unit policy: which units are read, and which are shown, for every kind of quantity.

Inside Splicewright every number is SI (m, kg, s, N, N/m, Pa, rad, K, W, J). Units exist only
where people type or read. The factors below are exact by definition: 1 in = 0.0254 m,
1 lb = 0.45359237 kg, g_n = 9.80665 m/s2 [1]_, and are checked against pint in
tests/outside/test_units.py.

References
----------
.. [1] NIST Special Publication 811 (2008), appendix B.8.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

System = Literal["metric", "inch"]

INCH = 0.0254
FOOT = 12 * INCH
POUND = 0.45359237
STANDARD_GRAVITY = 9.80665
POUND_FORCE = POUND * STANDARD_GRAVITY
SHORT_TON = 2000 * POUND
LONG_TON = 2240 * POUND
HORSEPOWER = 550 * FOOT * POUND_FORCE
METRIC_HORSEPOWER = 75 * STANDARD_GRAVITY


class Kind(StrEnum):
    """What a number measures; it decides which units are accepted and how it is shown."""

    LENGTH = "length"
    TAPE = "length by tape"
    DISTANCE = "distance"
    AREA = "area"
    MASS = "mass"
    FORCE = "force"
    WIDTH_FORCE = "force per width"
    LINE_MASS = "mass per length"
    AREA_MASS = "mass per area"
    MASS_FLOW = "mass flow"
    VOLUME_FLOW = "volume flow"
    DENSITY = "density"
    SPEED = "speed"
    ACCELERATION = "acceleration"
    ANGLE = "angle"
    POWER = "power"
    TORQUE = "torque"
    PRESSURE = "pressure"
    ENERGY = "energy"
    TIME = "time"
    RUN_TIME = "running time"
    TONNAGE = "mass carried"
    TURNS = "number of turns"
    TEMPERATURE = "temperature"
    SHARE = "share"
    WRENCH = "share by wrench"
    RATIO = "ratio"
    COUNT = "count"

    @property
    def noun(self) -> str:
        """The kind with its article: "a length", "an angle"."""
        return f"{'an' if self.value[0] in 'aeiou' else 'a'} {self.value}"


@dataclass(frozen=True, slots=True)
class Unit:
    """One accepted spelling: SI value = number * factor + offset."""

    name: str
    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Shown:
    """How a kind is printed in one system.

    `digits` is the least number of significant digits, `decimals` the most decimals;
    `fraction` is the denominator of inch fractions, 0 for decimals; `most` the most significant
    digits of large numbers, 0 for all; `step` is what the tool in hand reads, 0 for no tool, and
    `down` whether a limit is cut to it, so that it is never read wider than it is.
    """

    unit: str
    factor: float
    digits: int = 3
    decimals: int = 2
    offset: float = 0.0
    fraction: int = 0
    most: int = 0
    step: float = 0.0
    down: bool = False


@dataclass(frozen=True, slots=True)
class Policy:
    """All that is agreed for one kind: SI unit, accepted units, the two ways of showing."""

    si: str
    accepted: tuple[Unit, ...]
    metric: Shown
    inch: Shown
    example: str

    def shown(self, system: System) -> Shown:
        """How this kind is shown in `system`."""
        return self.inch if system == "inch" else self.metric


_LENGTHS = (
    Unit("mm", 1e-3),
    Unit("cm", 1e-2),
    Unit("dm", 1e-1),
    Unit("m", 1.0),
    Unit("km", 1e3),
    Unit("in", INCH),
    Unit("inch", INCH),
    Unit("inches", INCH),
    Unit('"', INCH),
    Unit("ft", FOOT),
    Unit("feet", FOOT),
    Unit("'", FOOT),
    Unit("yd", 3 * FOOT),
)
_FORCES = (
    Unit("N", 1.0),
    Unit("daN", 10.0),
    Unit("kN", 1e3),
    Unit("MN", 1e6),
    Unit("kgf", STANDARD_GRAVITY),
    Unit("lbf", POUND_FORCE),
    Unit("kip", 1000 * POUND_FORCE),
)
_TIMES = (
    Unit("s", 1.0),
    Unit("min", 60.0),
    Unit("h", 3600.0),
    Unit("d", 86400.0),
    Unit("week", 7 * 86400.0),
    Unit("weeks", 7 * 86400.0),
)
_ONE = (Unit("", 1.0), Unit("%", 0.01))

POLICY: dict[Kind, Policy] = {
    Kind.LENGTH: Policy(
        "m",
        _LENGTHS,
        # A calliper reads 0.1 mm; from 100 mm on a tape is in hand, which reads 1 mm.
        Shown("mm", 1e-3, digits=3, decimals=1),
        Shown("in", INCH, fraction=32),
        "11.5 mm or 19/32 in",
    ),
    Kind.TAPE: Policy(
        "m",
        _LENGTHS,
        Shown("mm", 1e-3, digits=5, decimals=0, step=1.0, down=True),
        Shown("in", INCH, fraction=32, step=1 / 32, down=True),
        "3 mm or 1/8 in",
    ),
    Kind.DISTANCE: Policy(
        "m",
        _LENGTHS,
        Shown("m", 1.0, digits=3, decimals=2),
        Shown("ft", FOOT, digits=3, decimals=1),
        "240 m or 790 ft",
    ),
    Kind.AREA: Policy(
        "m2",
        (
            Unit("mm2", 1e-6),
            Unit("cm2", 1e-4),
            Unit("m2", 1.0),
            Unit("in2", INCH**2),
            Unit("ft2", FOOT**2),
        ),
        Shown("m2", 1.0, digits=3, decimals=4),
        Shown("ft2", FOOT**2, digits=3, decimals=3),
        "0.17 m2 or 1.8 ft2",
    ),
    Kind.MASS: Policy(
        "kg",
        (
            Unit("g", 1e-3),
            Unit("kg", 1.0),
            Unit("t", 1e3),
            Unit("lb", POUND),
            Unit("short ton", SHORT_TON),
            Unit("long ton", LONG_TON),
        ),
        Shown("kg", 1.0, digits=3, decimals=2),
        Shown("lb", POUND, digits=3, decimals=2),
        "2400 kg or 5300 lb",
    ),
    Kind.FORCE: Policy(
        "N",
        (*_FORCES, Unit("lb", POUND_FORCE)),
        Shown("kN", 1e3, digits=3, decimals=2),
        Shown("lbf", POUND_FORCE, digits=3, decimals=0, most=4),
        "24 kN or 5400 lbf",
    ),
    Kind.WIDTH_FORCE: Policy(
        "N/m",
        (
            Unit("N/mm", 1e3),
            Unit("N/m", 1.0),
            Unit("kN/m", 1e3),
            Unit("kN/mm", 1e6),
            Unit("kgf/cm", STANDARD_GRAVITY * 100),
            Unit("lbf/in", POUND_FORCE / INCH),
            Unit("lb/in", POUND_FORCE / INCH),
            Unit("piw", POUND_FORCE / INCH),
        ),
        Shown("N/mm", 1e3, digits=3, decimals=1),
        Shown("lbf/in", POUND_FORCE / INCH, digits=3, decimals=0),
        "80 N/mm or 450 lbf/in",
    ),
    Kind.LINE_MASS: Policy(
        "kg/m",
        (Unit("kg/m", 1.0), Unit("lb/ft", POUND / FOOT)),
        Shown("kg/m", 1.0, digits=3, decimals=2),
        Shown("lb/ft", POUND / FOOT, digits=3, decimals=2),
        "14 kg/m or 9.4 lb/ft",
    ),
    Kind.AREA_MASS: Policy(
        "kg/m2",
        (Unit("kg/m2", 1.0), Unit("lb/ft2", POUND / FOOT**2)),
        Shown("kg/m2", 1.0, digits=3, decimals=2),
        Shown("lb/ft2", POUND / FOOT**2, digits=3, decimals=2),
        "14 kg/m2 or 2.9 lb/ft2",
    ),
    Kind.MASS_FLOW: Policy(
        "kg/s",
        (
            Unit("t/h", 1e3 / 3600),
            Unit("kg/s", 1.0),
            Unit("kg/h", 1 / 3600),
            Unit("kg/min", 1 / 60),
            Unit("t/min", 1e3 / 60),
            Unit("short ton/h", SHORT_TON / 3600),
            Unit("long ton/h", LONG_TON / 3600),
            Unit("lb/h", POUND / 3600),
            Unit("lb/min", POUND / 60),
        ),
        Shown("t/h", 1e3 / 3600, digits=3, decimals=1),
        Shown("short ton/h", SHORT_TON / 3600, digits=3, decimals=1),
        "600 t/h or 660 short ton/h",
    ),
    Kind.VOLUME_FLOW: Policy(
        "m3/s",
        (Unit("m3/h", 1 / 3600), Unit("m3/s", 1.0), Unit("ft3/h", FOOT**3 / 3600)),
        Shown("m3/h", 1 / 3600, digits=3, decimals=1),
        Shown("ft3/h", FOOT**3 / 3600, digits=3, decimals=0),
        "400 m3/h or 14000 ft3/h",
    ),
    Kind.DENSITY: Policy(
        "kg/m3",
        (Unit("kg/m3", 1.0), Unit("t/m3", 1e3), Unit("kg/l", 1e3), Unit("lb/ft3", POUND / FOOT**3)),
        Shown("kg/m3", 1.0, digits=3, decimals=0),
        Shown("lb/ft3", POUND / FOOT**3, digits=3, decimals=1),
        "1600 kg/m3 or 100 lb/ft3",
    ),
    Kind.SPEED: Policy(
        "m/s",
        (
            Unit("m/s", 1.0),
            Unit("m/min", 1 / 60),
            Unit("km/h", 1 / 3.6),
            Unit("ft/min", FOOT / 60),
            Unit("fpm", FOOT / 60),
            Unit("ft/s", FOOT),
        ),
        Shown("m/s", 1.0, digits=3, decimals=2),
        Shown("ft/min", FOOT / 60, digits=3, decimals=0),
        "2.5 m/s or 490 ft/min",
    ),
    Kind.ACCELERATION: Policy(
        "m/s2",
        (Unit("m/s2", 1.0), Unit("ft/s2", FOOT)),
        Shown("m/s2", 1.0, digits=3, decimals=3),
        Shown("ft/s2", FOOT, digits=3, decimals=2),
        "0.2 m/s2 or 0.66 ft/s2",
    ),
    Kind.ANGLE: Policy(
        "rad",
        (Unit("deg", math.pi / 180), Unit("°", math.pi / 180), Unit("rad", 1.0)),
        Shown("°", math.pi / 180, digits=2, decimals=2),
        Shown("°", math.pi / 180, digits=2, decimals=2),
        "35 deg",
    ),
    Kind.POWER: Policy(
        "W",
        (
            Unit("W", 1.0),
            Unit("kW", 1e3),
            Unit("MW", 1e6),
            Unit("hp", HORSEPOWER),
            Unit("metric hp", METRIC_HORSEPOWER),
        ),
        Shown("kW", 1e3, digits=3, decimals=2),
        Shown("hp", HORSEPOWER, digits=3, decimals=2),
        "55 kW or 75 hp",
    ),
    Kind.TORQUE: Policy(
        "N m",
        (
            Unit("N m", 1.0),
            Unit("Nm", 1.0),
            Unit("kN m", 1e3),
            Unit("lbf ft", POUND_FORCE * FOOT),
            Unit("lbf in", POUND_FORCE * INCH),
            Unit("ft lb", POUND_FORCE * FOOT),
            Unit("in lb", POUND_FORCE * INCH),
        ),
        Shown("N m", 1.0, digits=2, decimals=1),
        Shown("lbf ft", POUND_FORCE * FOOT, digits=2, decimals=1),
        "35 N m or 26 lbf ft",
    ),
    Kind.PRESSURE: Policy(
        "Pa",
        (
            Unit("N/mm2", 1e6),
            Unit("MPa", 1e6),
            Unit("kPa", 1e3),
            Unit("Pa", 1.0),
            Unit("GPa", 1e9),
            Unit("bar", 1e5),
            Unit("psi", POUND_FORCE / INCH**2),
        ),
        Shown("N/mm2", 1e6, digits=3, decimals=3),
        Shown("psi", POUND_FORCE / INCH**2, digits=3, decimals=0),
        "0.4 N/mm2 or 58 psi",
    ),
    Kind.ENERGY: Policy(
        "J",
        (Unit("J", 1.0), Unit("kJ", 1e3), Unit("ft lbf", POUND_FORCE * FOOT)),
        Shown("kJ", 1e3, digits=3, decimals=2),
        Shown("ft lbf", POUND_FORCE * FOOT, digits=3, decimals=0, most=4),
        "12 kJ or 8900 ft lbf",
    ),
    Kind.TIME: Policy(
        "s",
        _TIMES,
        Shown("min", 60.0, digits=2, decimals=1),
        Shown("min", 60.0, digits=2, decimals=1),
        "8 h or 45 min",
    ),
    Kind.RUN_TIME: Policy(
        "s",
        _TIMES,
        Shown("h", 3600.0, digits=3, decimals=0, most=4),
        Shown("h", 3600.0, digits=3, decimals=0, most=4),
        "5200 h or 40 weeks",
    ),
    Kind.TONNAGE: Policy(
        "kg",
        (
            Unit("kg", 1.0),
            Unit("t", 1e3),
            Unit("kt", 1e6),
            Unit("Mt", 1e9),
            Unit("short ton", SHORT_TON),
            Unit("long ton", LONG_TON),
        ),
        Shown("kt", 1e6, digits=3, decimals=1, most=4),
        Shown("short ton", SHORT_TON, digits=3, decimals=0, most=4),
        "850 kt or 940000 short ton",
    ),
    Kind.TURNS: Policy(
        "1",
        (Unit("turns", 1.0), Unit("turn", 1.0)),
        Shown("turns", 1.0, digits=3, decimals=0, most=4),
        Shown("turns", 1.0, digits=3, decimals=0, most=4),
        "250000 turns",
    ),
    Kind.TEMPERATURE: Policy(
        "K",
        (
            Unit("degC", 1.0, 273.15),
            Unit("°C", 1.0, 273.15),
            Unit("C", 1.0, 273.15),
            Unit("K", 1.0),
            Unit("degF", 5 / 9, 459.67 * 5 / 9),
            Unit("°F", 5 / 9, 459.67 * 5 / 9),
            Unit("F", 5 / 9, 459.67 * 5 / 9),
        ),
        Shown("°C", 1.0, digits=2, decimals=0, offset=273.15),
        Shown("°F", 5 / 9, digits=2, decimals=0, offset=459.67 * 5 / 9),
        "20 degC or 68 degF",
    ),
    Kind.SHARE: Policy(
        "1",
        _ONE,
        Shown("%", 0.01, digits=3, decimals=1),
        Shown("%", 0.01, digits=3, decimals=1),
        "85 % or 0.85",
    ),
    Kind.WRENCH: Policy(
        "1",
        _ONE,
        Shown("%", 0.01, digits=3, decimals=0, step=10.0),
        Shown("%", 0.01, digits=3, decimals=0, step=10.0),
        "20 % or 0.2",
    ),
    Kind.RATIO: Policy(
        "1",
        (Unit("", 1.0),),
        Shown("", 1.0, digits=3, decimals=3),
        Shown("", 1.0, digits=3, decimals=3),
        "1.5",
    ),
    Kind.COUNT: Policy(
        "1",
        (Unit("", 1.0),),
        Shown("", 1.0, digits=1, decimals=1),
        Shown("", 1.0, digits=1, decimals=1),
        "3",
    ),
}

AMBIGUOUS: dict[str, str] = {
    "tph": "tons differ: write t/h (metric, 1000 kg), short ton/h (2000 lb) or long ton/h",
    "ton": "tons differ: write t (metric, 1000 kg), short ton (2000 lb) or long ton",
    "ton/h": "tons differ: write t/h (metric, 1000 kg), short ton/h (2000 lb) or long ton/h",
    "tons": "tons differ: write t (metric, 1000 kg), short ton (2000 lb) or long ton",
}
"""Spellings refused because two readings are in use, with the question back to the user."""
