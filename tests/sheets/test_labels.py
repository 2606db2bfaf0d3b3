"""Sheets of stickers: read back with zxing-cpp, which shares no code with what wrote them."""

from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp
from PIL import Image, ImageDraw

from splicewright.errors import OutputError
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.labels import GRID, MOST, Sticker, StickerSize, sticker_sheet

LINK = "https://joints.karst-hollow.example/joints/00000000-0000-4000-8000-00000000000"


def _pages(pdf: bytes, dpi: float) -> list[Image.Image]:
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]
    document.close()
    return pages


def _stickers(count: int) -> list[Sticker]:
    return [
        Sticker(f"{LINK}{n % 10}", f"J{n}", ("K2 incline", "Karst Hollow")) for n in range(count)
    ]


@pytest.mark.parametrize("size", ["large", "small"])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda p: p.name)
def test_every_code_reads_as_its_link(size: StickerSize, paper: Paper) -> None:
    across, down, _ = GRID[size]
    full = across * down
    pages = _pages(sticker_sheet(_stickers(full + 3), size, paper), 200)
    assert len(pages) == 2
    width, height = pages[0].size
    assert width == pytest.approx(paper.width / 25.4 * 200, abs=1)
    assert height == pytest.approx(paper.height / 25.4 * 200, abs=1)
    first, second = (sorted(c.text for c in zxingcpp.read_barcodes(page)) for page in pages)
    assert first == sorted(s.link for s in _stickers(full))
    assert second == sorted(s.link for s in _stickers(full + 3)[full:])


def test_a_dirty_sticker_still_reads() -> None:
    [page] = _pages(sticker_sheet(_stickers(1)), 200)
    [code] = zxingcpp.read_barcodes(page)
    corner = code.position.bottom_right
    draw = ImageDraw.Draw(page)
    side = corner.x - code.position.top_left.x
    # A tenth of the code under dirt; the level chosen stands more.
    spot = (corner.x - 0.33 * side, corner.y - 0.33 * side, corner.x, corner.y)
    draw.ellipse(spot, fill=40)
    [read] = zxingcpp.read_barcodes(page)
    assert read.text == code.text


def test_names_stand_beside_the_code() -> None:
    name = "K2 incline, joint at the long return below the transfer tower"
    pdf = sticker_sheet([Sticker(f"{LINK}1", name, ("<b>#eval</b> $x$", "Karst Hollow"))])
    document = pypdfium2.PdfDocument(pdf)
    # Places where an address may break are marked by characters of no width.
    read = document[0].get_textpage().get_text_range().replace("\u200b", "")
    text = " ".join(read.split())
    document.close()
    assert "transfer tower" in text
    assert "<b>#eval</b> $x$" in text
    assert "joints.karst-hollow.example" in text


def test_what_cannot_be_drawn() -> None:
    with pytest.raises(OutputError, match=r"accepted is 1 to 400"):
        sticker_sheet([])
    with pytest.raises(OutputError, match=r"accepted is 1 to 400"):
        sticker_sheet(_stickers(MOST + 1))
    with pytest.raises(OutputError, match=r"accepted is 1 to 300"):
        sticker_sheet([Sticker("x" * 301, "J1", ())])


def test_same_stickers_same_bytes() -> None:
    assert sticker_sheet(_stickers(3)) == sticker_sheet(_stickers(3))
