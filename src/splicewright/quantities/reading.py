"""Reading what people type: "19/32 in", "1-3/8 in", "900 mm", "80 N/mm", "6 ft 3 in".

`read` gives one SI number, `read_range` also takes "10 to 12 mm".
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction
from typing import NoReturn

from splicewright.errors import BeyondError, Fault, UnitError
from splicewright.quantities.limits import beyond
from splicewright.quantities.units import AMBIGUOUS, POLICY, Kind

_LONGEST = 80
_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
    (?:(?:(?P<whole>\d+)(?:\s+|\s*-\s*|(?=[⁄])))?(?P<top>\d+)\s*[/⁄]\s*(?P<bottom>\d+)
      |(?P<plain>(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?))
    \s*""",
    re.VERBOSE,
)
_RANGE = re.compile(r"^(?P<low>.+?)\s+to\s+(?P<high>.+)$")
_DASHED = re.compile(
    r"^(?P<low>\d+(?:\.\d+)?)\s*(?:-|\.{2,3})\s*(?P<high>\d+(?:\.\d+)?(?![\d./⁄]|\s*[/⁄]).*)$"
)
"""9-10 mm, 9 ... 10 mm; but 1-3/8 in is a whole number with its fraction."""
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_THOUSANDS = re.compile(r"(?<![\d.])[1-9]\d{0,2}(?:,\d{3})+(?![\d,])")
_VAGUE = re.compile(r"^(?:about|approx(?:imately|\.)?|around|circa|ca\.?|~|≈)\s*(.+)$", re.I)
_HOURS = re.compile(r"(?<![A-Za-z])(?:hrs?|hours?)\b", re.I)


def read(text: object, kind: Kind, key: str = "") -> float:
    """Read one number with its unit and give it in SI, if it can be one of its kind at all.

    text : what was typed: "11.5 mm", "1-3/8 in", "6 ft 3 in"; a bare number only where the
        kind has no unit
    kind : what it must measure
    key : name of the field, for the error
    Returns float, SI, finite, within the kind's `LIMITS`. Raises UnitError: not a number, no unit,
    a unit of another kind, not finite. Raises BeyondError: larger or smaller than anything of the
    kind.
    """
    value = read_kept(text, kind, key)
    say = beyond(value, kind)
    if say:
        raise BeyondError(Fault(key, f'"{text}" {say}'))
    return value


def read_kept(text: object, kind: Kind, key: str = "") -> float:
    """As `read`, of a text that was recorded when no limits were: what is kept stays readable."""
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        _refuse(key, f"{text!r} is no number with a unit", kind)
    if not isinstance(text, str):
        if "" not in _factors(kind):
            _refuse(key, f"{text!r} has no unit", kind)
        if not math.isfinite(text):
            _refuse(key, f"{text!r} is not a finite number", kind)
        return float(text)
    if len(text) > _LONGEST:
        _refuse(key, f"a text of {len(text)} characters is no number with a unit", kind)
    plain = _plain(text)
    total, position, parts = 0.0, 0, 0
    negative = False
    while position < len(plain):
        match = _NUMBER.match(plain, position)
        if match is None:
            _refuse(key, f'"{text}" cannot be read as a number with a unit', kind)
        if parts and (match["sign"] or kind not in {Kind.LENGTH, Kind.DISTANCE, Kind.TIME}):
            _refuse(key, f'"{text}" holds more than one number', kind)
        number = _number(match, key, text, kind)
        negative = negative or match["sign"] == "-"
        unit, position = _unit(plain, match.end())
        factor, offset = _find(unit, kind, key, text)
        total += number * factor + offset
        parts += 1
    if not parts:
        _refuse(key, "is empty", kind)
    if negative:
        total = -total if kind is not Kind.TEMPERATURE else _below_zero(plain, kind, key, text)
    if not math.isfinite(total):
        _refuse(key, f'"{text}" is not a finite number', kind)
    return total


def read_range(text: object, kind: Kind, key: str = "") -> tuple[float, float, float]:
    """Read a number or a range as people write it and give (likely, low, high) in SI.

    A plain number is its own low and high; "10 to 12 mm" and "10-12 mm" have their middle as the
    likely value. "9,5 mm" is 9.5 mm, "200 t/hr" is 200 t/h.

    Raises UnitError: as `read`; also when the low end lies above the high end, a comma may part
    thousands, or the number is only about so much: then its span is asked for.
    """
    match = None
    if isinstance(text, str) and len(text) <= _LONGEST:
        text = _as_people_write(text, kind, key)
        match = _RANGE.match(text) or _DASHED.match(text)
    if match is None:
        value = read(text, kind, key)
        return value, value, value
    high = read(match["high"], kind, key)
    low_text = match["low"]
    if _unit(_plain(low_text), _end_of_number(low_text))[0] == "":
        low_text += " " + _plain(match["high"])[_end_of_number(match["high"]) :]
    low = read(low_text, kind, key)
    if low > high:
        _refuse(key, f'"{text}" runs from high to low', kind)
    return (low + high) / 2, low, high


