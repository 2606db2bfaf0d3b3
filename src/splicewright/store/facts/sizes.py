"""Whether the numbers of a fact can be what they say they are; asked before it is recorded.

Facts recorded before this was asked stay as they are: it is not asked when they are read.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass

from splicewright.errors import Fault
from splicewright.quantities import Kind
from splicewright.quantities.limits import beyond
from splicewright.store.facts.facts import Correction
from splicewright.store.facts.job_facts import DeviationSigned, ValueRecorded
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.facts.kinds import What
from splicewright.store.facts.photo_facts import ValueTaken

_LENGTHS = (
    "place",
    "station",
    "start",
    "length",
    "across",
    "belt_length",
    "width",
    "pitch",
    "plate_width",
    "pin",
    "pin_now",
    "pin_new",
    "torn_left",
    "torn_right",
    "limit",
    "new",
)
_TIMES = ("took", "planned", "retighten_after", "inspect_after", "next_after")
KIND_OF_FIELD: dict[str, Kind] = {
    **dict.fromkeys(_LENGTHS, Kind.DISTANCE),
    **dict.fromkeys(_TIMES, Kind.TIME),
    "speed": Kind.SPEED,
    "rated": Kind.WIDTH_FORCE,
    "starting_rated": Kind.WIDTH_FORCE,
    "breaking": Kind.WIDTH_FORCE,
    **dict.fromkeys(("margin_low", "margin_high"), Kind.SHARE),
    "count": Kind.COUNT,
}
"""What the numbers measure that do not say so themselves, by the name of their field."""
_SAYS = (ReadingTaken, ValueRecorded, DeviationSigned, ValueTaken)
"""What says by its `measure` what its own numbers are."""
_ITS_OWN = ("value", "low", "high", "measured", "half_width", "taken")
_ROUNDING = (1e-20, 1e-9)
"""What arithmetic leaves where a difference or a place should be zero, as in 0.1 + 0.2 - 0.3."""


def beyond_its_kind(event: What, key: str = "what") -> list[Fault]:
    """One fault for each number of the fact that cannot be what it measures."""
    if isinstance(event, Correction):
        return [] if event.instead is None else beyond_its_kind(event.instead, f"{key}.instead")
    return _beyond(event, key)


def _beyond(item: object, key: str) -> list[Fault]:
    if not is_dataclass(item):
        return []
    faults = []
    for field in fields(item):
        value = getattr(item, field.name)
        if isinstance(value, tuple):
            for number, part in enumerate(value):
                faults += _beyond(part, f"{key}.{field.name}.{number}")
        kind = KIND_OF_FIELD.get(field.name)
        if isinstance(item, _SAYS) and field.name in _ITS_OWN:
            kind = item.measure
        if kind is not None and isinstance(value, float):
            say = beyond(value, kind)
            if say and not _ROUNDING[0] < abs(value) < _ROUNDING[1]:
                faults.append(Fault(f"{key}.{field.name}", f"{value:g} {say}"))
    return faults
