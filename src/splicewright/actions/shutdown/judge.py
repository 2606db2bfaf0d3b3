"""Judge a shutdown: from its file to the chance to finish, and to the bars."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.files.typed_file import Readable

if TYPE_CHECKING:
    from datetime import datetime

    from splicewright.history.shutdown.study import Shutdown, ShutdownStudy
    from splicewright.store import Register


def judge_shutdown(
    tasks: Readable,
    *,
    register: Register | None = None,
    now: datetime | None = None,
    conveyor: str = "",
) -> ShutdownStudy:
    """Simulate the shutdown in a file.

    register, now : past jobs whose steps say how long a task takes; a task names its step by
        `step`, or is called as the step is
    conveyor : only the jobs of this one; empty takes all
    Raises InputError: anything wrong in the file, or tasks the crew cannot do.
    """
    from splicewright.files.toml import with_lines
    from splicewright.history.shutdown.file import load_shutdown
    from splicewright.history.shutdown.study import study_shutdown

    shutdown = load_shutdown(tasks)
    if register is not None and now is not None:
        shutdown = _with_past(shutdown, register, now, conveyor)
    with with_lines(tasks):
        return study_shutdown(shutdown)


def _with_past(shutdown: Shutdown, register: Register, now: datetime, conveyor: str) -> Shutdown:
    """The same with the times of past jobs beside those of the file."""
    from splicewright.actions.register.use import look_into
    from splicewright.actions.shutdown.from_register import past_times_of_register

    seen = past_times_of_register(look_into(register, now, conveyor=conveyor))
    past = dict(shutdown.past or {})
    used = []
    for task in shutdown.tasks:
        step = shutdown.steps.get(task.name, task.name.rpartition(": ")[2])
        if step in seen and task.low > 0:
            past[task.name] = (*past.get(task.name, ()), *seen[step])
            used.append(f"{task.name} ({len(seen[step])})")
    note = (
        f"times from past jobs on file: {', '.join(used)}"
        if used
        else ("no past job on file has a step of these tasks; times are those of the file")
    )
    return replace(shutdown, past=past, notes=(*shutdown.notes, note))
