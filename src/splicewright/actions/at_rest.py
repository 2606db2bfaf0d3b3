"""The question of the belt at rest: what it pulls at each stage, or what its sag says of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Annotated, Any

from splicewright.actions.question import Inquiry, Source
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf, Typed, Words
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, Worksheet, read

if TYPE_CHECKING:
    from splicewright.quantities import Figure, Record, System
    from splicewright.sheets.pages.document import Document
    from splicewright.tension.at_rest import AtRest


class AtRestAsked(Question):
    """Say what the stopped belt of CONVEYOR pulls at each stage of WORK, and what must hold.

    Stages, ratings, what happens if one thing fails, and how far things move; without WORK for a
    joint on the return side. With --sag and --span: the tension of the belt from its sag, and
    what the take-up pulls.
    """

    conveyor: Annotated[
        Readable,
        FileOf("toml"),
        Ask("Conveyor file (TOML)", option="CONVEYOR", doors=("command", "program")),
    ]
    work: Annotated[
        Readable | None,
        FileOf("toml"),
        Ask("Work file (TOML)", option="WORK", doors=("command", "program")),
    ] = None
    sag: Annotated[
        str,
        Typed(Kind.LENGTH, above_zero=True),
        Ask(
            "Sag",
            "Sag of the empty, standing belt between two idlers, such as 14 mm: says what "
            "the take-up pulls.",
            "14 mm",
            "9/16 in",
            doors=("command", "program"),
        ),
    ] = ""
    span: Annotated[
        str,
        Typed(Kind.DISTANCE, above_zero=True),
        Ask(
            "Span",
            "Distance of these two idlers, such as 3 m.",
            "3 m",
            "10 ft",
            doors=("command", "program"),
        ),
    ] = ""
    run: Annotated[
        str,
        Words(),
        Ask(
            "Run",
            "Run the sag was measured on; the longest return run without it.",
            doors=("command", "program"),
        ),
    ] = ""

    def faults(self) -> list[Fault]:
        """A sag is one over a span."""
        if bool(self.sag) == bool(self.span):
            return []
        return [Fault("span" if self.sag else "sag", "is missing; give {sag} and {span} together")]


@dataclass(frozen=True, slots=True)
class Stopped:
    """The belt at rest at one place of work, as asked of two files.

    worksheet : the lines of the plan that it comes from
    """

    conveyor: str
    work: str
    place: str
    id: str
    at_rest: AtRest
    invented: bool
    worksheet: Record


@dataclass(frozen=True, slots=True)
class SagReading:
    """Belt tension from the sag between two idlers, and what it says of the take-up [N].

    tension, doubt: there, with its half-width (95 %); least, largest: of the pull on the take-up
    pulley, all its strands together, friction on the way either way.
    """

    run: str
    tension: Figure
    doubt: Figure
    least: Figure
    largest: Figure
    invented: bool
    worksheet: Record


def answer_at_rest(asked: AtRestAsked, source: Source) -> Stopped | SagReading:
    """Work out the stopped belt for a job, or what a measured sag says of the take-up.

    Raises InputError: anything wrong in the files, a sag or span that cannot be, or a run the
    conveyor does not have.
    """
    if asked.sag:
        return _of_sag(asked)
    from splicewright.job import plan
    from splicewright.plant import load_conveyor, load_work

    plant = load_conveyor(asked.conveyor)
    joint_plan = plan(plant, load_work(asked.work, plant))
    job = joint_plan.work  # where no place was given, the worst was found
    place = f"{job.run}, {job.distance.show()} along it"
    return Stopped(
        plant.name,
        job.name,
        place,
        joint_plan.id,
        joint_plan.at_rest,
        plant.invented,
        joint_plan.worksheet.under("at_rest", "run_back", "load_rest"),
    )


def _of_sag(asked: AtRestAsked) -> SagReading:
    from splicewright.plant import Side, load_conveyor
    from splicewright.tension import demand
    from splicewright.tension.at_rest import read_sag

    plant = load_conveyor(asked.conveyor)
    depth, spacing = read(asked.sag, Kind.LENGTH, "sag"), read(asked.span, Kind.DISTANCE, "span")
    if depth >= spacing / 4:
        wording = (
            f'"{asked.sag}" over "{asked.span}" cannot be; give less than a quarter of the span'
        )
        raise InputError(Fault("sag", wording))
    runs = {r.name: r for r in plant.runs()}
    if asked.run and asked.run not in runs:
        wording = f'"{asked.run}" is no run of the loop; accepted: {", ".join(runs)}'
        raise InputError(Fault("run", wording))
    back = [r for r in plant.runs() if r.side is Side.RETURN] or list(plant.runs())
    chosen = runs[asked.run] if asked.run else max(back, key=lambda r: r.length.value)
    sheet = Worksheet()
    figures = read_sag(plant, demand(plant, sheet).every(), chosen, depth, spacing, sheet)
    return SagReading(chosen.name, *figures, plant.invented, sheet.finish())


def _document(answer: Stopped | SagReading, units: System) -> Document:
    from splicewright.sheets.reports.at_rest import rest_report, sag_report

    if isinstance(answer, SagReading):
        return sag_report(
            answer.run,
            answer.tension,
            answer.doubt,
            answer.least,
            answer.largest,
            units,
            invented=answer.invented,
        )
    return rest_report(
        answer.at_rest,
        units,
        name=answer.work,
        source=f"{answer.conveyor}, {answer.place}; plan {answer.id}.",
        invented=answer.invented,
    )


def _data(answer: Stopped | SagReading) -> dict[str, Any]:
    if isinstance(answer, Stopped):
        return asdict(answer.at_rest.summary)
    return {
        "run": answer.run,
        "tension": answer.tension.value,
        "doubt": answer.doubt.value,
        "take_up": {"least": answer.least.value, "largest": answer.largest.value},
    }


AT_REST: Inquiry[AtRestAsked, Stopped | SagReading] = Inquiry(
    "at-rest", AtRestAsked, answer_at_rest, _document, _data
)
