"""PDF measured from its vector paths with pdfplumber; 1 pt = 25.4/72 mm (ISO 32000-1, 8.3.2.3)."""

from __future__ import annotations

import io
import math
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pdfplumber
import pypdfium2
import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from proof import proves
from sheets.shapes import HOLES, RADIUS, plate_row
from splicewright.errors import OutputError, SplicewrightError
from splicewright.sheets.canvas.expansion import CAP_HEIGHT, text_width
from splicewright.sheets.canvas.paper import A4, LETTER, Paper, fit, tiles
from splicewright.sheets.canvas.pdf import FONT_FOLDER, render, tiled_pdf
from splicewright.sheets.canvas.scene import Scene, Text
from splicewright.sheets.canvas.svg import FONT_FAMILY, svg

pytestmark = proves(
    "Drawings and units",
    "PDF at true scale",
    "B",
    "Page sizes, check bars and holes measured from the vector paths.",
    doubt="1 pt = 25.4/72 mm by the PDF standard.",
    tolerance="0.01 mm: finer than any printer draws",
    sketch="rule",
)


MM = 25.4 / 72.0

TEMPLATE = """\
#let data = json(bytes(sys.inputs.data))
#set document(title: data.title)
#set page(width: 210mm, height: 297mm, margin: 15mm)
#set text(font: "Splicewright Sans", size: 11pt)
= #data.title
Bolts: #data.bolts ☐ torque ≤ #data.torque N·m
#image("row.svg", width: 180mm, alt: "Plate row")
"""
DATA = {"title": "Plate row Ø #1 *not markup*", "bolts": 28, "torque": 45.5}

# What the sheets need beyond ASCII.
NEEDED = "≤≥×±°Ø⌀√ΣΔδφμµ²³·−½¼¾☐☑☒→←↑↓≈≠′″–—…" + "".join(
    chr(code) for code in (*range(0xC0, 0x180), *range(0x391, 0x3A2), *range(0x3A3, 0x3CA))
)


def job_sheet() -> bytes:
    row = fit(plate_row(), 180.0, 110.0)
    return render(TEMPLATE, DATA, {"row": svg(row.scene, box=(0.0, 0.0, 180.0, 110.0))})


def centres(page: Any) -> list[tuple[float, float, float]]:
    """Centre and radius [mm, y up] of every full circle: four curves back to the start."""
    found = []
    for curve in page.curves:
        width, height = (curve["x1"] - curve["x0"]) * MM, (curve["bottom"] - curve["top"]) * MM
        start, end = curve["pts"][0], curve["pts"][-1]
        closed = math.dist(start, end) < 0.01
        if closed and abs(width - height) < 0.01:
            x = (curve["x0"] + curve["x1"]) / 2 * MM
            y = float(page.height) * MM - (curve["top"] + curve["bottom"]) / 2 * MM
            found.append((x, y, width / 2))
    return found


@pytest.mark.parametrize("paper", [A4, A4.turned(), LETTER])
def test_pages_have_exactly_the_papers_size(paper: Paper) -> None:
    laid = tiles(plate_row(), paper)
    pdf = pypdfium2.PdfDocument(tiled_pdf(laid, paper))
    assert len(pdf) == len(laid)
    for page in pdf:
        width, height = page.get_size()
        assert width * MM == pytest.approx(paper.width, abs=0.01)
        assert height * MM == pytest.approx(paper.height, abs=0.01)
        page.close()
    pdf.close()


def test_check_bars_measure_true_on_every_sheet() -> None:
    with pdfplumber.open(io.BytesIO(tiled_pdf(tiles(plate_row(), A4), A4))) as pdf:
        for page in pdf.pages:
            foot = [line for line in page.lines if line["bottom"] > float(page.height) - 43 / MM]
            flat = [(line["x1"] - line["x0"]) * MM for line in foot if line["height"] < 0.01]
            metric = [long for long in flat if abs(long - 100.0) < 0.05]
            inch = [long for long in flat if abs(long - 101.6) < 0.05]
            assert len(metric) == 2
            assert len(inch) == 2


def test_holes_stand_in_place_over_the_sheets() -> None:
    laid = tiles(plate_row(), A4)
    seen: set[tuple[float, float]] = set()
    with pdfplumber.open(io.BytesIO(tiled_pdf(laid, A4))) as pdf:
        for tile, page in zip(laid, pdf.pages, strict=True):
            for x, y, radius in centres(page):
                if abs(radius - RADIUS) > 0.05:
                    continue
                at = (x - tile.origin[0], y - tile.origin[1])
                hole = min(HOLES, key=lambda hole, at=at: math.dist(hole, at))  # type: ignore[misc]
                assert math.dist(hole, at) < 0.05
                seen.add(hole)
    # The overlap is less than a hole's diameter wide here, so some may be cut on both sheets.
    cut_on_both = {
        hole
        for hole in HOLES
        if not any(
            t.window[0] <= hole[0] - RADIUS
            and hole[0] + RADIUS <= t.window[2]
            and t.window[1] <= hole[1] - RADIUS
            and hole[1] + RADIUS <= t.window[3]
            for t in laid
        )
    }
    assert seen == set(HOLES) - cut_on_both
    assert len(seen) > len(HOLES) / 2


