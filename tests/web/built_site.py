"""The documentation as built, opened from disk by a browser without network, as a reader does.

`make docs-site` runs this file after the build; the suite does not, for it builds no site.
"""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import unquote

import pytest
from playwright.sync_api import Browser

SITE = Path(__file__).parents[2] / "out" / "docs-site"
PAGES = sorted(SITE.rglob("*.html"))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    for link in re.findall(r'(?:href|src)="([^"]+)"', page.read_text("utf-8")):
        if re.match(r"[a-z]+:", link):
            continue
        path, _, place = link.partition("#")
        there = page.parent / unquote(path.partition("?")[0]) if path else page
        assert there.exists(), (page.name, link)
        if place and there.suffix == ".html":
            assert f'id="{unquote(place)}"' in there.read_text("utf-8"), (page.name, link)


@pytest.mark.parametrize("size", [(390, 844), (1280, 800)], ids=["phone", "desk"])
def test_it_reads_and_searches_from_disk(browser: Browser, size: tuple[int, int]) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, offline=True)
    page, asked, failed = context.new_page(), [], []
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda line: failed.append(line.text) if line.type == "error" else None)
    for file in PAGES:
        page.goto(file.as_uri())
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 1, f"{file.name} is {wide} px too wide"
        broken = page.evaluate(
            "[...document.images].filter(i => i.complete && !i.naturalWidth).map(i => i.src)"
        )
        assert not broken, (file.name, broken)
    page.goto((SITE / "index.html").as_uri())
    opener = page.locator("label[for='__navigation']:visible")
    if opener.count():
        opener.first.click()
    page.locator("input[name=q]").first.fill("take-up")
    page.locator("input[name=q]").first.press("Enter")
    found = page.locator("ul.search li a")
    found.first.wait_for()
    assert "The belt at rest" in found.all_inner_texts()
    assert all(url.startswith(("file:", "data:")) for url in asked), "something was fetched"
    assert not failed
    context.close()
