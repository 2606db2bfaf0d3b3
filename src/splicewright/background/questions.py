"""Questions of a whole register: from what size on they are background tasks, and their work."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Collection, Mapping
from contextlib import nullcontext
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from splicewright.actions.fleet.question import FLEET
from splicewright.actions.folder.writing import PaperName
from splicewright.actions.inspection_interval.question import LOOK_HERE, WHEN
from splicewright.actions.life.question import LIFE
from splicewright.actions.planner import PLANNER
from splicewright.actions.question import Inquiry, OneConveyor, Source
from splicewright.actions.shutdown.question import CHOOSE
from splicewright.actions.stock.question import STOCK
from splicewright.files.question import Door, Question, answers, at_door
from splicewright.quantities import System
from splicewright.store import Register, Stored
from splicewright.store.progress import Tell

if TYPE_CHECKING:
    from splicewright.store.present.present import JointNow, State

LARGE = 50_000
"""Facts up to which a question of the whole register is answered at once: some seconds of a core
(reading a fact and taking it to pieces takes about 80 microseconds)."""
QUESTIONS: Mapping[str, Inquiry[Any, Any]] = {
    inquiry.command: inquiry for inquiry in (CHOOSE, FLEET, LIFE, LOOK_HERE, PLANNER, STOCK, WHEN)
}
"""What can be asked as a background task, by its word."""


def takes_long(register: Register, asked: Question) -> bool:
    """Whether a question reads the whole of a large register."""
    whole = isinstance(asked, OneConveyor) and asked.reads_all
    return whole and register.head().seq > LARGE


def work_question(
    register: Register,
    command: str,
    sent: Mapping[str, Any],
    door: Door,
    units: System,
    paper: PaperName,
    now: datetime,
    tell: Tell,
) -> tuple[dict[str, Any], bytes]:
    """Answer a question.

    Parameters
    ----------
    command, sent, door : which question, what was answered, and at which door
    units, paper : of words and report
    tell : is called while it reads

    Returns
    -------
    the answer in words, and its folder as ZIP: report, drawings, numbers, worksheet

    Raises
    ------
    InputError
        It cannot be answered; the text says why.
    """
    inquiry = QUESTIONS[command]
    reporting_register = cast("Register", _Told(register, tell))
    source = Source(lambda: nullcontext(reporting_register), True, lambda: now)
    with at_door(inquiry.asked, door):
        answer = inquiry.answer(answers(inquiry.asked, sent, door), source)
    tell(0, 0, "writing the report")
    document = inquiry.document(answer, units)
    with tempfile.TemporaryDirectory() as folder:
        paths = inquiry.write(answer, Path(folder) / command, units, paper)
        packed = BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(paths):
                archive.write(path, f"{command}/{path.name}")
    data = {"question": command, "words": document.lines(), "document": document.data()}
    return data, packed.getvalue()


class _Told:
    """A register whose long reads say how far they are, and stop when the task is cancelled."""

    def __init__(self, register: Register, tell: Tell) -> None:
        self._register, self._tell = register, tell
        self._last = register.head().seq

    def __getattr__(self, name: str) -> Any:
        return getattr(self._register, name)

    def facts_since(
        self, seq: int, limit: int = 1000, kinds: Collection[str] = ()
    ) -> tuple[Stored, ...]:
        """Facts after a number, told beforehand."""
        self._tell(seq, self._last, "reading facts")
        return self._register.facts_since(seq, limit, kinds)

    def facts_about(self, subject: UUID, since: int = 0) -> tuple[Stored, ...]:
        """Facts of one thing; of many things one after another it takes long, too."""
        self._tell(0, 0, "reading what was recorded of each joint")
        return self._register.facts_about(subject, since)

    def joints(
        self, conveyor: UUID | None = None, states: Collection[State] = (), **which: Any
    ) -> tuple[JointNow, ...]:
        """A page of joints."""
        self._tell(0, 0, "reading joints")
        return self._register.joints(conveyor, states, **which)