def test_same_input_same_bytes() -> None:
    assert job_sheet() == job_sheet()
    laid = tiles(plate_row(), A4)
    assert tiled_pdf(laid, A4) == tiled_pdf(laid, A4)


def test_made_date_is_written() -> None:
    created = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
    pdf = pypdfium2.PdfDocument(render(TEMPLATE.replace("#image", "// "), DATA, created=created))
    assert "20310506" in pdf.get_metadata_value("CreationDate")
    pdf.close()


def test_text_can_be_read_out_and_data_are_no_markup() -> None:
    with pdfplumber.open(io.BytesIO(job_sheet())) as pdf:
        text = pdf.pages[0].extract_text()
        fonts = {char["fontname"].split("+")[-1] for char in pdf.pages[0].chars}
    assert "Plate row Ø #1 *not markup*" in text
    assert "Bolts: 28 ☐ torque ≤ 45.5 N·m" in text
    assert "650" in text  # from the drawing
    assert "28 × ⌀12.1" in text
    assert fonts == {"SplicewrightSans-Regular", "SplicewrightSans-Bold"}


def test_pdf_is_tagged_and_titled() -> None:
    data = job_sheet()
    assert b"/MarkInfo" in data
    assert b"/StructTreeRoot" in data
    pdf = pypdfium2.PdfDocument(tiled_pdf(tiles(plate_row(), A4), A4))
    assert pdf.get_metadata_value("Title") == "Plate row"
    pdf.close()


def test_nothing_is_left_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    job_sheet()
    assert os.listdir(tmp_path) == []  # noqa: PTH208


def test_template_sees_no_file_of_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "secret.txt").write_text("here")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(OutputError, match="template sheet: file not found"):
        render('#read("secret.txt")', {})


def test_error_names_the_template() -> None:
    with pytest.raises(SplicewrightError, match=r"template joint sheet: unknown variable: wdith"):
        render("#wdith", {}, name="joint sheet")


def test_data_that_is_no_json_is_refused() -> None:
    for data in ({"at": object()}, {"force": math.nan}):
        with pytest.raises(OutputError, match="template sheet: data cannot be written as JSON"):
            render("x", data)


def test_warning_names_the_template() -> None:
    with pytest.warns(UserWarning, match=r"template sheet: unknown font family: no such"):
        render('#set text(font: "no such")\nx', {})


def test_no_tiles_are_refused() -> None:
    with pytest.raises(OutputError, match="tiles: none given"):
        tiled_pdf([], A4)


@pytest.mark.parametrize("weight", ["Regular", "Bold"])
def test_shipped_font_has_every_sign_and_even_figures(weight: str) -> None:
    font = TTFont(FONT_FOLDER / f"SplicewrightSans-{weight}.ttf")
    known = font.getBestCmap()
    missing = [c for c in NEEDED + "".join(map(chr, range(32, 127))) if ord(c) not in known]
    assert missing == []
    assert len({font["hmtx"][known[ord(figure)]][0] for figure in "0123456789"}) == 1
    assert font["name"].getDebugName(1) == FONT_FAMILY
    # The OFL keeps the original's name for the unchanged font; only the copyright line has it.
    assert not any("Plex" in str(r) for r in font["name"].names if r.nameID != 0)
    assert font["OS/2"].sCapHeight / font["head"].unitsPerEm == pytest.approx(CAP_HEIGHT)


def test_licence_lies_beside_the_font_and_all_is_small() -> None:
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONT_FOLDER / "OFL.txt").read_text()
    assert sum(path.stat().st_size for path in FONT_FOLDER.glob("*.ttf")) < 1.5e6


@pytest.mark.parametrize(
    "text",
    ["875.5", "12 × ⌀12.5", "−0.5 ± 0.25 mm", "belt end, top cover up", "MAXIMUM WIDTH", "½ in"],
)
def test_estimated_width_is_on_the_long_side(text: str) -> None:
    font = TTFont(FONT_FOLDER / "SplicewrightSans-Regular.ttf")
    known, em = font.getBestCmap(), font["head"].unitsPerEm
    true = sum(font["hmtx"][known[ord(c)]][0] for c in text) / em * 3.0 / CAP_HEIGHT
    assert true <= text_width(text, 3.0) <= 1.35 * true


def test_capital_letters_print_at_their_named_height() -> None:
    box = (0.0, 0.0, 60.0, 40.0)
    scene = Scene((Text((10.0, 10.0), "HHH", 7.0),))
    template = '#set page(width: 60mm, height: 40mm, margin: 0mm)\n#image("h.svg", width: 60mm)'
    pdf = pypdfium2.PdfDocument(render(template, {}, {"h": svg(scene, box=box)}))
    page = pdf[0]
    image = page.render(scale=20, grayscale=True).to_numpy()
    dark = (image < 128).any(axis=(1, 2) if image.ndim == 3 else 1).nonzero()[0]
    assert (dark[-1] - dark[0] + 1) / image.shape[0] * 40.0 == pytest.approx(7.0, abs=0.1)
    page.close()
    pdf.close()
