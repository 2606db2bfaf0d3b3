"""The decisions and the fleet on paper: words on the page, bars inside the page, same bytes."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pypdfium2
import pytest

from actions.recorded import NOW, Recorded
from splicewright.actions.decision import decide_place
from splicewright.actions.fleet.fleet import see_fleet
from splicewright.actions.inspection_interval.choose import when_to_look
from splicewright.actions.renewal import when_to_renew
from splicewright.actions.shutdown.choose_joints import choose_joints
from splicewright.actions.shutdown.judge import judge_shutdown
from splicewright.actions.stock.size import size_stock
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.history.stock.levels import Shortage
from splicewright.sheets.canvas.expansion import bounds
from splicewright.sheets.canvas.paper import LETTER
from splicewright.sheets.canvas.scene import Polyline, Text, leaves
from splicewright.sheets.drawings.fleet import fleet_chances, fleet_years
from splicewright.sheets.drawings.shutdown import shutdown_bars, shutdown_strip
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.decision import decision_report
from splicewright.sheets.reports.fleet import fleet_report
from splicewright.sheets.reports.inspection_interval import when_report
from splicewright.sheets.reports.shutdown import choice_report, shutdown_report
from splicewright.sheets.reports.stock import stock_report
from splicewright.store.facts.joint_facts import Mode

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow" / "history"


def text_of(pdf: bytes) -> str:
    """All words, lines joined: where a line breaks is the paper's business."""
    pages = [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf)]
    return " ".join(" ".join(pages).split())


@pytest.fixture(scope="module")
def shutdown() -> ShutdownStudy:
    return judge_shutdown(SITE / "incline-shutdown.toml")


def test_the_bars_lie_within_the_page(shutdown: ShutdownStudy) -> None:
    for scene, wide in ((shutdown_bars(shutdown), 182.0), (shutdown_strip(shutdown), 92.0)):
        left, _, right, _ = bounds(scene)
        assert right - left < wide
        words = {i.text for _, i in leaves(scene) if isinstance(i, Text)}
        assert {"window 12 h"} <= words
        assert any("isolate and prove dead" in w for w in words)
        bars = [i for _, i in leaves(scene) if isinstance(i, Polyline) and i.closed]
        assert len(bars) == len(shutdown.bars)


def test_shutdown_on_paper(shutdown: ShutdownStudy) -> None:
    pdf = printed(shutdown_report(shutdown))
    said = text_of(pdf)
    assert "INVENTED DATA" in said
    assert "With power tools" in said
    assert "What delays the finish" in said
    assert printed(shutdown_report(shutdown)) == pdf
    assert printed(shutdown_report(shutdown), LETTER) != pdf


def test_choice_on_paper() -> None:
    study = choose_joints(SITE / "incline-renewals.csv", "16 h", 6, gang=3, power_share=0.7)
    said = text_of(printed(choice_report(study)))
    assert "K2-04. Renewed" in said
    assert "if a failure costs half" in said.lower()
    assert "The least expected cost is no safety margin" in said


def test_decision_on_paper_in_both_systems() -> None:
    study = decide_place(SITE / "flat-torn-place.toml")
    metric, inch = (text_of(printed(decision_report(study, units))) for units in ("metric", "inch"))
    assert "Re-make the joint first." in metric
    assert "600 mm" in metric
    assert "600 mm" not in inch
    assert "The tool ranks the options; people decide" in inch


def test_stock_and_when_on_paper() -> None:
    sized = size_stock(
        SITE / "stock-items.csv", 0.95, lives=SITE / "joint-lives.csv", use_a_day="16 h"
    )
    said = text_of(
        printed(stock_report(sized.items, [Shortage("bolt", 139, 20)], service=0.95,
                             name=sized.name, notes=["a note"], invented=True))
    )  # fmt: skip
    assert "The job's kit lacks 1 items." in said
    assert "119" in said
    assert "A note." in said
    renew = when_to_renew(1.0, 5.0, shape=2.5, scale="1000 h")
    look = when_to_look("4000 h", "600 h", 250, 6000, 40000, found=1.0)
    told = text_of(printed(when_report(renew, look, [("a failure", 5.0)], name="K1")))
    assert "Renew at 493 h" in told  # published worked example, see tests/outside
    assert "Inspect every" in told


def test_the_fleet_on_paper(tmp_path: Path) -> None:
    site = Recorded(tmp_path)
    k1 = site.conveyor("K1")
    for n in range(5):
        site.joint(k1, f"F{n}", 10 + n, removed=300 + 60 * n,
                   mode=(Mode.PULL_OUT, Mode.PIN_WORN)[n % 2])  # fmt: skip
        site.joint(k1, f"R{n}", 330 + 60 * n)
    study = see_fleet(site.register, NOW)
    said = text_of(printed(fleet_report(study)))
    assert "Karst Hollow (invented)" in said
    assert "Past stops, by cause" in said
    assert "A forecast does not permit the joint to run" in said
    chances = [i.text for _, i in leaves(fleet_chances(study)) if isinstance(i, Text)]
    assert "K1, R0" in chances
    years = [i.text for _, i in leaves(fleet_years(study)) if isinstance(i, Text)]
    assert {"2024", "2025", "pull-out", "pin worn"} <= set(years)
    for scene in (fleet_chances(study), fleet_years(study)):
        left, _, right, _ = bounds(scene)
        assert right - left < 182.0
    assert see_fleet(site.register, datetime(2026, 1, 1, tzinfo=UTC)).lines == study.lines