def _as_people_write(text: str, kind: Kind, key: str) -> str:
    """The same in the form that `read` takes; in one sentence what to write where it cannot be."""
    plain = _plain(text)
    vague = _VAGUE.match(plain)
    if vague is not None:
        say = f'"{text}" is no number alone: write "{vague[1]}", or the span it lies in, as in'
        _refuse(key, f'{say} "10 to 12 mm"', kind)
    thousands = _THOUSANDS.search(plain)
    if thousands is not None:
        many, few = thousands[0].replace(",", ""), thousands[0].replace(",", ".", 1)
        _refuse(key, f'"{text}" may mean {many} or {few}: write one of them', kind)
    # What is read without help stays as it was typed, so that a fault can quote it.
    helped = _HOURS.sub("h", _COMMA.sub(".", plain))
    return helped if helped != plain or _DASHED.match(plain) else text


def _plain(text: str) -> str:
    """Fold typographic signs (½, ″, −, ², no-break space) into the plain ones."""
    spaced = re.sub(r"(?<=\d)(?=[¼½¾⅐-⅞])", " ", text)
    folded = unicodedata.normalize("NFKC", spaced)
    for fancy, simple in (
        ("−", "-"),
        ("–", "-"),
        ("′′", '"'),
        ("″", '"'),
        ("”", '"'),
        ("′", "'"),
        ("’", "'"),
        ("·", " "),
        ("*", " "),
        ("^", ""),
    ):
        folded = folded.replace(fancy, simple)
    return re.sub(r"\s+", " ", folded).strip()


def _end_of_number(text: str) -> int:
    match = _NUMBER.match(_plain(text))
    return match.end() if match else 0


def _number(match: re.Match[str], key: str, text: str, kind: Kind) -> float:
    if match["plain"] is not None:
        return float(match["plain"])
    bottom = int(match["bottom"])
    if bottom == 0:
        _refuse(key, f'"{text}" divides by zero', kind)
    return float(int(match["whole"] or 0) + Fraction(int(match["top"]), bottom))


def _unit(plain: str, start: int) -> tuple[str, int]:
    """The unit text from `start` up to the next number, and where it ends."""
    match = re.compile(r"[^\d\-+.]*(?:(?<=[A-Za-z])[23](?![\d.])[^\d\-+.]*)*").match(plain, start)
    assert match is not None  # the pattern also matches the empty text
    return match.group().strip(), match.end()


def _factors(kind: Kind) -> dict[str, tuple[float, float]]:
    return {unit.name: (unit.factor, unit.offset) for unit in POLICY[kind].accepted}


def _find(unit: str, kind: Kind, key: str, text: str) -> tuple[float, float]:
    accepted = _factors(kind)
    for spelling in (unit, unit.replace(" / ", "/"), unit.replace(" ", "")):
        if spelling in accepted:
            return accepted[spelling]
    # Capitals are forgiven, but a small m is never read as mega: "5 mN" is not 5 MN.
    lower = [
        name
        for name in accepted
        if name.lower() == unit.lower() and len(unit) > 1 and (name[0], unit[0]) != ("M", "m")
    ]
    if len(lower) == 1:
        return accepted[lower[0]]
    if unit.lower() in AMBIGUOUS:
        _refuse(key, f'"{text}": {AMBIGUOUS[unit.lower()]}', kind)
    if unit == "":
        _refuse(key, f'"{text}" has no unit', kind)
    if "," in unit:
        _refuse(key, f'"{text}" has a comma: write decimals with a point', kind)
    _refuse(key, f'"{text}" has the unit "{unit}"', kind)


def _below_zero(plain: str, kind: Kind, key: str, text: str) -> float:
    """A negative temperature: the sign belongs to the number, not to the kelvins."""
    match = _NUMBER.match(plain)
    assert match is not None  # read() matched the same text before
    factor, offset = _find(_unit(plain, match.end())[0], kind, key, text)
    value = -_number(match, key, text, kind) * factor + offset
    if value < 0:
        _refuse(key, f'"{text}" is below absolute zero', kind)
    return value


def _refuse(key: str, wording: str, kind: Kind) -> NoReturn:
    policy = POLICY[kind]
    units = ", ".join(unit.name for unit in policy.accepted if unit.name) or "a plain number"
    raise UnitError(
        Fault(key, f"{wording}; accepted is {kind.noun} such as {policy.example} (units: {units})")
    )
