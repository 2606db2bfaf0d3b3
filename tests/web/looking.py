"""Pages in a real browser: whose chromium, how they are checked, where pictures go."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from depth import PICTURES

ROOT = Path(__file__).parents[2]
SCREENSHOTS = ROOT / "out" / "screenshots"
AXE = Path(__file__).parent / "vendor" / "axe-4.14.1.min.js"
COLOURS = ["color-contrast"]
"""The rule that a change of colours alone can break."""
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


_ALL_THERE = """async () => {
  const images = [...document.images];
  images.forEach((i) => { i.loading = "eager"; });
  await Promise.all(images.map((i) => i.complete || new Promise((there) => {
    i.addEventListener("load", there);
    i.addEventListener("error", there);
  })));
  for (let n = 0; n < 400 && document.querySelector(".htmx-request"); n += 1) {
    await new Promise((later) => setTimeout(later, 25));
  }
}"""
"""Waits for images, and for what the page asked for when it was opened."""


def chromium() -> str:
    """Where Debian's chromium is: the one without a window first, it starts pages faster."""
    names = ("chromium-headless-shell", "chromium", "chromium-browser")
    found = next(filter(None, map(shutil.which, names)), None)
    assert found, "the browser tests need a chromium: `apt-get install chromium-headless-shell`"
    return found


def axe(page: Page, rules: list[str] = _RULES) -> None:
    """No violation of the accessibility rules on the page as it stands."""
    if not page.evaluate("'axe' in window"):
        # Through the debugger, not as a script element: the page's policy forbids those.
        page.evaluate(AXE.read_text("utf-8"))
    # Details of what is right would take half the time, and nobody reads them.
    how = {"runOnly": rules, "resultTypes": ["violations"]}
    found: dict[str, Any] = page.evaluate("how => axe.run(document, how)", how)
    told = [
        f"{v['id']}: {v['help']}\n" + "\n".join(f"   {n['html'][:200]}" for n in v["nodes"][:5])
        for v in found["violations"]
    ]
    assert not told, "\n".join(told)


def fits(page: Page) -> None:
    """Nothing sticks out sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    if wide <= 0:
        return
    culprits = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((e) => e.clientWidth && e.scrollWidth > e.clientWidth + 1)
            .map((e) => `${e.scrollWidth} in ${e.clientWidth}: ${e.outerHTML.slice(0, 150)}`)"""
    )
    raise AssertionError(f"{page.url} is {wide} px too wide: {culprits}")


def small_targets(page: Page) -> list[str]:
    """Targets lower than 48 px; links within a sentence are none."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
             'button, select, summary, nav a, a.button, .cards a, a.tap, label.tick, '
             + '.links a, input:not([type=hidden], [type=checkbox], [type=radio], [type=file])')]
           .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 47.5)
           .map(e => `${e.outerHTML.slice(0, 120)}: ${e.getBoundingClientRect().height}`)"""
    )
    return found


def picture(page: Page, name: str) -> None:
    """Keep a picture of the whole page where somebody will look at it; nothing is asked of it."""
    page.evaluate(_ALL_THERE)
    if not PICTURES:
        return
    place = SCREENSHOTS / f"{name}.png"
    place.parent.mkdir(parents=True, exist_ok=True)
    # In the page's own pixels: four times as many of a phone's say no more, and take longer.
    page.screenshot(path=place, full_page=True, scale="css")
