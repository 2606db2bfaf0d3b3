"""The folder of a studied conveyor, as bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.svg_file import standing_alone

if TYPE_CHECKING:
    from splicewright.quantities import System
    from splicewright.tension import Study


def study_files(study: Study, system: System = "metric", paper: Paper = A4) -> dict[str, bytes]:
    """Make every file of a studied conveyor's folder, by name.

    Returns
    -------
    dict of file name to content; the same study gives the same bytes

    Raises
    ------
    OutputError
        A file cannot be made.
    """
    from splicewright.sheets.drawings.loop import side_view
    from splicewright.sheets.drawings.tension import tension_diagram
    from splicewright.sheets.reports.conveyor import conveyor_sheet

    files = {
        "conveyor-sheet.pdf": conveyor_sheet(study, system, paper),
        "study.json": study.to_json().encode(),
        "loop.svg": standing_alone(side_view(study, system)),
        "tension.svg": standing_alone(tension_diagram(study, system, every=True)),
    }
    if study.demand.reverse_cases:
        files["tension-reverse.svg"] = standing_alone(tension_diagram(study, system, reverse=True))
    return files
