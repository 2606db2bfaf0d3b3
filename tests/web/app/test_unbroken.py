"""What a line of a page must not break, in words between tags alone."""

from __future__ import annotations

import pytest

from splicewright.web.app.unbroken import unbroken

GAP = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("written", "sent"),
    [
        ("<p>24 N/mm of 60 N/mm", f"<p>24{GAP}N/mm of 60{GAP}N/mm"),
        ("<p>19 N m, 1-3/8 in, 81 %", f"<p>19{GAP}N{GAP}m, 1-3/8{GAP}in, 81{GAP}%"),
        ("<p>303 × bolt, ⌀ 8 mm × 36 mm", f"<p>303{GAP}×{GAP}bolt, ⌀ 8{GAP}mm × 36{GAP}mm"),
        ("<p>saves 2 160 of 12 000 000", f"<p>saves 2{GAP}160 of 12{GAP}000{GAP}000"),
        ("<p>(2026-05-02), and", '<p><span class="whole">(2026-05-02),</span> and'),
    ],
)
def test_numbers_keep_their_units_and_dates_their_brackets(written: str, sent: str) -> None:
    assert unbroken(written) == sent


@pytest.mark.parametrize(
    "page",
    [
        '<input value="24 mm" placeholder="2026-05-02">',
        '<script type="application/json">{"typed": "24 mm"}</script>',
        "<textarea>24 mm on 2026-05-02</textarea>",
        "<option>24 mm</option><title>24 mm</title><svg><text>24 mm</text></svg>",
        '<time datetime="2026-05-02">2026-05-02 18:00</time>',
        "<p>5 joints in 3 minutes, pitch 36, 11-16 plates, step 2 done</p>",
    ],
)
def test_what_a_form_sends_and_what_has_no_unit_stay_as_they_are(page: str) -> None:
    assert unbroken(page) == page
