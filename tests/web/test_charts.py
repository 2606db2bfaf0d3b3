"""Diagrams on a phone are drawn for its width: nothing is cut, slid or too small to read."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest
from playwright.sync_api import Page

from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import axe, fits, picture
from web.working import until

LEAST = 8.9
"""Letters, as high as their box in CSS pixels: what WCAG leaves to judgement, and our least print
of 7 pt on paper is 9.3 (common practice, no source; looked at)."""


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def _charts(page: Page) -> list[tuple[str, float, float]]:
    """Address, width on the page and width of its column, of every diagram that is shown."""
    page.evaluate(
        "document.querySelectorAll('img[loading]').forEach((i) => { i.loading = 'eager' })"
    )
    drawn = 'document.querySelectorAll("figure picture img")'
    until(page, f"[...{drawn}].every((i) => i.complete && i.currentSrc && i.naturalWidth)")
    found: list[list[object]] = page.evaluate(
        """[...document.querySelectorAll("figure picture img")].map((i) =>
             [i.currentSrc, i.getBoundingClientRect().width, i.closest("main").clientWidth])"""
    )
    return [(str(a), float(str(b)), float(str(c))) for a, b, c in found]


def _smallest_letters(page: Page, address: str, shown: float) -> float:
    """Font size of the smallest text of a drawing, as it stands on the page [px]."""
    drawn = ET.fromstring(page.context.request.get(address).body())
    sizes = [float(t.get("font-size", "0")) for t in drawn.iter("{http://www.w3.org/2000/svg}text")]
    wide = float(drawn.get("viewBox", "").split()[2])
    return min(sizes) * shown / wide


TABLET = (820, 1180)
"""On a phone and a desk tests/web/test_forecast.py holds forecast and fleet to the same rules."""


@pytest.mark.parametrize("size", [(390, 844), TABLET, (1280, 800)])
def test_every_diagram_fits_and_is_read(
    desk: Page, register: SqlRegister, size: tuple[int, int]
) -> None:
    enter(desk, "lead")
    desk.set_viewport_size({"width": size[0], "height": size[1]})
    incline = next(c.conveyor for c in register.conveyors() if c.name == "K2 incline")
    seen = 0
    for path in (f"/conveyors/{incline}", f"/conveyors/{incline}/forecast", "/fleet"):
        desk.goto(path)
        charts = _charts(desk)
        assert charts, path
        for address, shown, column in charts:
            seen += 1
            assert shown <= column, address
            assert ("phone=1" in address) == (size[0] < 700), address
            assert _smallest_letters(desk, address, shown) >= LEAST, address
        fits(desk)
        if size == TABLET or path.endswith(str(incline)):
            axe(desk)
        picture(desk, f"charts-{re.sub(r'[^a-z]', '', path[-9:])}-{size[0]}")
    assert seen >= 5
