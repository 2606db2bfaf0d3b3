"""The words of a studied conveyor."""

from __future__ import annotations

from splicewright.quantities import Kind, System, percent, show
from splicewright.tension import LoadCase, Study


def tension_lines(study: Study, units: System) -> list[str]:
    """Demand, every case, the worst loading, what is not known, what to measure, findings."""
    asked, open_ = study.demand, study.unknowns
    by_case = {c.case: c for c in (*asked.cases, *asked.other_cases)}
    lines = [
        f"{study.conveyor.name}  [study {study.id}]",
        f"Running {asked.running.show(units)} ({asked.running_governed_by}), "
        f"starting {asked.starting.show(units)} ({asked.starting_governed_by})",
    ]
    if asked.exceptional is not None:
        lines.append(f"Exceptional {asked.exceptional.show(units)} (blocked chute, holdback)")
    shown = [(c, c.case.value) for c in map(by_case.get, LoadCase) if c is not None]
    by_case = {c.case: c for c in (*asked.reverse_cases, *asked.other_reverse_cases)}
    back = [c for c in map(by_case.get, LoadCase) if c is not None]
    shown += [(c, f"back, {c.case.value}") for c in back]
    width = max(len(name) for _, name in shown)
    lines += [
        f"  {name:<{width}}  pull {c.pull.show(units):>10}  power {c.power.show(units):>9}  "
        f"largest {c.largest.show(units):>10}  end of {c.where}"
        for c, name in shown
    ]
    for way, worst in (("", asked.worst), (", running back", asked.reverse_worst)):
        if worst is not None:
            lines.append(
                f"Worst loading{way}: {', '.join(worst.loaded) or 'nothing'} loaded: "
                f"{worst.largest.show(units)} at the end of {worst.where}"
            )
    low, median, high = (
        show(v, Kind.WIDTH_FORCE, units)
        for v in (open_.running.low, open_.running.median, open_.running.high)
    )
    lines.append(f"Not knowing all: running {median} in the middle, 5 to 95 % {low} to {high}")
    if open_.rating is not None and open_.exceeded is not None:
        chance = (
            f"under 1 in {open_.samples}" if open_.exceeded == 0 else percent(open_.exceeded, 2)
        )
        lines.append(f"Chance of more than {show(open_.rating, Kind.WIDTH_FORCE, units)}: {chance}")
    for number, one in enumerate([i for i in open_.influences if i.total >= 0.01][:3], 1):
        lead = "Measure next: " if number == 1 else "              "
        lines.append(
            f"{lead}{number}. {one.given.label} ({percent(min(one.total, 1.0))} of the spread)"
        )
    lines += [
        f"! {sentence.say(units)}"
        for sentence in (*asked.findings, *study.second_look.findings, *study.standstill)
    ]
    return lines
