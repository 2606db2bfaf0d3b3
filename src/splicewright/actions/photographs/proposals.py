"""What photographs in the register propose, and what somebody takes of it.

A proposal fills nothing by itself: a person looks at the outline on the picture, accepts each value
or overrules it, and signs. What a value fills is a box of the step at which it was photographed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, System, read
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import End, PlateInspected, PlateState
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.facts.photo_facts import (
    TAKEN,
    PhotographMeasured,
    Shows,
    ValueTaken,
    WhichEnd,
)
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.actions.photographs.measuring import MeasuredEnd, MeasuredPlates
    from splicewright.job import JointPlan
    from splicewright.photographs.arrays import Array
    from splicewright.photographs.belt_end import EndMeasured
    from splicewright.store import Register
    from splicewright.store.present.measurings import Measuring

SHOWN_AT: dict[str, Shows] = {
    "cut": "cut",
    "seat": "plates",
    "check": "plates",
    "check_second": "plates",
}
"""Steps of a job at which a photograph takes the place of the tape, and what it shows."""
_POINTS = 160
"""Of one line of an outline that is kept: as many as a screen shows."""


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


def propose(register: Register, asked: MeasureAsked, tell: Tell = tell_nobody) -> Proposal:
    """Measure photographs that the register keeps.

    Parameters
    ----------
    asked : which, and how the sheets were printed
    tell : is called between steps

    Raises
    ------
    InputError
        What does not allow it, for each picture, with what to do.
    OutputError
        The picture library is not installed.
    """
    from splicewright.actions.photographs.measuring import (
        measured_end,
        measured_plates,
        need_library,
    )
    from splicewright.photographs.measuring import Bars
    from splicewright.photographs.picture import read_picture
    from splicewright.photographs.trial import standing

    need_library()
    bars = Bars(asked.bar, asked.cross_bar, asked.reading)
    bars.printed()
    plan = _plan(register, asked)
    pictures = []
    for number, digest in enumerate(asked.photographs, 1):
        tell(number - 1, len(asked.photographs) + 1, f"reading photograph {number}")
        pictures.append(read_picture(register.content(digest).data, f"photograph {number}"))
    tell(len(pictures), len(pictures) + 1, "finding sheets and edges")
    said = standing(None)
    if asked.shows == "cut":
        layout = plan.layout if plan is not None else None
        return _of_end(asked, measured_end(tuple(pictures), bars, layout, asked.end, said), plan)
    if plan is None or plan.layout is None or plan.fastener is None:
        raise InputError(Fault("", "plates are measured against a plan, and this joint has none"))
    made = measured_plates(tuple(pictures), bars, plan.layout, plan.fastener.size, asked.end, said)
    return _of_plates(asked, made, plan)


def _plan(register: Register, asked: MeasureAsked) -> JointPlan | None:
    from splicewright.store.present.job_view import kept_plan

    of = UUID(asked.joint) if asked.joint is not None else None
    if asked.job is not None:
        job = register.job(UUID(asked.job))
        if job is None:
            raise InputError(Fault("job", "the register knows no such job"))
        of = job.joint
    joint = register.joint(of) if of is not None else None
    if joint is None and asked.joint is not None:
        raise InputError(Fault("joint", "the register knows no such joint"))
    digest = joint.plan if joint is not None else None
    return None if digest is None else kept_plan(digest, lambda: register.content(digest).data)


def _of_end(asked: MeasureAsked, made: MeasuredEnd, plan: JointPlan | None) -> Proposal:
    from splicewright.version import __version__

    planned = (
        {"width": plan.layout.width.value, "curve_depth": plan.layout.curve_depth.value}
        if (plan is not None and plan.layout is not None)
        else {}
    )
    values = [
        Proposed(v.key, v.label, Kind.LENGTH, v.value, v.half_width, planned.get(v.key))
        for v in made.end.values
    ]
    covariance = made.end.covariance
    if plan is not None and plan.limits is not None:
        more, covariance = diagonals(made.end, plan.limits.back.value, asked.end)
        values += more
    adjusted = made.measured.adjusted
    return Proposal(
        asked,
        made.sides,
        made.standing,
        __version__,
        tuple(values),
        _rows(covariance),
        (),
        (),
        tuple(p.size for p in made.pictures),
        tuple(map(_thin, made.end.drawn)),
        made.measured.sheets,
        tuple(adjusted.camera(n).focal for n in range(len(made.pictures))),
        adjusted.spread,
    )


def diagonals(end: EndMeasured, back: float, which: str) -> tuple[list[Proposed], Array]:
    """The diagonals of a cut end as a tape would read them, and the covariance of all values.

    Marks lie `back` behind the cut along both edges, so corners and marks make a parallelogram:
    each diagonal runs from a corner to the mark at the other edge.

    Parameters
    ----------
    end : as measured, its first two values width and out of square
    back : [m]
    which : "leading" or "trailing"
    """
    import numpy as np

    width, square = (end.values[n].value for n in (0, 1))
    values: list[Proposed] = []
    slopes = []
    for sign, name in ((1, "left"), (-1, "right")):
        along = back + sign * square
        long = float(np.hypot(width, along))
        slope = np.zeros(len(end.values))
        slope[:2] = width / long, sign * along / long
        slopes.append(slope)
        half = 1.96 * float(np.sqrt(slope @ end.covariance @ slope))
        values.append(
            Proposed(
                f"diagonal_{name}",
                f"diagonal from the {name} corner",
                Kind.LENGTH,
                long,
                half,
                None,
                f"Diagonals after the cut, {which} end",
                len(values) + 1,
            )
        )
    whole = np.vstack([np.eye(len(end.values)), *slopes])
    return values, np.asarray(whole @ end.covariance @ whole.T)


def _of_plates(asked: MeasureAsked, made: MeasuredPlates, plan: JointPlan) -> Proposal:
    from splicewright.version import __version__

    assert plan.layout is not None
    row = made.row
    end = plan.layout.leading if asked.end == "leading" else plan.layout.trailing
    values: list[Proposed] = [
        Proposed(
            "pitch",
            "pitch of the plates",
            Kind.LENGTH,
            row.pitch,
            row.pitch_half_width,
            made.planned.pitch,
        ),
        Proposed(
            "middle",
            "middle of the row, left of the belt's middle",
            Kind.LENGTH,
            row.middle,
            row.middle_half_width,
        ),
    ]
    for p in row.plates:
        if p.off is not None and p.half_width is not None:
            label = f"plate {p.number} off the even row, left positive"
            values.append(
                Proposed(f"plate {p.number}", label, Kind.LENGTH, p.off, p.half_width, 0.0)
            )
    for n, (side, planned) in enumerate((("left", end.setback_left), ("right", end.setback_right))):
        setback = row.setbacks[n]
        if setback is not None:
            values.append(
                Proposed(
                    f"setback_{side}",
                    f"set-back {side}",
                    Kind.LENGTH,
                    *setback,
                    planned,
                    f"Set-back {side}, {end.which.value}",
                    1,
                )
            )
    cameras = [made.adjusted.camera(n) for n in range(len(made.pictures))]
    return Proposal(
        asked,
        f"{asked.end} end; numbered from the left facing in the direction of travel",
        made.standing,
        __version__,
        tuple(values),
        _rows(row.covariance),
        tuple(p.number for p in row.plates if p.missing),
        tuple(p.number for p in row.plates if p.stands_off),
        tuple(p.size for p in made.pictures),
        tuple(map(_thin, row.drawn)),
        made.adjusted.sheets,
        tuple(c.focal for c in cameras),
        made.adjusted.spread,
    )


def _rows(covariance: Array) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(f"{v:.6g}") for v in row) for row in covariance)


def _thin(lines: Mapping[str, Array]) -> dict[str, tuple[tuple[float, float], ...]]:
    """Lines with as many points as a screen shows, to a tenth of a pixel."""
    kept = {}
    for name, pixels in lines.items():
        step = max(1, -(-len(pixels) // _POINTS))
        few = [*pixels[::step], *([pixels[-1]] if (len(pixels) - 1) % step else [])]
        kept[name] = tuple((round(float(x), 1), round(float(y), 1)) for x, y in few)
    return kept


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

    Parameters
    ----------
    proposal, digest : as kept
    measuring : of the register
    accepted : keys of the values taken as they are
    own : by key, what somebody measured instead, as typed
    missing : plates confirmed to be missing
    system : units in which an accepted value is written into a box

    Raises
    ------
    InputError
        Nothing is taken, or something typed cannot be read; each with its key.
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
        if counts is not None and value.what and first.of is Stream.JOB and first.step:
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
