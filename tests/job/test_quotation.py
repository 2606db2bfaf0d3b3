"""A quotation against sums written out by hand; nothing in it may be made up."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner

from sheets.plans import SITE, example
from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.job.quotation import load_prices, quotation
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.plan import quotation_sheet

PRICES = SITE / "prices" / "prices.toml"


def test_the_sum_is_parts_extras_and_hours_at_the_files_own_prices() -> None:
    told = quotation(example("incline"), load_prices(PRICES))
    count = {part.name: part.total for part in example("incline").parts}
    parts = (
        27.5 * count["double plate set, top and bottom"]
        + 14.5 * count["single plate set, top and bottom"]
        + 0.85 * count["bolt"] + 0.3 * count["nut"] + 38.0 * count["hinge pin"]
    )  # fmt: skip
    timing = example("incline").timing
    hours = [3 * t.value / 3600 for t in (timing.likely, timing.high)]  # a crew of three
    assert told.sums == pytest.approx([parts + 180.0 + 95.0 + 62.0 * h for h in hours])


def test_a_part_without_a_price_has_none_and_the_sum_says_so(tmp_path: Path) -> None:
    told = quotation(example("incline"), load_prices(PRICES))
    assert told.unpriced and not told.whole
    for line in told.lines:
        assert (line.all is None) == (line.what in told.unpriced)
    file = tmp_path / "prices.toml"
    named = "\n".join(f'"{part.name}" = 1.0' for part in example("incline").parts)
    file.write_text(
        f'[quote]\ncurrency = "EUR"\n[hours]\nrate = 0.0\n[parts]\n"chain" = 1\n{named}\n'
    )
    whole = quotation(example("incline"), load_prices(file))
    assert whole.whole and whole.unused == ("chain",)
    assert whole.sums[0] == sum(part.total for part in example("incline").parts)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[quote]\ncurrency = "EUR"\n[hours]\nrate = -1.0\n', "hours.rate"),
        ('[quote]\ncurrency = "EUR"\n[hours]\nrate = 1.0\n[parts]\nbolt = "dear"\n', "bolt"),
        ("[hours]\nrate = 1.0\n", "quote"),
    ],
)
def test_a_wrong_price_is_named(tmp_path: Path, text: str, message: str) -> None:
    file = tmp_path / "prices.toml"
    file.write_text(text)
    with pytest.raises(InputError, match=message):
        load_prices(file)


def test_the_command_writes_the_sheet_and_never_over_another(tmp_path: Path) -> None:
    words = ["quote", str(SITE / "conveyors" / "incline.toml"),
             str(SITE / "jobs" / "incline-worn-joint.toml"), "--prices", str(PRICES),
             "--out", str(tmp_path / "quote.pdf")]  # fmt: skip
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    assert "Sum of what is priced" in done.output and "Not whole: no price for" in done.output
    assert (tmp_path / "quote.pdf").read_bytes().startswith(b"%PDF")
    assert CliRunner().invoke(main, words).exit_code != 0


def test_the_sheet_says_what_is_not_in_the_price_even_where_nobody_stated_it(
    tmp_path: Path,
) -> None:
    plan = example("flat")
    told = quotation(plan, load_prices(PRICES))
    text = _text(printed(quotation_sheet(told)))
    for words in ("scaffolding", "who isolates", "access from both sides", "Valid until"):
        assert words in text
    for asked in plan.questions:
        assert asked.say()[:40] in text
    file = tmp_path / "prices.toml"
    file.write_text('[quote]\ncurrency = "EUR"\n[hours]\nrate = 1.0\n')
    bare = _text(printed(quotation_sheet(quotation(plan, load_prices(file)))))
    for name in ("Not included", "The site provides"):
        assert f"{name}: not stated" in bare


def _text(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())
