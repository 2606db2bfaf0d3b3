"""A work file is started for each kind of job, and says what that kind asks for."""

from __future__ import annotations

from pathlib import Path

import pytest

from splicewright.actions.files.start import start_file
from splicewright.cli.files import JOBS
from splicewright.errors import InputError
from splicewright.plant import JobKind, load_work
from strategies import conveyor_of, outline


def test_the_command_knows_every_kind() -> None:
    assert list(JobKind) == JOBS


@pytest.mark.parametrize("kind", JOBS)
def test_a_started_file_plans_once_it_is_named(tmp_path: Path, kind: str) -> None:
    path = start_file(tmp_path / "job.toml", "work", kind)
    text = path.read_text("utf-8").replace('name = ""', 'name = "a job"')
    path.write_text(text, "utf-8")
    try:
        work = load_work(path, conveyor_of(outline()))
    except InputError as error:  # nothing of the template itself is refused
        pytest.fail(str(error))
    assert (work.job.value, work.job_why) == (kind, "")
