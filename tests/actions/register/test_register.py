"""What people do with a register: record, import, export; SQLite stands for both databases."""

from __future__ import annotations

import json
import stat
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_plan
from splicewright.actions.register.export import dump_register, export_table
from splicewright.actions.register.import_rows import import_rows, load_register
from splicewright.actions.register.record_facts import record_facts, record_sent
from splicewright.actions.register.verify import read_head, verify_register
from splicewright.errors import InputError, OutputError
from splicewright.job import JointPlan
from splicewright.store import State
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.joint_facts import JointBuilt, JointSuspended, Mode, ReadingTaken
from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded, StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow"
NOW = datetime(2026, 6, 1, tzinfo=UTC)


def test_one_bad_fact_holds_up_no_other(register: SqlRegister, plant: Plant) -> None:
    good = [plant.fact(StockMoved(plant.site, "bolt", 1.0)) for _ in range(3)]
    bad = plant.fact(JointBuilt(uuid4()))
    altered = Plant(plant.clock, plant.site).fact(StockMoved(plant.site, "bolt", 9.0))
    register.append(good[0])
    altered = type(altered)(good[0].id, altered.at, altered.by, altered.what)
    done = record_facts(register, [good[0], bad, good[1], altered, good[2]])
    assert [o.verdict for o in done] == ["already", "refused", "recorded", "conflict", "recorded"]
    assert [o.id for o in done] == [good[0].id, bad.id, good[1].id, good[0].id, good[2].id]
    assert "the register knows no joint" in str(done[1].faults[0])
    assert "is recorded with other content" in str(done[3].faults[0])
    assert register.stock(plant.site)[0].count == 3.0


def test_order_within_a_call_with_a_bad_fact(register: SqlRegister) -> None:
    plant = Plant(Clock())
    facts = [
        plant.fact(ConveyorRecorded(plant.conveyor, plant.site, "K2")),
        plant.fact(SiteAdded(plant.site, "Karst Hollow (invented)")),
    ]
    bad = plant.fact(JointBuilt(uuid4()))
    done = record_facts(register, [facts[0], bad, facts[1]])
    assert [o.verdict for o in done] == ["recorded", "refused", "recorded"]


def test_own_facts_sent_again_are_not_changes_by_others(
    register: SqlRegister, plant: Plant
) -> None:
    joint = plant.joint(register)
    seen = {joint: register.version(joint)}
    first, second = plant.fact(JointBuilt(joint)), plant.fact(JointSuspended(joint))
    register.append(first, seen=seen)  # the answer to this was lost on the way
    bad = plant.fact(JointBuilt(uuid4()))
    done = record_facts(register, [first, bad, second], seen)
    assert [o.verdict for o in done] == ["already", "refused", "recorded"]
    third = plant.fact(JointSuspended(joint, "again"))
    assert record_facts(register, [third], seen)[0].verdict == "conflict"


def test_facts_as_a_device_sent_them(register: SqlRegister, plant: Plant) -> None:
    good = plant.fact(StockMoved(plant.site, "bolt", 1.0))
    sent = [to_data(good), {"id": str(good.id)}, 7, None, {**to_data(good), "id": "x"}]
    done = record_sent(register, json.loads(json.dumps(sent)))
    assert [o.verdict for o in done] == ["recorded", *["refused"] * 4]
    assert [o.id for o in done] == [good.id, good.id, None, None, None]
    assert record_sent(register, []) == ()


