"""The question of a belt end: is it square, and what corrects it at both edges."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from splicewright.actions.folder.reading import read_result
from splicewright.actions.question import Inquiry, Source
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf, Pairs, Several, Typed
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import InMemory, Readable
from splicewright.quantities import Kind

if TYPE_CHECKING:
    from splicewright.joint.belt_end.squared_end import Limit, SquaredEnd, SquaringMeasured
    from splicewright.quantities import System
    from splicewright.sheets.pages.document import Document

FILE = "squaring.json"


class SquareAsked(Question):
    """Square a belt end from the points in MEASURED, and judge the cut.

    Without MEASURED give --width and three or more --station. Corrections are for both edges;
    every answer says how far it may be off.
    """

    measured: Annotated[
        Readable | None,
        FileOf("toml"),
        Ask("Squaring file (TOML)", option="MEASURED", doors=("command", "program")),
    ] = None
    width: Annotated[
        str,
        Typed(Kind.LENGTH, above_zero=True),
        Ask(
            "Belt width",
            "Belt width, in place of a file.",
            "1000 mm",
            "42 in",
            doors=("command", "program"),
        ),
    ] = ""
    stations: Annotated[
        tuple[tuple[str, str], ...],
        Pairs(Typed(Kind.DISTANCE), 200, Typed(Kind.LENGTH), "AT OFFSET"),
        Ask(
            "Stations",
            "Distance from the end and offset of the belt's middle from a stretched "
            "line, left positive; three or more, in place of a file.",
            option="station",
            doors=("command", "program"),
        ),
    ] = ()
    limit: Annotated[
        str,
        Typed(Kind.LENGTH, above_zero=True),
        Ask(
            "Limit",
            "Out of square over the width that may pass, in place of a file.",
            "3 mm",
            "1/8 in",
            doors=("command", "program"),
        ),
    ] = ""
    fasteners: Annotated[
        tuple[Readable, ...],
        Several(FileOf("toml")),
        Ask(
            "Fasteners",
            "Fastener range file or folder, where MEASURED names a conveyor file; "
            "may be repeated. Without it: the folder 'fasteners' beside the conveyor file or its "
            "folder.",
            doors=("command",),
        ),
    ] = ()

    def faults(self) -> list[Fault]:
        """A file, or a width with stations."""
        if self.measured is not None and (self.width or self.stations or self.limit):
            return [Fault("", "give {measured}, or {width} and {stations}; not both")]
        if self.measured is None and not self.width:
            wording = "nothing to square: give {measured}, or {width} and {stations}"
            return [Fault("", wording)]
        return []


def answer_square(asked: SquareAsked, source: Source) -> SquaredEnd:
    """Square the end that a file describes, or of which a few points were typed.

    Raises InputError: anything wrong in the file or the points, or in the plan the file names.
    """
    from splicewright.files.toml import check, with_lines
    from splicewright.joint.belt_end.file import SquaringFile, build, load_squaring
    from splicewright.joint.belt_end.squaring import square_end

    if asked.measured is not None:
        measured = load_squaring(asked.measured)
        with with_lines(asked.measured):
            return square_end(measured, _limit(measured, asked))
    head = {"name": "belt end", "width": asked.width}
    head |= {"limit": asked.limit} if asked.limit else {}
    rows = [{"at": at, "midpoint": offset} for at, offset in asked.stations]
    try:
        return square_end(build(check({"squaring": head, "stations": rows}, SquaringFile, "")))
    except InputError as error:
        raise InputError(
            *(Fault(f.key.removeprefix("squaring."), f.sentence) for f in error.faults)
        ) from None


def _limit(measured: SquaringMeasured, asked: SquareAsked) -> Limit | None:
    """The limit that the named plan's joint asks for; none where one is stated or none named."""
    if measured.limit is not None or not measured.plan or asked.measured is None:
        return None
    if isinstance(asked.measured, InMemory):
        say = "names a plan; accepted is a limit, stated in the file"
        raise InputError(Fault("squaring.plan", say, asked.measured.name))
    from splicewright.actions.plan.plan import read_plan
    from splicewright.job.square_limit import square_limit

    folder = asked.measured.parent
    work = folder / measured.work if measured.work else None
    return square_limit(read_plan(folder / measured.plan, work, asked.fasteners))


def read_squaring(source: Path) -> SquaredEnd | None:
    """The squaring the user points at, a folder or its JSON file; None where there is none.

    Raises InputError: it cannot be read.
    """
    from splicewright.joint.belt_end.squared_end import SquaredEnd

    return read_result(source, FILE, SquaredEnd.from_json)


def _document(end: SquaredEnd, units: System) -> Document:
    from splicewright.sheets.reports.squaring import squaring_report

    return squaring_report(end, units)


def _data(end: SquaredEnd) -> dict[str, Any]:
    from splicewright.joint.belt_end.squaring import figures

    sentences = [s.say() for s in (*end.sentences, *end.remarks)]
    return {
        "name": end.name,
        "passes": end.passes,
        "figures": {f.key: f.value for f in figures(end)},
        "sentences": sentences,
        "said": sentences,  # its former name
        "assumed": [s.say() for s in end.assumptions],
    }


SQUARE: Inquiry[SquareAsked, SquaredEnd] = Inquiry(
    "square",
    SquareAsked,
    answer_square,
    _document,
    _data,
    "squaring",
    kept=lambda end: end.to_json(),
)
