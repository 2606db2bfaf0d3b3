"""Fasteners added by answering, and the guide of a site that begins.

Source of what is expected: the range file that the same answers make by hand (docs/files.md).
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.fasteners import SIZE_FIELDS, range_text
from splicewright.actions.register.kept_files import kept_ranges
from splicewright.errors import InputError
from splicewright.files.typed_file import InMemory
from splicewright.joint import load_range
from splicewright.store import Account
from splicewright.store.sql.register import SqlRegister
from web.conftest import csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import keep_ranges, plan_on_incline

ANSWERS = {a.field: a.example for a in SIZE_FIELDS} | {"name": "yard hinge"}


def test_the_answers_make_a_range_and_a_second_size_joins_it() -> None:
    text = range_text(ANSWERS)
    made = load_range(InMemory("", text.encode()))
    assert made.name == "yard hinge" and len(made.sizes) == 1
    size = made.sizes[0]
    assert (
        size.pitch == pytest.approx(0.043)
        and size.thickness == (0.011, 0.016)
        and size.sets == (1, 3)
    )
    assert [b.length for b in size.bolt_lengths] == [0.044, 0.048]
    assert size.rows[0].across == (-0.01, 0.01)
    more = range_text(ANSWERS | {"pitch": "54 mm", "material": ""}, text + "# ours\n")
    assert len(load_range(InMemory("", more.encode())).sizes) == 2 and "# ours" in more


def test_bad_answers_name_their_field() -> None:
    with pytest.raises(InputError) as told:
        range_text(ANSWERS | {"pin": ""})
    assert [f.key for f in told.value.faults] == ["pin"]
    for field, typed in (
        ("bolt_lengths", "44 mm"),
        ("sets", "one"),
        ("pitch", "wide"),
        ("across", "left"),
    ):
        with pytest.raises(InputError) as told:
            range_text(ANSWERS | {field: typed})
        assert {f.key for f in told.value.faults} == {field}, field


def test_leads_record_them_and_nobody_else(
    register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    site = register.sites()[0].site
    lead, crew = signed_in("lead"), signed_in("crew")
    where = f"/sites/{site}/fasteners/new"
    assert crew.get(where).status_code == 403
    assert crew.post(where, data=ANSWERS | {"csrf": csrf_of(crew)}).status_code == 403
    csrf = {"csrf": csrf_of(lead)}
    bad = lead.post(where, data=ANSWERS | csrf | {"pitch": ""})
    assert bad.status_code == 422 and "is missing; it must be given" in bad.text
    assert lead.post(where, data=ANSWERS | csrf).status_code == 303
    assert lead.post(where, data=ANSWERS | csrf | {"pitch": "54 mm"}).status_code == 303
    (kept,) = kept_ranges(register, site)
    assert [s.pitch for s in kept.range.sizes] == pytest.approx([0.043, 0.054])


def test_a_site_that_begins_is_guided_until_its_first_joint(
    phone: Page, register: SqlRegister, people: dict[str, Account]
) -> None:
    enter(phone, "lead")
    phone.goto("/")
    guide = phone.get_by_role("region", name="Set up your site")
    expect(guide.get_by_role("listitem")).to_have_count(4)
    expect(guide.get_by_role("listitem").nth(0)).to_contain_text("done")
    expect(guide.get_by_role("listitem").nth(1)).to_contain_text("open")
    axe(phone)
    fits(phone)
    picture(phone, "home-begin-phone")
    guide.get_by_role("link", name="Add the fasteners you have").click()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "fastener-answers-phone")
    for site in register.sites():
        keep_ranges(register, site.site)
    phone.goto("/")
    expect(guide.get_by_role("listitem").nth(1)).to_contain_text("done")
    plan_on_incline(register)
    phone.goto("/")
    expect(guide).to_be_hidden()
