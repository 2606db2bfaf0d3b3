"""Judge a shutdown: from its file to the chance to finish, and to the bars."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.writing import replace_folder

if TYPE_CHECKING:
    from splicewright.history.shutdown_study import ShutdownStudy


def judge_shutdown(tasks: Path) -> ShutdownStudy:
    """Simulate the shutdown in a file.

    Raises
    ------
    InputError
        Anything wrong in the file, or tasks the crew cannot do.
    """
    from splicewright.history.shutdown_file import load_shutdown
    from splicewright.history.shutdown_study import study_shutdown
    from splicewright.plant.toml import with_lines

    shutdown = load_shutdown(tasks)
    with with_lines(tasks):
        return study_shutdown(shutdown)


def write_shutdown(study: ShutdownStudy, answer: object, out: Path) -> tuple[Path, ...]:
    """Write the bars (SVG, text) and the answer as JSON: all or nothing.

    Parameters
    ----------
    study : what to write
    answer : the same as plain data, for machines
    out : folder; made when missing, replaced when it holds an earlier shutdown

    Raises
    ------
    OutputError
        The folder holds other things, or cannot be written.
    """
    from splicewright.sheets.files import standing_alone
    from splicewright.sheets.shutdown_sheet import shutdown_bars, shutdown_text

    files = {
        "shutdown.svg": standing_alone(shutdown_bars(study)),
        "shutdown.txt": ("\n".join(shutdown_text(study)) + "\n").encode(),
        "shutdown.json": json.dumps(answer, indent=1, ensure_ascii=False).encode(),
    }
    return replace_folder(out, files, known="shutdown.json")
