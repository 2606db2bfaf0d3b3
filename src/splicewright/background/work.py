"""Doing a background task, by its kind. Each kind may run twice without harm."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.store import Register
from splicewright.store.background import BackgroundTask, TaskFile, TaskKind
from splicewright.store.progress import Tell

_SHOWN_ROWS = 200
"""Refused rows that stand in the answer; the file holds all."""
Done = tuple[Any, TaskFile | None]
"""What came of it as plain data, and the file to download."""


def do(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    """Do a background task.

    Parameters
    ----------
    task, given : what was asked, and the file with it
    tell : is called between steps

    Raises
    ------
    InputError, OutputError
        It cannot be done; the text says why.
    """
    work: Mapping[TaskKind, Callable[..., Done]] = {
        TaskKind.IMPORT: _import,
        TaskKind.BUNDLE: _bundle,
        TaskKind.FLEET: _fleet,
        TaskKind.QUESTION: _question,
        TaskKind.MEASURE: _measure,
    }
    return work[task.kind](register, task, given, now, tell)


def _import(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    from splicewright.actions.register.import_rows import import_table, refused_table

    if given is None:
        raise InputError(Fault("file", "is gone; upload the table again"))
    done = import_table(
        register,
        task.asked["table"],
        given.name,
        given.data,
        by=task.by,
        person=task.account,
        # Rows later than this are refused: it must be the same in a second take.
        now=task.created,
        dry_run=task.asked["step"] == "look",
        tell=tell,
    )
    shown = done.refused[:_SHOWN_ROWS]
    answer = {
        "table": task.asked["table"],
        "step": task.asked["step"],
        "rows": done.rows,
        "recorded": done.recorded,
        "already": done.already,
        "refused": len(done.refused),
        "refused_rows": [
            {"line": row.line, "field": fault.key, "sentence": fault.sentence}
            for row in shown
            for fault in row.faults
        ][: 2 * _SHOWN_ROWS],
    }
    if not done.refused:
        return answer, None
    return answer, TaskFile("refused-rows.csv", "text/csv", refused_table(done.refused))


def _bundle(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    from splicewright.actions.plan.bundle_packs import bundle_packs

    asked = task.asked
    jobs = [UUID(job) for job in asked["jobs"]]
    bundle = bundle_packs(register, jobs, asked["units"], asked["paper"], tell=tell)
    answer = {"packs": list(bundle.packs), "left_out": list(bundle.left_out)}
    return answer, TaskFile("job-folders.zip", "application/zip", bundle.content)


def _fleet(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    from splicewright.actions.life.forecast_joints import forecast_joints

    asked = task.asked
    site = UUID(asked["site"]) if asked["site"] else None
    forecast = forecast_joints(
        register,
        now,
        asked["ahead"],
        site=site,
        system=asked["units"],
        paper=asked["paper"],
        tell=tell,
    )
    answer = {"sites": [s.as_table() for s in forecast.sites], "assumed": list(forecast.assumed)}
    return answer, TaskFile("forecast.zip", "application/zip", forecast.content)


def _question(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    from splicewright.background.questions import work_question

    asked = task.asked
    answer, packed = work_question(
        register,
        asked["command"],
        asked["sent"],
        asked["door"],
        asked["units"],
        asked["paper"],
        now,
        tell,
    )
    return answer, TaskFile(f"{asked['command']}.zip", "application/zip", packed)


def _measure(
    register: Register, task: BackgroundTask, given: TaskFile | None, now: datetime, tell: Tell
) -> Done:
    from splicewright.actions.photographs.proposals import MeasureAsked
    from splicewright.actions.photographs.proposing import propose

    asked = dict(task.asked)
    asked["photographs"] = tuple(asked["photographs"])
    return propose(register, MeasureAsked(**asked), tell).to_data(), None
