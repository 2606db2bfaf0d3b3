"""A studied conveyor in words: demand, every case, the worst loading, what to measure next."""

from __future__ import annotations

from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.pages.document import Document, Section
from splicewright.tension import LoadCase, Study

_CAUTIONS = (
    "Tensions are worked from what the file says and what is assumed for the rest. Measure what "
    "stands first under what to measure next before anything is rated by them.",
)


def tension_report(study: Study, units: System) -> Document:
    """Demand, every case, the worst loading, what is not known, what to measure, findings."""
    asked, open_ = study.demand, study.unknowns
    answer = [
        f"Running {asked.running.show(units)} ({asked.running_governed_by}), "
        f"starting {asked.starting.show(units)} ({asked.starting_governed_by})."
    ]
    if asked.exceptional is not None:
        answer.append(f"Exceptional {asked.exceptional.show(units)} (blocked chute, holdback).")
    for way, worst in (("", asked.worst), (", running back", asked.reverse_worst)):
        if worst is not None:
            answer.append(
                f"Worst loading{way}: {', '.join(worst.loaded) or 'nothing'} loaded: "
                f"{worst.largest.show(units)} at the end of {worst.where}."
            )
    low, median, high = (
        show(v, Kind.WIDTH_FORCE, units)
        for v in (open_.running.low, open_.running.median, open_.running.high)
    )
    answer.append(f"Not knowing all: running {median} in the middle, 5 to 95 % {low} to {high}.")
    if open_.rating is not None and open_.exceeded is not None:
        chance = (
            f"under 1 in {open_.samples}" if open_.exceeded == 0 else percent(open_.exceeded, 2)
        )
        rated = show(open_.rating, Kind.WIDTH_FORCE, units)
        answer.append(f"Chance of more than {rated}: {chance}.")
    next_ = tuple(
        f"{number}. {one.given.label} ({percent(min(one.total, 1.0))} of the spread)"
        for number, one in enumerate([i for i in open_.influences if i.total >= 0.01][:3], 1)
    )
    findings = tuple(
        sentence.say(units)
        for sentence in (*asked.findings, *study.second_look.findings, *study.standstill)
    )
    sections = (
        Section(
            "Every load case",
            head=("case", "pull", "power", "largest tension", "at the end of"),
            table=_cases(study, units),
        ),
        Section("Measure next", next_),
        Section("Findings", findings),
    )
    return Document(
        "Tension",
        study.conveyor.name,
        f"Study {study.id}",
        tuple(answer),
        sections=tuple(s for s in sections if s.table or s.points),
        cautions=_CAUTIONS,
        invented=study.conveyor.invented,
    )


def _cases(study: Study, units: System) -> tuple[tuple[str, ...], ...]:
    """Forward, then running back."""
    asked = study.demand
    shown = []
    for lead, cases in (
        ("", (*asked.cases, *asked.other_cases)),
        ("back, ", (*asked.reverse_cases, *asked.other_reverse_cases)),
    ):
        by_case = {c.case: c for c in cases}
        shown += [(c, lead + c.case.value) for c in map(by_case.get, LoadCase) if c is not None]
    return tuple(
        (name, c.pull.show(units), c.power.show(units), c.largest.show(units), c.where)
        for c, name in shown
    )
