"""Whether the work fits and which joints to renew, number by number: the worksheets."""

from __future__ import annotations

from splicewright.history.shutdown.joint_choice import Candidate, gain_of_renewing
from splicewright.history.shutdown.joint_choice_study import TOLD, ChoosingStudy
from splicewright.history.shutdown.schedule import simulation_error
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.plant.conveyor import slug
from splicewright.quantities import Figure, Kind, Record, Worksheet, assumed, stated

_RUNS = (
    "every run draws a time for each task and begins, whenever people and tools are free, the "
    "first task of the list that is ready; {what}"
)


def record_of_shutdown(study: ShutdownStudy) -> Record:
    """Explain every number of a shutdown.

    Returns a worksheet under the keys ``window.*`` and ``finish.*``.
    """
    sheet, asked = Worksheet(), study.shutdown
    _finish(
        sheet,
        study,
        [
            stated("window.time", "window", asked.window, Kind.TIME, "typed with the question"),
            stated(
                "window.tasks", "tasks", len(asked.tasks), Kind.COUNT, "from the file or the plans"
            ),
            *(
                stated(f"crew.{slug(who)}", f"there are: {who}", n, Kind.COUNT, "as stated")
                for who, n in asked.crew.items()
            ),
        ],
    )
    return sheet.finish()


def _finish(sheet: Worksheet, study: ShutdownStudy, rests: list[Figure]) -> None:
    asked = study.shutdown
    runs = assumed(
        "window.runs",
        "runs simulated",
        asked.runs,
        Kind.COUNT,
        "chosen by this tool",
        (asked.runs, asked.runs),
    )
    together = "window.common_cause", "scatter by which all work is slowed or sped up together"
    if asked.common_cause > 0:
        common = stated(*together, asked.common_cause, Kind.SHARE, "asked for, or in the file")
    else:
        why = "not asked for: each task scatters by itself, the early side"
        common = assumed(*together, 0.0, Kind.SHARE, why, (0.0, 0.2))
    parts = [*rests, runs, common]

    def counted(key: str, label: str, value: float, kind: Kind, meaning: str) -> Figure:
        return sheet.found(f"finish.{key}", label, value, kind, _RUNS.format(what=meaning), parts)

    chance = counted(
        "chance",
        "chance to finish within the window",
        study.chance.share,
        Kind.SHARE,
        "share of runs that end in time",
    )
    error = sheet.work(
        "finish.error",
        "error of that chance by simulation",
        simulation_error,
        share=chance,
        runs=runs,
    )
    sheet.found(
        "finish.give_or_take",
        "that chance, give or take",
        2 * error.value,
        Kind.SHARE,
        "twice that error: 95 % of such simulations",
        [error],
    )
    counted("half", "half of all runs end by", study.half, Kind.TIME, "their median")
    counted(
        "nine_tenths", "nine runs in ten end by", study.nine_tenths, Kind.TIME, "their quantile"
    )
    counted("mean", "mean end", study.mean, Kind.TIME, "their mean")
    counted(
        "path",
        "longest path of mean times",
        study.path_mean,
        Kind.TIME,
        "with people and tools without end, at mean times",
    )
    counted(
        "merging",
        "later where branches meet",
        study.merge_bias,
        Kind.TIME,
        "mean end with people without end, less that path",
    )
    counted(
        "waiting",
        "later for people and tools",
        study.crew_wait,
        Kind.TIME,
        "mean end less that with people without end",
    )
    for bar in study.bars:
        key = slug(bar.task)
        for end, event, value in (
            ("start", "begins", bar.start),
            ("end", "ends", bar.end),
            ("late", "ends in nine runs of ten", bar.late),
        ):
            counted(
                f"{key}.{end}",
                f"{bar.task}: {event}",
                value,
                Kind.TIME,
                "at likely times; in nine tenths of the runs",
            )
        counted(
            f"{key}.delays",
            f"{bar.task}: delays the finish",
            bar.critical,
            Kind.SHARE,
            "share of runs in which it is on the chain that ends last",
        )
    for one in study.bought:
        key = f"with.{slug(one.name)}"
        counted(
            f"{key}.chance",
            f"with {one.name}: chance to finish",
            one.gain.after.share,
            Kind.SHARE,
            "the same runs with it",
        )
        counted(
            f"{key}.saved",
            f"with {one.name}: saved on average",
            one.gain.saved,
            Kind.TIME,
            "mean end without less mean end with",
        )
    counted(
        "other",
        f"the chance by the {study.other_law} law",
        study.other_chance.share,
        Kind.SHARE,
        "times drawn by the other law",
    )


