"""Whatever a program sends, the API answers as it says: no 5xx, answers that fit their schema."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from depth import sized
from planned import SITE
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.background.requests import ask_import
from splicewright.store import Fact, PersonRole, Scope
from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.joint_facts import JointPlanned
from splicewright.store.facts.plant_facts import BeltPlaced
from splicewright.store.sql.register import open_register
from web.calling import API, Office, contract
from web.conftest import PASSWORD, Clock

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
OPERATIONS = [
    (method.upper(), path)
    for path, routes in sorted(contract()["paths"].items())
    for method in sorted(routes)
]


class Target:
    """One app for all operations, a key for all of it, and ids of things that are there."""

    def __init__(self, office: Office, key: str, known: dict[str, str]) -> None:
        self.headers = {"Authorization": f"Bearer {key}"}
        self.known = known
        self.schema: Any = schemathesis.openapi.from_asgi(f"{API}/openapi.json", office.app)


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    path, clock = tmp_path_factory.mktemp("fuzz") / "register.sqlite", Clock()
    with open_register(path, clock=clock) as register:
        file = SITE / "conveyors" / "flat.toml"
        there = record_conveyor(register, file, by="Ada Example", now=clock())
        accounts = register.accounts(hash_memory=64)
        secret = accounts.invite("Ada Example", PersonRole.ADMIN, None)
        admin = accounts.accept(secret, "ada", PASSWORD).account
        belt, joint, job = uuid4(), uuid4(), uuid4()
        for what in (
            BeltPlaced(belt, there.conveyor, "belt", 120.0),
            JointPlanned(joint, there.conveyor, "J1", belt, 10.0),
            JobOpened(job, there.conveyor, "renew J1", joint),
        ):
            register.append(Fact(uuid4(), clock(), "Ada Example", what))
        office = Office(register, accounts, clock, path)
        until = clock.now + timedelta(days=9)
        key = accounts.make_token(admin, "fuzzing", {Scope.ADMIN}, until, None)
        task = ask_import(
            office.background, "stock", "a.csv", b"a,b\n", by="Ada Example", account=admin
        ).task
        known = {
            "site": there.site, "conveyor": there.conveyor, "belt": belt, "joint": joint,
            "job": job, "task": task, "about": joint,
        }  # fmt: skip
        yield Target(office, key, {name: str(id) for name, id in known.items()})
        office.queue.close()


@pytest.mark.parametrize(("method", "path"), OPERATIONS, ids=lambda part: part)
def test_the_api_answers_as_it_says(method: str, path: str, target: Target) -> None:
    cases = target.schema[path][method].as_strategy()

    @settings(
        max_examples=sized(6, deep=120), deadline=None, database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=cases, there=st.booleans())
    def answers(case: schemathesis.Case[Any], there: bool) -> None:
        if there:  # half of the requests are about things that are there
            for sent in (case.path_parameters, case.query, case.body):
                if isinstance(sent, dict):
                    sent.update({n: target.known[n] for n in sent if n in target.known})
        case.call_and_validate(headers=target.headers, checks=CHECKS)

    answers()
