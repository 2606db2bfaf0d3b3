"""PDF by typst: a template, its data and its drawings become the same bytes everywhere."""

from __future__ import annotations

import json
import warnings
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.errors import OutputError
from splicewright.sheets.canvas.paper import Paper, Tile
from splicewright.sheets.canvas.svg import svg

if TYPE_CHECKING:
    from typst import Fonts

FONT_FOLDER = Path(__file__).with_name("fonts")
NO_DATE = datetime(1970, 1, 1, tzinfo=UTC)


def render(
    template: str,
    data: Mapping[str, Any],
    drawings: Mapping[str, str] | None = None,
    *,
    name: str = "sheet",
    fonts: Sequence[Path] = (FONT_FOLDER,),
    created: datetime = NO_DATE,
) -> bytes:
    """Return a tagged PDF of a typst template; same input, same bytes.

    In the template, `#let data = json(bytes(sys.inputs.data))` reads the data and
    `#image("end.svg")` shows the drawing given as `{"end": "<svg ...>"}`. Nothing is written to
    disk, system fonts are not looked at, and the template sees no file but its drawings and the
    shipped fonts. Begin it with `#set text(font: "Splicewright Sans")`.

    Args:
        data: anything JSON can hold.
        name: what the template is called in an error.
        fonts: folders with font files.
        created: the date the PDF says it was made, and typst's `datetime.today()`.

    Raises:
        OutputError: typst refuses the template, or the data cannot be written as JSON.
    """
    import typst

    # Here: drawing modules load no numbers' library.
    from splicewright.quantities.going_on import go_on

    go_on()
    try:
        inputs = {"data": json.dumps(data, ensure_ascii=False, allow_nan=False)}
    except (TypeError, ValueError) as error:
        message = f"template {name}: data cannot be written as JSON ({error})"
        raise OutputError(message) from error
    files = {"main.typ": template.encode()}
    files |= {f"{key}.svg": text.encode() for key, text in (drawings or {}).items()}
    # A dict of virtual files is taken, `main.typ` being the document; the stubs leave it out.
    compiled: Any = typst.compile_with_warnings
    try:
        pdf, notes = compiled(
            files,
            root=FONT_FOLDER,
            font_paths=_fonts(tuple(fonts)),
            sys_inputs=inputs,
            timestamp=created,
            pdf_tags=True,
        )
    except typst.TypstError as error:
        raise OutputError(_problem(name, error)) from error
    for note in notes:
        warnings.warn(_problem(name, note), UserWarning, stacklevel=2)
    return bytes(pdf)


def tiled_pdf(tiles: Sequence[Tile], paper: Paper) -> bytes:
    """Return the tiles as a PDF at 1:1, one page of exactly the paper's size for each.

    Args:
        tiles: from `page.tiles`, for the same paper.
        paper: the sheets.

    Raises:
        OutputError: there are no tiles.
    """
    if not tiles:
        message = "tiles: none given; a PDF needs one page at least"
        raise OutputError(message)
    box = (0.0, 0.0, paper.width, paper.height)
    data = {
        "title": tiles[0].drawing or "Drawing in tiles",
        "width": paper.width,
        "height": paper.height,
        "tiles": [{"file": f"{tile.label}.svg", "alt": tile.scene.title} for tile in tiles],
    }
    drawings = {tile.label: svg(tile.scene, box=box) for tile in tiles}
    return render(_TILES, data, drawings, name="tiles")


_TILES = """\
#let data = json(bytes(sys.inputs.data))
#let (width, height) = (data.width * 1mm, data.height * 1mm)
#set document(title: data.title, date: none)
#set text(font: "Splicewright Sans", lang: "en")
#set page(width: width, height: height, margin: 0mm)
#for tile in data.tiles {
  page(image(tile.file, width: width, height: height, alt: tile.alt))
}
"""


@cache
def _fonts(folders: tuple[Path, ...]) -> Fonts:
    from typst import Fonts

    # typst's own built-in fonts stay behind ours: formulas need the mathematical one, and they
    # are the same wherever the same typst runs.
    return Fonts(include_system_fonts=False, font_paths=list(folders))


def _problem(name: str, problem: Any) -> str:
    hints = "".join(f"; hint: {hint}" for hint in problem.hints)
    return f"template {name}: {problem.message}{hints}\n{problem.diagnostic}".rstrip()


TEMPLATES = Path(__file__).with_name("templates")
