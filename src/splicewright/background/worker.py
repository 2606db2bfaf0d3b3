"""A worker: takes tasks off the queue, does them, says how far it is, and how it ended.

A worker that is killed loses nothing: its sign of life stays out, and the next worker that looks
round takes the task up again.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4

from splicewright.actions.notices import MailServer, mail_server, send_notices
from splicewright.background.hooks import deliver
from splicewright.background.notices import PushSender, push_notices, push_sender
from splicewright.background.queue import Queue
from splicewright.background.work import do
from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.quantities.going_on import asking
from splicewright.store import CONSOLE, Actor, BusyError, FullError, Scope
from splicewright.store.background import (
    PATIENCE,
    BackgroundTask,
    BackgroundTasks,
    CancelledError,
    LostError,
)
from splicewright.store.sites import both
from splicewright.store.sql.register import SqlRegister, open_register

_LOG = logging.getLogger(__name__)
GRACE = 3.0
"""How long work under way may take once a worker is told to stop [s]."""
_ROUND = 1.0
"""How often it is looked whether a hook has something to tell [s]."""
_NOTICES_EVERY = 60.0
"""How often a worker looks whether somebody is to be told something [s]."""
_TOLD_EVERY = 0.3
"""How often progress is written down at most [s]."""


def _system_clock() -> datetime:
    return datetime.now(UTC)


class Worker:
    """Does tasks of one register.

    Parameters
    ----------
    patience : as for `BackgroundTasks` [s]
    mail, push : through which people are told what they asked for; None sends nothing
    """

    def __init__(
        self,
        register: SqlRegister,
        queue: Queue,
        *,
        clock: Callable[[], datetime] = _system_clock,
        patience: float = PATIENCE,
        mail: MailServer | None = None,
        push: PushSender | None = None,
    ) -> None:
        self._mail, self._push, self._told = mail, push, -_NOTICES_EVERY
        self._register = register
        self._queue = queue
        self._clock = clock
        self.tasks: BackgroundTasks = register.tasks(patience)
        self._name = f"{socket.gethostname()[:60]} {os.getpid()}"
        self._current: dict[UUID, BackgroundTask] = {}

    def work(self, id: UUID) -> None:
        """Take the task of that id and do it; nothing when another has it or it is over."""
        task = self.tasks.take(id, self._name)
        if task is None:
            return
        self._current[id] = task
        life = _Life(self.tasks, task)
        try:
            self._do(task, life)
        except LostError:
            _LOG.info("task %s is another worker's now", id)
        except (BusyError, FullError) as error:
            # It is taken up again when its sign of life has stayed out, not at once.
            _LOG.warning("task %s could not go on: %s", id, error)
        finally:
            life.end()
            del self._current[id]

    def look_round(self) -> int:
        """Queue again what nobody attends to, and let go of what is old; gives how many."""
        if not self._queue.empty():
            return 0  # those who wait will be attended to; let no id stand there twice
        waiting = self.tasks.unattended()
        for id in waiting:
            self._queue.put(id)
        self.tasks.forget_old()
        return len(waiting)

    def tell_others(self) -> int:
        """Give one hook its turn; see `deliver`."""
        return deliver(self._register, self._register.hooks(), self._name, self._clock)

    def tell_people(self) -> None:
        """Send mails and messages to phones that people asked for, now and then."""
        now = time.monotonic()
        if now - self._told < _NOTICES_EVERY:
            return
        self._told = now
        if self._mail is not None:
            send_notices(self._register, self._mail, self._clock())
        if self._push is not None:
            push_notices(self._register, self._push, self._clock())

    @property
    def busy(self) -> bool:
        """Whether something is under way."""
        return bool(self._current)

    def give_back(self) -> None:
        """Give back what is under way: this worker stops."""
        for task in list(self._current.values()):
            try:
                self.tasks.give_back(task)
            except SplicewrightError as error:
                _LOG.warning("task %s could not be given back: %s", task.task, error)

    def _asker(self, task: BackgroundTask) -> Actor:
        """Who asked, with the role and sites they have now: both may have changed since they asked.

        Raises
        ------
        InputError
            Their account was closed meanwhile.
        """
        if task.account is None:
            return CONSOLE
        there = self._register.accounts().account(task.account)
        if there is None or there.closed is not None:
            raise InputError(Fault("account", f"{task.by}'s account is closed; nothing was done"))
        sites = both(there.sites, task.sites)
        return Actor(there.account, task.by, there.role, frozenset({Scope.RECORD}), sites=sites)

    def _do(self, task: BackgroundTask, life: _Life) -> None:
        try:
            given = self.tasks.given(task.task)
            register = self._register.said_by(self._asker(task))
            with asking(life.ask):
                answer, file = do(register, task, given, self._clock(), life.tell)
            life.end()
            self.tasks.finish(task, answer, file)
        except CancelledError:
            self.tasks.stop(task, _stopped(task, life.step))
        except (LostError, BusyError, FullError):
            raise
        except SplicewrightError as error:
            self.tasks.fail(task, str(error))
        except Exception:
            number = uuid4().hex[:8]
            _LOG.exception("task %s failed (%s)", task.task, number)
            say = (
                "Something went wrong that should not; nothing you did wrong. Tell whoever keeps "
                f"this server the number {number}: it stands in the server's log."
            )
            self.tasks.fail(task, say)


class _Life:
    """Signs of life while a background task is done, and the word that it is to stop."""

    def __init__(self, tasks: BackgroundTasks, task: BackgroundTask) -> None:
        self._tasks, self._task = tasks, task
        self._over = threading.Event()
        self._stop: CancelledError | LostError | None = None
        self._told = 0.0
        self.step = ""
        self._thread = threading.Thread(target=self._beat, daemon=True)
        self._thread.start()

    def ask(self) -> None:
        """Raises when the work is to stop; see `quantities.going_on`."""
        if self._stop is not None:
            raise self._stop

    def tell(self, done: int, total: int, step: str) -> None:
        """Write down how far the work is, now and then; see `Tell`."""
        self.ask()
        self.step = step
        now = time.monotonic()
        if now - self._told < _TOLD_EVERY:
            return
        self._told = now
        self._tasks.tell(self._task, done, total, step)

    def end(self) -> None:
        """The work is over; give no sign any more."""
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        # Three signs may be late before anybody takes the task up.
        while not self._over.wait(self._tasks.patience / 4):
            try:
                self._tasks.beat(self._task)
            except (CancelledError, LostError) as stop:
                self._stop = stop
                return
            except SplicewrightError as error:
                _LOG.warning("task %s: no sign of life now: %s", self._task.task, error)


def run_worker(
    where: str | Path,
    *,
    threads: int = 1,
    patience: float = PATIENCE,
    while_parent: bool = False,
) -> None:
    """Work until told to stop (SIGINT, SIGTERM). Must run in the main thread of a process.

    Parameters
    ----------
    where : file or URL of the register
    patience : take up tasks whose worker gave no sign of life for so long [s]
    while_parent : also stop when standard input is closed, as it is when the parent dies

    Raises
    ------
    InputError, BusyError, DamagedError
        The register cannot be opened.
    """
    queue = Queue(where)
    with open_register(where, check=False, make=False) as register:
        worker = Worker(register, queue, patience=patience, mail=mail_server(), push=push_sender())
        consumer = queue.consumer(worker.work, threads)
        over = threading.Event()
        threading.Thread(target=_look_round, args=(worker, over, patience), daemon=True).start()
        threading.Thread(target=_tell_others, args=(worker, over), daemon=True).start()
        threading.Thread(target=_end, args=(worker, consumer.stop_flag), daemon=True).start()
        if while_parent:
            threading.Thread(target=_stop_with_parent, daemon=True).start()
        try:
            consumer.run()
        finally:
            over.set()
            worker.give_back()
            queue.close()
            if worker.busy:
                os._exit(0)  # tidying up beside a thread at work takes longer than all else


def _look_round(worker: Worker, over: threading.Event, patience: float) -> None:
    while True:
        try:
            worker.look_round()
            worker.tell_people()
        except Exception as error:  # busy, away, full: the next round sees
            _LOG.warning("could not look round: %s", error)
        if over.wait(max(0.2, patience / 5)):
            return


def _tell_others(worker: Worker, over: threading.Event) -> None:
    while not over.is_set():
        try:
            if worker.tell_others() >= 0:
                continue
        except Exception as error:  # busy, away, full: the next round sees
            _LOG.warning("could not tell other systems: %s", error)
        over.wait(_ROUND)


def _end(worker: Worker, stop: threading.Event) -> None:
    """End soon after it is told to, even where the register is busy and takes nothing back.

    Threads at work cannot be stopped. Who takes their work up begins again.
    """
    stop.wait()
    time.sleep(GRACE)
    os._exit(0)


def _stop_with_parent() -> None:
    while sys.stdin.buffer.read(1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)


def _stopped(task: BackgroundTask, step: str) -> str:
    if task.kind.value == "import" and task.asked.get("step") == "apply":
        return (
            f"Cancelled at: {step or 'the start'}. What was recorded until then stays; importing "
            "the same file again records the rest and nothing twice."
        )
    return f"Cancelled at: {step or 'the start'}."
