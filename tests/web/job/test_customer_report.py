"""The customer's report: what the register says of a job, on the page and by the command."""

from __future__ import annotations

from base64 import b64decode
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Page

from splicewright.actions.job.customer_report import find_job, report_on_job
from splicewright.actions.photographs.keep import keep_photograph
from splicewright.actions.plan.record import RecordedPlan
from splicewright.errors import InputError
from splicewright.sheets.photographs import for_paper
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, enter
from web.job.test_sync import MakePhone, make_phone
from web.looking import axe, fits, picture, small_targets

__all__ = ["make_phone"]


def _text(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(p.get_textpage().get_text_range().split()) for p in pages)


def _photograph() -> bytes:
    kept = BytesIO()
    Image.new("RGB", (1600, 1200), "grey").save(kept, "JPEG")
    return kept.getvalue()


def test_everything_that_was_written_down_stands_in_the_report(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, tmp_path: Path
) -> None:
    crew = make_phone("crew")
    digest = keep_photograph(register, _photograph())
    crew.outcomes(
        crew.value(job.job, 17.0),
        crew.fact("step ticked", job=str(job.job), step="measure", done=True, line=0),
        crew.fact("step timed", job=str(job.job), step="measure", took=1500.0, planned=1200.0),
        crew.fact("step ticked", job=str(job.job), step="parts", done=True, line=1,
                  lot="L2417, use by 2027-03"),
        crew.fact("photograph added", of="job", about=str(job.job), photo=digest,
                  caption="row of plates", step="seat"),
    )  # fmt: skip
    answer = crew.client.get(f"/jobs/{job.job}/report.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    (tmp_path / "report.pdf").write_bytes(answer.content)
    said = _text(answer.content)
    for words in (
        "REPORT ON A JOB", "Not closed yet", "Belt thickness, leading end", "17 mm", "too large",
        "L2417, use by 2027-03",
        "Measure the belt", "25 min", "row of plates", "double plate set, top and bottom",
        "Nobody has signed this job in the register", "nobody has signed for it",
    ):  # fmt: skip
        assert words in said, (words, said)
    assert "bolt 1" not in said  # no part that nobody ticked
    page = crew.client.get(f"/jobs/{job.job}/report").text
    for words in ("Not closed yet", "17 mm", "too large", "25 min", "row of plates",
                  f"/photographs/{digest}", "Left open", "is not signed"):  # fmt: skip
        assert words in page, words
    assert f"/jobs/{job.job}/report" in crew.client.get(f"/jobs/{job.job}").text


@pytest.mark.parametrize("width", [390, 1280])
def test_the_report_on_a_page(
    desk: Page, make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, width: int
) -> None:
    crew = make_phone("crew")
    crew.outcomes(
        crew.value(job.job, 17.0),
        crew.fact("step ticked", job=str(job.job), step="measure", done=True, line=0),
        crew.fact("step ticked", job=str(job.job), step="parts", done=True, line=1),
    )
    desk.set_viewport_size({"width": width, "height": 844 if width == 390 else 800})
    enter(desk, "crew")
    desk.goto(f"/jobs/{job.job}/report")
    axe(desk)
    fits(desk)
    assert not small_targets(desk)
    picture(desk, f"report-{width}")


def test_the_report_of_a_job_without_anything_written_claims_nothing(
    job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    said = _text(report_on_job(register, job.job, clock() + timedelta(days=1)))
    assert "open" in said and "No times were taken down." in said
    assert "Parts used" not in said and "Photographs" not in said and "Measured" not in said


def test_same_job_same_bytes(job: RecordedPlan, register: SqlRegister, clock: Clock) -> None:
    now = clock()
    assert report_on_job(register, job.job, now) == report_on_job(register, job.job, now)


def test_a_job_is_found_by_its_name_or_its_id(job: RecordedPlan, register: SqlRegister) -> None:
    there = register.job(job.job)
    assert there is not None
    assert find_job(register, str(job.job)) == job.job
    with pytest.raises(InputError, match="knows no job"):
        find_job(register, "nothing of that name")


def test_a_photograph_for_paper_is_small_and_a_broken_one_is_refused(tmp_path: Path) -> None:
    held = for_paper(_photograph()).partition("base64,")[2].partition('"')[0]
    assert Image.open(BytesIO(b64decode(held))).size == (1100, 825)
    with pytest.raises(InputError, match="cannot be decoded"):
        for_paper(b"no picture")
