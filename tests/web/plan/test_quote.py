"""The quotation on a page says what `splicewright quote` says, at the same prices."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.actions.register.kept_files import kept_plan
from splicewright.job.quotation import load_prices, quotation
from splicewright.sheets.reports.plan import quotation_sheet
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import axe, fits, picture, small_targets

Enter = Callable[[str], TestClient]
PRICES = Path(__file__).parents[3] / "examples" / "karst-hollow" / "prices" / "prices.toml"


@pytest.fixture
def where(job: RecordedPlan) -> str:
    return f"/joints/{job.joint}/quote"


def csrf(client: TestClient, where: str) -> dict[str, str]:
    page = client.get(where)
    assert page.status_code == 200
    return {"csrf": page.text.partition('name="csrf" value="')[2].partition('"')[0]}


def test_the_page_says_what_the_command_says(
    signed_in: Enter, where: str, job: RecordedPlan, register: SqlRegister
) -> None:
    client = signed_in("crew")
    sent = csrf(client, where)
    page = client.post(where, data={**sent, "act": "read"},
                       files={"file": ("prices.toml", PRICES.read_bytes())})  # fmt: skip
    found = kept_plan(register, job.joint)
    assert found is not None
    told = quotation(found[1], load_prices(PRICES))
    for line in quotation_sheet(told).answer:
        assert line in page.text
    for priced in told.lines:
        assert priced.what in page.text
    # What was read stands in the fields: added up again it is the same sum, and the same sheet.
    part = next(n for n, p in enumerate(found[1].parts, 1) if p.name == "bolt")
    assert f'name="part.{part}" value="0.85"' in page.text
    typed = {**sent, "hours.rate": "62", "quote.currency": "EUR", "part.1": "41.5",
             "extra.name": "van", "extra.price": "180", "extra.count": "2"}  # fmt: skip
    shown = client.post(where, data={**typed, "act": "show"})
    row = shown.text.partition(">van<")[2].partition("</tr>")[0]
    assert re.findall(r"<span>([^<]+)</span>", row) == ["2", "180.00", "360.00"]
    sheet = client.post(where, data={**typed, "act": "pdf"})
    assert sheet.headers["content-type"] == "application/pdf"
    assert sheet.content.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("field", "text", "message"),
    [
        ("hours.rate", "much", '"much" is no amount; accepted is a number of zero or more'),
        ("hours.people", "0", "accepted is 1 to 40"),
        ("quote.tax", "120 %", "is out of range; accepted is 0 % to 100 %"),
        ("quote.currency", "", "Currency"),
        ("part.1", "-3", "is no amount"),
        ("extra.count", "x", "extra.1.count"),
    ],
)
def test_a_wrong_answer_is_named_at_its_field(
    signed_in: Enter, where: str, field: str, text: str, message: str
) -> None:
    client = signed_in("crew")
    good = {"hours.rate": "62", "quote.currency": "EUR", "extra.name": "van", "extra.price": "1"}
    got = client.post(where, data={**csrf(client, where), **good, field: text, "act": "show"})
    assert got.status_code == 422
    assert message in got.text.replace("&#34;", '"')


def test_only_who_may_plan_prices_it(signed_in: Enter, where: str, job: RecordedPlan) -> None:
    assert signed_in("viewer").get(where).status_code == 403
    assert "/quote" not in signed_in("viewer").get(f"/joints/{job.joint}/plan").text
    assert f"{where}" in signed_in("crew").get(f"/joints/{job.joint}/plan").text
    assert signed_in("crew").get("/joints/00000000-0000-0000-0000-000000000000/quote"
                                 ).status_code == 404  # fmt: skip


@pytest.mark.parametrize("which", ["phone", "desk"])
def test_looked_at(request: pytest.FixtureRequest, where: str, which: str) -> None:
    page: Page = request.getfixturevalue(which)
    enter(page, "crew")
    page.goto(where)
    page.get_by_label("Prices file (TOML)").set_input_files(PRICES)
    page.get_by_role("button", name="Read the file").click()
    expect(page.locator("#answer")).to_contain_text("Sum of what is priced")
    axe(page)
    fits(page)
    if which == "phone":
        assert small_targets(page) == []
    picture(page, f"quotation-{which}")
