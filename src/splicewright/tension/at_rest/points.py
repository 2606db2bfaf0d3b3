"""The stopped belt at the end of every run of a conveyor, whatever the job."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import slug
from splicewright.quantities import Figure, Worksheet
from splicewright.tension.at_rest.rest import Rest, acting_at, released_at


@dataclass(frozen=True, slots=True)
class RestPoint:
    """Largest tension of the stopped belt at the end of a run, take-up acting and released [N]."""

    run: str
    acting: Figure
    released: Figure


def rest_points(rest: Rest, sheet: Worksheet) -> tuple[RestPoint, ...]:
    """The stopped belt at the end of every run, its load lying anywhere.

    Parameters
    ----------
    rest : the stopped conveyor
    sheet : takes every line
    """
    points = []
    for run in rest.conveyor.runs():
        key, where = f"at_rest.{slug(run.name)}", f"the end of {run.name}"
        acting = acting_at(rest, run, run.length.value, f"{key}.acting", sheet, where)
        released = released_at(rest, run, run.length.value, f"{key}.released", sheet, where)
        points.append(RestPoint(run.name, acting.largest, released))
    return tuple(points)
