"""From photographs in the register to what they propose."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.actions.photographs.proposals import MeasureAsked, Proposal, Proposed
from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.actions.photographs.measuring import MeasuredEnd
    from splicewright.actions.photographs.rows import MeasuredHoles, MeasuredPlates
    from splicewright.job import JointPlan
    from splicewright.photographs.adjustment import Adjusted
    from splicewright.photographs.arrays import Array
    from splicewright.photographs.measures import EndMeasured
    from splicewright.store import Register

_POINTS = 160
"""Of one line of an outline that is kept: as many as a screen shows."""


def propose(register: Register, asked: MeasureAsked, tell: Tell = tell_nobody) -> Proposal:
    """Measure photographs that the register keeps.

    asked : which, and how the sheets were printed
    tell : is called between steps
    Raises InputError: what does not allow it, for each picture, with what to do. Raises
    OutputError: the picture library is not installed.
    """
    from splicewright.actions.photographs.measuring import measured_end, need_library
    from splicewright.actions.photographs.rows import measured_holes, measured_plates
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
    claim = standing(None)
    at = tuple(pictures)
    if asked.shows not in ("plates", "holes"):
        return _of_end(asked, measured_end(at, bars, plan, asked.end, claim, asked.shows), plan)
    if plan is None or plan.layout is None or plan.fastener is None:
        say = f"{asked.shows} are measured against a plan, and this joint has none"
        raise InputError(Fault("", say))
    if asked.shows == "holes":
        return _of_holes(asked, measured_holes(at, bars, plan, asked.end, claim))
    return _of_plates(asked, measured_plates(at, bars, plan, asked.end, claim), plan)


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


def _of_end(asked: MeasureAsked, measured: MeasuredEnd, plan: JointPlan | None) -> Proposal:
    from splicewright.actions.photographs.measuring import planned_of
    from splicewright.version import __version__

    planned = planned_of(plan, asked.end)
    values = [
        Proposed(
            v.key, v.label, Kind.LENGTH, v.value, v.half_width, planned.get(v.key, ("", None))[1]
        )
        for v in measured.end.values
    ]
    covariance = measured.end.covariance
    if plan is not None and plan.limits is not None and asked.shows in ("cut", "line"):
        whole = asked.shows == "cut"
        more, covariance = equal_lengths(measured.end, plan.limits.back.value, asked.end, cut=whole)
        values += more
    if asked.shows == "gap":
        values = _edges_filled(values)
    adjusted = measured.measured.adjusted
    return Proposal(
        asked,
        measured.sides,
        measured.standing,
        __version__,
        tuple(values),
        _rows(covariance),
        (),
        (),
        tuple(p.size for p in measured.pictures),
        tuple(map(_thin, measured.end.drawn)),
        measured.measured.sheets,
        _focal(adjusted, len(measured.pictures)),
        adjusted.spread,
    )


def _edges_filled(values: list[Proposed]) -> list[Proposed]:
    """The edge that stands further off fills the box of the acceptance check."""
    from dataclasses import replace

    edges = [v for v in values if v.key.startswith("edge_")]
    worst = max(edges, key=lambda v: abs(v.value), default=None)
    if worst is None:
        return values
    box = replace(
        worst,
        key="edges",
        label="edge of one end against the other, the larger of both",
        value=abs(worst.value),
        what="Edge of one end against the other",
        box=1,
    )
    return [*values, box]


def equal_lengths(
    end: EndMeasured, back: float, which: str, *, cut: bool
) -> tuple[list[Proposed], Array]:
    """Two lengths as a tape would read them that are equal where the end is square, and the
    covariance of all values.

    Of a cut end, its diagonals: marks lie `back` behind the cut along both edges, so corners and
    marks make a parallelogram: each diagonal runs from a corner to the mark at the other edge. Of
    a square line, from a point `back` behind it on the centreline to its two ends.

    end : as measured, its first two values width and out of square
    back : [m]
    which : "leading" or "trailing"
    cut : or a line
    """
    import numpy as np

    width, square = (end.values[n].value for n in (0, 1))
    share = 1.0 if cut else 0.5
    reading = "Diagonals after the cut" if cut else "Point to left and right end of the line"
    values: list[Proposed] = []
    slopes = []
    for sign, name in ((1, "left"), (-1, "right")):
        across, along = share * width, back + share * sign * square
        long = float(np.hypot(across, along))
        slope = np.zeros(len(end.values))
        slope[:2] = share * across / long, share * sign * along / long
        slopes.append(slope)
        half = 1.96 * float(np.sqrt(slope @ end.covariance @ slope))
        label = (
            f"diagonal from the {name} corner"
            if cut
            else f"point on the centreline to the {name} end of the line"
        )
        box = len(values) + 1
        values.append(
            Proposed(
                f"{'diagonal' if cut else 'arc'}_{name}", label, Kind.LENGTH, long, half, None,
                f"{reading}, {which} end", box,
            )
        )  # fmt: skip
    whole = np.vstack([np.eye(len(end.values)), *slopes])
    return values, np.asarray(whole @ end.covariance @ whole.T)


def _of_plates(asked: MeasureAsked, measured: MeasuredPlates, plan: JointPlan) -> Proposal:
    from splicewright.version import __version__

    assert plan.layout is not None
    row = measured.row
    end = plan.layout.leading if asked.end == "leading" else plan.layout.trailing
    values: list[Proposed] = [
        Proposed(
            "pitch",
            "pitch of the plates",
            Kind.LENGTH,
            row.pitch,
            row.pitch_half_width,
            measured.planned.pitch,
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
    values += [
        Proposed(v.key, v.label, Kind.LENGTH, v.value, v.half_width) for v, _ in measured.pins
    ]
    pins = {v.key.replace("_", " "): line for v, line in measured.pins}
    return Proposal(
        asked,
        f"{asked.end} end; numbered from the left facing in the direction of travel",
        measured.standing,
        __version__,
        tuple(values),
        _rows(row.covariance),
        tuple(p.number for p in row.plates if p.missing),
        tuple(p.number for p in row.plates if p.stands_off),
        tuple(p.size for p in measured.pictures),
        tuple(map(_thin, ({**row.drawn[0], **pins}, *row.drawn[1:]))),
        measured.adjusted.sheets,
        _focal(measured.adjusted, len(measured.pictures)),
        measured.adjusted.spread,
    )


def _of_holes(asked: MeasureAsked, measured: MeasuredHoles) -> Proposal:
    import numpy as np

    from splicewright.version import __version__

    holes, way = measured.holes, measured.way
    seen = [h for h in holes.holes if h.behind is not None]
    n = len(seen)
    values: list[Proposed] = []
    slopes = []

    def add(key: str, label: str, value: float, entry: int, sign: float, planned: float) -> None:
        slope = np.zeros(len(holes.covariance))
        slope[entry] = sign
        slopes.append(slope)
        half = 1.96 * float(np.sqrt(holes.covariance[entry, entry]))
        values.append(Proposed(key, label, Kind.LENGTH, value, half, planned))

    ends = sorted(range(n), key=lambda k: (seen[k].planned.row, -way * seen[k].planned.across))
    first_row = [k for k in ends if seen[k].planned.row == seen[ends[0]].planned.row]
    for name, k in (("first", first_row[0]), ("last", first_row[-1])):
        hole = seen[k]
        assert hole.across is not None
        at = way * hole.planned.across
        add(f"hole_{name}", f"{name} hole, left of the centreline", at + way * hole.across,
            n + k, way, at)  # fmt: skip
    for place, (row, (back, lean, left)) in enumerate(holes.rows.items()):
        at = 2 * n + 3 * place
        prefix = f"hole row {row} from the cut"
        planned = next(h.planned.behind for h in seen if h.planned.row == row)
        add(f"row {row} back", f"{prefix}: its middle behind the cut", planned + back[0], at, 1.0,
            planned)  # fmt: skip
        add(f"row {row} lean", f"{prefix}: further back at the left edge than at the right",
            way * lean[0], at + 1, way, 0.0)  # fmt: skip
        add(f"row {row} left", f"{prefix}: all of it to the left of its place", way * left[0],
            at + 2, way, 0.0)  # fmt: skip
    covariance = np.array(slopes) @ holes.covariance @ np.array(slopes).T
    worst = max(seen, key=lambda h: abs(h.out or 0.0))
    assert worst.out is not None and worst.out_half_width is not None
    label = f"hole furthest out of its line: plate {worst.planned.plate}, row {worst.planned.row}"
    values.append(Proposed("out of line", label, Kind.LENGTH, worst.out, worst.out_half_width, 0.0))
    whole = np.zeros((len(values),) * 2)
    whole[:-1, :-1] = covariance
    whole[-1, -1] = (worst.out_half_width / 1.96) ** 2
    return Proposal(
        asked,
        f"{asked.end} end; numbered from the left facing in the direction of travel",
        measured.standing,
        __version__,
        tuple(values),
        _rows(whole),
        (),
        (),
        tuple(p.size for p in measured.pictures),
        tuple(map(_thin, holes.drawn)),
        measured.adjusted.sheets,
        _focal(measured.adjusted, len(measured.pictures)),
        measured.adjusted.spread,
        tuple(
            f"hole of plate {h.planned.plate}, row {h.planned.row}"
            for h in holes.holes
            if h.behind is None
        ),
    )


def _focal(adjusted: Adjusted, pictures: int) -> tuple[float, ...]:
    return tuple(adjusted.camera(n).focal for n in range(pictures))


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
