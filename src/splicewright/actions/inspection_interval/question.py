"""The question of when: at what age to renew a joint, and how often to inspect."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any

from splicewright.actions.question import SHAPE, ByRegister, Inquiry, Source, UseADay, plain
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf, Money, Number, Tick, TypedUse
from splicewright.files.question import Ask, Door
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, Record, key_of

if TYPE_CHECKING:
    from datetime import date

    from splicewright.history.inspection_interval.study import WhenToLook, WhenToRenew
    from splicewright.history.pace import Pace
    from splicewright.quantities import System
    from splicewright.quantities.measure import Measure
    from splicewright.sheets.pages.document import Document

_NO_PAGE: tuple[Door, ...] = ("command", "program")
_Cost = Annotated[float | None, Money()]

FOUND = 0.8
"""Chance that an inspection finds damage that is there, where nobody stated one: an assumption."""


class LookAsked(ByRegister):
    """How often to inspect: what damage is found, how fast it grows, what things cost."""

    found: Annotated[
        float | None,
        Number(0.0, 1.0, Kind.SHARE, above=True),
        Ask(
            "Chance that an inspection finds existing damage",
            "Chance that an inspection finds existing damage. Without it: 80 %, or 100 % where all "
            "delays are alike.",
            "80 %",
            hint="Blank: 80 %, or 100 % where all delays are alike. It is rarely measured, and "
            "lower is the safe side.",
        ),
    ] = None
    look: Annotated[
        _Cost,
        Ask(
            "Cost of an inspection",
            "Cost of one inspection. By the register, how often damage begins and how fast "
            "it grows are learnt, from three failures on.",
            "250",
        ),
    ] = None
    planned: Annotated[
        _Cost,
        Ask(
            "Cost of damage found in time",
            "Cost of a planned renewal, or of damage found.",
            "6000",
            formerly=("repair",),
        ),
    ] = None
    failure: Annotated[_Cost, Ask("Cost of a failure, its stop included", example="40000")] = None
    every: Annotated[
        str,
        TypedUse(),
        Ask(
            "New damage every",
            "Use from one new damage to the next, on average; by the "
            "register only while too little is on file.",
            "4000 h",
            option="damage-every",
            hint="Use from one new damage to the next, on average.",
        ),
    ] = ""
    delay: Annotated[
        str,
        TypedUse(),
        Ask(
            "From seen to failed",
            "Use from damage that can be seen to the failure, on average.",
            "600 h",
            hint="Use from the day damage can be seen to the failure, on average.",
        ),
    ] = ""
    fixed: Annotated[
        bool,
        Tick(),
        Ask(
            "All damage takes the same time to fail. If not ticked, times are random and more "
            "damage is missed at every interval",
            "All delays are alike; otherwise they are random, the safe side.",
        ),
    ] = False
    of_belts: Annotated[
        bool,
        Tick(),
        Ask("Belts", "By the register: inspections of belts, not of joints.", doors=_NO_PAGE),
    ] = False

    @property
    def chance(self) -> float:
        """Chance that an inspection finds what is there, as stated or assumed."""
        if self.found is not None:
            return self.found
        return 1.0 if self.fixed else FOUND


class LookHereAsked(LookAsked):
    """How often to inspect, on a page: what the register says is shown before costs are known."""

    def faults(self) -> list[Fault]:
        """Costs go together, and what is assumed goes with them."""
        costs = {"look": self.look, "planned": self.planned, "failure": self.failure}
        given = [key for key, value in costs.items() if value is not None]
        faults = []
        if given:
            faults = [
                Fault(key, "is missing; the interval needs all three costs")
                for key in costs
                if key not in given
            ]
        if bool(self.every) != bool(self.delay):
            missing = "delay" if self.every else "every"
            faults.append(Fault(missing, "is missing; give both, or neither"))
        if self.every and not given:
            faults.append(
                Fault(
                    "look",
                    "is missing, with the other costs; what is assumed needs "
                    "them to give an interval",
                )
            )
        return faults


class WhenAsked(LookAsked):
    """Say at what age to renew a joint, and how often to inspect it, by what things cost.

    Renewal needs --planned and --lives (or --register, or --shape and --scale); inspections need
    --look, --planned, and --register, or --damage-every and --delay. With both, the register
    comes first where it holds failures enough. Use one currency for all costs.
    """

    lives: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask("Lives", "Lives of joints (CSV), for the age of renewal.", doors=_NO_PAGE),
    ] = None
    shape: Annotated[
        float | None, SHAPE, Ask("Shape", "Or the shape of their law ...", "2", doors=_NO_PAGE)
    ] = None
    scale: Annotated[
        str,
        TypedUse(),
        Ask("Scale", '... and its scale, such as "9000 h" or "800 kt".', "9000 h", doors=_NO_PAGE),
    ] = ""

    use_a_day: UseADay = ""

    @property
    def renews(self) -> bool:
        """Whether lives or their law were given."""
        return self.lives is not None or self.shape is not None or bool(self.scale)

    def faults(self) -> list[Fault]:
        """Both costs are always needed, and a law of life has two numbers."""
        faults = [
            Fault(key, "is not given; every answer needs it")
            for key in ("planned", "failure")
            if getattr(self, key) is None
        ]
        if self.lives is None and (self.shape is None) != (not self.scale):
            missing = "scale" if self.shape is not None else "shape"
            faults.append(Fault(missing, "is not given; a law of life is {shape} and {scale}"))
        return faults


@dataclass(frozen=True, slots=True)
class When:
    """At what age to renew and how often to inspect; None where it was not asked."""

    name: str
    costs: tuple[tuple[str, float], ...]
    renew: WhenToRenew | None
    look: WhenToLook | None


def answer_when(asked: WhenAsked, source: Source) -> When:
    """Choose the age of renewal and the interval between inspections.

    Raises InputError: neither can be answered by what was given, or values that cannot be.
    """
    from splicewright.actions.inspection_interval.choose import when_to_look, when_to_look_recorded
    from splicewright.actions.renewal import when_to_renew, when_to_renew_recorded

    source.refuse_beside("lives", asked.lives)
    recorded = asked.lives is None and source.recorded(asked)
    looks = bool(asked.every or asked.delay or asked.look is not None)
    if not asked.renews and not looks and not recorded:
        wording = (
            "give {lives}, or {shape} and {scale}, or a register; or {every}, {delay} and {look}"
        )
        raise InputError(Fault("when", wording))
    given = bool(asked.every) + bool(asked.delay)
    if looks and (asked.look is None or given == 1 or (not given and not recorded)):
        wording = "need {look}, and {every} and {delay}, or a register in place of those two"
        raise InputError(Fault("inspections", wording))
    assert asked.planned is not None and asked.failure is not None  # else `faults` has refused
    by: dict[str, Any] = {"conveyor": asked.conveyor, "use": asked.use}
    inspections: dict[str, Any] = {"fixed": asked.fixed, "found": asked.chance}
    renew = look = None
    with ExitStack() as stack:
        register = stack.enter_context(source.open()) if recorded else None
        now = source.now(asked)
        if asked.renews:
            renew = when_to_renew(
                asked.planned,
                asked.failure,
                lives=asked.lives,
                shape=asked.shape,
                scale=asked.scale,
            )
        elif register is not None:
            renew = when_to_renew_recorded(register, now, asked.planned, asked.failure, **by)
        if asked.look is not None:
            if register is not None:
                known: dict[str, Any] = {
                    "every": asked.every,
                    "delay": asked.delay,
                    "belts": asked.of_belts,
                }
                look = when_to_look_recorded(
                    register,
                    now,
                    asked.look,
                    asked.planned,
                    asked.failure,
                    **by,
                    **known,
                    **inspections,
                )
            else:
                look = when_to_look(
                    asked.every,
                    asked.delay,
                    asked.look,
                    asked.planned,
                    asked.failure,
                    **inspections,
                )
    stated = [("a planned renewal", asked.planned), ("a failure", asked.failure)]
    if asked.look is not None:
        stated.append(("an inspection", asked.look))
    if asked.use_a_day and renew is not None:
        renew = replace(renew, pace=_pace(asked.use_a_day, renew.measure, now.date()))
    if asked.use_a_day and look is not None:
        look = replace(look, pace=_pace(asked.use_a_day, look.measure, now.date()))
    name = asked.lives.stem if asked.lives is not None else asked.conveyor
    return When(name, tuple(stated), renew, look)


def _pace(use_a_day: str, measure: Measure, today: date) -> Pace:
    """The pace at a stated use a day."""
    from splicewright.actions.life.study import use_a_day_of
    from splicewright.history.pace import Pace

    rate = use_a_day_of(use_a_day, measure)
    return Pace(today, rate, rate)


def answer_look_here(asked: LookHereAsked, source: Source) -> WhenToLook:
    """What past inspections show; the interval, too, where costs were stated.

    Raises InputError: values that cannot be.
    """
    from splicewright.actions.inspection_interval.choose import learn_delay_recorded, with_rule

    with source.open() as register:
        learnt = learn_delay_recorded(
            register,
            source.now(asked),
            conveyor=asked.conveyor,
            use=asked.use,
            found=asked.chance,
            belts=asked.of_belts,
        )
    if asked.look is None or asked.planned is None or asked.failure is None:
        return learnt
    return with_rule(
        learnt,
        asked.look,
        asked.planned,
        asked.failure,
        every=asked.every,
        delay=asked.delay,
        fixed=asked.fixed,
    )


def _document(when: When, units: System) -> Document:
    from splicewright.sheets.reports.inspection_interval import when_report

    return when_report(when.renew, when.look, when.costs, units, name=when.name)


def _record(when: When) -> Record:
    from splicewright.history.inspection_interval.renewal_worksheet import record_of_renewing
    from splicewright.history.inspection_interval.worksheet import record_of_looking
    from splicewright.quantities.worksheet import Entry

    parts: list[Entry] = []
    if when.renew is not None:
        parts += record_of_renewing(when.renew).entries
    if when.look is not None:
        known = {key_of(entry) for entry in parts}
        parts += [e for e in record_of_looking(when.look).entries if key_of(e) not in known]
    return Record(tuple(parts))


WHEN: Inquiry[WhenAsked, When] = Inquiry(
    "when",
    WhenAsked,
    answer_when,
    _document,
    lambda w: {"renew": plain(w.renew), "look": plain(w.look)},
    "when",
    record=_record,
)


def _document_here(when: WhenToLook, units: System) -> Document:
    from splicewright.sheets.reports.inspection_interval import when_report

    given = when.costs
    costs = (
        [
            ("an inspection", given.look),
            ("damage found in time", given.repair),
            ("a failure", given.failure),
        ]
        if given is not None
        else []
    )
    return when_report(None, when, costs, units)


def _record_here(when: WhenToLook) -> Record:
    from splicewright.history.inspection_interval.worksheet import record_of_looking

    return record_of_looking(when)


LOOK_HERE: Inquiry[LookHereAsked, WhenToLook] = Inquiry(
    "inspection-interval",
    LookHereAsked,
    answer_look_here,
    _document_here,
    lambda w: {"look": plain(w)},
    "inspection-interval",
    record=_record_here,
)