def test_a_conveyor_file_and_a_plan(register: SqlRegister) -> None:
    file = SITE / "conveyors" / "incline.toml"
    done = record_conveyor(register, file, by="Ada Example", now=NOW)
    again = record_conveyor(register, file, by="Ada Example", now=NOW)
    assert (done.new, again.new, again.version) == (True, False, 1)
    assert again.conveyor == done.conveyor
    now = register.conveyor(done.conveyor)
    assert now is not None and now.file is not None
    assert register.content(now.file).data == file.read_bytes()
    plan = plan_joint(file, SITE / "jobs" / "incline-worn-joint.toml")
    assert now.belt_length == plan.path.belt_length.value
    made = record_plan(
        register, plan, conveyor=done.conveyor, label="J7", by="Ada Example", now=NOW, place=12.0
    )
    joint = register.joint(made.joint)
    assert joint is not None and joint.plan is not None and joint.plan_id == plan.id
    assert JointPlan.from_json(register.content(joint.plan).data) == plan
    assert joint.inspect_after == plan.follow_up.inspect_after.value
    (job,) = register.jobs(done.conveyor)
    assert job.joint == made.joint and job.name == plan.work.name
    with pytest.raises(InputError, match="the register knows no conveyor"):
        record_plan(register, plan, conveyor=uuid4(), label="J", by="A", now=NOW)
    other = record_conveyor(register, SITE / "conveyors" / "flat.toml", by="Ada", now=NOW)
    with pytest.raises(InputError, match="the plan is of 'K2 incline' and the conveyor is"):
        record_plan(register, plan, conveyor=other.conveyor, label="J", by="A", now=NOW)


