"""Every answer of the examples, as files to hold against those of another checkout.

    .venv/bin/python tools/same_answers.py OUT              # in each of the two checkouts
    diff -rq OUT_BEFORE OUT_AFTER                            # the same bytes, or which differ

Plans, packs, dossiers, reports, drawings and worksheets are written by the commands; what they
print, in metric, inch and as JSON, goes into one text for each. PDFs of one answer have the same
bytes. Questions of the register are asked of the example site as on one day.
"""

from __future__ import annotations

import json
import os
import random
import sys
import uuid
from datetime import UTC, datetime
from itertools import product
from pathlib import Path
from unittest.mock import patch

from click.testing import CliRunner

ROOT = Path(__file__).parents[1]
SITE = Path("examples/karst-hollow")
NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
DAY = ("--today", "2026-05-04")
COSTS = ("--planned", "4000", "--failure", "60000")


def lines() -> list[list[str]]:
    """Every command, `OUT` where its folder goes."""
    found: list[list[str]] = []
    fasteners = [f for p in sorted((SITE / "fasteners").iterdir()) for f in ("--fasteners", str(p))]
    for conveyor in sorted((SITE / "conveyors").glob("*.toml")):
        for job in sorted((SITE / "jobs").glob(f"{conveyor.stem}-*.toml")):
            found.append(["plan", str(conveyor), str(job), "--out", "OUT"])
            found.append(["plan", str(conveyor), str(job), *fasteners, "--units", "inch"])
    for conveyor in sorted(Path("examples").glob("*/conveyors/*.toml")):
        found.append(["check", str(conveyor)])
        found += [["tension", str(conveyor), "--out", "OUT"], ["at-rest", str(conveyor)]]
    for file in sorted((SITE / "inspections").glob("*.toml")):
        found.append(["assess", str(file), "--out", "OUT"])
    for file in sorted((SITE / "squaring").glob("*.toml")):
        found.append(["square", str(file), "--out", "OUT"])
    history = {
        "wear": "incline-wear.csv",
        "life": "joint-lives.csv",
        "stock": "stock-items.csv",
        "choose": "incline-renewals.csv",
        "shutdown": "incline-shutdown.toml",
        "decide": "flat-torn-place.toml",
    }
    more = {
        "choose": ["--window", "12 h", "--crew", "4"],
        "stock": ["--lives", str(SITE / "history" / "joint-lives.csv"), "--use-a-day", "16 h"],
    }
    for word, name in history.items():
        found.append([word, str(SITE / "history" / name), *more.get(word, []), "--out", "OUT"])
    register = [
        ["fleet"],
        ["life"],
        ["planner"],
        ["stock", "--lead-time", "30 d"],
        ["when", *COSTS, "--look", "300"],
    ]
    found += [[*words, *DAY, "--register", "REGISTER", "--out", "OUT"] for words in register]
    return found


def main(out: Path) -> None:
    """Run all of them."""
    dice = random.Random(1)
    with patch("uuid.uuid4", lambda: uuid.UUID(int=dice.getrandbits(128), version=4)):
        _run(out.resolve())


def _run(out: Path) -> None:
    # Loaded here: whoever makes ids is to take them from the patch.
    from splicewright.actions.example_site import open_example
    from splicewright.cli import main as command
    from splicewright.store.sql.register import open_register

    out.mkdir(parents=True)
    os.chdir(ROOT)
    where = out / "register.sqlite"
    with open_register(where, clock=lambda: NOW) as register:
        open_example(register, SITE, now=NOW)
    told = {}
    for (number, words), way in product(enumerate(lines()), ("text", "json")):
        own = [
            f"{out}/{number:03}" if w == "OUT" else str(where) if w == "REGISTER" else w
            for w in words
        ]
        if way == "json":
            own = [w for n, w in enumerate(own) if w != "--out" and own[n - 1] != "--out"]
            own.append("--json")
        done = CliRunner().invoke(command, own)
        told[f"{number:03} {way} {' '.join(words)}"] = [
            done.exit_code,
            done.output.replace(str(out), ""),
        ]
        print(number, way, done.exit_code, *words[:3], flush=True)
    for name in out.glob("register.sqlite*"):
        name.unlink()
    (out / "printed.json").write_text(json.dumps(told, indent=1, ensure_ascii=False), "utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
