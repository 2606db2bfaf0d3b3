"""Forecasts by the register, as a user types them: the example's tables imported first."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from python_calamine import CalamineWorkbook

from splicewright.cli import main

SITE = Path(__file__).parents[2] / "examples" / "karst-hollow"
TODAY = ("--today", "2026-03-01")
CHOICE = (
    "--window", "16 h", "--crew", "6", "--gang", "3", "--until", "2026-09-01", "--each", "20 h",
    "--opening", "6 h", "--failure", "40000", "--renewal", "6000", "--power-share", "0.7",
)  # fmt: skip


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The register that the example's tables make."""
    path = tmp_path_factory.mktemp("register") / "register.sqlite"
    for name in ("flat", "incline", "shuttle"):
        added = run("register", "add-conveyor", SITE / "conveyors" / f"{name}.toml", "--by", "Ada",
                    "--register", path)  # fmt: skip
        assert added.exit_code == 0, added.output
    for kind in ("joints", "readings", "stock"):
        done = run("register", "import", kind, SITE / "register" / f"{kind}.csv", "--by", "Ada",
                   "--register", path)  # fmt: skip
        assert done.exit_code == 0, done.output
        assert ", 0 refused" in done.stdout
    return path


@pytest.mark.parametrize(
    ("words", "key"),
    [
        (("fleet", *TODAY), "fleet"),
        (("wear", *TODAY), "wear"),
        (("life", *TODAY, "--next", "1000 h"), "life"),
        (("when", *TODAY, "--planned", "6000", "--failure", "40000"), "renew"),
        (("stock", *TODAY, "--lead-time", "6 weeks"), "stock"),
        (("planner", *TODAY, "--planned-cost", "6000", "--failure-cost", "40000"), "planner"),
        (("choose", *TODAY, *CHOICE), "choose"),
        (("shutdown", SITE / "history" / "incline-shutdown.toml"), "shutdown"),
    ],
    ids=lambda v: v[0] if isinstance(v, tuple) else "",
)
def test_every_forecast_goes_by_the_register(
    words: tuple[str, ...], key: str, where: Path, tmp_path: Path
) -> None:
    said = run(*words, "--register", where, "--out", tmp_path / "out")
    assert said.exit_code == 0, said.output
    assert "! Invented data: not for real work." in said.stdout
    assert "Report: " in said.stdout
    assert list((tmp_path / "out").glob("*.pdf"))
    answer = json.loads(run(*words, "--register", where, "--json").stdout)
    assert answer[key]
    assert "NaN" not in json.dumps(answer)


def test_the_fleet_in_words(where: Path, tmp_path: Path) -> None:
    said = run("fleet", *TODAY, "--until", "2026-04-12", "--register", where, "--stop-cost", "1500",
               "--failure-cost", "8000", "--out", tmp_path / "out").stdout  # fmt: skip
    assert "0 now, 0 overdue, 3 more before the next planned stop, 2026-04-12." in said
    assert "1. K1 crusher discharge, joint K1-06 (before the next stop). " in said
    # a value worn out that nobody stated is named, not assumed
    assert "K1 crusher discharge, carry cover middle: no value worn out is stated" in said
    book = CalamineWorkbook.from_filelike(io.BytesIO((tmp_path / "out/fleet.xlsx").read_bytes()))
    rows = book.get_sheet_by_index(0).to_python()
    assert len(rows) == 1 + 7 + 3  # seven joints run, three places of the incline are read
    other = run("fleet", *TODAY, "--until", "2026-04-12", "--register", where, "--units", "inch")
    assert other.exit_code == 0


def test_a_new_meter_and_the_places_of_a_joint_are_understood(where: Path) -> None:
    wear = json.loads(run("wear", *TODAY, "--register", where, "--json").stdout)["wear"]
    places = {p["series"]["place"]: p for p in wear["places"]}
    assert set(places) == {"carry cover left", "carry cover middle", "joint K2-04, hinge pin"}
    pin = places["joint K2-04, hinge pin"]
    assert pin["series"]["new"] == 0.0
    # from 2023-11-27 to 2024-09-02 by the meter put in on 2023-05-16: straight lines between
    # 4 h (2023-05-16), 3420 h (2024-04-08) and 7290 h (2025-04-07)
    begun = 4 + (3420 - 4) * 195 / 328
    read = 3420 + (7290 - 3420) * 147 / 364
    assert pin["series"]["readings"][0]["use"] / 3600 == pytest.approx(read - begun)


