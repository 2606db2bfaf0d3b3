"""Decide on a torn or worn place: from its file to the ways in order."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.folder.writing import as_file, replace_folder

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.history.decision.study import DecisionStudy
    from splicewright.quantities import System


def decide_place(options: Path) -> DecisionStudy:
    """Judge the ways in a file.

    Raises
    ------
    InputError
        Anything wrong in the file.
    """
    from splicewright.history.decision.file import load_decision
    from splicewright.history.decision.study import study_decision

    return study_decision(load_decision(options))


def write_decision(
    study: DecisionStudy, answer: object, out: Path, system: System, paper: PaperName
) -> tuple[Path, ...]:
    """Write the sheet and the answer as JSON: all or nothing.

    Parameters
    ----------
    study : what to write
    answer : the same as plain data, for machines
    out : folder; made when missing, replaced when it holds an earlier decision
    system, paper : as for a job pack

    Raises
    ------
    OutputError
        The folder holds other things, or cannot be written.
    """
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.reports.decision import decision_report

    files = {
        "decision.pdf": decision_report(study, system, PAPERS[paper]),
        "decision.json": as_file(answer),
    }
    return replace_folder(out, files, known="decision.json")
