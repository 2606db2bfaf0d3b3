"""Plate loads: what each plate of a planned joint carries, from a folder, a plan or a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.job import JointLoads


def plate_loads(
    source: Path, work: Path | None = None, fasteners: tuple[Path, ...] = ()
) -> JointLoads:
    """Work the plate loads of the plan that the user points at.

    work, fasteners : with a conveyor file, as for planning
    Raises InputError: there is no plan there, it cannot be read, or it has no joint.
    """
    from splicewright.actions.plan.plan import read_plan
    from splicewright.job import loads_of

    return loads_of(read_plan(source, work, fasteners))
