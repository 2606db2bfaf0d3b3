"""wear, life, when, stock, shutdown and decide as a user types them, on the example site."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from splicewright.cli import main

ROOT = Path(__file__).parents[2]
SITE = ROOT / "examples" / "karst-hollow" / "history"
WEAR = (SITE / "incline-wear.csv", "--today", "2026-03-01")
LIVES = SITE / "joint-lives.csv"
SHUTDOWN = SITE / "incline-shutdown.toml"
PLACE = SITE / "flat-torn-place.toml"
ITEMS = (SITE / "stock-items.csv", "--lives", LIVES, "--use-a-day", "16 h")
RENEWALS = (SITE / "incline-renewals.csv", "--window", "12 h", "--crew", "6", "--power-share",
            "0.7")  # fmt: skip
EVERY: tuple[tuple[str | Path, ...], ...] = (
    ("wear", *WEAR),
    ("life", LIVES, "--next", "2000 h"),
    ("when", "--lives", LIVES, "--planned", "6000", "--failure", "40000", "--damage-every",
     "4000 h", "--delay", "600 h", "--look", "250"),
    ("stock", *ITEMS),
    ("shutdown", SHUTDOWN),
    ("decide", PLACE),
    ("choose", *RENEWALS),
)  # fmt: skip


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.mark.parametrize("words", EVERY, ids=[str(w[0]) for w in EVERY])
def test_the_example_runs_in_words_and_as_json(words: tuple[str | Path, ...]) -> None:
    said = run(*words)
    assert said.exit_code == 0, said.output
    if words[0] in {"wear", "life", "shutdown", "decide", "choose", "stock", "when"}:
        assert "! Invented data: not for real work." in said.stdout
    answer = json.loads(run(*words, "--json").stdout)
    assert answer and "error" not in answer
    assert "NaN" not in json.dumps(answer)


def test_every_example_is_marked_invented() -> None:
    for file in SITE.iterdir():
        assert "nvented" in file.read_text("utf-8").splitlines()[0], file.name


@pytest.mark.parametrize(("kind", "file"), [("shutdown", SHUTDOWN), ("decision", PLACE)])
def test_examples_fit_the_published_schemas(kind: str, file: Path) -> None:
    schema = json.loads((ROOT / "docs" / "schema" / f"{kind}.json").read_text("utf-8"))
    jsonschema.validate(tomllib.loads(file.read_text("utf-8")), schema)
    assert json.loads(run("schema", kind).stdout) == schema
    assert f": {kind} " in run("check", file).stdout


def test_wear_names_the_first_place_and_the_wild_reading() -> None:
    lines = run("wear", *WEAR).stdout.splitlines()
    assert lines[4].startswith("Carry cover middle: Worn out at ")
    assert any(line.startswith("  Far off and counted less: 2025-06-30 ") for line in lines)
    assert any("Hinge pin" in line and "not enough data to say" in line for line in lines)


def test_wear_in_both_systems_is_one_number() -> None:
    place = json.loads(run("wear", *WEAR, "--json").stdout)["wear"]["places"][0]
    likely = place["forecast"]["likely"]
    metric, inch = (run("wear", *WEAR, "--units", u).stdout for u in ("metric", "inch"))
    assert f"Worn out at {likely / 1e6:.0f} kt" in metric
    assert f"Worn out at {float(f'{likely / 907.18474:.3e}'):.0f} short ton" in inch


@pytest.mark.parametrize(
    ("words", "report"),
    [(("wear", *WEAR), "wear.pdf"), (("life", LIVES), "life.pdf"),
     (("shutdown", SHUTDOWN), "shutdown.pdf"), (("decide", PLACE), "decision.pdf"),
     (("stock", *ITEMS), "stock.pdf"), (("when", "--shape", "2.5", "--scale", "1000 h",
      "--planned", "1", "--failure", "5"), "when.pdf"),
     (("choose", *RENEWALS), "choice.pdf")],
)  # fmt: skip
def test_out_writes_all_or_nothing(
    words: tuple[str | Path, ...], report: str, tmp_path: Path
) -> None:
    out = tmp_path / "report"
    for _ in range(2):  # the second time it replaces its own
        said = run(*words, "--out", out)
        assert said.exit_code == 0, said.output
    assert (out / report).stat().st_size > 2000
    assert str(out / report) in said.stdout
    foreign = tmp_path / "photos"
    foreign.mkdir()
    (foreign / "belt.jpg").write_bytes(b"x")
    refused = run(*words, "--out", foreign)
    assert refused.exit_code == 2
    assert "photos holds other things" in refused.stderr


@pytest.mark.parametrize(
    ("kind", "command", "name"),
    [("readings", "wear", "new.csv"), ("lives", "life", "new.csv"), ("items", "stock", "new.csv"),
     ("shutdown", "shutdown", "new.toml"), ("decision", "decide", "new.toml")],
)  # fmt: skip
def test_new_writes_a_file_that_its_command_asks_to_fill_in(
    kind: str, command: str, name: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    written = run("new", path, "--kind", kind)
    assert written.exit_code == 0
    assert f"then: splicewright {command} {path}" in written.stdout
    result = run(command, path)
    assert result.exit_code == 2
    assert all(line.startswith(f"error: {name}:") for line in result.stderr.splitlines())


def test_template_lines_work_as_they_stand(tmp_path: Path) -> None:
    """The example line in each template's remarks is a line the command takes."""
    for kind, command, more in (
        ("readings", "wear", ()),
        ("lives", "life", ()),
        ("items", "stock", ("--lives", LIVES, "--use-a-day", "16 h")),
        ("renewals", "choose", ("--window", "12 h", "--crew", "4")),
    ):
        path = tmp_path / f"{kind}.csv"
        run("new", path, "--kind", kind)
        text = path.read_text("utf-8")
        (line,) = [t for t in text.splitlines() if t.startswith("# A line such as: ")]
        path.write_text(text + line.removeprefix("# A line such as: ") + "\n", "utf-8")
        result = run(command, path, *more)
        assert result.exit_code == 0, result.output


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("wear", LIVES), "joint-lives.csv:2: joint: is no column of this file"),
        (("wear", *WEAR, "--limit", "3 kg"), 'limit: "3 kg" has the unit "kg"'),
        (("wear", SITE / "none.csv"), "none.csv: there is no file none.csv"),
        (("life", LIVES, "--cause", "rust"), 'cause: "rust" is no cause in joint-lives.csv; '
         "accepted are edge torn, pin worn, pull-out"),
        (("life", LIVES, "--next", "5 kt"), 'next: "5 kt" has the unit "kt"'),
        (("life", LIVES, "--next=-5 h"), 'next: "-5 h" lies behind'),
        (("when", "--failure", "5"), "planned: is not given"),
        (("when", "--failure", "5", "--planned", "1"), "when: give --lives, or --shape and"),
        (("when", "--failure", "5", "--planned", "1", "--shape", "2"), "--scale: is not given; a"),
        (("when", "--failure", "5", "--planned", "1", "--look", "1"), "inspections: need"),
        (("when", "--failure", "5", "--planned", "1", "--look", "1", "--damage-every", "9 h",
          "--delay", "3 kt"), '--delay: "3 kt" counts mass carried, but new damage every "9 h"'),
        (("when", "--failure", "5", "--planned", "1", "--look", "1", "--damage-every", "9 h",
          "--delay", "3 h", "--fixed", "--found", "0.5"), "found: 0.5 goes with random delays"),
        (("stock", ITEMS[0]), "item fastener kit: follows the joints, but no running joint"),
        (("stock", *ITEMS[:3], "--use-a-day", "3 kt"), '--use-a-day: "3 kt" counts mass carried'),
        (("shutdown", PLACE), "shutdown: is missing; it must be given"),
    ],
)  # fmt: skip
def test_faults_are_one_sentence_and_exit_code_2(
    words: tuple[str | Path, ...], message: str
) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.output