def test_kit_of_a_job_against_the_store(where: Path, tmp_path: Path) -> None:
    pack = tmp_path / "pack"
    planned = run("plan", SITE / "conveyors" / "incline.toml",
                  SITE / "jobs" / "incline-worn-joint.toml", "--out", pack)  # fmt: skip
    assert planned.exit_code == 0, planned.output
    said = run("stock", *TODAY, "--register", where, "--lead-time", "6 weeks", "--plan", pack)
    lacks = said.stdout.partition("The job's kit lacks\n")[2]
    assert re.search(r"nut +139 +0 +139", lacks)
    assert not re.search(r"\bbolt +139", lacks)  # 220 are there


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("wear", "--conveyor", "K9"), 'conveyor: "K9" is not known to the register; accepted is'),
        (("wear", "--conveyor", "K5 bin shuttle"), "register: holds no thickness or depth"),
        (("life", "--cause", "rust"), 'cause: "rust" is no cause in Karst Hollow quarry'),
        (("life", "--use", "mass"), "use: no conveyor has a meter of mass carried"),
        (("stock", *TODAY), "ITEMS: none can be sized: give a table of items, or a lead time"),
        (("choose", "--window", "12 h", "--crew", "6"), "until: is not given; by the register"),
        (("choose", *TODAY, *CHOICE[:4], "--gang", "9", *CHOICE[6:]), "gang: 9 cannot be"),
        (("fleet", *TODAY, "--until", "2026-02-01"), "until: 2026-02-01 is not after today"),
        (("fleet", "--today", "2024-01-01"), "lies in the future"),
    ],
    ids=lambda v: " ".join(map(str, v))[:40] if isinstance(v, tuple) else "",
)
def test_faults_are_one_sentence(words: tuple[str, ...], message: str, where: Path) -> None:
    result = run(*words, "--register", where)
    assert message in result.output
    assert "Traceback" not in result.output


def test_a_file_and_a_register_are_not_taken_together(where: Path) -> None:
    lives = SITE / "history" / "joint-lives.csv"
    both = run("life", lives, "--register", where)
    assert both.exit_code == 2
    assert "LIVES: is given beside a register; give one of the two" in both.stderr
    empty = run("fleet", "--register", where.parent / "none.sqlite")
    assert empty.exit_code == 2
    assert "there is no register" in empty.stderr


def test_planned_jobs_as_a_shutdown(where: Path, tmp_path: Path) -> None:
    path = tmp_path / "register.sqlite"
    shutil.copyfile(where, path)
    pack, at = tmp_path / "pack", ("--register", path)
    run("plan", SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-worn-joint.toml",
        "--out", pack)  # fmt: skip
    for label in ("J1", "J2"):
        run("register", "add-joint", pack, "--label", label, "--by", "Ada", *at)
    words = ("shutdown", "--window", "30 h", "--crew", "6", *at)
    told = run(*words, "--clamp-sets", "1", "--tool", "punch=1", "--out", tmp_path / "out")
    assert told.exit_code == 0, told.output
    assert "Shutdown: J1, J2" in told.stdout
    assert "Done within 30 h with a chance of" in told.stdout
    assert "With one more set of clamps: " in told.stdout
    assert (tmp_path / "out" / "shutdown.pdf").read_bytes().startswith(b"%PDF")
    file = SITE / "history" / "incline-shutdown.toml"
    for wrong, said in (
        (("shutdown", *at), "window: is not given; planned jobs of the register need it"),
        ((*words, "--job", "J9"), 'job: "J9" is no open job with a plan; accepted are J1, J2'),
        ((*words, "--tool", "punch"), 'tool: "punch" is no tool with its number'),
        (("shutdown", file, "--crew", "6"), "crew: goes with planned jobs, without TASKS"),
    ):
        refused = run(*wrong)
        assert refused.exit_code == 2
        assert said in refused.output


def test_when_to_look_by_the_register(where: Path) -> None:
    words = ("when", *TODAY, "--planned", "6000", "--failure", "40000", "--look", "250",
             "--register", where)  # fmt: skip
    said = run(*words)
    assert said.exit_code == 0, said.output
    assert "Not enough data to say: " in said.stdout
    given = run(*words, "--damage-every", "4000 h", "--delay", "600 h")
    assert "Inspect every " in given.stdout
    assert "delay 600 h (assumed)" in given.stdout
    belts = run(*words, "--of-belts")
    assert "no damage is on file" in belts.stdout
