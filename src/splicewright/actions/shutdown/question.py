"""The questions of a shutdown: does the work fit, and which joints are renewed in it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import ByRegister, Currency, Inquiry, OneConveyor, Source, plain
from splicewright.actions.shutdown.plan import STEP_TOOLS, Hands, jobs_called, plan_shutdown
from splicewright.errors import Fault
from splicewright.files.answers import (
    Answer,
    Day,
    FileOf,
    Money,
    Number,
    Several,
    Tick,
    Typed,
    Whole,
    Words,
    refused,
)
from splicewright.files.question import Ask
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind
from splicewright.quantities.limits import beyond_days

if TYPE_CHECKING:
    from typing import Any

    from splicewright.actions.shutdown.choose_joints import WindowRules
    from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
    from splicewright.history.shutdown.study import ShutdownStudy
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document

_WINDOW = Typed(Kind.TIME, above_zero=True)
_PEOPLE = Whole(1, 200, "number of people")
_SETS = Whole(1, 200)
_KNOWN = ", ".join(STEP_TOOLS.values())
_Together = Annotated[
    float,
    Number(0.0, 1.0, Kind.SHARE),
    Ask(
        "All work slowed or sped up together",
        "Scatter by which weather, access or a tired crew slow or speed up all work of a run "
        "together; without it each task scatters by itself, and the end is told too early where "
        "they do.",
        "10 %",
        hint="Weather, access, a tired crew; left empty, each task scatters by itself.",
    ),
]
_FEW_TOOLS = f'A tool there are few of, "punch=1"; repeat it. Known are {_KNOWN}.'


class Tool(Answer):
    """A tool with its number."""

    metavar = "TOOL=NUMBER"

    def check(self, raw: Any) -> tuple[str, int]:
        """Name and number."""
        name, _, number = raw.partition("=") if isinstance(raw, str) else ("", "", "")
        count = number.strip()
        if not (count.isascii() and count.isdecimal() and 0 < int(count[:9]) <= 200):
            raise refused(f'"{raw}" is no tool with its number, such as "punch=1"')
        return name.strip(), int(count)


class JobsAsked(OneConveyor):
    """Say whether planned jobs fit a window side by side."""

    job: Annotated[
        tuple[str, ...],
        Several(Words(200)),
        Ask(
            "Jobs, in order of priority",
            "Open planned job, or its joint; repeat it.",
            doors=("command", "program"),
        ),
    ] = ()
    window: Annotated[
        str, _WINDOW, Ask("Time available", 'For the jobs, such as "12 h".', "12 h")
    ] = ""
    crew: Annotated[
        int | None, _PEOPLE, Ask("People at work", "People working on the jobs.", "6")
    ] = None
    clamp_sets: Annotated[
        int | None,
        _SETS,
        Ask(
            "Sets of restraining clamps",
            "Sets of restraining clamps; one to each job else.",
            "one to each job",
            formerly=("clamps",),
        ),
    ] = None
    presses: Annotated[
        int | None, _SETS, Ask("Presses", "Presses; one to each job without it.", "one to each job")
    ] = None
    tool: Annotated[
        tuple[tuple[str, int], ...],
        Several(Tool()),
        Ask("Tools there are few of", _FEW_TOOLS, "punch=1", hint=f"Known are {_KNOWN}."),
    ] = ()
    common_cause: _Together = 0.0
    begins: Annotated[
        str,
        Words(25),
        Ask(
            "Window begins",
            'Day and time, such as "2026-05-04 06:00": ends then have their day and time.',
            "2026-05-04 06:00",
        ),
    ] = ""

    def faults(self) -> list[Fault]:
        """Jobs need a window and a crew."""
        wording = "is not given; planned jobs of the register need it"
        faults = [Fault(k, wording) for k in ("window", "crew") if not getattr(self, k)]
        try:
            why = beyond_days(self.start.date()) if self.start else ""
        except ValueError:
            why = 'is no day and time such as "2026-05-04 06:00"'
        if why:
            faults.append(Fault("begins", f'"{self.begins}" {why}'))
        return faults

    @property
    def start(self) -> datetime | None:
        """When the window begins; None where that is not stated."""
        return datetime.fromisoformat(self.begins) if self.begins else None

    @property
    def hands(self) -> Hands:
        """Who and what there is."""
        return Hands(self.crew or 1, self.clamp_sets or 0, self.presses or 0, dict(self.tool))


class ShutdownAsked(JobsAsked):
    """Say whether the work in TASKS (TOML) fits the window, what holds it up, what more buys.

    With --register the steps of past jobs say how long tasks take. Without TASKS the tasks are
    the steps of planned jobs of the register: all open ones, or those named by --job, side by
    side within --window by --crew.
    """

    tasks: Annotated[
        Readable | None,
        FileOf("toml"),
        Ask("Shutdown file (TOML)", option="TASKS", doors=("command", "program")),
    ] = None

    def faults(self) -> list[Fault]:
        """A file holds its own window, crew and tools."""
        if self.tasks is None:
            more = " (or give a file of tasks)"
            return [Fault(f.key, f.sentence + more) for f in super().faults()]
        wording = "goes with planned jobs, without {tasks}; a shutdown file holds its own"
        own = ("job", "window", "crew", "clamp_sets", "presses", "tool", "common_cause", "begins")
        return [Fault(key, wording) for key in own if getattr(self, key)]


def answer_jobs(asked: JobsAsked, source: Source) -> ShutdownStudy:
    """Simulate planned jobs of the register side by side.

    Raises InputError: no such job, or fewer people than a plan needs.
    """
    with source.open() as register:
        chosen = jobs_called(register, asked.job, asked.conveyor)
        return plan_shutdown(
            register,
            source.now(asked),
            chosen,
            asked.window,
            asked.hands,
            common_cause=asked.common_cause,
            begins=asked.start,
        )


def answer_shutdown(asked: ShutdownAsked, source: Source) -> ShutdownStudy:
    """Simulate the tasks of a file, or planned jobs.

    Raises InputError: anything wrong in the file, or tasks the crew cannot do.
    """
    from splicewright.actions.shutdown.judge import judge_shutdown

    if asked.tasks is None:
        return answer_jobs(asked, source)
    if not source.recorded(asked):
        return judge_shutdown(asked.tasks)
    with source.open() as register:
        return judge_shutdown(
            asked.tasks, register=register, now=source.now(asked), conveyor=asked.conveyor
        )


def _document(study: ShutdownStudy, units: System) -> Document:
    from splicewright.sheets.reports.shutdown import shutdown_report

    return shutdown_report(study)


def _more(study: ShutdownStudy, units: System) -> Mapping[str, bytes]:
    from splicewright.sheets.drawings.shutdown import shutdown_text

    return {"shutdown.txt": ("\n".join(shutdown_text(study)) + "\n").encode()}


def _record(study: ShutdownStudy) -> Record:
    from splicewright.history.shutdown.worksheet import record_of_shutdown

    return record_of_shutdown(study)


SHUTDOWN: Inquiry[ShutdownAsked, ShutdownStudy] = Inquiry(
    "shutdown",
    ShutdownAsked,
    answer_shutdown,
    _document,
    lambda s: {"shutdown": plain(s)},
    "shutdown",
    "shutdown",
    _more,
    record=_record,
    in_units=False,
)


class JointsAsked(ByRegister):
    """Which joints of the register to renew in a shutdown, for the least expected cost."""

    window: Annotated[str, _WINDOW, Ask("Time available", 'Such as "12 h".', "12 h")]
    crew: Annotated[int, _PEOPLE, Ask("People at work", example="6")]
    gang: Annotated[
        int, Whole(1, 50, "number of people"), Ask("People at one joint", example="2")
    ] = 2
    on: Annotated[
        date | None,
        Day(),
        Ask("Day of this shutdown", "By the register: day of this shutdown. Without it: today."),
    ] = None
    until: Annotated[
        date | None,
        Day(),
        Ask(
            "The shutdown after this one",
            "By the register: day of the shutdown after this one; what is left may fail before it.",
        ),
    ] = None
    each: Annotated[
        str,
        Typed(Kind.TIME),
        Ask(
            "Crew hours of one renewal",
            'By the register: crew hours of one renewal, "20 h".',
            "20 h",
        ),
    ] = ""
    opening: Annotated[
        str,
        Typed(Kind.TIME),
        Ask(
            "Crew hours to open up a conveyor",
            "By the register: crew hours to open up a conveyor.",
            "6 h",
        ),
    ] = ""
    renewal: Annotated[float | None, Money(), Ask("Cost of a renewal", example="6000")] = None
    failure: Annotated[
        float | None, Money(), Ask("Cost of a failure, its stop included", example="40000")
    ] = None
    currency: Currency = ""
    power_share: Annotated[
        float,
        Number(0.05, 1.0, Kind.SHARE),
        Ask(
            "With power tools: share of a renewal's time",
            "Share of a renewal's time that it takes with power tools, to see what they buy.",
            "70 %",
            formerly=("power",),
        ),
    ] = 1.0
    chance: Annotated[
        float,
        Number(0.01, 0.999, Kind.SHARE),
        Ask(
            "Chance to finish in time",
            "Chance to finish within the window that the chosen joints must have.",
            "80 %",
        ),
    ] = 0.8
    overrun: Annotated[
        float | None,
        Money(),
        Ask(
            "Cost of an hour beyond the window",
            "Cost of an hour beyond the window; without it, "
            "what is not done by then saves nothing.",
            "4000",
        ),
    ] = None
    one_at_a_time: Annotated[
        bool, Tick(), Ask("One joint at a time", "One joint of a conveyor at once.")
    ] = False
    common_cause: _Together = 0.0

    @property
    def rules(self) -> WindowRules:
        """What the chosen set must keep to."""
        from splicewright.actions.shutdown.choose_joints import WindowRules

        hour = math.nan if self.overrun is None else self.overrun / 3600
        return WindowRules(self.chance, hour, self.one_at_a_time, self.common_cause)

    def faults(self) -> list[Fault]:
        """What only a table of joints could say."""
        wording = "is not given"
        needed = ("until", "each", "failure", "renewal")
        return [Fault(k, wording) for k in needed if getattr(self, k) in (None, "")]


class ChooseAsked(JointsAsked):
    """Choose which of JOINTS (CSV) to renew in a shutdown, for the least expected cost.

    Without JOINTS the running joints of the register; then --until, --each, --failure and
    --renewal say what a renewal takes and what a failure costs. Use one currency for all costs.
    """

    joints: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask("Table of joints (CSV)", option="JOINTS", doors=("command", "program")),
    ] = None

    def faults(self) -> list[Fault]:
        """A table says it all."""
        if self.joints is not None:
            return []
        more = "; by the register it must be (or give a table of joints)"
        return [Fault(f.key, f.sentence + more) for f in super().faults()]


def answer_joints(asked: JointsAsked, source: Source) -> ChoosingStudy:
    """Choose among the running joints of the register.

    Raises InputError: no running joint, no failure on file, or values that cannot be.
    """
    from splicewright.actions.shutdown.choose_joints import choose_recorded_joints

    assert asked.until is not None and asked.failure is not None and asked.renewal is not None
    with source.open() as register:
        return choose_recorded_joints(
            register,
            source.now(asked),
            asked.window,
            asked.crew,
            on=asked.on,
            until=asked.until,
            each=asked.each,
            failure_cost=asked.failure,
            renewal_cost=asked.renewal,
            opening=asked.opening,
            gang=asked.gang,
            power_share=asked.power_share,
            conveyor=asked.conveyor,
            use=asked.use,
            rules=asked.rules,
            currency=asked.currency,
        )


def answer_choose(asked: ChooseAsked, source: Source) -> ChoosingStudy:
    """Choose among the joints of a table, or of the register.

    Raises InputError: anything wrong in the table or the values.
    """
    from splicewright.actions.shutdown.choose_joints import choose_joints

    source.refuse_beside("joints", asked.joints)
    if asked.joints is None:
        return answer_joints(asked, source)
    return choose_joints(
        asked.joints,
        asked.window,
        asked.crew,
        gang=asked.gang,
        power_share=asked.power_share,
        rules=asked.rules,
        currency=asked.currency,
    )


def _choice(study: ChoosingStudy, units: System) -> Document:
    from splicewright.sheets.reports.shutdown import choice_report

    return choice_report(study)


def _record_of_choice(study: ChoosingStudy) -> Record:
    from splicewright.history.shutdown.worksheet import record_of_choice

    return record_of_choice(study)


CHOOSE: Inquiry[ChooseAsked, ChoosingStudy] = Inquiry(
    "choose",
    ChooseAsked,
    answer_choose,
    _choice,
    lambda s: {"choose": plain(s)},
    "choice",
    "choose",
    record=_record_of_choice,
    in_units=False,
)
