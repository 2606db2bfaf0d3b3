"""Backups into a folder: proved after writing, thinned out by days, weeks and months."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from depth import PATIENCE, next_line, sized
from splicewright.actions.register import backup_folder
from splicewright.actions.register.backup import back_up, restore
from splicewright.actions.register.backup_folder import Folder, Retention, back_up_onto, superseded
from splicewright.cli import main
from splicewright.errors import OutputError
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


def _name(moment: datetime) -> str:
    return f"register-{moment:%Y%m%dT%H%M%SZ}.backup"


@pytest.fixture
def filled(tmp_path: Path) -> SqlRegister:
    clock = Clock()
    register = open_register(tmp_path / "register.sqlite", clock=clock)
    plant = Plant(clock)
    plant.begin(register)
    register.append(plant.fact(StockMoved(plant.site, "bolt", 5.0)))
    return register


def test_what_is_kept_is_the_newest_of_each_day_week_and_month() -> None:
    """Against the calendar, day by day: some days have none, some have several."""
    draw = random.Random(7)
    keep = Retention(days=7, weeks=5, months=12)
    kept: list[str] = []
    every: list[datetime] = []
    moment = NOW
    for _ in range(sized(500, deep=3000)):
        moment += timedelta(hours=draw.choice((3, 9, 24, 24, 24, 80)))
        every.append(moment)
        kept.append(_name(moment))
        gone = set(superseded(kept, keep))
        kept = [name for name in kept if name not in gone]
    assert superseded(kept, keep) == []
    days = sorted({m.date() for m in every})[-7:]
    weeks = sorted({m.isocalendar()[:2] for m in every})[-5:]
    months = sorted({(m.year, m.month) for m in every})[-12:]
    wanted = {max(m for m in every if m.date() == d) for d in days}
    wanted |= {max(m for m in every if m.isocalendar()[:2] == w) for w in weeks}
    wanted |= {max(m for m in every if (m.year, m.month) == ym) for ym in months}
    assert set(kept) == {_name(m) for m in wanted}
    assert len(kept) <= 7 + 5 + 12


def test_other_files_are_left_alone() -> None:
    names = [_name(NOW + timedelta(days=n)) for n in range(3)]
    others = ["notes.txt", "register-2026.backup", _name(NOW) + ".damaged", "heads.txt"]
    assert superseded([*names, *others], Retention(0, 0, 0)) == names[:2]


def test_each_is_restored_and_verified(filled: SqlRegister, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    first = back_up_onto(filled, Folder(folder), Retention(1, 0, 0), NOW)
    again = back_up_onto(filled, Folder(folder), Retention(1, 0, 0), NOW + timedelta(hours=1))
    assert first.head == again.head == filled.head()
    assert again.removed == (first.name,)
    assert sorted(p.name for p in folder.iterdir()) == ["heads.txt", again.name]
    lines = (folder / "heads.txt").read_text().splitlines()
    assert [line.split()[1:] for line in lines] == [
        [first.name, str(first.head)], [again.name, str(again.head)],
    ]  # fmt: skip
    restore(folder / again.name, tmp_path / "again.sqlite")
    with open_register(tmp_path / "again.sqlite") as back:
        assert back.verify(again.head).faults == ()


def test_one_that_does_not_hold_removes_nothing(
    filled: SqlRegister, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Damage while writing: a letter of a fact is another in the copy."""
    folder = tmp_path / "backups"
    first = back_up_onto(filled, Folder(folder), Retention(1, 0, 0), NOW)

    def spoilt(register: SqlRegister, to: Path) -> object:
        head = back_up(register, to)
        raw = to.read_bytes()
        assert b'"item":"bolt"' in raw
        to.write_bytes(raw.replace(b'"item":"bolt"', b'"item":"bold"'))
        return head

    monkeypatch.setattr(backup_folder, "back_up", spoilt)
    with pytest.raises(OutputError, match=r"does not hold .*its hash does not fit") as refused:
        back_up_onto(filled, Folder(folder), Retention(0, 0, 0), NOW + timedelta(days=1))
    assert "no older backup was removed" in str(refused.value)
    names = sorted(p.name for p in folder.iterdir())
    later = _name(NOW + timedelta(days=1))
    assert names == ["heads.txt", first.name, f"{later}.damaged"]


def test_the_command_goes_on_until_it_is_stopped(filled: SqlRegister, tmp_path: Path) -> None:
    where, folder = tmp_path / "register.sqlite", tmp_path / "backups"
    once = ["register", "backups", str(folder), "--register", str(where), "--json"]
    told = json.loads(CliRunner().invoke(main, once).output)
    assert told["facts"] == filled.head().seq and Path(told["written"]).is_file()
    for every in ("1 s", "0 s", "90 d"):
        refused = CliRunner().invoke(main, [*once, "--every", every])
        assert refused.exit_code == 2 and "accepted is 10 min to 31 d" in refused.output
    words = [sys.executable, "-m", "splicewright", *once[:-1], "--every", "24 h"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as going:
        assert "restored beside and verified" in next_line(going)
        going.send_signal(signal.SIGTERM)
        going.wait(timeout=PATIENCE)
    (newest,) = [p for p in folder.iterdir() if p.suffix == ".backup"]  # of one day the newest
    with sqlite3.connect(newest) as copy:
        assert copy.execute("SELECT seq FROM register").fetchone() == (filled.head().seq,)
    copy.close()


def test_two_of_one_second_both_stay(filled: SqlRegister, tmp_path: Path) -> None:
    first = back_up_onto(filled, Folder(tmp_path), Retention(), NOW)
    second = back_up_onto(filled, Folder(tmp_path), Retention(), NOW)
    assert second.name > first.name and second.removed == (first.name,)  # of one day the newest
    assert (tmp_path / second.name).is_file()


def test_one_that_failed_is_tried_again_soon(
    filled: SqlRegister, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pauses: list[float] = []
    folder = tmp_path / "backups"
    folder.write_text("in the way")

    def pause(wait: float) -> None:
        pauses.append(wait)
        folder.unlink(missing_ok=True)
        if len(pauses) == 2:
            raise SystemExit(0)

    monkeypatch.setattr("splicewright.cli.copies.time.sleep", pause)
    where = str(tmp_path / "register.sqlite")
    words = ["register", "backups", str(folder), "--register", where, "--every", "24 h"]
    said = CliRunner().invoke(main, words)
    assert "cannot be made" in said.stderr and "restored beside and verified" in said.stdout
    assert pauses == [600.0, 86400.0]


def test_each_holds_while_somebody_writes(filled: SqlRegister, tmp_path: Path) -> None:
    """A process records one fact after the other; what is in a backup is a beginning of them."""
    where, folder = tmp_path / "register.sqlite", tmp_path / "backups"
    (site,) = filled.sites()
    words = [sys.executable, "-m", "store.writer", str(where), str(site.site), "0", "1000000"]
    tests = str(Path(__file__).parents[2])
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": tests}
    ) as writing:
        try:
            last = 0
            for n in range(sized(2, deep=30)):
                said = int(next_line(writing))
                done = back_up_onto(filled, Folder(folder), Retention(), NOW + timedelta(hours=n))
                # What was acknowledged before is in it; it grows.
                assert done.head.seq > max(last, said)
                last = done.head.seq
        finally:
            writing.kill()
    assert filled.verify().faults == ()
