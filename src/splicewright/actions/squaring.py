"""Square a belt end: from measured points, or a file of them, to corrections and a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.actions.folder.reading import read_result

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.joint.belt_end.squared_end import Limit, SquaredEnd, SquaringMeasured
    from splicewright.quantities import System

FILE = "squaring.json"


def square_file(path: Path, fasteners: tuple[Path, ...] = ()) -> SquaredEnd:
    """Square the end that a squaring file describes.

    Parameters
    ----------
    path : squaring file; a plan it names is looked for from its own folder
    fasteners : range files or folders, where the plan is a conveyor file

    Raises
    ------
    InputError
        Anything wrong in the file, or in the plan it names.
    """
    from splicewright.files.toml import with_lines
    from splicewright.joint.belt_end.file import load_squaring
    from splicewright.joint.belt_end.squaring import square_end

    measured = load_squaring(path)
    with with_lines(path):
        return square_end(measured, _limit(measured, path.parent, fasteners))


def square_points(
    width: str, stations: Sequence[tuple[str, str]], limit: str | None = None
) -> SquaredEnd:
    """Square an end from a few points typed on the command line, as texts with units.

    Parameters
    ----------
    width : belt width
    stations : distance from the end and offset of the belt's middle, left positive
    limit : out of square that may pass

    Raises
    ------
    InputError
        As `square_file`.
    """
    from splicewright.files.toml import check
    from splicewright.joint.belt_end.file import SquaringFile, build
    from splicewright.joint.belt_end.squaring import square_end

    head: dict[str, Any] = {"name": "belt end", "width": width}
    if limit is not None:
        head["limit"] = limit
    rows = [{"at": at, "midpoint": offset} for at, offset in stations]
    return square_end(build(check({"squaring": head, "stations": rows}, SquaringFile, "")))


def _limit(measured: SquaringMeasured, folder: Path, fasteners: tuple[Path, ...]) -> Limit | None:
    """The limit that the named plan's joint asks for; none where one is stated or none named."""
    if measured.limit is not None or not measured.plan:
        return None
    from splicewright.actions.plan.plan import read_plan
    from splicewright.job.square_limit import square_limit

    work = folder / measured.work if measured.work else None
    return square_limit(read_plan(folder / measured.plan, work, fasteners))


def write_squaring(
    made: SquaredEnd, out: Path, system: System, paper: PaperName
) -> tuple[Path, ...]:
    """Write the folder of a squared end: page (PDF), drawing (SVG) and JSON, or nothing.

    Parameters
    ----------
    made : what to write
    out : folder; made when missing, replaced when it holds an earlier squaring
    system, paper : as for a crew pack

    Raises
    ------
    OutputError
        The folder holds other things, or cannot be written; what was there is untouched.
    """
    from splicewright.actions.folder.writing import replace_folder
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.reports.squaring import squaring_files

    files = squaring_files(made, system, PAPERS[paper])
    return replace_folder(out, files, known=FILE)


def read_squaring(source: Path) -> SquaredEnd | None:
    """The squaring the user points at, a folder or its JSON file; None where there is none.

    Raises
    ------
    InputError
        It cannot be read.
    """
    from splicewright.joint.belt_end.squared_end import SquaredEnd

    return read_result(source, FILE, SquaredEnd.from_json)
