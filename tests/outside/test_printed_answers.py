"""Published data sets through the whole program: from a file to the answer that is printed.

The kernels are held against the same sources elsewhere in this folder; here it is reading the
table, its units, counts and looks, and the answer a user sees.

- NIST/SEMATECH e-Handbook 8.4.1.3: 20 units, Weibull shape 1.7208, scale 606.5280. Read.
- Nelson, Applied Life Data Analysis, 1982, p. 415, 167 turbine parts at inspections: scale
  71.6904, shape 1.4854; p. 318, 70 diesel fans: scale 26296.8, shape 1.0584. Data read, results
  from memory, recomputed with two libraries.
- Stevenson, Operations Management, ex. 15: Poisson demand of mean 4, service 0.60: stock 4. Read.
- Meeker and Escobar, 1998: tubes of three plants (data read; fit of another library beside it in
  test_meeker_escobar_sparse.py); table C.17, 15 lasers: intercept and slope of
  laser 112, .1145294 and .0019792 (read). A rise of 1 % is written as 1 mm.
- Age renewal in the documentation of the library `reliability`: 493.19 (read, off a grid).
- Belt wear surveys of rleadbett/thesis, belt A (data read; line worked by scipy).
- Network of 13 tasks after Levin et al. (data read): done in 41 with .168, 90 % by 45.32 (worked by
  numpy).
- NIST Misra1a: levels off at 238.942, bend 5.50156e-4 (read).
- Hillier and Lieberman's construction example (from memory): P(done in 47) 0.588 with triangular
  times in the book's own simulation, 0.5924 in 400,000 runs of ours.
"""

from __future__ import annotations

import json
import math
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
    # the printed answer is the level at which one is ordered: demand meanwhile is 4 or less in .629
    held = item["advice"]["service"]
    assert (held["reorder_at"], held["stock"]) == (4, 5)
    assert held["fill"] == pytest.approx(0.629, abs=5e-4)


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


def test_tubes_of_three_plants(tmp_path: Path) -> None:
    rows = ("0,1,1", "1,2,2", "2,3,2", "3,,95", "0,1,2", "1,2,3", "2,,95", "0,1,1", "1,,99")
    file = table(tmp_path / "tubes.csv", "good [d],failed [d],count", *rows)
    told = answer("life", file)["life"]
    assert (told["number"], told["failures"]) == (300, 11)
    assert told["settled"]["law"]["scale"] / 86400 == pytest.approx(23.620, abs=5e-4)
    assert told["settled"]["law"]["shape"] == pytest.approx(1.3455, abs=6e-5)


def test_laser_112(tmp_path: Path) -> None:
    rise = (0, 0.3864, 0.7988, 1.3521, 1.741, 2.979, 3.5871, 4.0315, 4.4393, 4.7906, 5.2205, 5.4848,
            5.9639, 6.2276, 6.9877, 7.3671, 7.8841)  # fmt: skip
    rows = [f"{250 * i},{r}" for i, r in enumerate(rise)]
    file = table(tmp_path / "laser.csv", "use [h],value [mm]", *rows)
    (place,) = answer("wear", file, "--limit", "10 mm")["wear"]["places"]
    line = place["forecast"]["line"]
    assert line["intercept"] * 1e3 == pytest.approx(0.1145294, abs=6e-8)
    assert line["slope"] * 1e3 * 3600 == pytest.approx(0.0019792, abs=6e-8)
    ends = (10 - 0.1145294) / 0.0019792
    assert place["forecast"]["likely"] / 3600 == pytest.approx(ends, rel=3e-5)
    assert show(place["forecast"]["likely"], Kind.RUN_TIME) in printed(
        "wear", file, "--limit", "10 mm"
    )


def test_belt_a(tmp_path: Path) -> None:
    rows = ("0,0.4", "128,2.2", "219,4.1", "256,5.8", "315,5.7", "502,7.6", "635,10.8", "819,10.1",
            "1000,15.9")  # fmt: skip
    file = table(tmp_path / "belt.csv", "use [t],value [mm]", *rows)
    (place,) = answer("wear", file, "--limit", "25 mm")["wear"]["places"]
    # the plain line, 0.962 + 13.924 mm per thousand, from tonnes rounded to 0.0075 mm of wear
    assert place["forecast"]["likely"] / 1e6 == pytest.approx((25 - 0.962) / 13.924, rel=1e-3)
    assert "a line describes the readings as well as a curve does" in place["course"]


def test_misra_levels_off(tmp_path: Path) -> None:
    x = (77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1,
         760.0)  # fmt: skip
    y = (10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47,
         81.78)  # fmt: skip
    rows = [f"{a},{b}" for a, b in zip(x, y, strict=True)]
    file = table(tmp_path / "misra.csv", "use [h],value [mm]", *rows)
    words = ("wear", file, "--limit", "100 mm", "--new", "0 mm")
    (place,) = answer(*words)["wear"]["places"]
    bend = place["forecast"]["bend"]
    assert bend["course"] == "levels off"
    assert bend["curve"]["bend"] * 3600 == pytest.approx(5.5015643181e-4, rel=1e-7)
    # 1 - exp(-b2 x) = 100/b1
    end = -math.log(1 - 100 / 238.94212918) / 5.5015643181e-4
    assert bend["likely"] / 3600 == pytest.approx(end, rel=1e-7)
    assert f"by that curve worn out at {show(end * 3600, Kind.RUN_TIME)} or so" in printed(*words)


def test_age_of_renewal() -> None:
    told = answer("when", "--planned", "1", "--failure", "5", "--shape", "2.5", "--scale", "1000 h")
    rule = told["renew"]["rules"]["stated"]
    assert rule["age"] / 3600 == pytest.approx(493.19, rel=5e-4)


def test_thirteen_tasks_within_41(tmp_path: Path) -> None:
    tasks = {
        "A": ((2, 3, 4), ""), "B": ((9, 12, 15), "A"), "C": ((4, 9, 18), ""), "D": ((1,), "B"),
        "E": ((1, 2, 3), "CD"), "F": ((1,), "E"), "G": ((5, 6, 9), "F"), "H": ((2, 5, 10), "F"),
        "I": ((1,), "F"), "J": ((2, 3, 5), "G"), "K": ((8, 10, 14), "HIJ"), "L": ((2,), "K"),
        "M": ((2,), "L"),
    }  # fmt: skip
    lines = ['[shutdown]', 'name = "museum"', 'window = "41 d"', 'common_cause = "0 %"',
             "runs = 20000", "[crew]", "gang = 20"]  # fmt: skip
    for name, (times, after) in tasks.items():
        lines += ["[[task]]", f'name = "{name}"', f"time = {[f'{t} d' for t in times]}",
                  f"after = {list(after)}"]  # fmt: skip
    told = answer("shutdown", table(tmp_path / "museum.toml", *lines))["shutdown"]
    assert told["chance"]["share"] == pytest.approx(0.168, abs=0.01)
    assert told["nine_tenths"] / 86400 == pytest.approx(45.32, abs=0.1)
    assert told["path_mean"] / 86400 == pytest.approx(42.8333, abs=0.05)
