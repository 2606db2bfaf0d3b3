"""Failures in any order, on two phones and a server: nothing acknowledged is lost, nothing comes
twice, and nothing is wrong without somebody being told.

An entry counts as acknowledged when the phone has said that it is kept. It may be gone only where
the browser deleted it, alone or with the register set back beside it, and then its phone says so.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from fastapi import FastAPI
from playwright.sync_api import Browser

from depth import sized
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account
from web.between import Between
from web.conftest import Begun, Clock
from web.two_phones import EVENTS, FIRST, stage

LENGTH = 25
"""In one run."""
FOUND = {
    760: FIRST,  # newer receipts hid that the register was set back: lost ones were never offered
    20003: EVENTS,  # a register set back was offered a signature before what it signs
}
"""Seeds that found something, with what was drawn then."""


def test_sequences_of_failures(
    browser: Browser, site: str, app: FastAPI, between: Between, begun: Begun, clock: Clock,
    people: dict[str, Account], job: RecordedPlan, tmp_path: Path,
) -> None:  # fmt: skip
    assert begun.job == job and begun.people == people
    with stage(browser, site, app, between, begun, clock) as ready:
        for seed in (*FOUND, *range(sized(4, deep=1000))):
            drawn = FOUND.get(seed, EVENTS)
            story = ready.play(seed, LENGTH, tmp_path / str(seed), drawn)
            faults = story.faults()
            assert not faults, (seed, faults, story.done)
            story.register.close()
            shutil.rmtree(story.folder)  # a thousand runs would fill the disk
