"""Whether the work fits and which joints to renew, number by number: the worksheets."""

from __future__ import annotations

from splicewright.history.shutdown.joint_choice import gain_of_renewing
from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
from splicewright.history.shutdown.schedule import simulation_error
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.quantities import Figure, Kind, Record, Worksheet, assumed, stated

_RUNS = (
    "every run draws a time for each task and begins, whenever people and tools are free, the "
    "first task of the list that is ready; {what}"
)


def record_of_shutdown(study: ShutdownStudy) -> Record:
    """Explain every number of a shutdown.

    Returns
    -------
    worksheet under the keys ``window.*`` and ``finish.*``
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
    common = assumed(
        "window.common_cause",
        "scatter of the factor common to all tasks of a run",
        asked.common_cause,
        Kind.SHARE,
        "weather, access, crew; no source",
        (0.0, 0.2),
    )
    parts = [*rests, runs, common]

    def counted(key: str, label: str, value: float, kind: Kind, what: str) -> Figure:
        return sheet.found(f"finish.{key}", label, value, kind, _RUNS.format(what=what), parts)

    chance = counted(
        "chance",
        "chance to finish within the window",
        study.chance.share,
        Kind.SHARE,
        "share of runs that end in time",
    )
    sheet.work(
        "finish.error",
        "error of that chance by simulation",
        simulation_error,
        share=chance,
        runs=runs,
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
    counted(
        "other",
        f"the chance by the {study.other_law} law",
        study.other_chance.share,
        Kind.SHARE,
        "times drawn by the other law",
    )


def record_of_choice(study: ChoosingStudy) -> Record:
    """Explain every number of a choice of joints.

    Returns
    -------
    worksheet under the keys ``window.*``, ``joint.*``, ``choice.*`` and ``finish.*``; of joints
    those chosen
    """
    sheet, asked, stated_choice = Worksheet(), study.asked, study.advice.stated
    said = "typed with the question"
    window = stated("window.time", "window", asked.window, Kind.TIME, said)
    people = stated("window.people", "people", asked.people, Kind.COUNT, said)
    gang = stated("window.gang", "people at one joint", asked.gang, Kind.COUNT, said)
    sure = stated("window.chance", "chance to finish asked for", asked.chance, Kind.SHARE, said)
    gains: list[Figure] = []
    for n, c in enumerate((c for c in asked.candidates if c.joint in stated_choice.renew), 1):
        left, new, failure, renewal = (
            stated(f"joint.{n}.{key}", f"{c.joint}: {label}", value, kind, "from lives or table")
            for key, label, value, kind in (
                ("left", "chance of failing if left", c.chance_if_left, Kind.SHARE),
                ("new", "chance of failing if renewed", c.chance_if_renewed, Kind.SHARE),
                ("failure", "cost of a failure", c.failure_cost, Kind.RATIO),
                ("renewal", "cost of a renewal", c.renewal_cost, Kind.RATIO),
            )
        )
        gains.append(
            sheet.work(
                f"joint.{n}.gain",
                f"{c.joint}: saved by renewing",
                gain_of_renewing,
                left=left,
                renewed=new,
                failure=failure,
                renewal=renewal,
            )
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
    if study.schedule is not None:
        tasks = stated(
            "window.tasks", "tasks", len(study.schedule.shutdown.tasks), Kind.COUNT, said
        )
        _finish(sheet, study.schedule, [window, people, gang, tasks])
    return sheet.finish()