def _csv(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


KARST = "Karst Hollow (invented)"
JOINTS = f"""site,conveyor,label,built,put to work,removed,mode,place,note
{KARST},K2,J1,2019-05-04,,2022-01-03,pull-out,120 m,wet night
{KARST},K2,J1,2022-01-03,2022-01-05,,,"393 ft 8 in",
{KARST},K2,J2,2020-02-01T06:30+02:00,,,,,
"""


def test_importing_ten_years_of_joints(register: SqlRegister, plant: Plant, tmp_path: Path) -> None:
    file = _csv(tmp_path / "joints.csv", JOINTS)
    dry = import_rows(register, "joints", file, by="Ada", now=NOW, dry_run=True)
    assert (dry.rows, dry.recorded, dry.refused) == (3, 10, ())
    assert register.joints() == ()
    done = import_rows(register, "joints", file, by="Ada", now=NOW)
    assert (done.recorded, done.already) == (10, 0)
    again = import_rows(register, "joints", file, by="Ben", now=NOW)
    assert (again.recorded, again.already) == (0, 10)
    longer = _csv(tmp_path / "longer.csv", JOINTS + f"{KARST},K2,J3,2023-01-01,,,,,\n")
    assert import_rows(register, "joints", longer, by="Ada", now=NOW).recorded == 3
    first, second, third, _ = register.joints()
    assert {first.label, second.label} == {"J1"}
    gone, there = (first, second) if first.removed else (second, first)
    assert gone.mode is Mode.PULL_OUT and gone.place == 120.0
    assert there.state is State.RUNNING
    assert there.place == pytest.approx(120.0, abs=0.02)  # 393 ft 8 in
    assert third.built == datetime(2020, 2, 1, 4, 30, tzinfo=UTC)
    assert register.verify().faults == ()


def test_every_refused_row_is_told_with_every_reason(
    register: SqlRegister, plant: Plant, tmp_path: Path
) -> None:
    file = _csv(
        tmp_path / "joints.csv",
        "site,conveyor,label,built,removed,mode,place\n"
        f"{KARST},K2,J1,2019-05-04,,,120 m\n"
        "Elsewhere,K2,,4.5.2019,2018-01-01,melted,120 kg\n"
        f"{KARST},K9,J2,2019-05-04,2018-01-01,,\n"
        f"{KARST},K2,=cmd(),2019-05-04,,pull-out,\n"
        f"{KARST},K2,J4,2030-05-04,,,\n"
        f"{KARST},K2,{'J' * 200},2019-05-04,,,\n"
        f"{KARST},K2,J5,2019-05-04,,,,,,extra\n"
        f"{KARST},K2,J6,2019-05-04,,,-5 m\n",
    )
    done = import_rows(register, "joints", file, by="Ada", now=NOW, dry_run=True)
    told = {row.line: [str(f) for f in row.faults] for row in done.refused}
    assert done.rows == 1
    assert told == {
        3: [
            "site: the register knows no site 'Elsewhere'",
            "label: is empty; it must be given",
            'place: "120 kg" has the unit "kg"; accepted is a distance such as 240 m or 790 ft '
            "(units: mm, cm, dm, m, km, in, inch, inches, \", ft, feet, ', yd)",
            "built: '4.5.2019' is no day; accepted is 2026-05-04 or 2026-05-04T06:00+02:00",
            "mode: 'melted' is not known; accepted is one of pull-out, plate bent, loop worn "
            "through, pin worn, pin migrated, pin broken, bolt lost, edge torn, ply tear behind "
            "plates, cover lifted, ripple, renewed before failing, removed with the belt, other",
        ],
        4: [
            f"conveyor: the register knows no conveyor 'K9' at '{KARST}'",
            "removed: is before the joint was put to work",
        ],
        5: [
            "label: '=cmd()' is a formula; accepted is the value itself",
            "removed: is empty, and a mode of removal is given",
        ],
        6: ["2030-05-04 lies in the future"],
        7: ["label: is longer than 120 characters"],
        8: ["has 10 cells and the table 7 columns"],
        9: ["place: -5.0 is too small; accepted is 0 or more"],
    }


def test_columns_are_told(register: SqlRegister, plant: Plant, tmp_path: Path) -> None:
    file = _csv(tmp_path / "stock.csv", "site,item,colour\nx,y,z\n")
    with pytest.raises(InputError) as refused:
        import_rows(register, "stock", file, by="Ada", now=NOW)
    assert [str(f) for f in refused.value.faults] == [
        "count: is missing; the table must have this column",
        "when: is missing; the table must have this column",
        "colour: is no column of stock; accepted are site, item, count, when, why",
    ]
    with pytest.raises(InputError, match="by: is empty"):
        import_rows(register, "stock", file, by=" ", now=NOW)


def test_readings_find_the_joint_that_was_there(
    register: SqlRegister, plant: Plant, tmp_path: Path
) -> None:
    import_rows(register, "joints", _csv(tmp_path / "j.csv", JOINTS), by="Ada", now=NOW)
    file = _csv(
        tmp_path / "readings.csv",
        "site,conveyor,label,what,measure,value,when\n"
        f"{KARST},K2,J1,thickness,length,19/32 in,2021-01-01\n"
        f"{KARST},K2,,speed,speed,2.1 m/s,2021-01-01\n"
        f"{KARST},K2,J1,thickness,length,15 kg,2021-01-01\n"
        f"{KARST},K2,J1,thickness,length,15 mm,2018-01-01\n"
        f"{KARST},K2,J9,thickness,length,15 mm,2018-01-01\n"
        f"{KARST},K2,J1,thickness,width,15 mm,2021-01-01\n",
    )
    done = import_rows(register, "readings", file, by="Ada", now=NOW)
    assert done.recorded == 2
    reasons = {row.line: row.faults[0] for row in done.refused}
    assert set(reasons) == {4, 5, 6, 7}
    assert 'has the unit "kg"' in str(reasons[4])
    assert str(reasons[5]) == "label: no joint 'J1' was in the belt at that time"
    assert str(reasons[6]) == "label: the register knows no joint 'J9' on 'K2'"
    assert str(reasons[7]).startswith("measure: 'width' is not known; accepted is one of length,")
    gone = next(j for j in register.joints(label="J1") if j.removed is not None)
    reading = register.facts_about(gone.joint)[-1].what
    assert isinstance(reading, ReadingTaken)
    assert reading.value == pytest.approx(19 / 32 * 0.0254)
    assert reading.typed == "19/32 in"


def test_equal_rows_are_two_movements(register: SqlRegister, plant: Plant, tmp_path: Path) -> None:
    row = f"{KARST},bolt,-4,2026-05-04,job\n"
    file = _csv(tmp_path / "stock.csv", "site,item,count,when,why\n" + 2 * row)
    assert import_rows(register, "stock", file, by="Ada", now=NOW).recorded == 2
    assert import_rows(register, "stock", file, by="Ada", now=NOW).recorded == 0
    assert register.stock(plant.site)[0].count == -8.0


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_what_is_exported_can_be_imported(
    ending: str, register: SqlRegister, plant: Plant, tmp_path: Path
) -> None:
    import_rows(register, "joints", _csv(tmp_path / "j.csv", JOINTS), by="Ada", now=NOW)
    text = (
        "site,conveyor,label,what,measure,value,when,note\n"
        f"{KARST},K2,J1,thickness,length,19/32 in,2021-01-01,'=odd\n"
    )
    import_rows(register, "readings", _csv(tmp_path / "r.csv", text), by="Ada", now=NOW)
    register.append(plant.fact(StockMoved(plant.site, "=bolt", -4.0)))
    with open_register(tmp_path / "second.sqlite", clock=Clock()) as second:
        plant.begin(second)
        for kind, rows in (("joints", 3), ("readings", 1), ("stock", 1)):
            file = tmp_path / f"{kind}{ending}"
            assert export_table(register, kind, file) == rows  # type: ignore[arg-type]
            assert stat.S_IMODE(file.stat().st_mode) == 0o600
            done = import_rows(second, kind, file, by="Ada", now=NOW)  # type: ignore[arg-type]
            assert (done.rows, done.refused) == (rows, ())
        told = [(j.label, j.place, j.built, j.put_to_work, j.removed, j.mode, j.state)
                for j in register.joints()]  # fmt: skip
        assert sorted(map(str, told)) == sorted(
            str((j.label, j.place, j.built, j.put_to_work, j.removed, j.mode, j.state))
            for j in second.joints()
        )
        assert second.stock(plant.site) == register.stock(plant.site)
    with pytest.raises(OutputError, match="is already there; it was not touched"):
        export_table(register, "joints", tmp_path / f"joints{ending}")
    with pytest.raises(InputError, match=r"is not written; accepted is \.csv or \.xlsx"):
        export_table(register, "joints", tmp_path / "joints.ods")


def test_dump_and_load(register: SqlRegister, plant: Plant, tmp_path: Path) -> None:
    file = tmp_path / "dump.jsonl"
    assert dump_register(register, file) == 4
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with open_register(tmp_path / "second.sqlite") as second:
        head = load_register(second, file)
        assert head == register.head()
        assert verify_register(second, str(head), rebuild=True).faults == ()
        with pytest.raises(InputError, match="there is no file none"):
            load_register(second, tmp_path / "none")
    with pytest.raises(OutputError, match="is already there"):
        dump_register(register, file)


def test_a_head_is_read_as_printed(register: SqlRegister, plant: Plant) -> None:
    head = register.head()
    assert read_head(f" {head} \n") == head
    for wrong in ("", "3", "3:abc", "x" * 500, f"-1:{'0' * 64}"):
        with pytest.raises(InputError, match="accepted is NUMBER:HASH"):
            read_head(wrong)


CELLS = st.text(max_size=30) | st.sampled_from(
    [KARST, "K2", "J1", "2020-01-01", "12 mm", "length", "=1", "'", '"', "\x00", "１２ m",
     "9" * 400, "1e400 m", "nan m", "-0 m", "0001-01-01", "9999-12-31T23:59-23:59", "24:00",
     "Ω" * 4001]
)  # fmt: skip


@given(
    st.sampled_from(["joints", "readings", "stock"]),
    st.lists(st.lists(CELLS, max_size=9), max_size=4),
)
@settings(
    max_examples=examples(150), deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
def test_any_table_is_imported_or_refused(
    register: SqlRegister, plant: Plant, tmp_path: Path, kind: str, rows: list[list[str]]
) -> None:
    import csv

    from splicewright.actions.register.table_rows import COLUMNS

    file = tmp_path / "any.csv"
    must, may = COLUMNS[kind]  # type: ignore[index]
    with file.open("w", encoding="utf-8", errors="surrogatepass", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow((*must, *may))
        writer.writerows(rows)
    try:
        done = import_rows(register, kind, file, by="Ada", now=NOW)  # type: ignore[arg-type]
    except InputError:
        return
    for row in done.refused:
        assert row.faults and all(f.sentence for f in row.faults)
