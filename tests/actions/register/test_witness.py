"""The chain witnessed on paper: what a sheet prints stands in the register, or is denied."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import pypdfium2
import pytest
from click.testing import CliRunner

from planned import SITE, planned
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.record import RecordedPlan, record_plan
from splicewright.actions.register.witness import confirm_witness, witness_of_plan
from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.sheets.crew_pack.dossier import dossier
from splicewright.sheets.crew_pack.pack import crew_pack
from splicewright.store import Fact
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register

NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "register.sqlite"


@pytest.fixture
def register(path: Path) -> Iterator[SqlRegister]:
    with open_register(path, clock=lambda: NOW) as made:
        yield made


@pytest.fixture
def job(register: SqlRegister) -> RecordedPlan:
    file = SITE / "conveyors" / "flat.toml"
    there = record_conveyor(register, file, by="Ada Example", now=NOW).conveyor
    plan = planned("flat", "flat-torn-belt")
    made = record_plan(register, plan, conveyor=there, label="J1", by="Ada Example", now=NOW)
    site = register.sites()[0].site
    register.append(Fact(uuid4(), NOW, "Ada Example", StockMoved(site, "bolt", 4.0)))
    return made


def _hash_of(register: SqlRegister, number: int) -> str:
    """The chain by hand, as docs/register.md states it ("The chain")."""
    end = bytes(32)
    for stored in register.facts_since(0, number):
        micro = (stored.received - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
        body = json.dumps(
            to_data(stored.fact), sort_keys=True, separators=(",", ":"), ensure_ascii=False
        )
        end = hashlib.sha256(end + f"{stored.seq} {micro}\n{body}".encode()).digest()
    return end.hex()


def test_a_sheet_names_the_end_of_the_chain_at_its_plan(
    register: SqlRegister, job: RecordedPlan
) -> None:
    joint = register.joint(job.joint)
    assert joint is not None and joint.plan is not None
    witness = witness_of_plan(register, job.joint, joint.plan)
    number, _, short = witness.partition(":")
    assert len(short) == 20 and _hash_of(register, int(number)).startswith(short)
    assert register.facts_since(int(number) - 1, 1)[0].fact.kind == "joint planned"
    assert witness_of_plan(register, job.joint, "0" * 64) == ""
    plan = planned("flat", "flat-torn-belt")
    for made in (crew_pack(plan, witness=witness), dossier(plan, witness=witness)):
        for page in pypdfium2.PdfDocument(made):
            assert f"Witness {witness}" in page.get_textpage().get_text_range()


def test_the_register_confirms_it_or_not(
    register: SqlRegister, job: RecordedPlan, path: Path
) -> None:
    joint = register.joint(job.joint)
    assert joint is not None and joint.plan is not None
    witness = witness_of_plan(register, job.joint, joint.plan)
    found = confirm_witness(register, f"  {witness.upper()} ")
    assert found.stands and found.kind == "joint planned" and found.since >= 1
    number, _, short = witness.partition(":")
    other = f"{number}:{'0' if short[0] != '0' else '1'}{short[1:]}"
    for wrong in (other, f"{int(number) + 1}:{short}", f"999999:{short}", f"0:{short}"):
        assert not confirm_witness(register, wrong).stands, wrong
    for none in ("", "12", f"{number}:{short[:6]}", f"{number}:{short[:-1]}", "x:" + short,
                 f"{number}:{short}{'0' * 60}", "9" * 400 + ":" + short):  # fmt: skip
        with pytest.raises(InputError, match="accepted is NUMBER:HASH"):
            confirm_witness(register, none)
    ask = ["register", "witness", witness, "--register", str(path)]
    told = CliRunner().invoke(main, ask)
    assert told.exit_code == 0 and told.output.startswith(f"Confirmed: fact {number}")
    assert json.loads(CliRunner().invoke(main, [*ask, "--json"]).output)["confirmed"] is True
    denied = CliRunner().invoke(main, ["register", "witness", other, "--register", str(path)])
    assert denied.exit_code == 1 and "NOT confirmed" in denied.output
    whole = ["register", "verify", "--register", str(path), "--head"]
    assert CliRunner().invoke(main, [*whole, witness]).exit_code == 0
    assert CliRunner().invoke(main, [*whole, other]).exit_code == 1


def test_a_register_whose_chain_was_made_anew_is_denied(
    register: SqlRegister, job: RecordedPlan, tmp_path: Path
) -> None:
    """Whoever can write can work the whole chain anew; the sheet in somebody's hand stays."""
    joint = register.joint(job.joint)
    assert joint is not None and joint.plan is not None
    witness = witness_of_plan(register, job.joint, joint.plan)
    with open_register(tmp_path / "forged.sqlite", clock=lambda: NOW) as forged:
        first, *rest = (stored.fact for stored in register.facts_since(0))
        data = to_data(first) | {"by": "Eve Example"}
        for digest in {f.what.plan for f in rest if hasattr(f.what, "plan") and f.what.plan}:
            kept = register.content(digest)
            forged.keep(kept.data, kept.media_type)
        for fact in rest:
            file = getattr(fact.what, "file", None)
            if file:
                kept = register.content(file)
                forged.keep(kept.data, kept.media_type)
        forged.append(Fact.from_json(json.dumps(data)), *rest)
        assert forged.verify().faults == ()
        assert not confirm_witness(forged, witness).stands
