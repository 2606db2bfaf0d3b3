"""Pictures of pages side by side, so that many are looked at in one: out/screenshots/sheets.

    make pictures && .venv/bin/python tools/contact_sheets.py

One sheet for every so many pages of one size in one light, each cut off below what is looked at.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image, ImageDraw

EVERY = Path(__file__).parents[1] / "out" / "screenshots" / "every"
ACROSS = {"phone": 10, "tablet": 9, "desk": 8, "zoomed": 9}
SHEET_WIDE, CUT_AT = 2000, 2.4
"""Width of a sheet [px]; a page is cut off below so many times its width."""


def sheet(pictures: list[Path], across: int) -> Image.Image:
    """These pictures in one row, each under its name."""
    wide = SHEET_WIDE // across - 6
    shown = []
    for path in pictures:
        with Image.open(path) as whole:
            cut = whole.convert("RGB").crop(
                (0, 0, whole.width, min(whole.height, int(CUT_AT * whole.width)))
            )
            shown.append(cut.resize((wide, max(1, round(cut.height * wide / cut.width)))))
    made = Image.new("RGB", (SHEET_WIDE, 16 + max(one.height for one in shown)), "#888")
    draw = ImageDraw.Draw(made)
    for at, (path, one) in enumerate(zip(pictures, shown, strict=True)):
        made.paste(one, (at * (wide + 6), 16))
        draw.text((at * (wide + 6) + 2, 2), path.stem, fill="#fff")
    return made


def main() -> None:
    """Lay the pictures of every size and light side by side."""
    if not EVERY.is_dir():
        sys.exit(f"{EVERY} is not there: run `make pictures` first")
    place = EVERY.parent / "sheets"
    place.mkdir(exist_ok=True)
    for folder in sorted(EVERY.iterdir()):
        pictures, across = sorted(folder.glob("*.png")), ACROSS[folder.name.partition("-")[0]]
        for at in range(0, len(pictures), across):
            name = place / f"{folder.name}-{at // across + 1:02}.png"
            sheet(pictures[at : at + across], across).save(name)
            print(name)


if __name__ == "__main__":
    main()
