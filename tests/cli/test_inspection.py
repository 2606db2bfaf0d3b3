"""assess and square as a user types them; every example file runs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from splicewright.cli import main
from splicewright.joint.inspection.damage import DECISION
from splicewright.joint.inspection.verdict import Verdict
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.mark.parametrize(
    "file", sorted((SITE / "inspections").glob("*.toml")), ids=lambda p: p.stem
)
def test_every_inspection_example_is_assessed(file: Path) -> None:
    result = run("assess", file)
    assert result.exit_code == 0, result.output
    assert any(v.sentence.upper() in result.stdout for v in Verdict)
    assert result.stdout.strip().endswith(DECISION)
    assert result.stdout.startswith("! Invented data: not for real work.")
    assert "safe" not in result.stdout.lower()


def test_assess_answers_in_inch_and_for_machines() -> None:
    file = SITE / "inspections" / "typed-in.toml"
    inch = run("assess", file, "--units", "inch").stdout
    assert "lbf/in" in inch and "N/mm" not in inch
    told = json.loads(run("assess", file, "--json").stdout)
    assert told["verdict"] == Verdict(told["level"]).sentence
    assert len(told["plates"]) == 21 and told["plates"][10]["load"] is None
    assert told["tonnage"] is None


def test_assess_names_file_and_line_of_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "seen.toml"
    text = (SITE / "inspections" / "typed-in.toml").read_text("utf-8")
    rows = "".join(f'[[plates]]\nnumber = {n}\nstate = "lost"\n' for n in range(1, 22))
    path.write_text(text[: text.index("[[plates]]")] + rows, "utf-8")
    result = run("assess", path)
    line = path.read_text("utf-8").splitlines().index("[[plates]]") + 1
    assert result.exit_code == 2
    assert result.stderr == (
        f"error: seen.toml:{line}: plates: all 21 plates are lost: nothing holds the belt, there "
        "is no load to work out\n"
    )
    assert result.stdout == ""


def test_assess_without_its_plan(tmp_path: Path) -> None:
    path = tmp_path / "seen.toml"
    path.write_text('[inspection]\nname = "x"\nplan = "nowhere.json"\n', "utf-8")
    result = run("assess", path)
    assert result.exit_code == 2
    assert "there is no plan.json here" in result.stderr


@pytest.mark.parametrize("file", sorted((SITE / "squaring").glob("*.toml")), ids=lambda p: p.stem)
@pytest.mark.parametrize("units", ["metric", "inch"])
def test_every_squaring_example_runs(file: Path, units: str) -> None:
    result = run("square", file, "--units", units)
    assert result.exit_code == 0, result.output
    assert "Square line: from the left edge at" in result.stdout
    assert "give or take 0 " not in result.stdout


def test_square_from_points() -> None:
    points = ["--station", "1 m", "10 mm", "--station", "3 m", "30 mm", "--station", "6 m", "60 mm"]
    told = json.loads(run("square", "--width", "1000 mm", *points, "--json").stdout)
    assert told["figures"]["squaring.slope"] == pytest.approx(0.01)
    assert told["passes"] is None
    result = run("square", "--width", "1000 mm", *points[:6])
    assert result.exit_code == 2
    assert result.stderr == (
        "error: --station: 2 given: at least 3 are needed, two points always make a line and say "
        "nothing of how far it may be off\n"
    )
    assert run("square", "--width", "1000 kg", *points).exit_code == 2


def test_square_wants_a_file_or_points() -> None:
    assert run("square").stderr == (
        "error: nothing to square: give MEASURED, or --width and --station\n"
    )
    file = SITE / "squaring" / "flat-worn-edge.toml"
    assert run("square", file, "--width", "1 m").stderr == (
        "error: give MEASURED, or --width and --station; not both\n"
    )


@pytest.mark.parametrize("kind", ["inspection", "squaring"])
def test_check_and_schema_know_the_new_files(kind: str) -> None:
    folder = {"inspection": "inspections", "squaring": "squaring"}[kind]
    for file in (SITE / folder).glob("*.toml"):
        result = run("check", file)
        assert result.exit_code == 0, result.output
        assert f": {kind} " in result.stdout
    assert "properties" in json.loads(run("schema", kind).stdout)


@pytest.mark.parametrize(
    ("command", "file", "key"),
    [
        ("assess", "inspections/typed-in.toml", "assess.carries"),
        ("square", "squaring/incline-trailing-end.toml", "squaring.move_right"),
    ],
)
def test_the_folder_explains_its_numbers(command: str, file: str, key: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run(command, SITE / file, "--out", out, "--paper", "Letter", "--units", "inch")
    assert result.exit_code == 0, result.output
    assert "(3 files in" in result.stdout
    made = {path.suffix for path in out.iterdir()}
    assert made == {".json", ".pdf", ".svg"}
    told = run("explain", out, key)
    assert told.exit_code == 0 and told.stdout.startswith(key)
    listed = run("explain", next(out.glob("*.json"))).stdout
    assert key in listed
    wrong = run("explain", out, "nothing.like.it")
    assert wrong.exit_code == 2 and "no number of that name" in wrong.stderr
    # Ours is replaced, a folder with other things is not.
    assert run(command, SITE / file, "--out", out).exit_code == 0
    for path in out.iterdir():
        path.unlink()
    (out / "mine.txt").write_text("x")
    refused = run(command, SITE / file, "--out", out)
    assert refused.exit_code == 2 and "holds other things" in refused.stderr
    assert [path.name for path in out.iterdir()] == ["mine.txt"]
    (out / next(n for n in ("assessment.json", "squaring.json") if n[0] == command[0])).write_text(
        "{}"
    )
    broken = run("explain", out)
    assert broken.exit_code == 2
    assert ("is no assessment" if command == "assess" else "is no squaring") in broken.stderr


def test_explain_knows_plate_loads_bolts_and_pulleys() -> None:
    file = SITE / "conveyors" / "incline.toml"
    work = SITE / "jobs" / "incline-worn-joint.toml"
    told = run("explain", file, "bolts.settled.typical", "--work", work)
    assert told.exit_code == 0 and "bolt.relaxation" in told.stdout
    assert "pulley.hinge_angle" in run("explain", file, "--work", work).stdout
    assert run("explain", file, "demand.running", "--work", work).exit_code == 0
