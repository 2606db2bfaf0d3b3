"""The planner's question: what to do now and at the stops, what to order, where to look."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Annotated

from splicewright.actions.inspection_interval.question import FOUND
from splicewright.actions.question import ByRegister, Currency, Inquiry, Source, plain
from splicewright.errors import Fault, InputError
from splicewright.files.answers import Day, Money, Number, Typed, TypedUse
from splicewright.files.question import Ask
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from datetime import datetime

    from splicewright.actions.register.use import Looked
    from splicewright.history.planner.next_reading import WornPlace
    from splicewright.history.planner.next_stop import PlannerCosts, WarningTime
    from splicewright.history.planner.study import OneReading, OrderLine, PlannerStudy, RenewJoint
    from splicewright.history.wear.study import PlaceWear
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document
    from splicewright.store import Register


class PlannerAsked(ByRegister):
    """Say what to do now, at the next stop and at the one after, what to order, where to look."""

    until: Annotated[
        date | None,
        Day(),
        Ask("Next planned stop", "Day of the next planned stop. Without it: four weeks ahead."),
    ] = None
    after: Annotated[
        date | None,
        Day(),
        Ask(
            "The stop after that",
            "Day of the planned stop after the next one. Without it: as "
            "long after the next as that lies ahead, four weeks at least.",
        ),
    ] = None
    planned_cost: Annotated[
        float | None, Money(), Ask("Cost of renewing a joint in a planned stop", example="3000")
    ] = None
    failure_cost: Annotated[
        float | None, Money(), Ask("Cost of a failure, its stop included", example="24000")
    ] = None
    look_cost: Annotated[float, Money(), Ask("Cost of inspecting one joint", example="120")] = 0.0
    currency: Currency = ""
    warning: Annotated[
        str,
        TypedUse(),
        Ask(
            "Time from the first sign to the failure",
            "Mean time for which damage can be seen "
            "before a joint fails. Without it: as past inspections show it.",
            "300 h",
        ),
    ] = ""
    found: Annotated[
        float,
        Number(0.05, 1, Kind.SHARE),
        Ask("Chance that an inspection finds existing damage", example="80 %"),
    ] = FOUND
    lead_time: Annotated[
        str, Typed(Kind.TIME), Ask("Lead time of parts", "From order to shelf.", "6 weeks")
    ] = ""


def answer_planner(asked: PlannerAsked, source: Source) -> PlannerStudy:
    """Work out the planner's page of the register.

    Raises InputError: the register holds no conveyor, or days out of order.
    """
    with source.open() as register:
        return see_planner(register, source.now(asked), asked)


def see_planner(register: Register, now: datetime, asked: PlannerAsked) -> PlannerStudy:
    """As `answer_planner`, of a register that is open."""
    from splicewright.actions.fleet.fleet import see_fleet
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into
    from splicewright.history.planner.next_stop import PlannerCosts
    from splicewright.history.planner.study import PlannerStudy, Weighed, weigh_joints

    dear = math.nan if asked.failure_cost is None else asked.failure_cost
    fleet = see_fleet(
        register, now, until=asked.until, conveyor=asked.conveyor, use=asked.use, failure_cost=dear
    )
    assumed: list[str] = []
    after = asked.after
    if after is None:
        after = fleet.until + max(fleet.until - fleet.today, timedelta(days=28))
        assumed.append(f"the stop after the next is not given: taken to be on {after}")
    costs = None
    if asked.planned_cost and asked.failure_cost:
        costs = PlannerCosts(asked.planned_cost, asked.failure_cost, asked.look_cost)
        if not asked.look_cost:
            assumed.append("what an inspection costs is not given: taken as nothing")
    if fleet.numbers is not None:
        return PlannerStudy(
            fleet,
            fleet.until,
            after,
            costs,
            None,
            asked.currency,
            (),
            (),
            (),
            (),
            TOO_MANY,
            TOO_MANY,
            math.nan,
            None,
            (*assumed, *fleet.assumed),
        )
    looked = look_into(register, now, conveyor=asked.conveyor, use=asked.use)
    unweighed, unlooked, weighed = "", "", Weighed((), (), math.nan, None)
    warning = _warning(register, now, asked, looked, assumed)
    if costs is None:
        unweighed = "say what a planned renewal and what a failure costs"
    elif fleet.why_not:
        unweighed = fleet.why_not
    else:
        joints = lives_of_register(looked, kinds=False).joints
        weighed = weigh_joints(joints, fleet.today, fleet.until, after, costs, warning)
    if warning is None:
        unlooked = "say how long damage can be seen before a joint fails: past inspections do not "
        unlooked += "tell it yet"
    study = PlannerStudy(
        fleet,
        fleet.until,
        after,
        costs,
        warning,
        asked.currency,
        weighed.joints,
        weighed.looks,
        _readings(looked, fleet.until, after, costs, assumed),
        (),
        unweighed,
        unlooked or unweighed,
        weighed.renewed,
        weighed.renewed_span,
        (*assumed, *fleet.assumed),
        looked.pace,
    )
    return replace(study, orders=_orders(register, now, looked, study, asked))


def _warning(
    register: Register, now: datetime, asked: PlannerAsked, looked: Looked, assumed: list[str]
) -> WarningTime | None:
    """How long damage can be seen: as stated, else as past inspections show it."""
    from splicewright.actions.inspection_interval.choose import learn_delay_recorded
    from splicewright.history.planner.next_stop import WarningTime
    from splicewright.quantities.measure import read_use

    if asked.warning:
        mean, measure = read_use(asked.warning, "warning")
        if measure is not looked.measure:
            say = (
                f'"{asked.warning}" counts {measure}, the lives {looked.measure}; give both in one'
            )
            raise InputError(Fault("warning", say))
        assumed.append("the time from the first sign to the failure is as stated, without a range")
        return WarningTime(mean, mean, mean, asked.found)
    answer = learn_delay_recorded(
        register, now, conveyor=asked.conveyor, use=asked.use, found=asked.found
    )
    learnt = answer.learnt
    if learnt is None or not learnt.enough:
        return None
    high = learnt.high if math.isfinite(learnt.high) else learnt.mean**2 / learnt.low
    assumed.append(f"the time from the first sign to the failure is learnt: {answer.known}")
    return WarningTime(learnt.mean, learnt.low, high, asked.found)


TOO_MANY = (
    "of a register counted together, one conveyor is weighed at a time: "
    "splicewright planner --conveyor NAME"
)
WORN_COSTS = (
    "a worn place is taken to cost what a joint costs: renewed in a planned stop as a renewal, "
    "worn out before it as a failure, one reading as an inspection; it lasts from use 0 of its "
    "readings to its limit"
)


def _readings(
    looked: Looked, until: date, after: date, costs: PlannerCosts | None, assumed: list[str]
) -> tuple[OneReading, ...]:
    """Places whose range of dates holds the coming stop: one more reading decides."""
    from splicewright.actions.wear.from_register import wear_of_register
    from splicewright.history.planner.study import OneReading
    from splicewright.history.wear.study import study_wear

    readings = []
    for conveyor, series in wear_of_register(looked).items():
        for one in series:
            try:
                place = study_wear([one], today=looked.today, measure=looked.measure).places[0]
            except InputError:
                continue  # the fleet's list says why it cannot be used
            days = place.dates
            if days is None or days.earliest is None or days.likely is None or not place.enough:
                continue
            latest = days.latest or date.max
            if looked.today < days.earliest <= after and latest > until:
                reading = OneReading(
                    one.place,
                    looked.labels[conveyor],
                    str(conveyor),
                    days.earliest,
                    days.likely,
                    latest,
                )
                worn = _worn(place, looked.today, until, after) if costs is not None else None
                readings.append(
                    reading if worn is None or costs is None else _valued(reading, worn, costs)
                )
    if any(r.worth is not None for r in readings):
        assumed.append(WORN_COSTS)
    return tuple(sorted(readings, key=lambda r: (-r.worth.worth if r.worth else 0.0, r.earliest)))


def _worn(place: PlaceWear, today: date, until: date, after: date) -> WornPlace | None:
    """The place at today and the two stops; None where a line does not say when it is worn out."""
    from splicewright.history.meter import read_meter
    from splicewright.history.planner.next_reading import WornPlace

    end, days = place.forecast, sorted(place.series.days)
    if end.line is None or end.line.freedom <= 1e-9 or end.by_curve or not end.likely < math.inf:
        return None
    uses = read_meter(days, end.measure, today).totals_on(
        [day.toordinal() for day in (today, until, after)]
    )
    now, first, second = uses.tolist()
    if not (end.now <= now < first < second and end.likely > 0):
        return None
    return WornPlace(end.line, end.limit, now, first, second, end.likely, rises=end.line.slope > 0)


def _valued(reading: OneReading, worn: WornPlace, costs: PlannerCosts) -> OneReading:
    from splicewright.history.planner.next_reading import worth_of_reading

    stated, half, double = (
        worth_of_reading(worn, costs if times == 1 else costs.if_failure(times))
        for times in (1.0, 0.5, 2.0)
    )
    return replace(reading, worth=stated, half=half.worth, double=double.worth)


def _orders(
    register: Register, now: datetime, looked: Looked, study: PlannerStudy, asked: PlannerAsked
) -> tuple[OrderLine, ...]:
    """Parts of the joints to renew that the stores lack, then items below their level."""
    from splicewright.actions.stock.size import size_recorded_stock
    from splicewright.history.planner.study import OrderLine

    lead = read(asked.lead_time, Kind.TIME, "lead_time") if asked.lead_time else math.nan
    by = None
    if math.isfinite(lead):
        by = study.until - timedelta(days=math.ceil(lead / 86400.0))
    late = by is not None and by < study.today
    orders = [
        OrderLine(count, item, needed, by, late)
        for item, count, needed in _lacking(register, looked, study.to_renew)
    ]
    if asked.lead_time:
        try:
            sized = size_recorded_stock(
                register, now, 0.95, lead=asked.lead_time, conveyor=asked.conveyor, use=asked.use
            )
        except InputError:
            return tuple(orders)  # nothing is in the stores, or not for long enough
        orders += [
            OrderLine(
                one.order_now, one.item.name, "stock, so that 95 % of jobs find it", study.today
            )
            for one in sized.items
            if one.order_now > 0
        ]
    return tuple(sorted(orders, key=lambda o: o.by or date.max))


def _lacking(
    register: Register, looked: Looked, joints: Sequence[RenewJoint]
) -> list[tuple[str, float, str]]:
    """What the kept plans of these joints ask for and the store of their site does not hold."""
    from uuid import UUID

    from splicewright.actions.register.kept_files import kept_plan
    from splicewright.actions.stock.movements import item_of

    needs: dict[tuple[UUID, str], float] = {}
    whose: dict[tuple[UUID, str], list[str]] = {}
    bare: list[str] = []
    for one in joints:
        there = register.joint(UUID(one.id)) if one.id else None
        try:
            kept = kept_plan(register, there.joint) if there is not None else None
        except InputError:
            kept = None
        if kept is None or there is None:
            bare.append(f"{one.conveyor} {one.joint}")
            continue
        site = looked.conveyors[there.conveyor].site
        for part in kept[1].parts:
            key = site, item_of(part)
            needs[key] = needs.get(key, 0.0) + part.total
            whose.setdefault(key, []).append(one.joint)
    shelves = {site: {r.item: r.count for r in register.stock(site)} for site, _ in needs}
    shortages = [
        (item, short, f"to renew {', '.join(whose[site, item])}")
        for (site, item), needed in needs.items()
        if (short := needed - max(0.0, shelves[site].get(item, 0.0))) > 0
    ]
    if bare:
        shortages.append(
            (
                "one set of joint parts each",
                len(bare),
                f"for {', '.join(bare)}: no plan is kept of them, so their parts are not known",
            )
        )
    return shortages


def _document(study: PlannerStudy, units: System) -> Document:
    from splicewright.sheets.reports.planner import planner_report

    return planner_report(study, units)


def _record(study: PlannerStudy) -> Record:
    from splicewright.history.planner.worksheet import record_of_planner

    return record_of_planner(study)


PLANNER: Inquiry[PlannerAsked, PlannerStudy] = Inquiry(
    "planner",
    PlannerAsked,
    answer_planner,
    _document,
    lambda s: {"planner": plain(s)},
    "planner",
    "planner",
    record=_record,
)
