"""Numbers stay with their units, and dates and names whole, wherever a page tells them."""

from __future__ import annotations

import pytest

from splicewright.web.app.unbroken import unbroken


def _shown(page: str) -> str:
    return unbroken(page).replace("<n-b>", "[").replace("</n-b>", "]")


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("<p>24 N/mm of 60 N/mm, 150 % left", "<p>[24 N/mm] of [60 N/mm,] [150 %] left"),
        ("found 2026-05-02 06:00, 2.8 m long", "found [2026-05-02] 06:00, [2.8 m] long"),
        ("K1-1: pitch 36, 8-11 mm; 1-3/8 in", "[K1-1:] pitch 36, [8-11 mm;] [1-3/8 in]"),
        ("15 h 47 min; -0.526 mm; 1,420 h", "[15 h 47 min;] [-0.526 mm;] [1,420 h]"),
        ("&#39;5 mm&#39; &gt;5 mm", "&#39;[5 mm]&#39; &gt;[5 mm]"),
        ("1 510 EUR (-79 to 4 750)", "[1 510] EUR (-79 to [4 750)]"),
        # No line begins with a comma or ends with a bracket: browsers break beside a box there.
        ("(12 mm), K1-2's, “5 mm”. K1-2.toml", "[(12 mm),] [K1-2's,] [“5 mm”.] [K1-2].toml"),
        ("about ⌀ 453 mm (⌀ 8 mm) ± 2.7 mm", "about [⌀ 453 mm] [(⌀ 8 mm)] [± 2.7 mm]"),
        # A count has no unit, and a word that begins as one is none.
        ("24 plates, 31 man-hours, 12 minutes", "24 plates, 31 man-hours, 12 minutes"),
        # Addresses may break where they must.
        ("http://a.example/joints/9ab8ea91-16a7-4985-b2d7-8f670a2a9431", None),
        # What is sent back as it stands is not touched, nor what is not told.
        ('<input value="12.5 mm"><option>12 mm</option><p>12 mm',
         '<input value="12.5 mm"><option>12 mm</option><p>[12 mm]'),
        ("<textarea>3 mm</textarea><script>'3 mm <b>'</script><title>J 3 mm</title>", None),
        ('<svg viewBox="0 0 1 1"><text>3 mm</text></svg> 3 mm',
         '<svg viewBox="0 0 1 1"><text>3 mm</text></svg> [3 mm]'),
    ],
)  # fmt: skip
def test_what_is_held_together(text: str, held: str | None) -> None:
    assert _shown(text) == (text if held is None else held)
    assert unbroken(unbroken(text)) == unbroken(text)
