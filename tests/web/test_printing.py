"""What is printed from a phone: the job, the isolation sheet, an inspection; looked at as PDF.

The browser's own print (`page.pdf`) with the page's print style: A4, nothing cut at the edge.
"""

from __future__ import annotations

from io import BytesIO
from uuid import uuid4

import pdfplumber
from playwright.sync_api import Page

from depth import PICTURES
from splicewright.actions.inspection.recorded import keep_verdict
from splicewright.actions.plan.record import RecordedPlan
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.store import Actor, Fact, PersonRole
from splicewright.store.facts.joint_facts import EndInspected, InspectionClosed, PlateInspected
from splicewright.store.facts.kinds import What
from splicewright.store.sites import ALL_SITES
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, enter
from web.looking import SCREENSHOTS
from web.planned import plan_on_incline
from web.working import box, open_job, sign_hold, step, write

MARGIN = 8.0
"""Nothing closer to the edge: most printers leave 4 to 6 mm white (common practice, no source)."""


def _printed(page: Page, name: str) -> tuple[str, int]:
    """What a print of the page says, and on how many sheets; nothing lies outside them."""
    raw = page.pdf(format="A4", print_background=True, prefer_css_page_size=True)
    if PICTURES:
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        (SCREENSHOTS / f"{name}.pdf").write_bytes(raw)
    words = []
    with pdfplumber.open(BytesIO(raw)) as pdf:
        for sheet in pdf.pages:
            # 210 mm by 297 mm in points of 1/72 in; the browser rounds to whole pixels.
            assert (
                abs(sheet.width - 210 / 25.4 * 72) < 1 and abs(sheet.height - 297 / 25.4 * 72) < 2
            )
            edge = MARGIN / 25.4 * 72
            for char in sheet.chars:
                inside = edge <= char["x0"] and char["x1"] <= float(sheet.width) - edge
                assert inside, (sheet.page_number, char["text"], char["x0"])
            # No line over another: a head that sticks on the screen once lay over the last ones.
            boxes = [w for w in sheet.extract_words() if len(w["text"]) > 2]
            over = [
                (one["text"], other["text"])
                for n, one in enumerate(boxes)
                for other in boxes[n + 1 :]
                if min(one["x1"], other["x1"]) - max(one["x0"], other["x0"]) > 2
                and min(one["bottom"], other["bottom"]) - max(one["top"], other["top"]) > 4
            ]
            assert not over, (sheet.page_number, over[:5])
            words.append(sheet.extract_text())
        return "\n".join(words), len(pdf.pages)


def test_a_job(phone: Page, job: RecordedPlan) -> None:
    open_job(phone, job)
    sign_hold(phone, "park")
    write(phone, "measure", "Belt thickness, leading end", "12.5 mm")
    assert box(phone, "measure", "Belt thickness, leading end").is_visible()
    phone.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    said, sheets = _printed(phone, "print-job")
    for word in ("Hold point:", "Signed: Crew Example", "Bring the ends together", "Sign off"):
        assert word in said, word
    # Every step is open, with what it asks; nothing that only a finger can use.
    assert said.count("Hold point:") >= 20
    for word in ("Sign this hold point", "Take a photograph", "Start the timer", "Undo", "Menu"):
        assert word not in said, word
    assert sheets <= 30


def test_the_isolation_sheet_alone(phone: Page, job: RecordedPlan) -> None:
    """One sheet to hang up at the lock: what is locked, how it is proved, who signs."""
    open_job(phone, job)
    step(phone, "isolate")
    phone.evaluate("window.print = () => { window.printed = true; }")
    phone.get_by_role("button", name="Print the isolation sheet").tap()
    assert phone.evaluate("window.printed")
    said, sheets = _printed(phone, "print-isolation")
    assert "Isolate, lock, tag, try" in said
    assert "Make safe" in said
    assert "Hold point:" in said
    assert "K2 incline" in said
    assert "Local law, site rules and the maker's instructions" in said
    assert "Acceptance check" not in said
    assert sheets <= 5
    # Afterwards the page is whole again.
    phone.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert phone.locator("#step-park").is_visible()


def test_an_inspection(phone: Page, register: SqlRegister, clock: Clock) -> None:
    joint, inspection = plan_on_incline(register).joint, uuid4()
    facts: list[What] = [EndInspected(joint, inspection, end, 22) for end in End]
    facts.append(PlateInspected(joint, inspection, End.LEADING, 21, PlateState.LOST, "gone"))
    facts.append(InspectionClosed(joint, inspection, note="skirt caught the edge"))
    for what in facts:
        register.append(Fact(uuid4(), clock(), "Ada Example", what))
    console = Actor(None, "Ada Example", PersonRole.ADMIN, sites=ALL_SITES)
    keep_verdict(register, joint, inspection, console, clock())
    enter(phone, "crew")
    phone.goto(f"/joints/{joint}/inspections/{inspection}")
    assert phone.get_by_role("button", name="Print").is_visible()
    said, sheets = _printed(phone, "print-inspection")
    for word in ("Calculated:", "not a permission", "skirt caught the edge", "21, leading end"):
        assert word in said, word
    # All 22 plates of both ends, not only those that a phone shows at once.
    assert sheets <= 3
    phone.goto(f"/joints/{joint}/inspect")
    for _ in range(4):  # ok, worn, cracked, lost
        phone.get_by_role("button", name="Plate 1, leading end").tap()
    phone.wait_for_selector("#verdict .level")
    said, sheets = _printed(phone, "print-inspection-going-on")
    assert "Marked: 1 lost" in said
    assert "Not said yet" in said
    assert "Record the inspection" not in said
    assert sheets <= 6
