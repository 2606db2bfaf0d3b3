"""What is to be measured in photographs of a thing, and what somebody took of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from splicewright.store.facts.facts import Stored
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.facts.photo_facts import PhotographMeasured, ToMeasure


@dataclass(frozen=True, slots=True)
class Measuring:
    """One measuring: its photographs, and who signed for its values.

    photographs : facts "photograph added", one for each picture; asked : what the first says
    signed : the last fact "photograph measured"; None while it waits
    """

    measuring: UUID
    asked: ToMeasure
    photographs: tuple[Stored, ...]
    signed: Stored | None

    @property
    def digests(self) -> tuple[str, ...]:
        """Of the photographs."""
        return tuple(_photo(stored).photo for stored in self.photographs)

    @property
    def whole(self) -> bool:
        """Whether all its photographs have come."""
        return len(self.photographs) >= self.asked.photographs

    @property
    def first(self) -> PhotoAdded:
        """What its first photograph says: of what, at which step or inspection."""
        return _photo(self.photographs[0])


def measurings(facts: Iterable[Stored]) -> tuple[Measuring, ...]:
    """The measurings among the facts about one thing, in the order they came."""
    taken: dict[UUID, dict[str, Stored]] = {}
    signed: dict[UUID, Stored] = {}
    for stored in facts:
        event = stored.what
        if stored.withdrawn:
            continue
        if isinstance(event, PhotoAdded) and event.measure is not None:
            # The same picture sent twice is one photograph.
            taken.setdefault(event.measure.measuring, {}).setdefault(event.photo, stored)
        elif isinstance(event, PhotographMeasured):
            signed[event.measuring] = stored
    measurements = []
    for id_, pictures in taken.items():
        photographs = tuple(pictures.values())
        asked = _photo(photographs[0]).measure
        assert asked is not None
        measurements.append(Measuring(id_, asked, photographs, signed.get(id_)))
    return tuple(measurements)


def _photo(stored: Stored) -> PhotoAdded:
    photo = stored.what
    assert isinstance(photo, PhotoAdded)
    return photo
