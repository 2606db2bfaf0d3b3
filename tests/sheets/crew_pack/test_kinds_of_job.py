"""Page one of the pack of every example job, whatever the kind takes out, puts in or leaves alone.

Reproduced: the pack of a job that only changes the hinge pin could not be made, for page one looked
for the bolts of a joint that takes none.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planned import SITE, planned
from splicewright.job import JointPlan
from splicewright.sheets.canvas.paper import A4
from splicewright.sheets.crew_pack.answer import KNOWN_LIMITS, answer
from splicewright.sheets.crew_pack.files import pack

JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))


def plan_of(job: str) -> JointPlan:
    return planned(job.partition("-")[0], job)


@pytest.mark.parametrize("job", JOBS)
def test_page_one_says_what_the_job_takes(job: str) -> None:
    made = plan_of(job)
    said = answer(made, "metric")
    names = [number["name"] for number in said["numbers"]]
    assert len(names) == len(set(names))
    bolted = {part.name for part in made.parts} & {"bolt", "rivet"}
    assert bool({"bolts and nuts", "rivets"} & set(names)) == (bool(bolted) and made.complete)
    assert said["limits"] == KNOWN_LIMITS


def test_the_pack_of_a_job_that_only_changes_the_pin_is_made() -> None:
    files = pack(plan_of("flat-emergency-pin"), "metric", A4, only="crew")
    assert files["crew-pack.pdf"].startswith(b"%PDF")


def test_the_line_of_limits_names_a_page_that_is_there() -> None:
    assert "docs/known-limits.md" in KNOWN_LIMITS
    assert (Path(__file__).parents[3] / "docs" / "known-limits.md").is_file()
