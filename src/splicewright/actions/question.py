"""From a question to its answer, whoever asks: read, answer, show, write.

A subject declares its model (`files.question`) and one `Inquiry`; the command line, the pages and
the API are drivers of these.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, fields, is_dataclass
from datetime import UTC, date, datetime, time
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Generic, TypeVar

from splicewright.actions.folder.worksheet import NAME, worksheet_file
from splicewright.actions.folder.writing import as_file, replace_folder
from splicewright.actions.register.use import UseName
from splicewright.errors import Fault, InputError
from splicewright.files.answers import Day, Number, OneOf, TypedUse, Words
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, Sentence

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.quantities import Record, System
    from splicewright.sheets.canvas.paper import Paper
    from splicewright.sheets.pages.document import Document
    from splicewright.store import Register

Q = TypeVar("Q", bound=Question)
A = TypeVar("A")
SHAPE = Number(0.2, 10)
"""Shapes of a law of life that are believable."""
Confidence = Annotated[
    float,
    Number(0.5, 0.999, Kind.SHARE),
    Ask("Confidence", "Share of the ranges that hold the truth.", "90 %"),
]
Currency = Annotated[str, Words(12), Ask("Currency", "Stands beside every cost.", "EUR")]
UseADay = Annotated[
    str,
    TypedUse(),
    Ask(
        "Use a day",
        'How much the belts run a day, such as "16 h", to put dates beside ages. Without it: as '
        "the meters on file show.",
        "16 h",
    ),
]


class OneConveyor(Question):
    """What is asked wherever the register counts: of which conveyor, and on what day."""

    conveyor: Annotated[
        str,
        Words(200),
        Ask(
            "Conveyor",
            "By the register: only this conveyor, as NAME or SITE: NAME.",
            doors=("command", "program"),
        ),
    ] = ""
    today: Annotated[
        date | None,
        Day(),
        Ask(
            "Today",
            "Date that counts as today; readings after it are refused. Without it: the calendar's.",
            doors=("command", "program"),
        ),
    ] = None

    @property
    def reads_all(self) -> bool:
        """Whether its answer by the register takes the facts of all conveyors."""
        return not self.conveyor


class ByRegister(OneConveyor):
    """The same where lives may be counted in more than one way."""

    use: Annotated[
        UseName,
        OneOf(
            {"time": "running time", "mass": "mass carried", "turns": "turns of the belt"},
            "what the meters allow",
        ),
        Ask(
            "Use is counted in",
            "By the register: what use is counted in. Without it: mass "
            "carried where every conveyor has such a meter, else time.",
        ),
    ] = ""


@dataclass(frozen=True, slots=True)
class Source:
    """Where facts come from when no file holds them.

    open : opens the register; named : whoever asks named it; clock : what counts as this moment
    """

    open: Callable[[], AbstractContextManager[Register]]
    named: bool
    clock: Callable[[], datetime]

    def now(self, asked: OneConveyor | None = None) -> datetime:
        """What counts as now: the end of the day that counts as today, or this moment."""
        if asked is None or asked.today is None:
            return self.clock()
        return datetime.combine(asked.today, time(23, 59), UTC)

    def recorded(self, asked: OneConveyor) -> bool:
        """Whether the register, or one of its conveyors, was named."""
        return self.named or bool(asked.conveyor)

    def refuse_beside(self, field: str, file: Readable | None) -> None:
        """Refuse a file beside a register that was named with it."""
        if file is not None and self.named:
            wording = "is given beside a register; give one of the two"
            raise InputError(Fault(field, wording))


@dataclass(frozen=True, slots=True)
class Inquiry(Generic[Q, A]):
    """One question with its answer.

    command : its word on the command line and in the API's addresses
    asked : its declaration
    answer : works the answer out
    document : what it says, for every door: words, numbers, tables, drawings, what it rests on
    data : the answer for programs, by name
    stem : of its report's file name; empty: it has no folder
    filed : which part of `data` its folder holds; empty for the whole
    more : further files beside report, drawings, answer and worksheet
    kept : the answer as JSON that is read back, its worksheet in it, in place of `data`
    file : of the answer as JSON, where that is not called as the report is
    record : the worksheet that explains its numbers; without it the answer's own `worksheet`
    in_units : whether its words depend on metric or inch
    """

    command: str
    asked: type[Q]
    answer: Callable[[Q, Source], A]
    document: Callable[[A, System], Document]
    data: Callable[[A], dict[str, Any]]
    stem: str = ""
    filed: str = ""
    more: Callable[[A, System], Mapping[str, bytes]] | None = None
    kept: Callable[[A], str] | None = None
    file: str = ""
    record: Callable[[A], Record | None] | None = None
    in_units: bool = True

    @property
    def has_folder(self) -> bool:
        """Whether it can be written into a folder."""
        return bool(self.stem)

    def worksheet(self, answer: A) -> Record | None:
        """What explains the numbers of an answer; None where nothing does."""
        if self.record is not None:
            return self.record(answer)
        record: Record | None = getattr(answer, "worksheet", None)
        return record

    def files(self, answer: A, system: System, paper: Paper) -> dict[str, bytes]:
        """Report, drawings, the answer as JSON and its worksheet, by name.

        The same answer gives the same bytes.

        Raises
        ------
        OutputError
            A file cannot be made.
        """
        from splicewright.sheets.canvas.svg_file import standing_alone
        from splicewright.sheets.pages.report import printed

        document = self.document(answer, system)
        files = {f"{self.stem}.pdf": printed(document, paper)}
        files |= {f"{d.name}.svg": standing_alone(d.draw()) for d in document.diagrams}
        files |= self.more(answer, system) if self.more is not None else {}
        if self.kept is not None:
            return files | {self._known: self.kept(answer).encode()}
        data = self.data(answer)
        files[self._known] = as_file(data[self.filed] if self.filed else data)
        record = self.worksheet(answer)
        return files if record is None else files | {NAME: worksheet_file(record)}

    @property
    def _known(self) -> str:
        """The file by which its folder is known as ours."""
        return self.file or f"{self.stem}.json"

    def write(self, answer: A, out: Path, system: System, paper: PaperName) -> tuple[Path, ...]:
        """Write its files into a folder: all or nothing.

        out : folder; made when missing, replaced when it holds an earlier answer of this kind
        Raises OutputError: the folder holds other things, or cannot be written.
        """
        from splicewright.sheets.canvas.paper import PAPERS

        return replace_folder(out, self.files(answer, system, PAPERS[paper]), known=self._known)


def plain(answer: Any) -> Any:
    """A result as plain data: SI numbers, texts, lists and tables; null for what is not finite.

    Fields that a dataclass does not show of itself (`repr=False`) are left out: what explains the
    numbers goes beside the answer, as its worksheet.
    """
    if isinstance(answer, Enum):
        return plain(answer.value)
    if isinstance(answer, Sentence):
        return answer.say()
    if is_dataclass(answer) and not isinstance(answer, type):
        return {f.name: plain(getattr(answer, f.name)) for f in fields(answer) if f.repr}
    if isinstance(answer, Mapping):
        return {str(key): plain(value) for key, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [plain(value) for value in answer]
    if isinstance(answer, date):
        return answer.isoformat()
    if isinstance(answer, float):
        return float(answer) if math.isfinite(answer) else None
    return answer
