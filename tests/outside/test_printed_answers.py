"""Published data sets through the whole program: from a file to the answer that is printed.

The kernels are held against the same sources elsewhere in this folder; here it is reading the
table, its units, counts and looks, and the answer a user sees.

- NIST/SEMATECH e-Handbook 8.4.1.3: 20 units, Weibull shape 1.7208, scale 606.5280. Read.
- Nelson, Applied Life Data Analysis, 1982, p. 415, 167 turbine parts at inspections: scale
  71.6904, shape 1.4854; p. 318, 70 diesel fans: scale 26296.8, shape 1.0584. Data read, results
  from memory, recomputed with two libraries.
- Stevenson, Operations Management, ex. 15: Poisson demand of mean 4, service 0.60: stock 4. Read.
- Hillier and Lieberman's construction example (from memory): P(done in 47) 0.588 with triangular
  times in the book's own simulation, 0.5924 in 400,000 runs of ours.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from splicewright.cli import main
from splicewright.quantities import show
from splicewright.quantities.units import Kind

NIST = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
LOOKS = (6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48)
CRACKED = (5, 16, 12, 18, 18, 2, 6, 17)
FANS = (450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750)
FANS_RUN = {
    460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2, 4150: 4,
    4300: 4, 4850: 4, 5000: 3, 6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1, 7800: 2, 8100: 2,
    8200: 1, 8500: 3, 8750: 2, 9400: 1, 9900: 1, 10100: 3, 11500: 1,
}  # fmt: skip
BUILD = {
    "A": ((1, 2, 3), ""), "B": ((2, 3.5, 8), "A"), "C": ((6, 9, 18), "B"), "D": ((4, 5.5, 10), "C"),
    "E": ((1, 4.5, 5), "C"), "F": ((4, 4, 10), "E"), "G": ((5, 6.5, 11), "D"),
    "H": ((5, 8, 17), "EG"), "I": ((3, 7.5, 9), "C"), "J": ((3, 9, 9), "FI"),
    "K": ((4, 4, 4), "J"), "L": ((1, 5.5, 7), "J"), "M": ((1, 2, 3), "H"), "N": ((5, 5.5, 9), "KL"),
}  # fmt: skip


def answer(*words: str | Path) -> dict[str, Any]:
    done = CliRunner().invoke(main, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def printed(*words: str | Path) -> str:
    return CliRunner().invoke(main, [str(w) for w in words]).stdout


def table(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def test_nist_units(tmp_path: Path) -> None:
    rows = (*(f"{t},{t},1" for t in NIST), "500,,10")
    file = table(tmp_path / "units.csv", "good [h],failed [h],count", *rows)
    law = answer("life", file)["life"]["settled"]["law"]
    assert law["shape"] == pytest.approx(1.7208, abs=5e-5)
    assert law["scale"] / 3600 == pytest.approx(606.5280, abs=1e-3)
    tenth = 606.5280 * 0.105360515657826 ** (1 / 1.7208)  # -ln 0.9
    assert f"One joint in ten fails by {show(tenth * 3600, Kind.RUN_TIME)} (" in printed(
        "life", file
    )


def test_turbine_parts_seen_at_looks(tmp_path: Path) -> None:
    starts = (0.0, *LOOKS[:-1])
    rows = [f"{a},{b},{n}" for a, b, n in zip(starts, LOOKS, CRACKED, strict=True)]
    file = table(tmp_path / "parts.csv", "good [d],failed [d],count", *rows, "63.48,,73")
    law = answer("life", file)["life"]["settled"]["law"]
    assert law["scale"] / 86400 == pytest.approx(71.6904, abs=1e-4)
    assert law["shape"] == pytest.approx(1.4854, abs=5e-5)


def test_diesel_fans(tmp_path: Path) -> None:
    rows = [f"{t},{t},1" for t in FANS] + [f"{t},,{n}" for t, n in FANS_RUN.items()]
    file = table(tmp_path / "fans.csv", "good [h],failed [h],count", *rows)
    told = answer("life", file)["life"]
    assert (told["number"], told["failures"]) == (70, 12)
    assert told["settled"]["law"]["scale"] / 3600 == pytest.approx(26296.8, abs=0.1)
    assert told["settled"]["law"]["shape"] == pytest.approx(1.0584, abs=5e-5)


def test_stock_for_a_service_level(tmp_path: Path) -> None:
    file = table(tmp_path / "items.csv", "item,per year,lead time", "kit,4,365.25 d")
    (item,) = answer("stock", file, "--service", "0.6")["stock"]
    assert item["expected"] == pytest.approx(4.0)
    assert item["advice"]["service"]["stock"] == 4
    assert item["advice"]["service"]["ready"] == pytest.approx(0.629, abs=5e-4)


def test_construction_within_47(tmp_path: Path) -> None:
    lines = ['[shutdown]', 'name = "construction"', 'window = "47 d"', 'law = "triangular"',
             'common_cause = "0 %"', "runs = 20000", "[crew]", "gang = 20"]  # fmt: skip
    for name, (times, after) in BUILD.items():
        lines += ["[[task]]", f'name = "{name}"', f"time = {[f'{t} d' for t in times]}",
                  f"after = {list(after)}"]  # fmt: skip
    file = table(tmp_path / "build.toml", *lines)
    told = answer("shutdown", file)["shutdown"]
    assert told["chance"]["share"] == pytest.approx(0.5924, abs=0.012)  # 3 errors of 20,000 runs
    # the law moves the answer more than the network does: 0.8165 by beta-PERT, other things equal
    assert told["other_chance"]["share"] == pytest.approx(0.8165, abs=0.01)
