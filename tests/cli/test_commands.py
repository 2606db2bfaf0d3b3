"""The commands as a user types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from splicewright.actions.files.start import TEMPLATES
from splicewright.cli import main
from splicewright.plant import load_conveyor

SITE = Path(__file__).parents[2] / "examples" / "karst-hollow"
INCLINE = SITE / "conveyors" / "incline.toml"
WORK = SITE / "jobs" / "incline-worn-joint.toml"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_plan_writes_the_whole_folder(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    result = run("plan", INCLINE, WORK, "--out", out)
    assert result.exit_code == 0, result.output
    names = {p.name for p in out.iterdir()}
    assert {"crew-pack.pdf", "dossier.pdf", "plan.json"} <= names
    assert any(n.endswith(".svg") for n in names) and any(n.endswith(".dxf") for n in names)
    assert "Karst example hinge" in result.output


def test_plan_replaces_its_own_folder_and_nothing_else(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    assert run("plan", INCLINE, "--out", out).exit_code == 0
    assert run("plan", INCLINE, WORK, "--out", out).exit_code == 0
    assert [p.name for p in tmp_path.iterdir()] == ["pack"]
    foreign = tmp_path / "photos"
    foreign.mkdir()
    (foreign / "belt.jpg").write_bytes(b"x")
    result = run("plan", INCLINE, "--out", foreign)
    assert result.exit_code == 2
    assert result.stderr == (
        "error: photos holds other things and no plan.json; name a new or empty folder\n"
    )
    assert [p.name for p in foreign.iterdir()] == ["belt.jpg"]


def test_plan_as_json_is_a_plan(tmp_path: Path) -> None:
    from splicewright.job import JointPlan

    answer = json.loads(run("plan", INCLINE, WORK, "--json").stdout)
    plan = JointPlan.from_json(json.dumps(answer["plan"]))
    assert plan.complete and plan.conveyor.name == "K2 incline"


def test_explain_reads_a_written_folder(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    run("plan", INCLINE, WORK, "--out", out)
    result = run("explain", out, "at_rest.clamp_rating")
    assert result.exit_code == 0
    assert "least rating of each restraining clamp" in result.stdout
    assert "assumed: factor on every clamp and hoist force" in result.stdout


def test_explain_lists_keys_and_names_near_ones() -> None:
    assert "demand.running" in run("explain", INCLINE).stdout
    result = run("explain", INCLINE, "demand.runing")
    assert result.exit_code == 2
    assert "no number of that name in this plan; near it: " in result.stderr


def test_explain_in_inch() -> None:
    text = run("explain", INCLINE, "demand.running", "--units", "inch").stdout
    assert "lbf/in" in text and "N/mm " not in text


def test_check_says_what_matters() -> None:
    result = run("check", SITE / "conveyors" / "flat.toml")
    assert result.exit_code == 0
    assert "What to measure next, most important first:" in result.stdout
    assert "1. " in result.stdout


def test_an_impossible_place_is_refused_by_check(tmp_path: Path) -> None:
    far = tmp_path / "far.toml"
    far.write_text(WORK.read_text("utf-8").replace('distance = "20 m"', 'distance = "900 m"'))
    assert run("check", far).exit_code == 0  # no conveyor named
    result = run("check", far, "--on", INCLINE)
    assert result.exit_code == 2
    assert "900 m lies beyond long return of 198 m" in result.stderr
    assert run("check", WORK, "--on", INCLINE).exit_code == 0


BY_MACHINE = ("conveyor-field", "conveyor-overland", "conveyor-tandem")


@pytest.mark.parametrize("kind", BY_MACHINE)
def test_a_file_by_machine_closes_and_plans_as_it_is(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    written = run("new", path, "--kind", kind)
    assert "Overwrite its numbers with yours" in written.output
    checked = run("check", path)
    assert checked.exit_code == 0, checked.output
    assert "turn" not in checked.output.partition("Look at:")[2]  # no gap where the loop closes
    planned = run("plan", path)
    assert planned.exit_code == 0 and "INVENTED DATA" in planned.output
    drives = {d.name for d in load_conveyor(path).drives}
    assert len(drives) == (2 if kind == "conveyor-tandem" else 1)


@pytest.mark.parametrize("kind", BY_MACHINE)
def test_what_to_measure_never_lists_what_moves_nothing(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    run("new", path, "--kind", kind)
    for line in run("check", path).output.splitlines():
        if "moves the running demand from" in line:
            low, high = line.partition("demand from ")[2].split(" to ")
            assert low != high, line


@pytest.mark.parametrize("kind", [k for k in TEMPLATES if k not in BY_MACHINE])
def test_new_writes_a_file_that_check_asks_to_fill_in(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    assert run("new", path, "--kind", kind).exit_code == 0
    result = run("check", path)
    assert result.exit_code == 2
    assert all(line.startswith("error: new.toml:") for line in result.stderr.splitlines())
    before = path.read_text("utf-8")
    again = run("new", path, "--kind", kind)
    assert again.exit_code == 2
    assert again.stderr == "error: new.toml is already there; it was not touched\n"
    assert path.read_text("utf-8") == before


def test_errors_come_as_json_too(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(INCLINE.read_text("utf-8").replace('"2.0 m/s"', '"2.0 kg"'), "utf-8")
    result = run("plan", bad, "--json")
    assert result.exit_code == 2
    (fault,) = json.loads(result.stdout)["error"]
    assert fault["key"] == "conveyor.speed" and fault["file"] == "bad.toml"
    line = bad.read_text("utf-8").splitlines()[fault["line"] - 1]
    assert line.startswith("speed")


def test_no_fastener_still_gives_a_pack(tmp_path: Path) -> None:
    thin = tmp_path / "work.toml"
    thin.write_text(
        WORK.read_text("utf-8").replace('"14.5 mm", "14.3 mm"', '"35 mm", "34 mm"'), "utf-8"
    )
    out = tmp_path / "pack"
    result = run("plan", INCLINE, thin, "--out", out)
    assert result.exit_code == 0
    assert "No size in these ranges meets every requirement." in result.stdout
    assert "misses belt thickness" in result.stdout
    assert (out / "crew-pack.pdf").is_file()


def test_a_missing_file_is_one_sentence() -> None:
    result = run("plan", "nowhere.toml")
    assert result.exit_code == 2
    assert result.stderr == "error: nowhere.toml: there is no file nowhere.toml\n"


def test_schema_prints_json() -> None:
    assert json.loads(run("schema", "conveyor").stdout)["title"] == "ConveyorFile"


def test_tension_prints_the_study(tmp_path: Path) -> None:
    result = run("tension", INCLINE, "--rating", "60 N/mm", "--samples", "64", "--seed", "5")
    assert result.exit_code == 0, result.output
    out = result.output
    for said in (
        "Running ", "Exceptional ", "holdback engaged", "Worst loading: ", "Not knowing all: ",
        "Chance of more than 60 N/mm: 100.00 %", "Measure next\n  1. ",
    ):  # fmt: skip
        assert said in out
    again = run("tension", INCLINE, "--rating", "60 N/mm", "--samples", "64", "--seed", "5")
    assert again.output == out
    inch = run("tension", SITE / "conveyors" / "shuttle.toml", "--samples", "64", "--units", "inch")
    assert "lbf/in" in inch.output and "back, full" in inch.output
    assert "Chance" not in inch.output


def test_tension_writes_its_folder_and_explain_reads_it(tmp_path: Path) -> None:
    from splicewright.tension import Study

    out = tmp_path / "k2"
    result = run("tension", INCLINE, "--samples", "64", "--out", out, "--paper", "Letter")
    assert result.exit_code == 0, result.output
    names = {p.name for p in out.iterdir()}
    assert names == {"conveyor-sheet.pdf", "study.json", "loop.svg", "tension.svg"}
    told = Study.from_json((out / "study.json").read_bytes())
    for source in (out, out / "study.json"):
        pull = told.second_look.opinions[-1].handbook.show()
        explained = run("explain", source, "second.handbook").output
        assert f"effective tension by the handbook = {pull}" in explained
    for key, words in (
        ("run_back.back", "F_rb = g q_G Σ x h"),
        ("load_rest.incline.bears", "a = g (μ_1 cos δ - sin δ)"),
        ("unknowns.running.high", "95 % of 64 samples, seed 20251"),
        ("second.tail-pulley.transition.needed", "largest of these"),
    ):
        said = run("explain", out, key)
        assert said.exit_code == 0 and words in said.output
    assert run("tension", INCLINE, "--samples", "64", "--out", out).exit_code == 0  # replaced
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "belt.jpg").write_bytes(b"x")
    refused = run("tension", INCLINE, "--samples", "64", "--out", tmp_path / "photos")
    assert refused.exit_code == 2
    assert refused.stderr == (
        "error: photos holds other things and no study.json; name a new or empty folder\n"
    )


def test_tension_as_json_is_a_study() -> None:
    from splicewright.tension import Study

    answer = json.loads(run("tension", INCLINE, "--samples", "64", "--json").stdout)
    assert Study.from_json(json.dumps(answer["study"])).conveyor.name == "K2 incline"
    assert answer["written"] == []


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("--rating", "90 mm"),
            'error: --rating: "90 mm" has the unit "mm"; accepted is a force per',
        ),
        (
            ("--rating", "-5 N/mm"),
            'error: --rating: "-5 N/mm" cannot be; accepted is more than zero',
        ),
        (("--samples", "1"), 'error: --samples: "1" is no number; accepted is 2 to 1048576'),
        (("--seed", "-1"), 'error: --seed: "-1" is no number; accepted is 0 to 999999999'),
    ],
)
def test_tension_refuses_what_it_cannot_use(words: tuple[str, str], message: str) -> None:
    result = run("tension", INCLINE, *words)
    assert result.exit_code == 2
    assert result.stderr.startswith(message)


def test_a_spoilt_study_is_refused(tmp_path: Path) -> None:
    (tmp_path / "study.json").write_text("{}")
    result = run("explain", tmp_path, "demand.running")
    assert result.exit_code == 2
    assert "is no study of format 2" in result.stderr


def test_a_vulcanised_joint_is_planned_with_its_own_drawings(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    result = run("plan", INCLINE, SITE / "jobs" / "incline-vulcanised.toml", "--out", out)
    assert result.exit_code == 0, result.output
    assert "Joint: Karst example hot splice, 4 plies, step 250 mm" in result.stdout
    assert "step lines of both ends" in result.stdout
    names = {p.name for p in out.iterdir()}
    assert {"crew-pack.pdf", "step-lines.svg", "press.svg", "corner-leading-tiles.pdf"} <= names
    assert {n for n in names if n.endswith(".dxf")} == {"steps-leading.dxf", "steps-trailing.dxf"}


def test_loads_from_file_and_folder_say_the_same(tmp_path: Path) -> None:
    out = tmp_path / "pack"
    run("plan", INCLINE, WORK, "--out", out)
    one = run("loads", out)
    assert one.exit_code == 0, one.output
    assert one.output == run("loads", INCLINE, "--work", WORK).output
    for word in ("Worst plate:", "transition at head pulley", "Best depth of the end curve",
                 "out of square over the belt width", "derived from mechanics"):  # fmt: skip
        assert word in one.output
    inch = run("loads", out, "--units", "inch").output
    assert "lbf" in inch and " kN" not in inch
    answer = json.loads(run("loads", out, "--json").stdout)
    assert answer["plan"] in one.output and len(answer["worst"]["loads"]) == 22
    assert json.loads((out / "plate-loads.json").read_text("utf-8")) == answer


def test_loads_of_a_plan_without_a_joint_is_one_sentence(tmp_path: Path) -> None:
    ranges = tmp_path / "none"
    ranges.mkdir()
    result = run("loads", INCLINE, "--fasteners", ranges)
    assert result.exit_code == 2
    assert "has no joint, no fastener was chosen: plate loads need one" in result.stderr
