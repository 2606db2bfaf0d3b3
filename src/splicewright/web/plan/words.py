"""A plan in words for a page: its numbers with the keys that explain them, its candidates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.quantities import Figure, Given, Kind, Line, Record, System, key_of, show
from splicewright.quantities.worksheet import Entry

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.joint import Candidate


CALLED = {
    "crew-pack.pdf": "Crew pack: everything the crew takes along",
    "dossier.pdf": "Dossier for the engineer: drawings, loads, worksheet",
    "plan.json": "The plan, for machines",
    "loop.svg": "The conveyor and the place of work",
    "clamps.svg": "Where the clamps stand",
    "tension.svg": "Tension round the loop",
    "tension-reverse.svg": "Tension round the loop, the other way",
    "marking.svg": "Marking out and cutting",
    "marking-card.svg": "Marking card",
    "plate-loads.svg": "Load on every plate",
    "plate-loads.json": "Load on every plate, for machines",
    "joint.svg": "The joint from above",
    "plates-leading.svg": "Plates of the leading end",
    "plates-trailing.svg": "Plates of the trailing end",
    "step-lines.svg": "Lines of both ends",
    "step-section.svg": "Steps of both ends, from the side",
    "press.svg": "Where the press stands",
    "template-leading.dxf": "Template 1:1, leading end (DXF)",
    "template-trailing.dxf": "Template 1:1, trailing end (DXF)",
    "template-leading-tiles.pdf": "Template 1:1 in sheets, leading end",
    "template-trailing-tiles.pdf": "Template 1:1 in sheets, trailing end",
    "steps-leading.dxf": "Lines 1:1, leading end (DXF)",
    "steps-trailing.dxf": "Lines 1:1, trailing end (DXF)",
    "corner-leading-tiles.pdf": "Corner 1:1 in sheets, leading end",
    "corner-trailing-tiles.pdf": "Corner 1:1 in sheets, trailing end",
}
"""What files and drawings of a plan are called on every page, in the order of its lists."""


@dataclass(frozen=True, slots=True)
class NumberShown:
    """A number as a person reads it; key : explains it in the worksheet, "" when nothing does."""

    name: str
    value: str
    note: str
    key: str


@dataclass(frozen=True, slots=True)
class CandidateShown:
    """A size judged: smallest margin as text, the requirement that is tightest or missed."""

    name: str
    kind: str
    invented: bool
    recommended: bool
    passes: bool
    margin: str
    why: str
    requirements: tuple[tuple[str, str, str, str, bool, str], ...]


@dataclass(frozen=True, slots=True)
class LineShown:
    """One entry of the worksheet: result, formula and inputs, or an input with its origin.

    inputs : symbol, value, what it is, and its key ("" for a constant of the method)
    origin : of an input: measured, from the file or assumed; "" for a worked number
    """

    key: str
    label: str
    value: str
    formula: str
    inputs: tuple[tuple[str, str, str, str], ...]
    limits: str
    sources: tuple[str, ...]
    origin: str
    reason: str
    span: str


def numbers(plan: JointPlan, system: System) -> tuple[NumberShown, ...]:
    """The numbers a crew asks for first."""
    from splicewright.job.plan_verdict import plan_verdict

    work, belt, asked, time = plan.work, plan.belt, plan.demand, plan.timing
    rated, moved = plan.at_rest.ratings, plan.at_rest.movement

    def shown(name: str, figure: Figure, note: str = "") -> NumberShown:
        return NumberShown(name, figure.show(system), note, figure.key)

    rows = []
    if plan.layout is not None and plan.lengths is not None:
        layout, lengths = plan.layout, plan.lengths
        rows += [
            NumberShown("plates", f"{layout.count}", "on each end", "layout.count"),
            shown("cut depth", layout.curve_depth, "middle cut back behind the edges"),
        ]
        if lengths.pin is not None:
            rows.append(shown("hinge pin", lengths.pin))
    joints = f"{work.joints} joint{'s' if work.joints > 1 else ''} to make"
    rows += [
        shown("belt out", work.cut_out, "cut line to cut line"),
        shown("belt in", work.insert, joints),
        shown("take-up after", belt.position_after, plan_verdict(plan).take_up.say(system)),
        shown(
            "slack needed",
            belt.slack_needed,
            f"{belt.slack_there.show(system)} there: "
            + ("enough to close the joint" if belt.closes else "NOT enough to close the joint")
            # One page must not say that it is enough and, of the belt at rest, that it may not be.
            + (", stretch and sag not counted" if belt.closes and not moved.enough else ""),
        ),
        shown("running tension", asked.running, _way(asked.running_governed_by)),
        shown("starting tension", asked.starting, _way(asked.starting_governed_by)),
        shown("each restraining clamp rated", rated.clamps, "with its chain and anchor"),
        shown("each hoist rated", rated.hoists, "one may have to carry all"),
        shown(
            "time",
            time.likely,
            f"{time.low.show()} to {time.high.show()}; "
            + (f"window {time.window.show()}, {time.words}" if time.window else time.words)
            + (f"; {time.man_hours}" if time.man_hours else ""),
        ),
    ]
    known = set(plan.worksheet.keys())
    return tuple(n if n.key in known else NumberShown(n.name, n.value, n.note, "") for n in rows)


def _way(governed_by: str) -> str:
    """Which way gave a tension, without what the name beside it says already."""
    return f"by {governed_by.removeprefix('largest tension per width, ')}"


def candidates(plan: JointPlan, system: System) -> tuple[CandidateShown, ...]:
    """Every size that was judged, best first."""
    best = plan.fastener
    return tuple(_candidate(c, c is best, system) for c in plan.choice.candidates)


def _candidate(candidate: Candidate, recommended: bool, system: System) -> CandidateShown:
    rows = tuple(
        (
            r.name,
            r.show_needed(system),
            r.show_has(system),
            show(r.margin, Kind.SHARE) if r.margin is not None else "",
            r.met,
            r.reason.say(system),
        )
        for r in candidate.requirements
    )
    tight = min(
        (r for r in candidate.requirements if r.margin is not None), key=lambda r: r.margin or 0.0
    )
    missed = ", ".join(r.name for r in candidate.missed)
    return CandidateShown(
        candidate.name,
        candidate.construction.value,
        candidate.invented,
        recommended,
        candidate.passes,
        show(candidate.margin, Kind.SHARE),
        f"misses {missed}" if missed else f"tightest: {tight.name}",
        rows,
    )


def assumptions(plan: JointPlan, system: System) -> tuple[LineShown, ...]:
    """Every input nobody gave, in the order it was used."""
    return tuple(line(plan.worksheet, given.key, system) for given in plan.worksheet.assumptions())


def why(record: Record, key: str, system: System) -> tuple[LineShown, ...]:
    """A number and all it rests on, each once, the number first.

    Raises
    ------
    InputError
        No number of that key; the message names the nearest.
    """
    entries = {key_of(entry): entry for entry in record.below(key)}
    return tuple(_line(entry, entries, system) for entry in entries.values())


def line(record: Record, key: str, system: System) -> LineShown:
    """One entry of the worksheet in words."""
    return _line(record.find(key), {key_of(entry): entry for entry in record.entries}, system)


def _line(entry: Entry, entries: Mapping[str, Entry], system: System) -> LineShown:
    key = key_of(entry)
    if isinstance(entry, Given):
        low, high = (show(v, entry.kind, system) for v in (entry.low, entry.high))
        span = f"{low} to {high}" if entry.low != entry.high else ""
        return LineShown(
            key,
            entry.label,
            entry.show(system),
            "",
            (),
            "",
            (),
            entry.origin.value,
            entry.reason,
            span,
        )
    inputs = []
    for symbol, name in entry.inputs:
        if name.startswith("="):
            inputs.append((symbol, name[1:], "a constant of the method", ""))
            continue
        of = entries[name]
        figure = of.figure if isinstance(of, Line) else of
        inputs.append((symbol, figure.show(system), figure.label, name))
    return LineShown(
        key,
        entry.figure.label,
        entry.figure.show(system),
        entry.text,
        tuple(inputs),
        entry.limits,
        entry.sources,
        "",
        "",
        "",
    )


def explained(record: Record | None, system: System) -> tuple[LineShown, ...]:
    """Every number of an answer that keeps a worksheet; none where it keeps none."""
    return worksheet(record, system) if record is not None else ()


def worksheet(record: Record, system: System) -> tuple[LineShown, ...]:
    """Every number of the plan, in the order of work."""
    entries = {key_of(entry): entry for entry in record.entries}
    return tuple(_line(entry, entries, system) for entry in entries.values())
