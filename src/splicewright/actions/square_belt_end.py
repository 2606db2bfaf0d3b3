"""Square a belt end: from measured points, or a file of them, to corrections and a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from splicewright.joint.square_end import Limit, SquaredEnd, SquaringMeasured


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
    from splicewright.joint.square_end import load_squaring, square_end
    from splicewright.plant.toml import with_lines

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
    from splicewright.joint.square_end import square_end
    from splicewright.joint.squaring_file import SquaringFile, build
    from splicewright.plant.toml import check

    head: dict[str, Any] = {"name": "belt end", "width": width}
    if limit is not None:
        head["limit"] = limit
    rows = [{"at": at, "midpoint": offset} for at, offset in stations]
    return square_end(build(check({"squaring": head, "stations": rows}, SquaringFile, "")))


def _limit(measured: SquaringMeasured, folder: Path, fasteners: tuple[Path, ...]) -> Limit | None:
    """The limit that the named plan's joint asks for; none where one is stated or none named."""
    if measured.limit is not None or not measured.plan:
        return None
    from splicewright.actions.plan_joint import read_plan
    from splicewright.job.square_limit import square_limit

    work = folder / measured.work if measured.work else None
    return square_limit(read_plan(folder / measured.plan, work, fasteners))
