"""The life diagram: the staircase of the joints themselves and the fitted law with its limits."""

from __future__ import annotations

import math

from splicewright.history.life.study import LifeStudy
from splicewright.quantities import Kind, System, percent
from splicewright.sheets.canvas.chart import INVENTED, Chart, key
from splicewright.sheets.canvas.scene import Group, Item, Pen, Scene

_WIDE, _HIGH = 150.0, 66.0
_STAIRS = Pen("staircase", 0.7)
_STAIR_LIMITS = Pen("limits of the staircase", 0.3, (0.6, 0.9), grey=0.25)
_LAW = Pen("fitted law", 0.5, (5.0, 1.2))
_LAW_LIMITS = Pen("limits of the law", 0.3, (2.2, 1.2))


def life_diagram(study: LifeStudy, system: System = "metric", wide: float = _WIDE) -> Scene:
    """Draw the share still good over age.

    Parameters
    ----------
    wide : of the frame [mm]

    Returns
    -------
    Scene in millimetres of paper, about 165 mm by 100 mm
    """
    curve = study.settled.curve if study.settled else ()
    ends = [s.age for s in study.steps] + [p.age for p in curve]
    right = 1.02 * max([study.longest, *ends]) or 1.0
    chart = Chart(wide, _HIGH, right, 1.0)
    kind = study.measure.kind
    items: list[Item] = chart.axes(kind, study.measure.value, Kind.SHARE, "still good", system)
    legend: list[tuple[str, Pen]] = []
    if study.steps:
        items += chart.curve(_stairs(study, "good"), _STAIRS)
        name = "observed, between inspections" if study.between else "observed"
        legend.append((name, _STAIRS))
    if study.steps and not study.between:
        for edge in ("low", "high"):
            items += chart.curve(_stairs(study, edge), _STAIR_LIMITS)
        legend.append(("its limits", _STAIR_LIMITS))
    if curve:
        items += chart.curve(((p.age, p.good) for p in curve), _LAW)
        for edge in ("low", "high"):
            items += chart.curve(((p.age, getattr(p, edge)) for p in curve), _LAW_LIMITS)
        legend += [("fitted law", _LAW), ("its limits", _LAW_LIMITS)]
    items += key(legend, (0.0, -16.0), wide)
    caption = (
        f"{study.failures} of {study.number} joints failed; all limits {percent(study.confidence)}."
    )
    caption += INVENTED if study.invented else ""
    return Scene((Group("life", tuple(items)),), "Share of joints still good", caption)


def _stairs(study: LifeStudy, edge: str) -> list[tuple[float, float]]:
    """Corners of the staircase, flat to the age at which the last joint was watched."""
    points, level = [(0.0, 1.0)], 1.0
    for step in study.steps:
        value = getattr(step, edge)
        if math.isnan(value):
            continue
        points += [(step.age, level), (step.age, value)]
        level = value
    return [*points, (study.longest, level)]
