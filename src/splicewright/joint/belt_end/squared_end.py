"""What was measured on a belt end to square it, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

from splicewright.joint.belt_end.centreline import Centreline, Correction, SquareLine
from splicewright.joint.belt_end.cut_checks import CutJudgement, CutVerdict, HandCheck
from splicewright.joint.layout import End
from splicewright.quantities import Record, Sentence
from splicewright.quantities.result_json import read_kept

if TYPE_CHECKING:
    from pydantic import TypeAdapter


_NOT_YET = Record(())


class CheckKind(StrEnum):
    """A check as it is done by hand."""

    ARCS = "equal arcs"
    DIAGONALS = "diagonals"
    EDGES = "edge lengths"


@dataclass(frozen=True, slots=True)
class CheckMeasured:
    """Two lengths of one hand check and the length they rest on [m].

    left, right : arcs to, diagonals from, or edge lengths at the left and right end of the
        line across
    back : from the line to the point or marks; 0 for edge lengths
    after_cut : measured on the cut end, not on the marked line
    """

    kind: CheckKind
    left: float
    right: float
    back: float
    after_cut: bool


@dataclass(frozen=True, slots=True)
class SquaringMeasured:
    """A squaring file, checked for itself; lengths [m].

    stations, midpoints : empty when only checks were measured
    at : where the square line shall cross the centreline; None takes the first station
    drawn : where a drawn line or cut meets the left and right edge; None for none
    limit : out of square over the width that may pass; None when not given
    plan, work : paths as written, for a limit from the joint's mechanics; "" for none
    end : which belt end; None where nobody wrote it down
    """

    name: str
    invented: bool
    width: float
    stations: tuple[float, ...]
    midpoints: tuple[float, ...]
    belt_length: float | None
    reading: float
    at: float | None
    drawn: tuple[float, float] | None
    checks: tuple[CheckMeasured, ...]
    limit: float | None
    plan: str
    work: str
    file: str
    end: End | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """How far out of square may pass [m], and where that comes from."""

    amount: float
    reason: Sentence


@dataclass(frozen=True, slots=True)
class CheckDone:
    """One hand check: error over the width, judged where there is a limit."""

    measured: CheckMeasured
    found: HandCheck
    judgement: CutJudgement | None


@dataclass(frozen=True, slots=True)
class SquaredEnd:
    """The end squared: centreline, square line, corrections, checks; lengths [m].

    centreline, line : None when no stations were measured
    correction : of the drawn line; None without one
    measured : the file it rests on
    sentences : the answer; remarks : what to look at; assumptions
    worksheet : how every number came about
    """

    name: str
    invented: bool
    width: float
    measured: SquaringMeasured
    centreline: Centreline | None
    line: SquareLine | None
    correction: Correction | None
    checks: tuple[CheckDone, ...]
    limit: Limit | None
    sentences: tuple[Sentence, ...]
    remarks: tuple[Sentence, ...]
    assumptions: tuple[Sentence, ...]
    worksheet: Record = _NOT_YET

    @property
    def passes(self) -> bool | None:
        """Whether every judged check is within its limit; None when none was judged."""
        judged = [c.judgement.verdict for c in self.checks if c.judgement is not None]
        return all(v is CutVerdict.PASS for v in judged) if judged else None

    def to_json(self) -> str:
        """The squaring as JSON; `from_json` gives it back without loss."""
        return _adapter().dump_json(self).decode()

    @classmethod
    def from_json(cls, text: str | bytes) -> SquaredEnd:
        """Read a squaring back.

        Raises
        ------
        InputError
            The text is no squaring.
        """
        return read_kept(_adapter(), text, "squaring")


_ADAPTERS: list[TypeAdapter[SquaredEnd]] = []


def _adapter() -> TypeAdapter[SquaredEnd]:
    """The serialiser, built once."""
    if not _ADAPTERS:
        from pydantic import BeforeValidator, TypeAdapter

        _ADAPTERS.append(TypeAdapter(Annotated[SquaredEnd, BeforeValidator(_named_as_now)]))
    return _ADAPTERS[0]


def _named_as_now(kept: Any) -> Any:
    """A squaring kept by 0.2.0 or before has its sentences as `said`."""
    if not isinstance(kept, dict):
        return kept
    return {"sentences" if key == "said" else key: value for key, value in kept.items()}
