"""Labels kept to be looked through find what SQLite finds in each of them."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import event

from splicewright.store.facts.facts import Correction
from splicewright.store.facts.joint_facts import JointPlanned
from splicewright.store.sql import label_parts
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

PARTS = ("", "j", "J1", "12", "n", "ü", "Ü", "%", "_", "/", "\\", "1-n", "zz", "J12-Nord", "\n")


@pytest.fixture
def register(tmp_path: Path, clock: Clock) -> Any:
    with open_register(tmp_path / "kept.sqlite", clock=clock) as made:
        yield made


def _each(register: SqlRegister, parts: tuple[str, ...], limit: int) -> list[UUID]:
    """Every label looked at by SQLite."""
    has = " AND ".join(["lower(label) LIKE '%' || lower(?) || '%' ESCAPE '/'"] * len(parts))
    given = tuple(part.translate({ord(c): f"/{c}" for c in "%_/"}) for part in parts)
    query = f"SELECT joint FROM joints WHERE {has} ORDER BY label, joint LIMIT {limit}"
    with register._engine.connect() as connection:
        return [UUID(one) for one in connection.exec_driver_sql(query, given).scalars()]


def _as_each(register: SqlRegister, limit: int = 500) -> None:
    for parts in [*((part,) for part in PARTS), ("J", "12"), ("12", "zz"), ("nord", "J1", "2")]:
        like = [j.joint for j in register.joints(like=parts, limit=limit)]
        assert like == _each(register, parts, limit), parts


def test_what_is_found_follows_every_fact(register: SqlRegister, plant: Plant) -> None:
    """New joints, other labels, a correction, and a present state derived anew."""
    _as_each(register)
    first = plant.joint(register, "J12-Nord")
    _as_each(register)
    for label in ("J1", "j12 ü", "J12Ü", "50%", "a_b", "a/b", "a\\b", "x12", "zz"):
        plant.joint(register, label)
        _as_each(register)
    again = JointPlanned(
        first, plant.conveyor, "Zz12-Süd", plant.belt, 60.0, None, "", 3600.0, 7200.0
    )
    planned = plant.fact(again)
    register.append(planned)
    _as_each(register)
    register.append(plant.fact(Correction(planned.stream, first, planned.id, None, "slip")))
    _as_each(register)
    register.rebuild()
    _as_each(register)


def test_many_are_found_in_their_order(
    register: SqlRegister, plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(label_parts, "MOST", 5)
    for n in range(24):
        plant.joint(register, f"J{n}")
        _as_each(register, 4)
        _as_each(register)


def test_another_process_is_followed_and_so_is_a_file_set_back(
    register: SqlRegister, plant: Plant, clock: Clock, tmp_path: Path
) -> None:
    plant.joint(register, "J1")
    _as_each(register)
    file = tmp_path / "kept.sqlite"
    with (
        contextlib.closing(sqlite3.connect(file)) as now,
        contextlib.closing(sqlite3.connect(tmp_path / "before.sqlite")) as then,
    ):
        now.backup(then)
    with open_register(file, clock=clock) as other:
        plant.joint(other, "J12")
        plant.joint(other, "J13")
    _as_each(register)
    kept = register._labels
    with open_register(tmp_path / "before.sqlite", clock=clock) as before:
        before._labels = kept  # as where the file itself is put back under a server
        assert kept._head != before.head()
        _as_each(before)  # a moment that is over: each label is looked at
        plant.joint(before, "J12 again")
        plant.joint(before, "J14")
        _as_each(before)
        assert kept._head == before.head()


def test_few_are_looked_up(register: SqlRegister, plant: Plant) -> None:
    """No label is looked at by SQLite but those that have the part."""
    for n in range(30):
        plant.joint(register, f"J{n}")
    register.joints(like=["zz"])
    asked: list[tuple[str, Any]] = []
    event.listen(
        register._engine,
        "before_cursor_execute",
        lambda *a: asked.append((a[2], a[3])),
        named=False,
    )
    assert [j.label for j in register.joints(like=["j2", "7"])] == ["J27"]
    (ours,) = [one for one in asked if "FROM joints" in one[0]]
    with register._engine.connect() as connection:
        plan = str(connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {ours[0]}", ours[1]).all())
    assert "SEARCH joints USING INDEX sqlite_autoindex_joints_1 (joint=?)" in plan
    assert "SCAN joints" not in plan
