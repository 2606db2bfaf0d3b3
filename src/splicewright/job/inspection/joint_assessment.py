"""A damaged joint as it was judged: plates, margin, tension, tonnage; kept as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.job.inspection.tonnage import Tonnage
from splicewright.joint import End
from splicewright.joint.inspection.damage import Zipper
from splicewright.joint.inspection.verdict import Verdict
from splicewright.quantities import Record, Sentence
from splicewright.quantities.result_json import read_kept

if TYPE_CHECKING:
    from pydantic import TypeAdapter


NOT_YET = Record(())


@dataclass(frozen=True, slots=True)
class PlateLoad:
    """One plate, where the joint is worst off; loads [N].

    number : from the left, facing in the direction of travel
    y : its middle, from the centreline, left positive [m]
    state : as it was found, in words; "" where nothing was found
    kept : share of a sound plate's strength that is left [1]
    load : in the typical case; low, high : over all cases; None where nothing balances
    used : largest load over what the plate may carry; None for a lost plate [1]
    """

    number: int
    y: float
    state: str
    kept: float
    load: float | None
    low: float | None
    high: float | None
    used: float | None


@dataclass(frozen=True, slots=True)
class JointAssessment:
    """The answer to "can it run?".

    width : of the belt, pitch, plate_width : of its plates [m]; rated_pull : what a sound
        plate may carry, with the rating's allowance for uneven shares [N]
    hinged : a pin between the ends; else plates are one piece across them, alike on both
    torn : width torn off at the left and right of the leading, then of the trailing end [m]
    end : belt end that is worst off; place : of the loop where it is
    plates : of the leading end, from the left; trailing : of the trailing end, from the left
    margin : permitted over actual load of the worst plate, lowest and highest [1]
    sound_margin : the same of the joint without damage [1]
    peak : largest pull, at starting, over the running pull [1]
    running, largest : largest running tension now, and the largest the joint carries with
        every plate within its rating, the lowest of all cases [N/m]
    largest_typical : the same in the typical case [N/m]
    tonnage : None where there is no conveyor, or where not even the empty belt may run
    next_plate, next_end : which plate goes next, from the left
    zipper : whether the joint opens plate by plate; losses_to_open : plates lost till then
    """

    name: str
    invented: bool
    verdict: Verdict
    width: float
    pitch: float
    plate_width: float
    rated_pull: float
    hinged: bool
    torn: tuple[tuple[float, float], tuple[float, float]]
    end: End
    place: str
    plates: tuple[PlateLoad, ...]
    trailing: tuple[PlateLoad, ...]
    margin: tuple[float, float]
    sound_margin: tuple[float, float]
    peak: float
    running: float
    largest: float
    largest_typical: float
    tonnage: Tonnage | None
    full_rate: float | None
    next_plate: int
    next_end: End
    zipper: Zipper
    losses_to_open: int
    reasons: tuple[Sentence, ...]
    assumptions: tuple[Sentence, ...]
    decision: str
    worksheet: Record = NOT_YET

    def of(self, end: End) -> tuple[PlateLoad, ...]:
        """The plates of one belt end."""
        return self.plates if end is End.LEADING else self.trailing

    def to_json(self) -> str:
        """The assessment as JSON; `from_json` gives it back without loss."""
        return _adapter().dump_json(self).decode()

    @classmethod
    def from_json(cls, text: str | bytes) -> JointAssessment:
        """Read an assessment back.

        Raises InputError: the text is no assessment.
        """
        return read_kept(_adapter(), text, "assessment")


_ADAPTERS: list[TypeAdapter[JointAssessment]] = []


def _adapter() -> TypeAdapter[JointAssessment]:
    """The serialiser, built once."""
    if not _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS.append(TypeAdapter(JointAssessment))
    return _ADAPTERS[0]