def test_lives_that_settle_nothing_are_answered_not_refused(tmp_path: Path) -> None:
    path = tmp_path / "few.csv"
    path.write_text("good [h],failed [h]\n900,\n1200,\n", "utf-8")
    life = run("life", path)
    assert life.exit_code == 0
    assert life.stdout.splitlines()[3].startswith("Not enough data to say how long joints live")
    when = run("when", "--lives", path, "--planned", "1", "--failure", "5")
    assert when.exit_code == 0
    assert "Renewal: not enough data to say: " in when.stdout


def test_one_joint_is_answered_by_an_assumed_shape(tmp_path: Path) -> None:
    """One failure settles no shape. With an assumed one of 2, limit of 90 % by hand: scale
    T √(2/χ²(0.9; 2 r + 2)) with r = 1 failure, T = 1000 h and χ²(0.9; 4) = 7.779, of which nine in
    ten live √(-ln 0.9) (Weibull test with assumed shape; formula and table from memory).
    """
    path = tmp_path / "one.csv"
    path.write_text("good [h],failed [h]\n1000,1000\n", "utf-8")
    said = run("life", path, "--next", "500 h")
    assert said.exit_code == 0, said.output
    assert "If the shape is 2 (assumed), nine in ten live at least 165 h" in said.stdout


def test_when_shows_half_and_double() -> None:
    said = run("when", "--shape", "2.5", "--scale", "1000 h", "--planned", "1", "--failure", "5")
    # published worked example: renew at 493 h
    assert "Renew at 493 h.\n" in said.stdout
    assert "  If a failure costs half: " in said.stdout
    assert "  If it costs double: " in said.stdout


def test_a_stated_use_a_day_puts_dates_beside_ages() -> None:
    table = ("life", LIVES, "--next", "480 h", "--today", "2026-01-01")
    bare = run(*table).stdout
    assert "No dates: how much the belts run a day is neither on file nor stated." in bare
    # 480 h at 16 h a day are 30 days
    assert "Within the next 480 h (2026-01-31), " in run(*table, "--use-a-day", "16 h").stdout
    when = ("when", "--damage-every", "4000 h", "--delay", "600 h", "--look", "250", "--planned",
            "6000", "--failure", "40000", "--today", "2026-01-01")  # fmt: skip
    assert "No dates: " in run(*when).stdout
    assert "Dates: from today, 2026-01-01, at 16 h a day" in run(*when, "--use-a-day", "16h").stdout
    assert "is more than a day has" in run(*when, "--use-a-day", "25 h").stderr
    assert "counts mass carried, the lives" in run(*table, "--use-a-day", "3 kt").stderr


def test_a_window_begins_at_a_day_and_time() -> None:
    wrong = run("shutdown", "--window", "12 h", "--crew", "4", "--begins", "monday")
    assert '"monday" is no day and time such as "2026-05-04 06:00"' in wrong.stderr
    beside = run("shutdown", SHUTDOWN, "--begins", "2026-05-04 06:00")
    assert "--begins" in beside.stderr and "a shutdown file holds its own" in beside.stderr
