"""The joints as a table: each as it is now, whole or in parts, nothing dropped."""

from __future__ import annotations

import csv
import io
import re
from datetime import datetime
from pathlib import Path
from uuid import uuid4

import pytest
from pyarrow import parquet

from actions.recorded import Recorded, day
from splicewright.actions.register.joint_table import (
    COLUMNS,
    MECHANISMS,
    NOT_MAPPED,
    JointTable,
    joint_table,
)
from splicewright.files.columns import Column, write_columns
from splicewright.store import Actor, Correction, PersonRole, Stream
from splicewright.store.facts.joint_facts import JointRemoved, Mode

ROOT = Path(__file__).parents[3]


@pytest.fixture
def site(tmp_path: Path) -> Recorded:
    made = Recorded(tmp_path)
    k1 = made.conveyor("=K1")  # a spreadsheet would take it for a formula
    for number, mode in enumerate(Mode):
        made.joint(k1, f"J{number}", 10, removed=110 + number, mode=mode)
    made.joint(k1, "runs", 100)
    made.joint(k1, "unfit", 100, looks=((130, True), (160, False)))
    return made


def rows_of(table: JointTable) -> dict[str, dict[str, str]]:
    read = csv.DictReader(io.StringIO(table.content.decode()))
    return {row["label"]: row for row in read}


def test_each_joint_is_told_as_it_lived(site: Recorded) -> None:
    table = joint_table(site.register, "csv")
    rows = rows_of(table)
    assert table.rows == len(rows) == len(Mode) + 2
    for number, mode in enumerate(Mode):
        row = rows[f"J{number}"]
        failed = mode not in {Mode.RENEWED, Mode.BELT_CHANGED}
        assert row["failed"] == str(failed).lower()
        assert float(row["age"]) == (100 + number) * 86400
        assert datetime.fromisoformat(row["ended"]) == day(110 + number)
        assert row["failure_mode"] == (mode.value if failed else "")
        told = MECHANISMS.get(mode.value, NOT_MAPPED) if failed else ""
        assert row["failure_mechanism"] == told
    assert rows["runs"]["age"] == rows["runs"]["ended"] == ""
    unfit = rows["unfit"]
    assert (unfit["failed"], unfit["detection"], unfit["can_run"]) == (
        "true",
        "inspection",
        "false",
    )
    assert float(unfit["age"]) == 60 * 86400
    # Nothing is dropped for having no mechanism: pull-out, cover lifted, other, found unfit.
    assert table.not_mapped == 4
    assert {row["conveyor"] for row in rows.values()} == {"'=K1"}


def test_parquet_holds_what_the_csv_holds(site: Recorded) -> None:
    rows = rows_of(joint_table(site.register, "csv"))
    made = parquet.read_table(io.BytesIO(joint_table(site.register, "parquet").content))
    assert made.column_names == [c.name for c in COLUMNS]
    assert made.schema.field("age").metadata == {
        b"says": next(c.says for c in COLUMNS if c.name == "age").encode()
    }
    for held in made.to_pylist():
        for name, cell in rows[held["label"]].items():
            value = held[name]
            if isinstance(value, datetime):
                assert datetime.fromisoformat(cell) == value
            elif isinstance(value, bool):
                assert cell == str(value).lower()
            elif isinstance(value, int | float):
                assert float(cell) == value
            else:
                assert cell.lstrip("'") == (value or "")


def test_parts_put_together_are_the_whole(site: Recorded) -> None:
    whole = rows_of(joint_table(site.register, "csv"))
    together: dict[str, dict[str, str]] = {}
    since, times = 0, 0
    while since < site.register.head().seq:
        part = joint_table(site.register, "csv", since, most=7)
        for label, row in rows_of(part).items():
            assert label not in together  # each once, with its last fact
            together[label] = row
        since, times = part.next, times + 1
    assert times > 4
    assert together == whole


def test_what_is_corrected_comes_again_and_only_that(site: Recorded) -> None:
    before = joint_table(site.register, "csv")
    joint = next(j for j in site.register.joints() if j.label == "J0")
    [removal] = [
        s for s in site.register.facts_about(joint.joint) if isinstance(s.what, JointRemoved)
    ]
    assert joint_table(site.register, "csv", before.next).rows == 0
    site.say(
        200,
        Correction(
            Stream.JOINT,
            joint.joint,
            removal.fact.id,
            JointRemoved(joint.joint, Mode.RENEWED),
            "so",
        ),
    )
    rows = rows_of(joint_table(site.register, "csv", before.next))
    assert list(rows) == ["J0"]
    assert rows["J0"]["failed"] == "false"


def test_only_sites_that_are_seen(site: Recorded) -> None:
    for sites, number in ((frozenset({site.site}), len(Mode) + 2), (frozenset({uuid4()}), 0)):
        who = Actor(uuid4(), "Bo", PersonRole.VIEWER, sites=sites)
        table = joint_table(site.register.said_by(who), "csv")
        assert (table.rows, table.next) == (number, site.register.head().seq)


def test_no_rows_are_a_table_too() -> None:
    columns = (Column("a", int, "so"), Column("b", str, "so"))
    assert write_columns("csv", columns, []) == b"a,b\n"
    empty = parquet.read_table(io.BytesIO(write_columns("parquet", columns, [])))
    assert (empty.num_rows, empty.column_names) == (0, ["a", "b"])


def test_the_page_tells_every_column() -> None:
    text = (ROOT / "docs" / "joint-table.md").read_text("utf-8")
    told = re.findall(r"^\| `(\w+)` \| (\w+) \| (.+) \|$", text, re.M)
    assert told == [(c.name, c.kind.__name__, c.says) for c in COLUMNS]
    for mode, mechanism in MECHANISMS.items():
        assert f"| {mode} | {mechanism} |" in text
