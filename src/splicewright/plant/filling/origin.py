"""From what stands in a file, or from a named assumption, to a `Given` with its story."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.files.fields import Entry
    from splicewright.plant.assumptions import Assumption


def stated_in(entry: Entry, key: str, label: str, kind: Kind) -> Given:
    """A number from the file: measured or stated, with its note."""
    origin = Origin.MEASURED if entry.measured else Origin.FILE
    return Given(key, label, entry.value, kind, origin, entry.note, entry.low, entry.high, entry.sd)


def if_stated(entry: Entry | None, key: str, label: str, kind: Kind) -> Given | None:
    """What the file says, None where it is silent."""
    return None if entry is None else stated_in(entry, key, label, kind)


def assuming(key: str, label: str, taken: Assumption, scale: float = 1.0) -> Given:
    """A named assumption; `scale` where it is stated per metre of something."""
    return Given(
        key,
        label,
        taken.value * scale,
        taken.kind,
        Origin.ASSUMED,
        taken.reason,
        taken.low * scale,
        taken.high * scale,
    )


def either(entry: Entry | None, key: str, label: str, taken: Assumption) -> Given:
    """What the file says, else the assumption."""
    return (
        assuming(key, label, taken) if entry is None else stated_in(entry, key, label, taken.kind)
    )


def worked(
    key: str, label: str, kind: Kind, reason: str, value: float, low: float, high: float
) -> Given:
    """An assumption that rests on another number of the file."""
    return Given(key, label, value, kind, Origin.ASSUMED, reason, low, high)
