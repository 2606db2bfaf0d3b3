"""Backups in an object store: a server of the package moto on this machine stands for one."""

from __future__ import annotations

import re
import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from moto.server import ThreadedMotoServer

from splicewright.actions.register import backup_bucket
from splicewright.actions.register.backup import back_up, restore
from splicewright.actions.register.backup_bucket import Bucket
from splicewright.actions.register.backup_folder import Retention, back_up_onto
from splicewright.cli import main
from splicewright.errors import InputError, OutputError
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def store() -> Iterator[str]:
    """Where a store of this machine is reached; it forgets all when it stops."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    yield "http://{}:{}".format(*server.get_host_and_port())
    server.stop()


@pytest.fixture
def bucket(store: str, monkeypatch: pytest.MonkeyPatch) -> str:
    import boto3

    for name, value in (
        ("AWS_ENDPOINT_URL", store), ("AWS_ACCESS_KEY_ID", "invented"),
        ("AWS_SECRET_ACCESS_KEY", "invented"), ("AWS_REGION", "eu-central-1"),
    ):  # fmt: skip
        monkeypatch.setenv(name, value)
    client = boto3.client("s3", region_name="us-east-1", endpoint_url=store)
    client.create_bucket(Bucket="kept")
    for one in client.list_objects_v2(Bucket="kept").get("Contents", []):
        client.delete_object(Bucket="kept", Key=one["Key"])
    client.put_object(Bucket="kept", Key="belts/notes.txt", Body=b"not ours")
    client.put_object(Bucket="kept", Key="other/register-20260101T000000Z.backup", Body=b"x")
    client.close()
    return "s3://kept/belts"


def objects(store: str) -> dict[str, bytes]:
    """All that lies in the store, asked by another library."""
    import boto3

    client = boto3.client("s3", region_name="us-east-1", endpoint_url=store)
    found = {
        one["Key"]: client.get_object(Bucket="kept", Key=one["Key"])["Body"].read()
        for one in client.list_objects_v2(Bucket="kept")["Contents"]
    }
    client.close()
    return found


@pytest.fixture
def filled(tmp_path: Path) -> Iterator[SqlRegister]:
    clock = Clock()
    with open_register(tmp_path / "register.sqlite", clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        register.append(plant.fact(StockMoved(plant.site, "bolt", 5.0)))
        yield register


def test_each_is_fetched_back_and_verified(
    filled: SqlRegister, bucket: str, store: str, tmp_path: Path
) -> None:
    shelf, keep = Bucket(bucket), Retention(1, 0, 0)
    first = back_up_onto(filled, shelf, keep, NOW)
    again = back_up_onto(filled, shelf, keep, NOW + timedelta(hours=1))
    assert first.head == again.head == filled.head() and again.removed == (first.name,)
    there = objects(store)
    assert set(there) == {
        "belts/notes.txt", "other/register-20260101T000000Z.backup",
        f"belts/{again.name}", "belts/heads.txt",
    }  # fmt: skip
    lines = there["belts/heads.txt"].decode().splitlines()
    assert [line.split()[1:] for line in lines] == [
        [first.name, str(first.head)], [again.name, str(again.head)],
    ]  # fmt: skip
    (tmp_path / "back").write_bytes(there[f"belts/{again.name}"])
    restore(tmp_path / "back", tmp_path / "back.sqlite")
    with open_register(tmp_path / "back.sqlite") as back:
        assert back.verify(again.head).faults == ()


def test_one_that_does_not_hold_removes_nothing(
    filled: SqlRegister, bucket: str, store: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Damage on the way: a letter of a fact is another in what the store holds."""
    shelf = Bucket(bucket)
    first = back_up_onto(filled, shelf, Retention(1, 0, 0), NOW)

    def spoilt(register: SqlRegister, to: Path) -> object:
        head = back_up(register, to)
        to.write_bytes(to.read_bytes().replace(b'"item":"bolt"', b'"item":"bold"'))
        return head

    monkeypatch.setattr(backup_bucket, "back_up", spoilt)
    with pytest.raises(OutputError, match=r"does not hold .*its hash does not fit"):
        back_up_onto(filled, shelf, Retention(0, 0, 0), NOW + timedelta(days=1))
    names = {key.partition("/")[2] for key in objects(store) if key.startswith("belts/")}
    assert first.name in names and "register-20260505T060000Z.backup.damaged" in names


def test_the_command_and_what_it_says_when_the_store_does_not_answer(
    filled: SqlRegister, bucket: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ["register", "backups", bucket, "--register", str(tmp_path / "register.sqlite")]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    assert re.match(r"s3://kept/belts/register-\S+: 4 facts, restored beside", done.output)
    words[2] = "s3://nowhere/belts"
    refused = CliRunner().invoke(main, words)
    assert refused.exit_code == 2
    assert "s3://nowhere/belts took no backup; nothing was removed" in refused.output
    assert "bucket does not exist" in refused.output and "<" not in refused.output
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    monkeypatch.setenv("AWS_ENDPOINT_URL", f"http://127.0.0.1:{port}")
    refused = CliRunner().invoke(main, words)
    assert refused.exit_code == 2 and "took no backup; nothing was removed" in refused.output
    assert "Traceback" not in refused.output and "invented" not in refused.output


def test_a_place_that_cannot_be_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("AWS_ENDPOINT_URL", raising=False)
    for url in ("s3://", "s3:///x", "s3://b/x?y=1"):
        with pytest.raises(InputError, match="accepted is s3://BUCKET/PREFIX"):
            Bucket(url)
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://store.example.org")
    with pytest.raises(InputError, match="without encryption; accepted is an endpoint that begins"):
        Bucket("s3://kept/belts")