def record_of_choice(study: ChoosingStudy) -> Record:
    """Explain every number of a choice of joints.

    Returns a worksheet under the keys ``window.*``, ``joint.*``, ``choice.*`` and ``finish.*``; of
    joints those chosen, and of the others those that would save most.
    """
    sheet, asked, stated_choice = Worksheet(), study.asked, study.advice.stated
    reason = "typed with the question"
    window = stated("window.time", "window", asked.window, Kind.TIME, reason)
    people = stated("window.people", "people", asked.people, Kind.COUNT, reason)
    gang = stated("window.gang", "people at one joint", asked.gang, Kind.COUNT, reason)
    sure = stated("window.chance", "chance to finish asked for", asked.chance, Kind.SHARE, reason)
    gains: list[Figure] = []
    chosen = set(stated_choice.renew)
    near = sorted((c for c in asked.candidates if c.joint not in chosen), key=lambda c: -c.gain)
    listed = [*(c for c in asked.candidates if c.joint in chosen), *near[:TOLD]]
    for n, c in enumerate(listed, 1):
        left, new, failure, renewal = (
            stated(f"joint.{n}.{key}", f"{c.joint}: {label}", value, kind, "from lives or table")
            for key, label, value, kind in (
                ("left", "chance of failing if left", c.chance_if_left, Kind.SHARE),
                ("new", "chance of failing if renewed", c.chance_if_renewed, Kind.SHARE),
                ("failure", "cost of a failure", c.failure_cost, Kind.RATIO),
                ("renewal", "cost of a renewal", c.renewal_cost, Kind.RATIO),
            )
        )
        later = stated(
            f"joint.{n}.later",
            f"{c.joint}: worth of the renewed joint after the next shutdown",
            c.later,
            Kind.RATIO,
            "by the table; by the register: what makes G the planner's cost of leaving the joint",
        )
        gain = sheet.work(
            f"joint.{n}.gain",
            f"{c.joint}: saved by renewing",
            gain_of_renewing,
            left=left,
            renewed=new,
            failure=failure,
            renewal=renewal,
            later=later,
        )
        _gain_ends(sheet, n, c, gain)
        if c.gain <= 0:
            sheet.found(
                f"joint.{n}.costs",
                f"{c.joint}: renewing it costs more than leaving it",
                -c.gain,
                Kind.RATIO,
                "-G",
                [gain],
            )
        sheet.found(
            f"joint.{n}.spares",
            f"{c.joint}: failures that renewing spares",
            c.gain + c.renewal_cost,
            Kind.RATIO,
            "saved, its own cost left out",
            [gain, renewal],
            "expectation",
        )
        if c.joint in chosen:
            gains.append(gain)
        elif c.joint in study.advice.in_time:
            chance, alone = study.advice.in_time[c.joint]
            text = "by itself" if alone else "beside the chosen ones"
            sheet.found(
                f"joint.{n}.in_time",
                f"{c.joint}: chance to be done in time, {text}",
                chance,
                Kind.SHARE,
                "share of simulated schedules that end in time",
                [window, people, gang],
            )
    parts = [*gains, window, people, gang, sure]
    text = (
        "set of joints that saves most among those that are done in the window with the chance "
        "asked for, simulated; what ends later has cost its renewal and saves nothing"
    )
    sheet.found(
        "choice.saving",
        "saved by the choice",
        stated_choice.saving,
        Kind.RATIO,
        text,
        parts,
        "expectation",
    )
    sheet.found(
        "choice.most",
        "that any choice could save at most",
        stated_choice.most,
        Kind.RATIO,
        "every set weighed, or the optimum of the hours alone, which no schedule can beat",
        parts,
        "expectation",
    )
    others = (
        ("half", "if a failure costs half", study.advice.half),
        ("double", "if a failure costs double", study.advice.double),
        ("second_crew", "with a second crew", study.crew_twice),
        ("power", "with power tools", study.with_power),
    )
    for key, label, choice in (("stated", "as stated", stated_choice), *others):
        if choice is not None:
            whole = stated(
                f"choice.{key}.number",
                f"joints renewed, {label}",
                len(choice.renew),
                Kind.COUNT,
                "members of the set found",
            )
            cost = sheet.found(
                f"choice.{key}.cost",
                f"expected cost, {label}",
                choice.cost,
                Kind.RATIO,
                "renewals of the set less their worth later, each failure cost by its chance",
                [whole, *parts],
                "expectation",
            )
            if key in {"half", "double"}:
                sheet.found(
                    f"choice.{key}.saving",
                    f"saved, {label}",
                    choice.saving,
                    Kind.RATIO,
                    "the same set, and none renewed, at that cost",
                    [cost],
                )
            if choice.span is not None:
                for end, value in (("least", choice.span.low), ("largest", choice.span.high)):
                    sheet.found(
                        f"choice.{key}.saving_{end}",
                        f"saved, {label}, nine times in ten: {end}",
                        value,
                        Kind.RATIO,
                        "the set's gain by each drawn law of life",
                        [cost],
                    )
            if key in {"second_crew", "power"}:
                sheet.found(
                    f"choice.{key}.saves",
                    f"saved more {label}",
                    stated_choice.cost - choice.cost,
                    Kind.RATIO,
                    "expected cost as stated less this",
                    [cost],
                )
    none = sum(c.chance_if_left * c.failure_cost for c in asked.candidates)
    sheet.found(
        "choice.none.cost",
        "expected cost if none is renewed",
        none,
        Kind.RATIO,
        "Σ chance of failing if left x cost of a failure, all joints",
        [
            stated(
                "choice.joints",
                "joints that could be renewed",
                len(asked.candidates),
                Kind.COUNT,
                "from lives or table",
            )
        ],
        "expectation",
    )
    if stated_choice.gap > 0:
        sheet.found(
            "choice.gap",
            "share that a better set might save more, at most",
            stated_choice.gap,
            Kind.SHARE,
            "1 - saved/most",
            parts,
        )
    sheet.found(
        "choice.hours",
        "crew hours the choice takes",
        stated_choice.hours,
        Kind.TIME,
        "renewals of the set, and each of its conveyors opened up once",
        parts,
    )
    sheet.found(
        "choice.of_hours",
        "crew hours there are",
        asked.crew_hours,
        Kind.TIME,
        "people x window",
        [window, people],
    )
    if study.schedule is not None:
        tasks = stated(
            "window.tasks", "tasks", len(study.schedule.shutdown.tasks), Kind.COUNT, reason
        )
        _finish(sheet, study.schedule, [window, people, gang, tasks])
    return sheet.finish()


def _gain_ends(sheet: Worksheet, n: int, c: Candidate, gain: Figure) -> None:
    """Range of what renewing a joint saves; nothing where its chances are without doubt."""
    if c.span is None:
        return
    for end, value in (("least", c.span.low), ("largest", c.span.high)):
        sheet.found(
            f"joint.{n}.gain_{end}",
            f"{c.joint}: saved by renewing, nine times in ten: {end}",
            value,
            Kind.RATIO,
            "by each drawn law of life, as on the planner's page",
            [gain],
        )
