"""Asking for a background task: it is checked and written down, then a worker is sent for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal
from uuid import UUID

from splicewright.actions.folder.writing import PaperName
from splicewright.actions.photographs.proposals import MeasureAsked, asked_of_measuring
from splicewright.actions.register.import_rows import TableKind
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf
from splicewright.files.question import Door, answers, asked_by
from splicewright.quantities import System
from splicewright.store import Register
from splicewright.store.background import (
    BackgroundTask,
    BackgroundTasks,
    TaskFile,
    TaskKind,
    TaskState,
)
from splicewright.store.facts.photo_facts import MOST_PHOTOGRAPHS, SHORT
from splicewright.store.present.measurings import measurings
from splicewright.store.sites import ALL_SITES, Sites

if TYPE_CHECKING:
    from splicewright.background.queue import Queue

MOST_JOBS = 50
"""Job folders in one bundle."""
DAY = 86_400.0
Step = Literal["look", "apply"]


@dataclass(frozen=True, slots=True)
class ImportAsked:
    """Import a table; step "look" only says what would be done."""

    table: TableKind
    step: Step
    file: str


@dataclass(frozen=True, slots=True)
class BundleAsked:
    """The job folders of some jobs in one file."""

    jobs: tuple[str, ...]
    units: System
    paper: PaperName


@dataclass(frozen=True, slots=True)
class FleetAsked:
    """Forecast all joints of a site, or of all sites: how long they last, which fails next.

    ahead : looked ahead over [s]
    """

    site: str | None
    ahead: float
    units: System
    paper: PaperName


@dataclass(frozen=True, slots=True)
class QuestionAsked:
    """A question of the whole register, as it was answered at a door (`background.questions`)."""

    command: str
    sent: dict[str, Any]
    door: Door
    units: System
    paper: PaperName


@dataclass(frozen=True, slots=True)
class Background:
    """Where tasks are asked for: what is written down, and who is sent for.

    sites : that who asks is let into; the worker reads no other
    """

    tasks: BackgroundTasks
    queue: Queue
    sites: Sites = ALL_SITES

    def put(
        self,
        kind: TaskKind,
        asked: Any,
        label: str,
        by: str,
        account: UUID | None,
        id: UUID | None,
        file: TaskFile | None = None,
    ) -> BackgroundTask:
        """Write down, then send for a worker; asked again with the same id it is the same."""
        task = self.tasks.ask(
            kind,
            asdict(asked),
            label=label,
            by=by,
            account=account,
            file=file,
            id=id,
            sites=self.sites,
        )
        if task.state is TaskState.WAITING:
            self.queue.put(task.task)
        return task


def ask_import(
    background: Background,
    table: TableKind,
    name: str,
    data: bytes,
    *,
    by: str,
    account: UUID | None = None,
    step: Step = "look",
    id: UUID | None = None,
) -> BackgroundTask:
    """Ask for an import, or (step "look") for what it would do.

    Parameters
    ----------
    name, data : of the file, .csv or .xlsx
    id : made by who asks, so that asking twice is asking once

    Raises
    ------
    InputError
        The file is empty, too large, or has another ending.
    """
    from splicewright.files.spreadsheets import ENDINGS

    shown = _file_name(name)
    if not shown.lower().endswith(ENDINGS):
        say = f'"{shown[-40:]}" is not read; accepted is a file with the ending .csv or .xlsx'
        raise InputError(Fault("file", say))
    label = f"{'Look through' if step == 'look' else 'Import'} {table}: {shown}"
    file = TaskFile(shown, "application/octet-stream", data)
    asked = ImportAsked(table, step, shown)
    return background.put(TaskKind.IMPORT, asked, label, by, account, id, file)


def ask_import_again(
    background: Background,
    looked: BackgroundTask,
    *,
    by: str,
    account: UUID | None = None,
    id: UUID | None = None,
) -> BackgroundTask:
    """Import what was looked through before.

    Raises
    ------
    InputError
        That task is no finished look through a table, or its file is gone.
    """
    given = background.tasks.given(looked.task)
    if (
        looked.kind is not TaskKind.IMPORT
        or looked.state is not TaskState.DONE
        or looked.asked.get("step") != "look"
        or given is None
    ):
        say = "is no finished look through a table; upload the table first"
        raise InputError(Fault("task", say))
    table: TableKind = looked.asked["table"]
    return ask_import(
        background, table, given.name, given.data, by=by, account=account, step="apply", id=id
    )


def ask_bundle(
    background: Background,
    jobs: Sequence[UUID],
    *,
    by: str,
    account: UUID | None = None,
    units: System = "metric",
    paper: PaperName = "A4",
    id: UUID | None = None,
) -> BackgroundTask:
    """Ask for the job folders of some jobs in one file.

    Raises
    ------
    InputError
        No job is named, or too many.
    """
    wanted = tuple(dict.fromkeys(str(job) for job in jobs))
    if not 0 < len(wanted) <= MOST_JOBS:
        say = f"names {len(wanted)} jobs; accepted are 1 to {MOST_JOBS}"
        raise InputError(Fault("jobs", say))
    label = f"Job folders of {len(wanted)} jobs" if len(wanted) > 1 else "Job folder of one job"
    asked = BundleAsked(wanted, units, paper)
    return background.put(TaskKind.BUNDLE, asked, label, by, account, id)


def ask_fleet(
    background: Background,
    ahead: float,
    *,
    by: str,
    site: UUID | None = None,
    account: UUID | None = None,
    units: System = "metric",
    paper: PaperName = "A4",
    id: UUID | None = None,
) -> BackgroundTask:
    """Ask for a forecast of all joints.

    Parameters
    ----------
    ahead : how far to look ahead [s], a day to ten years

    Raises
    ------
    InputError
        It looks too far, or not ahead at all.
    """
    if not DAY <= ahead <= 3653 * DAY:
        raise InputError(Fault("ahead", "cannot be; accepted are 1 day to 3653 days"))
    where = "one site" if site is not None else "all sites"
    label = f"Forecast of the joints of {where}, {ahead / DAY:.0f} days ahead"
    asked = FleetAsked(str(site) if site is not None else None, ahead, units, paper)
    return background.put(TaskKind.FLEET, asked, label, by, account, id)


def ask_question(
    background: Background,
    command: str,
    sent: Mapping[str, Any],
    *,
    by: str,
    door: Door = "page",
    account: UUID | None = None,
    units: System = "metric",
    paper: PaperName = "A4",
    id: UUID | None = None,
) -> BackgroundTask:
    """Ask a question of the whole register.

    Parameters
    ----------
    sent : what was answered, by the names of its fields
    door : at which it was answered; faults name fields as they are called there

    Raises
    ------
    InputError
        There is no such question, or answers that cannot be used.
    """
    from splicewright.background.questions import QUESTIONS

    if command not in QUESTIONS:
        say = f'"{command[:40]}" is not asked here; accepted is {", ".join(sorted(QUESTIONS))}'
        raise InputError(Fault("question", say))
    model = QUESTIONS[command].asked
    # Files stay where they are: what is read here is the register.
    given = {
        f.name: sent[f.name]
        for f in asked_by(model)
        if f.name in sent and not isinstance(f.answer, FileOf)
    }
    unknown = sorted(set(sent) - set(given))
    if unknown:
        raise InputError(Fault(unknown[0][:40], "is not asked here"))
    answers(model, given, door)
    asked = QuestionAsked(command, given, door, units, paper)
    label = f"{command.replace('-', ' ').capitalize()}, by the whole register"
    return background.put(TaskKind.QUESTION, asked, label, by, account, id)


def ask_measure(
    background: Background,
    asked: MeasureAsked,
    *,
    by: str,
    account: UUID | None = None,
    id: UUID | None = None,
) -> BackgroundTask:
    """Ask for photographs that the register keeps to be measured.

    Raises
    ------
    InputError
        No photograph is named, or too many.
    """
    if not 0 < len(asked.photographs) <= MOST_PHOTOGRAPHS:
        say = f"names {len(asked.photographs)}; accepted are 1 to {MOST_PHOTOGRAPHS}"
        raise InputError(Fault("photographs", say))
    label = f"{SHORT[asked.shows]} of the {asked.end} end, measured by photograph"
    return background.put(TaskKind.MEASURE, asked, label, by, account, id)


def begin_measurings(
    background: Background | None,
    register: Register,
    things: Iterable[UUID],
    by: str,
    account: UUID | None,
) -> None:
    """Ask for every measuring of these jobs and joints whose photographs have all come."""
    if background is None:
        return
    for thing in dict.fromkeys(things):
        for measurement in measurings(register.facts_about(thing)):
            begun = background.tasks.task(measurement.measuring) is not None
            if measurement.whole and measurement.signed is None and not begun:
                asked = asked_of_measuring(measurement)
                ask_measure(background, asked, by=by, account=account, id=measurement.measuring)


def _file_name(name: str) -> str:
    """The last part of a file's name, with nothing in it that a terminal or page would act on."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c for c in last if c.isprintable())[-100:].strip() or "table"
