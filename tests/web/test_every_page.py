"""Every page that links lead to, in one browser: nothing sticks out where it is narrow or enlarged,
every word can be told from its ground in each light, every target can be hit with a glove.

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

from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import fits, picture, small_targets

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desk": (1280, 800)}
LIGHTS = ("light", "dark", "sun")
ZOOMED = (640, 400)
"""What a window of 1280 by 800 shows at 200 %."""
NARROWEST = (320, 640)
"""WCAG 2.2, 1.4.10: as wide as a window of 1280 is at 400 %."""
MOST_PAGES = 140
_NO_PAGE = re.compile(r"\.(pdf|svg|toml|csv|json|xlsx|zip|parquet)$|/files/|/sign-out|/api/")
_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|(?<=/)\d+|(?<==)[^&]+|(?<=/why/).+")


@pytest.fixture
def register(told: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return told


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
        found[name] = path
        for link in re.findall(r'href="([^"#]+)"', answer.text):
            there = urlsplit(urljoin(path, link.replace("&amp;", "&")))
            if not there.netloc and not _NO_PAGE.search(there.path):
                address = there.path + (f"?{there.query}" if there.query else "")
                came.setdefault(address, path)
                waits.append(address)
    assert 40 < len(found) < MOST_PAGES, sorted(found)
    return found


def turn_on(page: Page, light: str) -> None:
    page.emulate_media(color_scheme="dark" if light == "dark" else "light")
    page.evaluate(
        """on => on ? document.documentElement.dataset.light = "sun"
             : delete document.documentElement.dataset.light""",
        light == "sun",
    )


def test_nothing_sticks_out_narrow_or_enlarged(
    desk: Page, signed_in: Callable[[str], TestClient]
) -> None:
    enter(desk, "admin")
    told = []
    for name, path in every_page(signed_in("admin")).items():
        desk.goto(path)
        for width, height in (NARROWEST, ZOOMED):
            desk.set_viewport_size({"width": width, "height": height})
            told += _too_wide(desk, f"{name} at {width}")
        picture(desk, f"every/zoomed-light/{name}")
        # A phone whose letters are set twice as large.
        desk.set_viewport_size({"width": 390, "height": 844})
        desk.evaluate("document.documentElement.style.fontSize = '225%'")
        told += _too_wide(desk, f"{name}, letters twice as large")
    assert not told, "\n".join(told)


def _too_wide(page: Page, where: str) -> list[str]:
    try:
        fits(page)
    except AssertionError as error:
        return [f"{where}: {error}"]
    return []


def test_every_word_is_told_from_its_ground_and_every_target_is_hit(
    desk: Page, signed_in: Callable[[str], TestClient]
) -> None:
    """Contrast by the formula of WCAG 2.2, "relative luminance" and "contrast ratio"; at least 4.5,
    3 for large letters (1.4.3)."""
    enter(desk, "admin")
    black_on_white, grey = desk.evaluate(f"() => {{ {_RATIO} return [{_KNOWN}]; }}")
    # https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio: "range from 1 to 21".
    assert black_on_white == pytest.approx(21)
    # #767676 on white: the lightest grey that passes, by W3C's own technique G18's usual example.
    assert 4.5 <= grey < 4.6
    told: list[str] = []
    for name, path in every_page(signed_in("admin")).items():
        desk.goto(path)
        for size, (width, height) in SIZES.items():
            desk.set_viewport_size({"width": width, "height": height})
            told += [f"{name}, {size}, too small for a glove: {e}" for e in small_targets(desk)]
            for light in LIGHTS:
                turn_on(desk, light)
                picture(desk, f"every/{size}-{light}/{name}")
                faint = desk.evaluate(f"() => {{ {_RATIO} {_FAINT} }}")
                told += [f"{name}, {size}, {light}: {each}" for each in faint]
    assert not told, "\n".join(told)


_RATIO = """
const colour = (text) => {
  const parts = text.match(/[\\d.]+/g).map(Number);
  return { rgb: parts.slice(0, 3), alpha: parts.length > 3 ? parts[3] : 1 };
};
const light = (rgb) => {
  const [r, g, b] = rgb.map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ratio = (one, other) => {
  const [high, low] = [light(one), light(other)].sort((a, b) => b - a);
  return (high + 0.05) / (low + 0.05);
};
"""
_KNOWN = "ratio([0, 0, 0], [255, 255, 255]), ratio([118, 118, 118], [255, 255, 255])"
_FAINT = """
const over = ({ rgb, alpha }, under) => rgb.map((v, i) => v * alpha + under[i] * (1 - alpha));
const SKIPPED = "svg, script, style, template, :disabled, option";
const ground = (element) => {
  const layers = [];
  for (let e = element; e; e = e.parentElement) {
    const own = colour(getComputedStyle(e).backgroundColor);
    if (own.alpha) layers.push(own);
    if (own.alpha === 1) break;
  }
  return layers.reverse().reduce((under, layer) => over(layer, under), [255, 255, 255]);
};
const found = new Set();
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node = walk.nextNode(); node; node = walk.nextNode()) {
  const e = node.parentElement;
  if (!node.textContent.trim() || e.closest(SKIPPED)) continue;
  if (!e.checkVisibility({ visibilityProperty: true })) continue;
  const style = getComputedStyle(e), under = ground(e);
  const got = ratio(over(colour(style.color), under), under);
  const size = parseFloat(style.fontSize), bold = Number(style.fontWeight) >= 700;
  const least = size >= 24 || (bold && size >= 18.66) ? 3 : 4.5;
  if (got < least) found.add(`${got.toFixed(2)} of ${least}: ${e.outerHTML.slice(0, 120)}`);
}
return [...found];
"""
