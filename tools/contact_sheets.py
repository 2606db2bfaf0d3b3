"""Pages side by side, so that many are looked at in one picture: out/screenshots/sheets.

    make pictures && .venv/bin/python tools/contact_sheets.py
    .venv/bin/python tools/contact_sheets.py --whole phone-light desk-dark

The first gives an overview of every size and light, each page cut off below what is seen first. The
second is for reading: whole pages, cut into columns at a width at which their letters can be read.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from PIL import Image, ImageDraw

SCREENSHOTS = Path(__file__).parents[1] / "out" / "screenshots"
ACROSS = {
    "phone": (10, 5), "tablet": (9, 3), "desk": (8, 2), "zoomed": (9, 3), "magnified": (12, 7),
}  # fmt: skip
"""Columns of a sheet, of the overview and for reading, by size."""
SHEET_WIDE, SHEET_TALL, CUT_AT, GAP = {False: 2000, True: 1560}, 1500, 2.4, 6
"""Size of a sheet [px]; of an overview, where a page is cut off in its widths."""
MOST_COLUMNS = 10
"""Of one page: a list of every number of a plan would fill sheet after sheet."""


def columns(path: Path, wide: int, whole: bool) -> Iterator[tuple[str, Image.Image]]:
    """A page as columns of this width, each with what stands over it."""
    with Image.open(path) as opened:
        page = opened.convert("RGB")
    page = page.resize((wide, max(1, round(page.height * wide / page.width))))
    tall = SHEET_TALL if whole else int(CUT_AT * wide)
    for top in range(0, min(page.height, MOST_COLUMNS * tall) if whole else 1, tall):
        cut = page.crop((0, top, wide, min(page.height, top + tall)))
        yield path.stem + (f" ({top // tall + 1})" if top else ""), cut


def sheet(shown: list[tuple[str, Image.Image]], wide: int) -> Image.Image:
    """These columns in one row, each under its name."""
    across = sum(one.width + GAP for _, one in shown)
    made = Image.new("RGB", (max(wide, across), 16 + max(one.height for _, one in shown)), "#888")
    draw = ImageDraw.Draw(made)
    for at, (name, one) in enumerate(shown):
        made.paste(one, (at * (one.width + GAP), 16))
        draw.text((at * (one.width + GAP) + 2, 2), name, fill="#fff")
    return made


def main() -> None:
    """Lay the pictures of every size and light side by side, or those that are named."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--whole", action="store_true", help="whole pages, in letters to be read")
    asked.add_argument("folders", nargs="*", help="such as phone-sun; all where none is named")
    told = asked.parse_args()
    every, place = SCREENSHOTS / "every", SCREENSHOTS / "sheets"
    if not every.is_dir():
        sys.exit(f"{every} is not there: run `make pictures` first")
    place.mkdir(exist_ok=True)
    for name in told.folders or sorted(folder.name for folder in every.iterdir()):
        across, wide = ACROSS[name.partition("-")[0]][told.whole], SHEET_WIDE[told.whole]
        pages = sorted((every / name).glob("*.png"))
        shown = (one for path in pages for one in columns(path, wide // across - GAP, told.whole))
        number = 0
        while some := list(islice(shown, across)):
            number += 1
            to = place / f"{'whole-' if told.whole else ''}{name}-{number:02}.png"
            sheet(some, wide).save(to)
            print(to)


if __name__ == "__main__":
    main()
