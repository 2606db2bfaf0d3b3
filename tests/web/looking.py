"""Pages in a real browser: whose chromium, how they are checked, where pictures go."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

ROOT = Path(__file__).parents[2]
SCREENSHOTS = ROOT / "out" / "screenshots"
AXE = Path(__file__).parent / "vendor" / "axe-4.14.1.min.js"
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def chromium() -> str:
    """Where Debian's chromium is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    assert found, "the browser tests need chromium: install it with `apt-get install chromium`"
    return found


def axe(page: Page) -> None:
    """No violation of the accessibility rules on the page as it stands."""
    # Through the debugger, not as a script element: the page's policy forbids those.
    page.evaluate(AXE.read_text("utf-8"))
    found: dict[str, Any] = page.evaluate("rules => axe.run(document, {runOnly: rules})", _RULES)
    told = [
        f"{v['id']}: {v['help']}\n" + "\n".join(f"   {n['html'][:200]}" for n in v["nodes"][:5])
        for v in found["violations"]
    ]
    assert not told, "\n".join(told)


def fits(page: Page) -> None:
    """Nothing sticks out sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    culprits = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((e) => e.clientWidth && e.scrollWidth > e.clientWidth + 1)
            .map((e) => `${e.scrollWidth} in ${e.clientWidth}: ${e.outerHTML.slice(0, 150)}`)"""
    )
    assert wide <= 0, f"{page.url} is {wide} px too wide: {culprits}"


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
    """Keep a picture of the whole page."""
    page.evaluate(
        "document.querySelectorAll('img[loading=lazy]').forEach(i => i.loading = 'eager')"
    )
    page.wait_for_load_state("networkidle")
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SCREENSHOTS / f"{name}.png", full_page=True)
