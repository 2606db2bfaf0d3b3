"""Values to write down at a step, with the limits they must keep."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.joint import MakingLimits, Size
from splicewright.joint.belt_end.centreline import READING
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.quantities import Figure, Kind, Sentence, as_wrench_sets, sentence


@dataclass(frozen=True, slots=True)
class Reading:
    """A value to write down: what, the limits it must keep [SI], and how many boxes.

    low, high : None where no limit is known; the reason then says who decides
    of_pair : what is judged is how far the two boxes of the reading before differ
    """

    what: str
    kind: Kind
    low: float | None
    high: float | None
    boxes: int
    limit: Sentence
    of_pair: bool = False


def square_check(limits: MakingLimits | None) -> Sentence:
    """How the square line is drawn and checked."""
    if limits is None:
        return sentence(
            "Square line across from the centreline. Check with two equal lengths "
            "from a point on the centreline to its ends. Mark both ends."
        )
    return sentence(
        "Square line across from the centreline. Check with two equal lengths from a "
        "point on the centreline, {back} behind the line, to its left and right end. "
        "Mark both ends.",
        back=limits.back,
    )


def equal_lengths(name: str, limit: Figure | None) -> tuple[Reading, ...]:
    """Two lengths that should be equal, and how far they may differ."""
    if limit is None:
        return (
            Reading(
                name,
                Kind.LENGTH,
                None,
                None,
                2,
                sentence("equal; limit by the maker, no published value"),
            ),
        )
    finer = "" if limit.value >= READING else ": by template only"
    return (
        Reading(name, Kind.LENGTH, None, None, 2, sentence("equal")),
        Reading(
            "Their difference",
            Kind.LENGTH,
            0.0,
            limit.value,
            1,
            sentence("at most {limit}" + finer + f" ({DERIVED})", limit=limit),
            of_pair=True,
        ),
    )


def torque_window(size: Size, limits: MakingLimits) -> tuple[float | None, float | None]:
    """A plate is taken as stiff as it is tightly clamped: the spread of both is the same."""
    if size.seat_torque is None:
        return None, None
    spread = as_wrench_sets(limits.tightness.smallest.value)
    return size.seat_torque * (1 - spread), size.seat_torque * (1 + spread)


def torque_said(size: Size, limits: MakingLimits) -> Sentence:
    """The torque and how far from it is still within: what the reading is judged by."""
    if size.seat_torque is None:
        return sentence("by the maker's instructions")
    return sentence(
        "{torque}, each within {spread} of it",
        torque=(size.seat_torque, Kind.TORQUE),
        spread=limits.tightness.smallest,
    )
