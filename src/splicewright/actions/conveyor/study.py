"""Study a conveyor's tension: from its file to the study, and to the folder of its sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.folder.reading import read_result
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.quantities import System
    from splicewright.tension import Study

FILE = "study.json"
MOST_SAMPLES = 1 << 20


def study_conveyor(
    conveyor: Path, rating: str | None = None, samples: int | None = None, seed: int | None = None
) -> Study:
    """Study the conveyor of a file.

    Parameters
    ----------
    conveyor : conveyor file
    rating : tension per width to compare the demand with, such as "90 N/mm"
    samples, seed : of the uncertainty run; None takes the usual ones

    Raises
    ------
    InputError
        Anything wrong in the file, or a rating, number of samples or seed that cannot be.
    """
    from splicewright.plant import load_conveyor
    from splicewright.quantities import Kind, read
    from splicewright.tension import study
    from splicewright.tension.unknowns import SAMPLES, SEED

    asked = None if rating is None else read(rating, Kind.WIDTH_FORCE, "rating")
    if asked is not None and asked <= 0:
        raise InputError(Fault("rating", f'"{rating}" is no rating; give more than 0'))
    count = SAMPLES if samples is None else samples
    if not 2 <= count <= MOST_SAMPLES:
        raise InputError(Fault("samples", f"{count} cannot be run; give 2 to {MOST_SAMPLES}"))
    start = SEED if seed is None else seed
    if start < 0:
        raise InputError(Fault("seed", f"{start} cannot be used; give 0 or more"))
    return study(load_conveyor(conveyor), asked, count, start)


def write_study(found: Study, out: Path, system: System, paper: PaperName) -> tuple[Path, ...]:
    """Write the folder of a studied conveyor: all of it, or nothing.

    Parameters
    ----------
    found : what to write
    out : folder; made when missing, replaced when it holds an earlier study
    system : "metric" or "inch"
    paper : "A4" or "Letter"

    Returns
    -------
    The files written.

    Raises
    ------
    OutputError
        The folder holds other things, or cannot be written; what was there is untouched.
    """
    from splicewright.actions.folder.writing import replace_folder
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.reports.conveyor_files import study_files

    files = study_files(found, system, PAPERS[paper])
    return replace_folder(out, files, known=FILE)


def read_study(source: Path) -> Study | None:
    """The study the user points at, a folder or its study.json; None where there is none.

    Raises
    ------
    InputError
        It cannot be read.
    """
    from splicewright.tension import Study

    return read_result(source, FILE, Study.from_json)
