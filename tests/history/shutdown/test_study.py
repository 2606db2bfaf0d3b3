"""The shutdown from its file to chance, bars and what more people buy."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from statistics import NormalDist

import pytest

from splicewright.errors import InputError
from splicewright.history.shutdown.file import load_shutdown
from splicewright.history.shutdown.study import More, Shutdown, study_shutdown
from splicewright.history.shutdown.tasks import Task
from splicewright.sheets.reports.shutdown import shutdown_words

HOUR = 3600.0
SURE = Shutdown(
    "sure times",
    5 * HOUR,
    (
        Task("isolate", HOUR, HOUR, HOUR),
        Task("left", 2 * HOUR, 2 * HOUR, 2 * HOUR, ("isolate",), {"fitter": 1}),
        Task("right", HOUR, HOUR, HOUR, ("isolate",), {"fitter": 1}),
    ),
    {"fitter": 1},
    (More("a second fitter", {"fitter": 1}),),
    runs=200,
)


def test_sure_times_give_a_sure_plan() -> None:
    # one fitter: 1 + 2 + 1 h; two: 1 + 2 h
    found = study_shutdown(SURE)
    assert found.chance.share == 1.0 and found.chance.error == 0.0
    assert found.mean == pytest.approx(4 * HOUR)
    assert [(b.task, b.start / HOUR, b.end / HOUR) for b in found.bars] == [
        ("isolate", 0, 1),
        ("left", 1, 3),
        ("right", 3, 4),
    ]
    assert found.bought[0].gain.saved == pytest.approx(HOUR)
    assert found.crew_wait == pytest.approx(HOUR)
    assert found.merge_bias == pytest.approx(0.0)
    assert study_shutdown(replace(SURE, window=3.9 * HOUR)).chance.share == 0.0


def test_work_is_slowed_together_only_where_that_is_asked_for() -> None:
    """Sure times of 4 h, each run times exp(0.1 z): done by w with the chance Φ(ln(w/4 h)/0.1)."""
    runs = replace(SURE, window=4.4 * HOUR, runs=20_000)
    assert study_shutdown(runs).chance.share == 1.0
    asked = study_shutdown(replace(runs, common_cause=0.1))
    error = 4 * math.sqrt(0.25 / runs.runs)
    expected = NormalDist().cdf(math.log(1.1) / 0.1)
    assert asked.chance.share == pytest.approx(expected, abs=error)


def test_past_jobs_outweigh_the_range() -> None:
    tasks = (Task("punch", HOUR, 1.1 * HOUR, 1.3 * HOUR),)
    stated = study_shutdown(Shutdown("a", HOUR, tasks, {"fitter": 1}, runs=500))
    past = {"punch": (3 * HOUR,) * 20}
    learnt = study_shutdown(Shutdown("a", HOUR, tasks, {"fitter": 1}, past=past, runs=500))
    assert learnt.half > 2 * stated.half


FILE = """
[shutdown]
name = "two joints"
window = "6 h"
[crew]
fitter = 2
[[task]]
name = "isolate"
time = ["1 h"]
[[task]]
job = "joint 1"
name = "cut"
time = ["1 h", "2 h", "3 h"]
after = ["isolate"]
[[task]]
job = "joint 1"
name = "plates"
time = ["1 h", "2 h", "3 h"]
after = ["cut"]
needs = { fitter = 2 }
"""


def loaded(tmp_path: Path, text: str) -> Shutdown:
    path = tmp_path / "tasks.toml"
    path.write_text(text, "utf-8")
    return load_shutdown(path)


def test_tasks_of_a_job_wait_for_their_own_or_for_shared_ones(tmp_path: Path) -> None:
    names = {t.name: t.after for t in loaded(tmp_path, FILE).tasks}
    assert names == {
        "isolate": (),
        "joint 1: cut": ("isolate",),
        "joint 1: plates": ("joint 1: cut",),
    }


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('["1 h"]', '["1 h", "2 h"]', "tasks.toml:9: task.1.time: has 2 times; accepted is one"),
        ('"6 h"', '"6 kg"', 'tasks.toml:4: shutdown.window: "6 kg" has the unit "kg"'),
        ("fitter = 2\n", 'fitter = "two"\n', "tasks.toml:6: crew.fitter: 'two' cannot be used"),
        ('name = "isolate"', 'nmae = "isolate"', "tasks.toml:7: task.1.name: is missing"),
    ],
)
def test_files_that_cannot_be_used(tmp_path: Path, old: str, new: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        loaded(tmp_path, FILE.replace(old, new, 1))
    assert str(caught.value).startswith(words)


def test_a_task_no_crew_can_do(tmp_path: Path) -> None:
    asked = loaded(tmp_path, FILE.replace("{ fitter = 2 }", "{ fitter = 3 }"))
    with pytest.raises(InputError, match="needs 3 of fitter, but the crew has 2"):
        study_shutdown(asked)


def test_ends_have_their_day_and_time_where_the_window_begins_at_one() -> None:
    begins = datetime(2026, 5, 4, 21, 30)
    told = shutdown_words(study_shutdown(replace(SURE, begins=begins)))
    # sure times: 4 h of work in a window of 5 h
    assert "within 5 h (2026-05-05 02:30)" in told[0]
    assert "half of all runs end by 4 h (2026-05-05 01:30)" in told[1]
    assert "(20" not in "".join(shutdown_words(study_shutdown(SURE))[:2])
