"""What an answer says, once: read as text, printed on paper and shown on a page alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from splicewright.sheets.canvas.scene import Scene

Tone = Literal["", "good", "warn", "bad"]
_NOTES = 12
"""Notes that a screen of text tells; page and paper hold all."""


@dataclass(frozen=True, slots=True)
class KeyNumber:
    """A number with its name; note : what it goes by; why : its key in the worksheet."""

    name: str
    value: str
    note: str = ""
    why: str = ""

    @property
    def line(self) -> str:
        """As one line of text."""
        return f"{self.name}: {self.value}" + (f" ({self.note})" if self.note else "")


@dataclass(frozen=True, slots=True)
class Side:
    """What is found at one side of the belt, and what to do there."""

    name: str
    value: str
    note: str
    does: str = ""

    @property
    def line(self) -> str:
        """As one line of text."""
        return f"{self.name}: {self.value} {self.note}" + (f"; {self.does}" if self.does else "")


@dataclass(frozen=True, slots=True)
class Level:
    """One of the verdicts that there are, and whether it is the one given."""

    says: str
    taken: bool


@dataclass(frozen=True, slots=True)
class Point:
    """One thing of a list.

    says : what it is, or what to do; why : the reasons, without a full stop; path : of the page
    that it is about; state, tone : its state in a word, and how that is shown
    """

    says: str
    why: str = ""
    path: str = ""
    state: str = ""
    tone: Tone = ""

    @property
    def line(self) -> str:
        """As one line of text."""
        state = f" ({self.state})" if self.state else ""
        return f"{self.says}{state}. {as_sentence(self.why) if self.why else ''}".rstrip()


@dataclass(frozen=True, slots=True)
class Diagram:
    """A drawing, drawn when it is wanted.

    name : of its file; draw : as a file and on a desk; narrow : for the width of a phone;
    says : what stands in it, for who cannot see it; box : width and height on a desk, then on a
    phone, that a page keeps free till it is there [px]; parts : for paper, where it takes several
    sheets; letters : the same in letters, where a screen of text can show it
    """

    name: str
    draw: Callable[[], Scene]
    narrow: Callable[[], Scene] | None = None
    says: str = ""
    box: tuple[tuple[int, int], tuple[int, int]] | None = None
    parts: tuple[Callable[[], Scene], ...] = ()
    letters: Callable[[], list[str]] | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """One part: title, then its answer, diagrams, numbers, a table, a list, and points in words.

    title : may be empty where a drawing needs none
    says : its answer in a sentence, where it has one
    head, table : columns, and rows of as many cells; the first names the row
    paths : of the pages that the rows are about, one a row or none
    listed : things in their order; points : what else is to be said, as sentences
    at_hand : stands open on a page; what does not is folded away, and left out of text
    warns : is told in a heavy frame
    On paper only:
    opens : begins a part of its own, and a new page
    beside : stands beside the section before it
    words, strong : columns of words, and columns that count most; bars : column of shares
    """

    title: str
    points: tuple[str, ...] = ()
    diagrams: tuple[Diagram, ...] = ()
    numbers: tuple[KeyNumber, ...] = ()
    head: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    paths: tuple[str, ...] = ()
    listed: tuple[Point, ...] = ()
    says: str = ""
    at_hand: bool = True
    warns: bool = False
    opens: bool = False
    beside: bool = False
    words: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()
    bars: int | None = None

    def lines(self) -> Iterator[str]:
        """All of it as plain text, columns lined up."""
        if self.says:
            yield self.says
        for diagram in self.diagrams:
            yield from diagram.letters() if diagram.letters is not None else ()
        yield from (number.line for number in self.numbers)
        rows = [self.head, *self.table] if self.table else []
        wide = [max(len(row[k]) for row in rows) for k in range(len(self.head))] if rows else []
        for row in rows:
            cells = zip(row, wide, strict=True)
            padded = (c.rjust(w) if k else c.ljust(w) for k, (c, w) in enumerate(cells))
            yield "  ".join(padded).rstrip()
        yield from (f"{n}. {one.line}" for n, one in enumerate(self.listed, 1))
        yield from self.points


@dataclass(frozen=True, slots=True)
class Document:
    """An answer in words, numbers and drawings.

    kind, name : what it is, and what about; source : what it is worked from, one line
    answer : in sentences, the first by itself the answer
    rests : what was assumed or left out on the way; cautions : how far to trust it
    invented : the data are, and every form of it says so
    levels : the verdicts there are, where the answer is one of them
    sides : left, then right, where the answer is for both sides of the belt
    signs : what whoever decides fills in and signs, on paper
    id : of what is told, where that has one; else that of the words is printed
    worksheet : every number explained, made when it is printed
    """

    kind: str
    name: str
    source: str
    answer: tuple[str, ...]
    numbers: tuple[KeyNumber, ...] = ()
    sections: tuple[Section, ...] = ()
    rests: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    invented: bool = False
    levels: tuple[Level, ...] = ()
    sides: tuple[Side, ...] = ()
    signs: tuple[str, ...] = ()
    id: str = ""
    worksheet: Callable[[], dict[str, Any]] | None = None

    @property
    def trust(self) -> str:
        """What its cautions stand under."""
        return "Who decides" if self.signs else "How far to trust this"

    @property
    def diagrams(self) -> tuple[Diagram, ...]:
        """All of them, as they come."""
        return tuple(d for section in self.sections for d in section.diagrams)

    def data(self) -> dict[str, Any]:
        """All of it but the drawings, to be kept as JSON."""
        undrawn = tuple(replace(section, diagrams=()) for section in self.sections)
        return asdict(replace(self, sections=undrawn, worksheet=None))

    def body(self) -> list[str]:
        """Answer, key numbers and sections as text."""
        first, *more = self.answer
        # There are no large letters here.
        lines = [first.upper() if self.levels else first, *more]
        lines += [f"  {side.line}" for side in self.sides]
        lines += [f"  {number.line}" for number in self.numbers]
        for section in self.sections:
            told = [f"  {line}" for line in section.lines()] if section.at_hand else []
            lines += ["", section.title, *told] if told else []
        return lines

    def lines(self) -> list[str]:
        """The whole as text: what it is, what was found, what it rests on, how far to trust it."""
        lines = ["! Invented data: not for real work."] if self.invented else []
        lines += [f"{self.kind}: {self.name}" if self.name else self.kind, self.source]
        lines += ["", *self.body()]
        more = len(self.rests) - _NOTES
        rests = [as_sentence(note) for note in self.rests[:_NOTES]]
        rests += [f"{more} further notes, in --json."] if more > 0 else []
        for title, sentences in ((RESTS, rests), (self.trust, self.cautions)):
            lines += ["", title, *(f"  - {one}" for one in sentences)] if sentences else []
        return lines


RESTS = "What this rests on"


def as_sentence(words: str) -> str:
    """Words with a capital in front and a full stop behind."""
    return words[0].upper() + words[1:] + ("" if words.endswith(".") else ".")


def sentences(words: Sequence[str]) -> tuple[str, ...]:
    """Each as a sentence."""
    return tuple(as_sentence(one) for one in words)


COST_CAUTIONS = (
    "The least expected cost is no safety margin. Where a failure can hurt somebody, the person "
    "responsible sets a tighter rule.",
    "Costs are those that were stated, in one currency; the answer at half and double the cost "
    "of a failure shows how far it hangs on them.",
)
