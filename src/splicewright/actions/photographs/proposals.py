"""What photographs in the register propose, and what somebody takes of it.

A proposal fills nothing by itself: a person looks at the outline on the picture, accepts each value
or overrules it, and signs. What a value fills is a box of the step at which it was photographed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from splicewright.errors import Fault, InputError
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.quantities import Kind, System, read
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import PlateInspected
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.facts.photo_facts import (
    TAKEN,
    PhotographMeasured,
    Shows,
    ValueTaken,
    WhichEnd,
)

if TYPE_CHECKING:
    from splicewright.store.present.measurings import Measuring

SHOWN_AT: dict[str, Shows] = {
    "mark": "line",
    "cut": "cut",
    "punch": "holes",
    "butt": "gap",
    "seat": "plates",
    "couple": "gap",
    "check": "plates",
    "check_second": "plates",
}
"""Steps of a job at which a photograph takes the place of the tape, and what it shows first."""
_FILLED_AT: dict[Shows, tuple[str, ...]] = {
    "line": ("mark",),
    "cut": ("cut",),
    "plates": ("check", "check_second"),
    "gap": ("check", "check_second"),
}
"""Steps that have the boxes which such a photograph fills."""


@dataclass(frozen=True, slots=True)
class MeasureAsked:
    """Photographs to be measured, by digest, and what the crew read off the sheets [m].

    job, joint : whose plan they are compared with; one of them, or neither
    """

    photographs: tuple[str, ...]
    shows: Shows
    end: WhichEnd
    bar: float
    cross_bar: float | None = None
    reading: float = 0.25e-3
    job: str | None = None
    joint: str | None = None


@dataclass(frozen=True, slots=True)
class Proposed:
    """One value: measured, with the half-width of its 95 % range [SI].

    planned : by the plan, None where it says nothing
    what : name of the reading of a step that it fills, "" for none; box : which of its boxes
    """

    key: str
    label: str
    measure: Kind
    value: float
    half_width: float
    planned: float | None = None
    what: str = ""
    box: int = 0


@dataclass(frozen=True, slots=True)
class Proposal:
    """What photographs propose, as it is kept with the fact.

    values, covariance : in one order [SI]
    missing : plates where nothing like one is seen; off : that seem bent or to stand off
    unseen : what else was looked for and not seen, in words
    sizes : of the pictures as measured [px]; outlines : lines on each, by name [px]
    sheets : numbers seen; focal_lengths : of the cameras as solved for [px]
    """

    asked: MeasureAsked
    sides: str
    standing: str
    version: str
    values: tuple[Proposed, ...]
    covariance: tuple[tuple[float, ...], ...]
    missing: tuple[int, ...]
    off: tuple[int, ...]
    sizes: tuple[tuple[int, int], ...]
    outlines: tuple[dict[str, tuple[tuple[float, float], ...]], ...]
    sheets: tuple[int, ...]
    focal_lengths: tuple[float, ...]
    corner_spread: float
    unseen: tuple[str, ...] = ()

    def to_data(self) -> dict[str, Any]:
        """As plain data; `from_data` gives it back."""
        from pydantic import TypeAdapter

        return cast("dict[str, Any]", TypeAdapter(Proposal).dump_python(self, mode="json"))

    def to_json(self) -> bytes:
        """As it is kept."""
        from pydantic import TypeAdapter

        return TypeAdapter(Proposal).dump_json(self)

    @classmethod
    def from_data(cls, data: Any) -> Proposal:
        """Read what `to_data` or, as text or bytes, what `to_json` gave."""
        from pydantic import TypeAdapter

        adapter = TypeAdapter(Proposal)
        if isinstance(data, bytes | str):
            return adapter.validate_json(data)
        return adapter.validate_python(data)


def asked_of_measuring(measuring: Measuring) -> MeasureAsked:
    """What is asked for a measuring of the register."""
    asked, first = measuring.asked, measuring.first
    thing = {str(first.of): str(first.about)}
    return MeasureAsked(
        measuring.digests,
        asked.shows,
        asked.end,
        asked.bar,
        asked.cross_bar,
        asked.reading,
        job=thing.get("job"),
        joint=thing.get("joint"),
    )


def taken(
    proposal: Proposal,
    digest: str,
    measuring: Measuring,
    accepted: Sequence[str],
    own: Mapping[str, str],
    missing: Sequence[int],
    system: System,
) -> list[What]:
    """The facts of what somebody takes of a proposal: their signature, and the boxes it fills.

    proposal, digest : as kept
    measuring : of the register
    accepted : keys of the values taken as they are
    own : by key, what somebody measured instead, as typed
    missing : plates confirmed to be missing
    system : units in which an accepted value is written into a box
    Raises InputError: nothing is taken, or something typed cannot be read; each with its key.
    """
    first = measuring.first
    faults: list[Fault] = []
    values, boxes = [], []
    for value in proposal.values:
        typed = own.get(value.key, "").strip()
        counts, written = None, ""
        if typed:
            try:
                counts, written = read(typed, value.measure, value.key), typed
            except InputError as error:
                faults += error.faults
                continue
        elif value.key in accepted:
            written = shown_length(value.value, system)
            counts = read(written, value.measure, value.key) if value.what else value.value
        values.append(
            ValueTaken(
                value.key, value.label, value.measure, value.value, value.half_width, counts, typed
            )
        )
        fills = first.of is Stream.JOB and first.step in _FILLED_AT.get(proposal.asked.shows, ())
        if counts is not None and value.what and fills:
            boxes.append(
                ValueRecorded(
                    first.about, first.step, value.what, value.measure, counts, written, value.box
                )
            )
    strange = set(missing) - set(proposal.missing)
    if strange:
        faults.append(Fault("missing", f"plate {min(strange)} was not proposed as missing"))
    if not faults and not missing and all(value.taken is None for value in values):
        faults.append(Fault("take", "nothing is taken: accept a value, or type your own"))
    if faults:
        raise InputError(*faults)
    inspection = first.inspection or (measuring.measuring if first.of is Stream.JOINT else None)
    lost: list[What] = []
    if inspection is not None:
        end = End.LEADING if proposal.asked.end == "leading" else End.TRAILING
        lost = [
            PlateInspected(
                first.about,
                inspection,
                end,
                number,
                PlateState.LOST,
                "seen in a photograph, confirmed",
            )
            for number in missing
        ]
    signed = PhotographMeasured(
        first.of,
        first.about,
        measuring.measuring,
        digest,
        tuple(values),
        TAKEN,
        proposal.standing,
        proposal.version,
        first.step,
        inspection,
        tuple(missing),
    )
    return [signed, *boxes, *lost]


def shown_length(value: float, system: System) -> str:
    """A length to a tenth of a millimetre, or of some hundredth of an inch: finer than a tape."""
    return f"{value / 0.0254:.3f} in" if system == "inch" else f"{value * 1e3:.1f} mm"
