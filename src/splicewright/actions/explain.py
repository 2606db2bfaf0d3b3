"""Explain a number: find the worksheet it stands in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.quantities import Record


def lines_of(
    source: Path, key: str | None = None, work: Path | None = None, fasteners: tuple[Path, ...] = ()
) -> Record:
    """The worksheet of what the user points at.

    source : folder of any answer that holds a worksheet; folder or JSON file of a plan, a study,
        an assessment or a squaring; or a conveyor file
    key : the number asked for; None for all. Plate loads, bolts and pulleys of a plan are worked
        only when they are asked for, or all is
    Raises InputError: there is nothing of the kind there, or it cannot be read.
    """
    from splicewright.actions.conveyor.question import read_study
    from splicewright.actions.folder.worksheet import read_worksheet
    from splicewright.actions.inspection.assess import read_assessment
    from splicewright.actions.plan.plan import read_plan
    from splicewright.actions.squaring import read_squaring

    kept = read_worksheet(source)
    if kept is not None:
        return kept
    answer = read_study(source) or read_assessment(source) or read_squaring(source)
    if answer is not None:
        return answer.worksheet
    plan = read_plan(source, work, fasteners)
    if not plan.complete or (key is not None and key in set(plan.worksheet.keys())):
        return plan.worksheet
    from splicewright.job import loads_of

    return loads_of(plan).worksheet
