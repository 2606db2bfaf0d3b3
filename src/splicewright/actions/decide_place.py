"""Decide on a torn or worn place: from its file to the ways in order."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.history.decision_study import DecisionStudy


def decide_place(options: Path) -> DecisionStudy:
    """Judge the ways in a file.

    Raises
    ------
    InputError
        Anything wrong in the file.
    """
    from splicewright.history.decision_file import load_decision
    from splicewright.history.decision_study import study_decision

    return study_decision(load_decision(options))
