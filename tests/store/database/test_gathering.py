"""Calls of several threads in one transaction: who is answered, when, and with what."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from uuid import uuid4

import pytest
from sqlalchemy import event

from depth import PATIENCE
from splicewright.errors import InputError
from splicewright.store import Fact, FullError, Receipt
from splicewright.store.database.gathering import MOST, Gathering
from splicewright.store.facts.joint_facts import JointBuilt
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister
from store.making import Plant


class Gate:
    """Does calls together; the first waits until it is opened, so that others gather."""

    def __init__(self) -> None:
        self.begun, self.opened = threading.Event(), threading.Event()
        self.alone = threading.Lock()
        self.batches: list[list[int]] = []

    def __call__(self, calls: Sequence[int]) -> list[int | Exception]:
        assert self.alone.acquire(blocking=False), "two transactions at once"
        try:
            self.batches.append(list(calls))
            self.begun.set()
            assert self.opened.wait(PATIENCE)
            time.sleep(0.01)
        finally:
            self.alone.release()
        if 13 in calls:
            raise FullError("the disk took nothing more")
        return [ValueError(f"not {c}") if c < 0 else 10 * c for c in calls]


def gathered(gate: Gate, calls: Sequence[int]) -> list[Future[int]]:
    """Ends of the calls: the first is being done while all others come."""
    gathering: Gathering[int, int] = Gathering(gate)
    with ThreadPoolExecutor(len(calls)) as threads:
        ends = [threads.submit(gathering.do, calls[0])]
        assert gate.begun.wait(20)
        ends += [threads.submit(gathering.do, call) for call in calls[1:]]
        while len(gathering._waiting) < len(calls) - 1:
            pass
        gate.opened.set()
    return ends


def test_those_who_come_meanwhile_go_together() -> None:
    gate = Gate()
    assert [end.result(PATIENCE) for end in gathered(gate, range(1, 9))] == [
        10 * n for n in range(1, 9)
    ]
    assert [len(batch) for batch in gate.batches] == [1, 7]


def test_more_than_one_transaction_takes_go_one_after_the_other() -> None:
    gate = Gate()
    calls = range(100, 100 + MOST + 6)
    assert [end.result(PATIENCE) for end in gathered(gate, calls)] == [10 * n for n in calls]
    assert [len(batch) for batch in gate.batches] == [1, MOST, 5]


def test_never_two_transactions_at_once() -> None:
    gate = Gate()
    gate.opened.set()
    gathering: Gathering[int, int] = Gathering(gate)
    with ThreadPoolExecutor(12) as threads:
        ends = list(threads.map(gathering.do, range(20, 120)))
    assert ends == [10 * n for n in range(20, 120)]
    assert sorted(n for batch in gate.batches for n in batch) == list(range(20, 120))


def test_an_error_of_one_call_is_its_own() -> None:
    first, bad, good = gathered(Gate(), [1, -2, 3])
    assert (first.result(PATIENCE), good.result(PATIENCE)) == (10, 30)
    with pytest.raises(ValueError, match="not -2"):
        bad.result(PATIENCE)


def test_what_stops_the_transaction_stops_all_in_it_and_nobody_else() -> None:
    gate = Gate()
    first, *others = gathered(gate, [1, 13, 3])
    assert first.result(PATIENCE) == 10
    for end in others:
        with pytest.raises(FullError):
            end.result(PATIENCE)
    again: Gathering[int, int] = Gathering(gate)
    assert again.do(4) == 40


def test_the_register_commits_once_for_many_and_refuses_only_what_is_wrong(
    register: SqlRegister, plant: Plant
) -> None:
    commits, waits = [0], threading.Event()
    engine = register._engine

    def committing(_: object) -> None:
        commits[0] += 1
        waits.wait(1.0)  # a slow disk

    event.listen(engine, "commit", committing)
    try:
        facts = [plant.fact(StockMoved(plant.site, "bolt", 1.0)) for _ in range(24)]
        stranger = plant.fact(JointBuilt(uuid4()))
        facts.insert(12, stranger)

        def send(fact: Fact) -> tuple[Receipt, ...] | InputError:
            try:
                return register.append(fact)
            except InputError as error:
                return error

        with ThreadPoolExecutor(len(facts)) as threads:
            ends = list(threads.map(send, facts))
    finally:
        event.remove(engine, "commit", committing)
    assert commits[0] < 12
    refused = [fact for fact, end in zip(facts, ends, strict=True) if isinstance(end, InputError)]
    assert refused == [stranger]
    assert register.stock(plant.site)[0].count == 24.0
    assert register.known(f.id for f in facts) == {f.id for f in facts} - {stranger.id}
    verified = register.verify()
    assert (verified.faults, verified.head.seq) == ((), 3 + 24)


def test_reads_of_one_moment_do_not_see_what_comes_meanwhile(
    register: SqlRegister, plant: Plant
) -> None:
    def record() -> None:
        register.append(plant.fact(StockMoved(plant.site, "bolt", 5.0)))

    with ThreadPoolExecutor(1) as other:
        with register.at_one_moment():
            before = register.head()
            other.submit(record).result(PATIENCE)
            assert register.head() == before
            assert register.stock(plant.site) == ()
            with register.at_one_moment():  # one inside another is the same moment
                assert register.head() == before
            assert register.head() == before
        assert register.head().seq == before.seq + 1
        assert register.stock(plant.site)[0].count == 5.0
