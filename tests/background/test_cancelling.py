"""Work that lasts asks in the middle of its loops whether it is to go on, and ends there."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from depth import PATIENCE, ended
from photographs.rendering import draw, photograph
from photographs.scenes import SMALL, bars_of
from planned import SITE, planned
from splicewright.actions.example_site import open_example
from splicewright.background import worker as doing
from splicewright.background.queue import Queue
from splicewright.background.requests import Background, ask_fleet
from splicewright.background.worker import Worker
from splicewright.cli import main
from splicewright.photographs.measuring import measure_pictures
from splicewright.photographs.picture import read_picture
from splicewright.quantities.going_on import asking, go_on
from splicewright.sheets.canvas.paper import PAPERS
from splicewright.sheets.crew_pack.files import pack
from splicewright.store.background import TaskState
from splicewright.store.sql.register import open_register
from store.making import Clock


class StoppedError(Exception):
    """What ends the work here."""


class Asked:
    """Counts how often work asks, and ends it at one time."""

    def __init__(self, at: int = 0) -> None:
        self.times, self.at = 0, at

    def __call__(self) -> None:
        self.times += 1
        if self.times == self.at:
            raise StoppedError


def asks(words: list[str], at: int = 0) -> tuple[int, bool]:
    """How often a command asked, and whether it was ended by that."""
    asked = Asked(at)
    with asking(asked):
        done = CliRunner().invoke(main, words)
    stopped = isinstance(done.exception, StoppedError)
    assert stopped or done.exit_code == 0, done.output
    return asked.times, stopped


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("cancelled") / "register.sqlite"
    with open_register(place, clock=Clock()) as register:
        open_example(register, SITE, now=Clock()())
    return place


@pytest.mark.parametrize(
    "words",
    [
        ["life", str(SITE / "history" / "joint-lives.csv")],
        ["shutdown", str(SITE / "history" / "incline-shutdown.toml")],
        ["fleet"],
        ["planner", "--planned-cost", "3000", "--failure-cost", "24000"],
        ["when", "--look", "100", "--planned", "3000", "--failure", "24000"],
    ],
    ids=lambda words: words[0],
)
def test_a_question_ends_at_whatever_loop_it_is(words: list[str], example: Path) -> None:
    if not words[-1].startswith("/"):
        words = [*words, "--register", str(example), "--today", "2026-11-01"]
    often, stopped = asks(words)
    assert often >= 5 and not stopped
    for at in {1, often // 3, often // 2, often}:
        assert asks(words, at) == (at, True)


def _pack() -> None:
    pack(planned("incline", "incline-worn-joint"), "metric", PAPERS["A4"])


def _measured() -> None:
    scene = draw(5003, size=SMALL, shadows=())
    measure_pictures([read_picture(photograph(scene), "end.jpg")], bars_of(scene, 5003))


@pytest.mark.parametrize("work", [_pack, _measured])
def test_a_pack_and_a_photograph_end_in_their_middle(work: Callable[[], None]) -> None:
    """Of several it is heard within one, not only before the next."""

    def ask(at: int = 0) -> tuple[int, bool]:
        asked = Asked(at)
        with asking(asked):
            try:
                work()
            except StoppedError:
                return asked.times, True
        return asked.times, False

    often, stopped = ask()
    assert often >= 10 and not stopped
    for at in {1, often // 2, often}:
        assert ask(at) == (at, True)


def test_nobody_asks_where_nobody_waits() -> None:
    go_on()
    with asking(Asked(1)), pytest.raises(StoppedError):
        go_on()
    go_on()


def test_a_worker_hears_it_in_the_middle_of_the_work(
    example: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A study that would never end by itself and tells nothing."""
    begun = threading.Event()

    def endless(*_: object) -> None:
        begun.set()
        while True:
            go_on()

    monkeypatch.setattr(doing, "do", endless)
    with open_register(example) as register:
        worker = Worker(register, Queue(example), patience=0.4)
        queue = Queue(example)
        task = ask_fleet(Background(worker.tasks, queue), site=None, ahead=1e6, by="Ada").task
        thread = threading.Thread(target=worker.work, args=(task,))
        thread.start()
        assert begun.wait(PATIENCE), "the work never began"
        assert worker.tasks.cancel(task)
        ended(thread)
        found = worker.tasks.task(task)
        assert found is not None and found.state is TaskState.CANCELLED
        queue.close()
