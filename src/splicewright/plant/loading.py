"""Files to models: conveyor and work, and the JSON Schemas of both."""

from __future__ import annotations

from typing import Any

from splicewright.files.typed_file import Readable
from splicewright.plant.conveyor import Conveyor
from splicewright.plant.work import Work


def load_conveyor(path: Readable) -> Conveyor:
    """Read a conveyor file (TOML) into a whole conveyor.

    Raises InputError: anything wrong with the file or what it says, every fault with key and line.
    """
    from splicewright.files.toml import load, with_lines
    from splicewright.plant.conveyor_file import ConveyorFile
    from splicewright.plant.filling.conveyor import fill

    with with_lines(path):
        return fill(load(path, ConveyorFile), path.name)


def load_work(path: Readable | None, conveyor: Conveyor) -> Work:
    """Read a work file (TOML); None gives the work that nobody described.

    Raises InputError: anything wrong with the file, or with the work on this conveyor.
    """
    from splicewright.files.toml import load, with_lines
    from splicewright.plant.filling.work import fill_work
    from splicewright.plant.work_file import WorkFile

    if path is None:
        return fill_work(None, conveyor)
    with with_lines(path):
        return fill_work(load(path, WorkFile), conveyor, path.name)


def schemas() -> dict[str, dict[str, Any]]:
    """The JSON Schemas of conveyor and work files, by name."""
    from splicewright.plant.conveyor_file import ConveyorFile
    from splicewright.plant.work_file import WorkFile

    return {
        "conveyor": ConveyorFile.model_json_schema(by_alias=True),
        "work": WorkFile.model_json_schema(by_alias=True),
    }
