"""A conveyor studied on its own: demand, second look, what is not known, all explained."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.loop import Path, lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Record, Worksheet
from splicewright.tension.demand import Demand, demand
from splicewright.tension.second_look import SecondLook, second_look
from splicewright.tension.unknowns import SAMPLES, SEED, Swing, Unknowns, swings, unknowns


@dataclass(frozen=True, slots=True)
class Study:
    """Everything the tool can say of the tension in one conveyor.

    swings : each unknown moved alone; unknowns : all of them open together
    """

    conveyor: Conveyor
    path: Path
    demand: Demand
    second_look: SecondLook
    swings: tuple[Swing, ...]
    unknowns: Unknowns
    worksheet: Record


def study(
    conveyor: Conveyor, rating: float | None = None, samples: int = SAMPLES, seed: int = SEED
) -> Study:
    """Study one conveyor.

    Parameters
    ----------
    conveyor : with all gaps filled
    rating : tension per width to compare the demand with [N/m]
    samples, seed : of the uncertainty run

    Returns
    -------
    Study; the same inputs and seed give the same study
    """
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    look = second_look(conveyor, asked, sheet)
    return Study(
        conveyor,
        path,
        asked,
        look,
        swings(conveyor),
        unknowns(conveyor, rating, samples, seed),
        sheet.finish(),
    )
