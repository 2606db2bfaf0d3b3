"""scale-sheets, measure and photo-trial as a user types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from photographs.rendering import draw, photograph
from photographs.scenes import SMALL, bars_of, truth
from splicewright.actions.plan.plan import plan_joint
from splicewright.cli import main
from splicewright.photographs.trial import UNCONFIRMED
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow"
SCENE = draw(5003, size=SMALL, shadows=())
BARS = bars_of(SCENE, 5003)
TYPED = ("--bar", f"{BARS.along * 1e3:.2f} mm", "--cross-bar", f"{(BARS.across or 0) * 1e3:.2f} mm")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photographs") / "end.jpg"
    path.write_bytes(photograph(SCENE))
    return path


def test_scale_sheets_are_written_once(tmp_path: Path) -> None:
    assert run("scale-sheets", "--out", tmp_path / "new", "--paper", "Letter").exit_code == 0
    assert (tmp_path / "new" / "scale-sheets.pdf").read_bytes().startswith(b"%PDF")
    again = run("scale-sheets", "--out", tmp_path / "new")
    assert again.exit_code == 2 and "already there" in again.stderr


def test_a_photograph_is_measured_drawn_over_and_compared_with_the_plan(
    photo: Path, tmp_path: Path
) -> None:
    plan = plan_joint(
        SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-worn-joint.toml"
    )
    (tmp_path / "plan.json").write_text(plan.to_json(), "utf-8")
    asked = ("measure", photo, *TYPED, "--job", tmp_path / "plan.json")
    assert "which end" in run(*asked).stderr
    out = tmp_path / "out"
    told = json.loads(run(*asked, "--end", "trailing", "--out", out, "--json").stdout)
    assert told["standing"] == UNCONFIRMED
    assert plan.layout is not None
    assert told["planned"][0]["planned"] == pytest.approx(plan.layout.width.value)
    assert (out / "outline-1.jpg").read_bytes().startswith(b"\xff\xd8")
    assert json.loads((out / "measured.json").read_text("utf-8"))["sheets"] == [1, 2, 3, 4]
    values = {v["key"]: (v["value"], v["half_width_95"]) for v in told["values"]}
    for key, true in truth(SCENE).items():
        assert abs(values[key][0] - true) < 2.2 * values[key][1], key
    # The leading end is seen against the travel: left and right change places.
    other = json.loads(run(*asked, "--end", "leading", "--json").stdout)
    turned = {v["key"]: v["value"] for v in other["values"]}
    assert turned["out_of_square"] == pytest.approx(-values["out_of_square"][0])
    assert turned["chalk_left"] == pytest.approx(values["chalk_right"][0])
    assert turned["width"] == pytest.approx(values["width"][0])


def test_what_a_photograph_shows_is_said_and_what_it_needs_is_asked(photo: Path) -> None:
    assert "give --job" in run("measure", photo, *TYPED, "--shows", "holes").stderr
    assert "needed to measure a gap" in run("measure", photo, *TYPED, "--shows", "gap").stderr
    gap = run("measure", photo, *TYPED, "--shows", "gap", "--thickness", "12 mm")
    assert gap.exit_code == 2 and "3 and 4 on the other" in gap.stderr
    told = json.loads(run("measure", photo, *TYPED, "--shows", "edges", "--json").stdout)
    (width,) = told["values"]
    assert abs(width["value"] - SCENE.width) < 2.2 * width["half_width_95"]


def test_plates_are_measured_against_a_plan(photo: Path, tmp_path: Path) -> None:
    assert "give --job" in run("measure", photo, *TYPED, "--plates").stderr
    plan = plan_joint(
        SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-worn-joint.toml"
    )
    (tmp_path / "plan.json").write_text(plan.to_json(), "utf-8")
    asked = ("measure", photo, *TYPED, "--plates", "--job", tmp_path / "plan.json")
    # A cut end without plates: floor ahead of it is as light as plates, yet no row.
    refused = run(*asked, "--end", "leading")
    assert refused.exit_code == 2 and "no row of" in refused.stderr


def test_words_for_people_end_with_the_tape(photo: Path) -> None:
    said = run("measure", photo, *TYPED, "--units", "inch").stdout
    assert said.strip().endswith(UNCONFIRMED)
    assert " in ± " in said and " mm" not in said


def test_a_refusal_is_one_sentence(tmp_path: Path) -> None:
    empty = tmp_path / "empty.jpg"
    empty.write_bytes(b"")
    result = run("measure", empty, *TYPED)
    assert result.exit_code == 2
    assert result.stderr == "error: empty.jpg: is empty (0 bytes); send the photograph again\n"
    assert "188 to 208 mm" in run("measure", empty, "--bar", "15 cm").stderr
    assert "cannot be read" in run("measure", tmp_path / "none.jpg", *TYPED).stderr


def test_a_trial_tells_what_it_lacks(photo: Path, tmp_path: Path) -> None:
    (photo.parent / "broken.jpg").write_bytes(b"")
    table = photo.parent / "trial.csv"
    bars = f"{BARS.along * 1e3:.2f} mm,{(BARS.across or 0) * 1e3:.2f} mm"
    table.write_text(
        "photograph,phone,bar,cross bar,width,curve depth\n"
        f"end.jpg,A,{bars},{SCENE.width * 1e3:.1f} mm,{SCENE.depth * 1e3:.1f} mm\n"
        f"broken.jpg,B,{bars},900 mm,\n",
        "utf-8",
    )
    result = run("photo-trial", table, "--out", tmp_path / "trial.json")
    assert result.exit_code == 0, result.output
    assert "broken.jpg: not measured" in result.stdout
    assert "1 photographs by 1 phones" in result.stdout
    assert result.stdout.strip().endswith("The trial did not pass.")
    said = run("measure", photo, *TYPED, "--trial", tmp_path / "trial.json").stdout
    assert "To be confirmed with the tape: the field trial on file did not pass." in said
