"""What a shutdown file may hold (TOML): tasks, crew, window."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from splicewright.errors import Fault, InputError
from splicewright.files.answers import refused
from splicewright.files.fields import Plain, Table
from splicewright.files.toml import load, with_lines
from splicewright.files.typed_file import Readable
from splicewright.history.shutdown.study import More, Shutdown
from splicewright.history.shutdown.tasks import Task
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind
from splicewright.quantities.limits import beyond_days

Span = Annotated[float, Plain(Kind.TIME, 0.0, 60 * 86400.0)]
Crew = dict[Name, Annotated[int, Field(ge=1, le=200)]]


def _believable(begins: datetime | None) -> datetime | None:
    if begins is not None and (why := beyond_days(begins.date())):
        raise refused(f"{begins.date()} {why}")
    return begins


class ShutdownTable(Table):
    """[shutdown]: the window, and how times are drawn."""

    name: Name
    invented: bool = False
    window: Annotated[float, Plain(Kind.TIME, 0.0, 60 * 86400.0, above=True)]
    law: Literal["pert", "triangular"] = "pert"
    common_cause: Annotated[float, Plain(Kind.SHARE, 0.0, 1.0)] = 0.0
    runs: int = Field(default=5000, ge=200, le=20_000)
    note: str = ""
    begins: Annotated[datetime | None, AfterValidator(_believable)] = None


class TaskTable(Table):
    """[[task]]: one step, what it waits for, and whom and what it holds."""

    name: Name
    job: Annotated[str, Field(max_length=80)] = ""
    time: list[Span] = Field(min_length=1, max_length=3)
    after: list[str] = Field(default=[], max_length=50)
    needs: Crew = {}
    past: list[Span] = Field(default=[], max_length=200)
    step: Annotated[str, Field(max_length=80)] = ""


class MoreTable(Table):
    """[[more]]: people or tools that could be added, to see what they buy.

    `faster` gives the share of its time a task then takes, by its name.
    """

    name: Name
    crew: Crew = {}
    faster: dict[Name, Annotated[float, Plain(Kind.SHARE, 0.0, 1.0, above=True)]] = {}


class ShutdownFile(Table):
    """A shutdown file."""

    shutdown: ShutdownTable
    crew: Crew = Field(min_length=1)
    task: list[TaskTable] = Field(min_length=1, max_length=400)
    more: list[MoreTable] = Field(default=[], max_length=6)


def load_shutdown(path: Readable) -> Shutdown:
    """Read a shutdown file.

    Raises InputError: anything wrong in the file; each fault with line and key.
    """
    file = load(path, ShutdownFile)
    faults = [
        Fault(
            f"task.{n}.time",
            f"has {len(t.time)} times; accepted is one, or shortest, likeliest and longest",
            path.name,
        )
        for n, t in enumerate(file.task, 1)
        if len(t.time) == 2
    ]
    with with_lines(path):
        if faults:
            raise InputError(*faults)
    tasks = tuple(
        Task(
            _full(t.job, t.name),
            t.time[0],
            t.time[len(t.time) // 2],
            t.time[-1],
            tuple(_waited(t.job, a, file) for a in t.after),
            t.needs,
        )
        for t in file.task
    )
    head = file.shutdown
    return Shutdown(
        head.name,
        head.window,
        tasks,
        file.crew,
        tuple(More(m.name, m.crew, m.faster) for m in file.more),
        {_full(t.job, t.name): tuple(t.past) for t in file.task if t.past},
        head.law,
        head.common_cause,
        head.runs,
        head.invented,
        {_full(t.job, t.name): t.step for t in file.task if t.step},
        begins=head.begins,
    )


def _full(job: str, name: str) -> str:
    return f"{job}: {name}" if job else name


def _waited(job: str, name: str, file: ShutdownFile) -> str:
    """A task of the same job, or one named in full."""
    inside = _full(job, name)
    return inside if any(_full(t.job, t.name) == inside for t in file.task) else name
