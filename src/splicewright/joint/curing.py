"""Making a vulcanised joint good: dew point, drying, cure time, and where the press stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.joint.fasteners.ranges import StepSize
from splicewright.plant import Conveyor, Work
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import Figure, Given, Kind, Worksheet, formula, stated

_ZERO = 273.15
_MAGNUS, _BASE = 17.62, 243.12
AIR_ROWS = (5, 10, 15, 20, 25, 30, 35, 40)
"""Air temperatures of the table that is carried [°C]."""
HUMIDITY_COLUMNS = (40, 50, 60, 70, 80, 90, 100)
"""Humidities of the table that is carried [%]."""


@formula(
    "T_d = b g/(a - g), g = ln φ + a t/(b + t)",
    gives=("T_d", Kind.TEMPERATURE),
    symbols={"air": "t", "humidity": "φ"},
    source="magnus",
    limits="a = 17.62, b = 243.12 °C, over water, -45 to 60 °C; both temperatures in °C there",
)
def dew_point(air: float, humidity: float) -> float:
    """Temperature at which dew forms.

    Parameters
    ----------
    air : [K]
    humidity : relative, above 0 to 1 [-]

    Returns
    -------
    float [K]
    """
    t = air - _ZERO
    g = math.log(humidity) + _MAGNUS * t / (_BASE + t)
    return _ZERO + _BASE * g / (_MAGNUS - g)


@formula(
    "T_f = T_d + ΔT",
    gives=("T_f", Kind.TEMPERATURE),
    symbols={"dew": "T_d", "margin": "ΔT"},
    source="practice",
)
def least_face(dew: float, margin: float) -> float:
    """Coldest that an open face may be.

    Parameters
    ----------
    dew : dew point [K]
    margin : above it [K of difference]
    """
    return dew + margin


@formula(
    "l_P = l_o + B |tan β - tan γ| + 2 l_b",
    gives=("l_P", Kind.DISTANCE),
    symbols={"over": "l_o", "width": "B", "bias": "β", "press_bias": "γ", "beyond": "l_b"},
    source="step-joint",
    limits="platens side by side along the belt; a press cut at the bias of the joint needs less",
)
def press_needed(over: float, width: float, bias: float, press_bias: float, beyond: float) -> float:
    """Length along the belt that the platens must cover.

    Parameters
    ----------
    over : overlap of the ends [m]
    width : of the belt [m]
    bias, press_bias : of joint and platens, to the square line [rad]
    beyond : the joint, at each end of it [m]
    """
    return over + width * abs(math.tan(bias) - math.tan(press_bias)) + 2 * beyond


@formula(
    "n_H = ⌈(l_P - l_h)/(l_p - l_h)⌉",
    gives=("n_H", Kind.COUNT),
    symbols={"needed": "l_P", "platen": "l_p", "lap": "l_h"},
    source="geometry",
    limits="each heat laps over the one before",
)
def heats_of(needed: float, platen: float, lap: float) -> float:
    """Heats, one after another, that cover a joint [1].

    Parameters
    ----------
    needed : length to cover [m]
    platen : length of the press along the belt [m]
    lap : of one heat over the next [m]; less than the platen
    """
    return max(1.0, float(math.ceil((needed - lap) / (platen - lap) - 1e-9)))


@formula(
    "t_d = n_c t_c",
    gives=("t_d", Kind.TIME),
    symbols={"coats": "n_c", "each": "t_c"},
    source="range",
)
def drying_time(coats: float, each: float) -> float:
    """Drying of all coats, one after another [s]; `each` [s]."""
    return coats * each


@dataclass(frozen=True, slots=True)
class Curing:
    """What the making of a vulcanised joint is held to.

    air, humidity, dew, face : where the joint is made [K, -, K, K]; face: the coldest an open face
        may be
    faces : the same for each of AIR_ROWS and HUMIDITY_COLUMNS [K]
    drying : of all coats together [s], None where the range does not state it
    press_length : to be covered along the belt, beyond: of it past each end of the joint [m]
    platen : length of the press [m], None when nobody said
    heats : how many; places: middle of each from the middle of the joint, with the travel [m]
    """

    air: Figure
    humidity: Figure
    dew: Figure
    face: Figure
    faces: tuple[tuple[float, ...], ...]
    drying: Figure | None
    press_length: Figure
    beyond: Figure
    platen: Figure | None
    heats: Figure
    places: tuple[float, ...]


def heats_asked(size: StepSize, over: float, width: float, work: Work) -> int:
    """How many heats a joint takes with the press of a job, as `curing` works them; for a choice
    that is made before anything stands on a worksheet.

    Parameters
    ----------
    over, width : overlap of the ends, and belt width [m]
    """
    past, lap = (
        assumption.value if value is None else value
        for value, assumption in (
            (size.press_beyond, assume.PRESS_BEYOND),
            (size.heat_overlap, assume.HEAT_OVERLAP),
        )
    )
    turned = work.press_bias.value if work.press_bias is not None else 0.0
    needed = press_needed(over, width, size.bias, turned, past + size.transition)
    platen = work.press_length.value if work.press_length is not None else None
    return 1 if _in_one(platen, needed, lap) else int(heats_of(needed, platen or needed, lap))


def _in_one(platen: float | None, needed: float, lap: float) -> bool:
    """Whether one heat is counted: the press covers the joint, or none is known that could."""
    return platen is None or platen >= needed or platen <= lap


def curing(
    size: StepSize, over: Figure, width: Figure, conveyor: Conveyor, work: Work, sheet: Worksheet
) -> Curing:
    """Work out dew point, drying and heats of a vulcanised joint.

    Parameters
    ----------
    size : of the range
    over, width : overlap of the ends, and belt width [m]
    conveyor, work : for the air; for air, humidity and press where the work file states them
    sheet : takes the lines
    """
    air = work.air or conveyor.ambient
    humidity = work.humidity or assuming("air.humidity", "humidity of the air", assume.HUMIDITY)
    margin = _or(
        size.dew_margin,
        "dew_margin",
        "faces above the dew point [K]",
        Kind.RATIO,
        assume.DEW_MARGIN,
    )
    dew = sheet.work("cure.dew", "dew point", dew_point, air=air, humidity=humidity)
    beyond = _or(
        size.press_beyond,
        "press_beyond",
        "press beyond the joint, each end",
        Kind.LENGTH,
        assume.PRESS_BEYOND,
    )
    past = sheet.total(
        "cure.beyond",
        "press beyond the outermost step, each end",
        [
            beyond,
            stated(
                "range.transition",
                "covers beyond the cord ends",
                size.transition,
                Kind.LENGTH,
                f"range data, {size.name}",
            ),
        ],
    )
    bias = stated("range.bias", "bias angle", size.bias, Kind.ANGLE, f"range data, {size.name}")
    needed = sheet.work(
        "cure.press_length",
        "length the press must cover",
        press_needed,
        over=over,
        width=width,
        bias=bias,
        press_bias=work.press_bias if work.press_bias is not None else 0.0,
        beyond=past,
    )
    platen = work.press_length
    lap = _or(
        size.heat_overlap, "heat_overlap", "overlap of heats", Kind.LENGTH, assume.HEAT_OVERLAP
    )
    if platen is None or _in_one(platen.value, needed.value, lap.value):
        heats = sheet.found(
            "cure.heats",
            "heats",
            1.0,
            Kind.COUNT,
            "one, where the press covers the joint",
            [needed],
        )
    else:
        heats = sheet.work("cure.heats", "heats", heats_of, needed=needed, platen=platen, lap=lap)
    drying = None
    if size.coats is not None and size.drying is not None:
        drying = sheet.work(
            "cure.drying",
            "drying of all coats",
            drying_time,
            coats=float(size.coats),
            each=stated(
                "range.drying",
                "drying of a coat",
                size.drying,
                Kind.TIME,
                f"range data, {size.name}",
            ),
        )
    return Curing(
        sheet.note(air),
        sheet.note(humidity),
        dew,
        sheet.work("cure.face", "coldest an open face may be", least_face, dew=dew, margin=margin),
        tuple(
            tuple(dew_point(_ZERO + t, h / 100) + margin.value for h in HUMIDITY_COLUMNS)
            for t in AIR_ROWS
        ),
        drying,
        needed,
        past,
        sheet.note(platen) if platen is not None else None,
        heats,
        _places(int(heats.value), needed.value, platen.value if platen is not None else None),
    )


def _places(heats: int, needed: float, platen: float | None) -> tuple[float, ...]:
    """Middle of each heat: spread so that the outermost reach the ends of what is covered."""
    if heats == 1 or platen is None:
        return (0.0,)
    step = (needed - platen) / (heats - 1)
    return tuple((n - (heats - 1) / 2) * step for n in range(heats))


def _or(value: float | None, key: str, label: str, kind: Kind, taken: assume.Assumption) -> Given:
    """What the range states, else a named assumption."""
    if value is None:
        return assuming(f"cure.{key}", label, taken)
    return stated(f"range.{key}", label, value, kind, "range data")


def cure_held(size: StepSize, thick: float, temperature: float | None) -> float | None:
    """How long a belt is held in the press, by the maker's data [s]; None where they are silent.

    Between two temperatures of the table the time of the colder one, between two thicknesses that
    of the thicker one: the longer time.

    Parameters
    ----------
    size : of the range
    thick : thickest place of the belt [m]
    temperature : of the press [K]; None for the range's own
    """
    held = size.cure_temperature if temperature is None else temperature
    if not size.cures:
        return size.cure_time if held >= size.cure_temperature - 0.01 else None
    fitting = [
        row
        for row in size.cures
        if row.temperature <= held + 0.01 and row.thickness_up_to >= thick - 1e-9
    ]
    best = min(fitting, key=lambda row: (-row.temperature, row.thickness_up_to), default=None)
    return None if best is None else best.time
