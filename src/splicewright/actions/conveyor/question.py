"""The question of a conveyor's tension: every load case, second methods, what is not known."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from splicewright.actions.folder.reading import read_result
from splicewright.actions.question import Inquiry, Source
from splicewright.files.answers import FileOf, Typed, Whole
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from splicewright.quantities import System
    from splicewright.sheets.pages.document import Document
    from splicewright.tension import Study

FILE = "study.json"
MOST_SAMPLES = 1 << 20


class TensionAsked(Question):
    """Study the tension in CONVEYOR: every load case, second methods, what is not known.

    With --out the folder holds the conveyor sheet (PDF), the loop and the tension diagram (SVG)
    and study.json.
    """

    conveyor: Annotated[
        Readable,
        FileOf("toml"),
        Ask("Conveyor file (TOML)", option="CONVEYOR", doors=("command", "program")),
    ]
    rating: Annotated[
        str,
        Typed(Kind.WIDTH_FORCE, above_zero=True),
        Ask(
            "Rating",
            'Tension per width to compare with, such as "90 N/mm".',
            "90 N/mm",
            "500 lbf/in",
            doors=("command", "program"),
        ),
    ] = ""
    samples: Annotated[
        int | None,
        Whole(2, MOST_SAMPLES),
        Ask(
            "Samples",
            "Samples of the uncertainty run, taken up to the next power of two; 4096 without it.",
            doors=("command",),
        ),
    ] = None
    seed: Annotated[
        int | None,
        Whole(0, 999_999_999),
        Ask(
            "Seed",
            "Seed of the uncertainty run: same seed, same answer.",
            doors=("command", "program"),
        ),
    ] = None


def answer_tension(asked: TensionAsked, source: Source) -> Study:
    """Study the conveyor of a file.

    Raises InputError: anything wrong in the file.
    """
    from splicewright.plant import load_conveyor
    from splicewright.tension import study
    from splicewright.tension.unknowns import SAMPLES, SEED

    rating = read(asked.rating, Kind.WIDTH_FORCE, "rating") if asked.rating else None
    samples = SAMPLES if asked.samples is None else asked.samples
    seed = SEED if asked.seed is None else asked.seed
    return study(load_conveyor(asked.conveyor), rating, samples, seed)


def read_study(source: Path) -> Study | None:
    """The study the user points at, a folder or its study.json; None where there is none.

    Raises InputError: it cannot be read.
    """
    from splicewright.tension import Study

    return read_result(source, FILE, Study.from_json)


def _document(study: Study, units: System) -> Document:
    from splicewright.sheets.reports.conveyor import conveyor_report

    return conveyor_report(study, units)


def _data(study: Study) -> dict[str, Any]:
    return {"study": json.loads(study.to_json())}


TENSION: Inquiry[TensionAsked, Study] = Inquiry(
    "tension",
    TensionAsked,
    answer_tension,
    _document,
    _data,
    "conveyor-sheet",
    kept=lambda study: study.to_json(),
    file=FILE,
)
