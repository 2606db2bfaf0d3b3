"""Every page that links lead to, in one browser: nothing sticks out where it is narrow or enlarged,
every word can be told from its ground in each light and is shown whole, every target can be hit
with a glove.

`make pictures` keeps each page at these sizes and in these lights for people to look at;
tools/contact_sheets.py lays them side by side.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page

from depth import PICTURES
from splicewright.store.sql.register import SqlRegister
from splicewright.version import __version__
from web.conftest import enter
from web.looking import (
    all_there,
    broken,
    contrast,
    covering,
    crowded,
    cut_heads,
    cut_off,
    faint_words,
    fits,
    not_struck,
    off_centre,
    parted,
    picture,
    small_targets,
    squeezed,
    thin_in_sunlight,
    words_over_words,
)

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desk": (1280, 800)}
LIGHTS = ("light", "dark", "sun")
ZOOMED = (640, 400)
"""What a window of 1280 by 800 shows at 200 %."""
MAGNIFIED, LETTERS_WHOLE = (195, 422), 8
"""What a phone shows at 200 %, and up to how many letters a word has room there everywhere."""
NARROWEST = (320, 640)
"""WCAG 2.2, 1.4.10: as wide as a window of 1280 is at 400 %."""
MOST_PAGES = 140
_NO_PAGE = re.compile(r"\.(pdf|svg|toml|csv|json|xlsx|zip|parquet)$|/files/|/sign-out|/api/")
_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|(?<=/)\d+|(?<==)[^&]+|(?<=/why/).+")


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def every_page(client: TestClient) -> dict[str, str]:
    """One address for each kind of page that links lead to, by a name for its picture."""
    found: dict[str, str] = {}
    waits, came = deque(["/", "/nowhere"]), {"/": "", "/nowhere": ""}
    while waits and len(found) < MOST_PAGES:
        path = waits.popleft()
        name = re.sub(r"[^a-z]+", "-", _ID.sub("one", path.lower())).strip("-") or "home"
        if name in found:
            continue
        answer = client.get(path, follow_redirects=True)
        if "text/html" not in answer.headers["content-type"]:
            continue
        # Without workers background tasks say so; what a link leads to is there.
        expected = {"nowhere": 404, "background": 422}.get(name, 200)
        assert answer.status_code == expected, f"{path}, linked from {came[path]}"
        # What all pages show is no page's own: a name of its own must not stand in for it.
        assert f"<p>Splicewright {__version__}</p>" in answer.text, path
        found[name] = path
        for link in re.findall(r'href="([^"#]+)"', answer.text):
            there = urlsplit(urljoin(path, link.replace("&amp;", "&")))
            if not there.netloc and not _NO_PAGE.search(there.path):
                address = there.path + (f"?{there.query}" if there.query else "")
                came.setdefault(address, path)
                waits.append(address)
    assert 40 < len(found) < MOST_PAGES, sorted(found)
    return found


def test_the_pages_of_every_thing_answer(
    register: SqlRegister, signed_in: Callable[[str], TestClient]
) -> None:
    """One page of each kind, as above, leaves the other things of a kind out: a job that makes a
    vulcanised joint had no page. What lies below each job, joint and conveyor is asked for, a fault
    of ours is raised, and nothing is offered that is refused: a vulcanised joint is not inspected
    plate by plate, yet "Inspect" was offered."""
    client = signed_in("admin")
    things = [f"/jobs/{j.job}" for j in register.jobs()]
    things += [f"/joints/{j.joint}" for j in register.joints()]
    things += [f"/conveyors/{c.conveyor}" for c in register.conveyors()]
    seen: set[str] = set()
    for thing in things:
        waits = deque([thing])
        while waits:
            path = waits.popleft()
            if path in seen:
                continue
            seen.add(path)
            answer = client.get(path, follow_redirects=True)
            assert answer.status_code == 200, path
            below = re.findall(rf'(?:href|src)="({re.escape(thing)}[/?][^"#]+)"', answer.text)
            waits += [
                link for link in (one.replace("&amp;", "&") for one in below)
                if not re.search(r"/why/|/files/|\.(pdf|svg|toml|zip|xlsx)|before=", link)
            ]  # fmt: skip
    assert len(seen) > 100


def turn_on(page: Page, light: str) -> None:
    page.emulate_media(color_scheme="dark" if light == "dark" else "light")
    page.evaluate(
        """on => on ? document.documentElement.dataset.light = "sun"
             : delete document.documentElement.dataset.light""",
        light == "sun",
    )


def _too_wide(page: Page, where: str) -> list[str]:
    try:
        fits(page)
    except AssertionError as error:
        return [f"{where}: {error}"]
    return []


def test_every_page_fits_is_told_from_its_ground_and_is_hit(
    desk: Page, signed_in: Callable[[str], TestClient]
) -> None:
    """Contrast by the formula of WCAG 2.2, "relative luminance" and "contrast ratio"; at least 4.5,
    3 for large letters (1.4.3)."""
    enter(desk, "admin")
    # https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio: "range from 1 to 21".
    assert contrast(desk, "#000000", "#ffffff") == pytest.approx(21)
    # The lightest grey that passes on white, by W3C's own technique G18's usual example.
    assert 4.5 <= contrast(desk, "#767676", "#ffffff") < 4.6
    told: list[str] = []
    for name, path in every_page(signed_in("admin")).items():
        desk.goto(path)
        all_there(desk)
        told += _in_each_size_and_light(desk, name) + _narrow_or_enlarged(desk, name)
    assert not told, "\n".join(told)


def _in_each_size_and_light(page: Page, name: str) -> list[str]:
    told: list[str] = []
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        told += _too_wide(page, f"{name}, {size}")
        told += [f"{name}, {size}, too small for a glove: {e}" for e in small_targets(page)]
        told += [f"{name}, {size}: {e}" for e in words_over_words(page)]
        told += [f"{name}, {size}, squeezed: {e}" for e in squeezed(page)]
        told += [f"{name}, {size}: {e}" for e in broken(page) + parted(page)]
        told += [f"{name}, {size}, stands within what is struck: {e}" for e in not_struck(page)]
        told += [f"{name}, {size}, off centre: {e}" for e in off_centre(page)]
        told += [f"{name}, {size}, crowded: {e}" for e in crowded(page)]
        told += [f"{name}, {size}, cut in a heading: {e}" for e in cut_heads(page)]
        for light in LIGHTS:
            turn_on(page, light)
            if PICTURES:
                picture(page, f"every/{size}-{light}/{name}")
            faint = faint_words(page)
            # Letters are wider in sunlight.
            cut = cut_off(page) if light != "dark" else []
            thin = thin_in_sunlight(page) + cut_heads(page) if light == "sun" else []
            told += [f"{name}, {size}, {light}: {each}" for each in faint + cut + thin]
    turn_on(page, "light")
    return told


def _narrow_or_enlarged(page: Page, name: str) -> list[str]:
    told: list[str] = []
    for width, height in (NARROWEST, ZOOMED, MAGNIFIED):
        page.set_viewport_size({"width": width, "height": height})
        told += _too_wide(page, f"{name} at {width}")
    cut = broken(page, LETTERS_WHOLE) + parted(page)
    told += [f"{name}, phone at 200 %: {each}" for each in cut]
    told += [f"{name}, phone at 200 %, covers the page: {each}" for each in covering(page)]
    enlarged = {"magnified": MAGNIFIED, "zoomed": ZOOMED} if PICTURES else {}
    for size, (width, height) in enlarged.items():
        page.set_viewport_size({"width": width, "height": height})
        for light in LIGHTS:
            turn_on(page, light)
            picture(page, f"every/{size}-{light}/{name}")
        turn_on(page, "light")
    # A phone whose letters are set twice as large.
    page.set_viewport_size({"width": 390, "height": 844})
    page.evaluate("document.documentElement.style.fontSize = '225%'")
    told += [f"{name}, letters twice as large: {each}" for each in parted(page)]
    return told + _too_wide(page, f"{name}, letters twice as large")
