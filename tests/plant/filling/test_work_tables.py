"""A work told as the tables of its file again: made of them, it is the same to the last digit.

Source of what is expected: the files of the examples themselves; a work made of them and a work
made of what was told of it must be equal.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planned import SITE
from splicewright.files.toml import check
from splicewright.plant import load_conveyor, load_work
from splicewright.plant.filling.work import fill_work
from splicewright.plant.filling.work_tables import work_tables
from splicewright.plant.work_file import WorkFile

FILES = sorted((SITE / "jobs").glob("*.toml"))


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_every_example_comes_back(file: Path) -> None:
    conveyor = load_conveyor(SITE / "conveyors" / f"{file.stem.split('-')[0]}.toml")
    work = load_work(file, conveyor)
    assert fill_work(check(work_tables(work), WorkFile, ""), conveyor) == work


def test_spreads_ranges_and_inches_come_back(tmp_path: Path) -> None:
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    file = tmp_path / "work.toml"
    file.write_text(
        '[work]\nname = "odd"\nrun = "long return"\ndistance = "60.3 ft"\n[belt]\n'
        'cut_out = { value = "0.4 m", sd = "7 mm", note = "paced" }\ninsert = "0 m"\n'
        'thickness = ["19/32 in", "14.9 mm"]\n'
        '[crew]\nwindow = "6 to 9 h"\nhoist_travel = "1.5 m"\n'
    )
    work = load_work(file, conveyor)
    assert work.cut_out.sd and work.window is not None and work.window.low < work.window.high
    again = fill_work(check(work_tables(work), WorkFile, ""), conveyor)
    assert again == work


def test_a_place_that_nobody_gave_stays_open() -> None:
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    work = load_work(None, conveyor)
    told = work_tables(work)
    assert "run" not in told["work"] and "distance" not in told["work"]
    assert fill_work(check(told, WorkFile, ""), conveyor) == work
