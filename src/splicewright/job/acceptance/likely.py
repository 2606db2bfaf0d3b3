"""Where a value read right is expected: the one table that catches a slip of unit or digit.

Far from it the page asks before it writes down, and the register counts the value as not as asked
until somebody says that it is right (`ValueRecorded.sure`). Nothing is refused: what is true can be
said. Limits are another thing: they say what a joint may have.

A slip is a factor: 10 for a digit, 25.4 for inches read as millimetres, 12 for feet as inches, 3.28
for metres as feet. Three times beside what is expected lies below all of them. Assumption of this
tool, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from splicewright.job.steps.readings import Reading
from splicewright.quantities import Kind

TIMES = 3.0
"""How many times what is expected is still likely [1]."""
SMALL_TIMES = 10.0
"""Of what is limited from one side only: where 1 mm is allowed, 5 mm is often found first [1]."""
NEAR = 40.0
"""Of temperatures, to each side [K]: a factor says nothing of them. Degrees Fahrenheit taken for
Celsius are further off wherever it is cured; in the open air only below 0 and above 30 degC."""
_WEATHER = (233.15, 473.15)
"""Of temperatures that nobody plans: -40 degC to 200 degC, the coldest sites to a platen [K]."""
PAIRED_FROM = 0.1
"""Boxes of one reading are held against each other from this length on [m]: below it one of them
may truly be many times the other."""
_THICKEST = 0.1
"""Of belts, joints and pins [m] (from memory: the thickest belts are half of it)."""
_ASTRAY = 10.0
"""The belt's width over the most that an edge is likely to lie off a line [1]: more is seen without
a string."""
_LENGTHS = {Kind.LENGTH, Kind.DISTANCE, Kind.TAPE}
FAR = "far from what is expected"
"""How a value stands that nobody said is right."""

Span = tuple[float | None, float | None]


def likely(reading: Reading, belt_width: float) -> Span:
    """The least and largest value that a reading is expected to have [SI]; None: no bound.

    | what the plan says of it | expected |
    | --- | --- |
    | lowest and highest | a third of the one to three times the other |
    | at most | up to ten times as much |
    | at least | a third of it to thirty times as much |
    | planned values, no limits | a third of the least to three times the largest |
    | a temperature | 40 K around the above; none said: -40 to 200 degC |
    | a thickness, nothing said | up to 100 mm |
    | off a line (a bow, an edge), nothing said | up to a tenth of the belt width |
    | another length, nothing said | up to three belt widths |
    | a share | 0 to 1 |

    belt_width : of the plan [m]
    """
    low, high = reading.low, reading.high
    alike = _LENGTHS if reading.kind in _LENGTHS else {reading.kind}
    stated = [value for _, value, kind in reading.limit.numbers if kind in alike and value > 0]
    if reading.kind is Kind.TEMPERATURE:
        known = [v for v in (low, high, *stated) if v is not None]
        return (min(known) - NEAR, max(known) + NEAR) if known else _WEATHER
    if high is not None:
        if low is None or low <= 0:
            return None, (SMALL_TIMES if reading.kind is Kind.LENGTH else TIMES) * high
        return low / TIMES, high * TIMES
    if low is not None and low > 0:
        return low / TIMES, low * TIMES * SMALL_TIMES
    if stated:
        return min(stated) / TIMES, max(stated) * TIMES
    if reading.kind is Kind.LENGTH:
        return None, _most(reading.what.lower(), belt_width)
    return (0.0, 1.0) if reading.kind is Kind.SHARE else (None, None)


def _most(what: str, belt_width: float) -> float:
    """The longest that is expected of a length of which nothing is said [m]."""
    if any(word in what for word in ("thickness", "thinnest")):
        return _THICKEST
    if any(word in what for word in ("bow of", "edge out of", "to string line")):
        return belt_width / _ASTRAY
    return TIMES * belt_width


def is_likely(span: Span, kind: Kind, value: float, before: Iterable[float]) -> bool:
    """Whether a value [SI] is where it is expected.

    span : from `likely`
    before : what stands in the boxes of the same reading with lower numbers [SI]
    """
    low, high = span
    if (low is not None and value < low) or (high is not None and value > high):
        return False
    return kind not in _LENGTHS or all(
        max(value, other) < PAIRED_FROM or max(value, other) <= TIMES * min(value, other)
        for other in before
    )


def far_off(
    readings: Iterable[Reading], values: Mapping[tuple[str, int], float], belt_width: float
) -> tuple[tuple[str, int], ...]:
    """The boxes (name, number) of a step whose values are far from what is expected.

    readings : as `asked_of` gives them; values : by name and box [SI]
    """
    boxes = []
    for reading in readings:
        span = likely(reading, belt_width)
        for box in range(1, reading.boxes + 1) if not reading.of_pair else ():
            value = values.get((reading.what, box))
            before = [values[p] for n in range(1, box) if (p := (reading.what, n)) in values]
            if value is not None and not is_likely(span, reading.kind, value, before):
                boxes.append((reading.what, box))
    return tuple(boxes)
