"""What a decision file may hold (TOML): a torn or worn place and the ways to put it right."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from splicewright.errors import Fault, InputError
from splicewright.files.fields import Plain, Table
from splicewright.files.toml import load, with_lines
from splicewright.history.decision.options import Option, Situation, Way
from splicewright.history.decision.study import Decision
from splicewright.history.life.weibull import Weibull
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind
from splicewright.quantities.measure import Measure, read_use


def _use(text: str) -> Any:
    try:
        return text, *read_use(text, "")
    except InputError as error:
        raise PydanticCustomError("entry", "{said}", {"said": error.faults[0].sentence}) from None


Time = Annotated[float, Plain(Kind.TIME, 0.0, 90 * 86400.0)]
Belt = Annotated[float, Plain(Kind.DISTANCE, 0.0, 50_000.0)]
Kept = Annotated[float, Plain(Kind.SHARE, 0.0, 1.0)]
Cost = Annotated[float, Field(ge=0.0, le=1e12, allow_inf_nan=False)]
Use = Annotated[str, AfterValidator(_use)]


class PlaceTable(Table):
    """[place]: what there is, and what is asked for."""

    name: Name
    invented: bool = False
    window: Time
    strength_needed: Kept
    belt_spare: Belt
    belt_in_stock: Belt
    stop_cost_per_hour: Cost
    failure_cost: Cost
    until: Use
    note: str = ""


class LifeTable(Table):
    """life: the law of life of what is made."""

    shape: float = Field(ge=0.2, le=10.0)
    scale: Use


class OptionTable(Table):
    """[[option]]: one way, with what it takes and gives."""

    way: Way
    time: Time
    cost: Cost
    kept_strength: Annotated[float, Plain(Kind.SHARE, 0.0, 1.0, above=True)]
    life: LifeTable
    belt_taken: Belt = 0.0
    belt_let_in: Belt = 0.0
    joints_more: int = Field(default=0, ge=0, le=20)


class DecisionFile(Table):
    """A decision file."""

    place: PlaceTable
    option: list[OptionTable] = Field(min_length=1, max_length=20)


def load_decision(path: Path) -> Decision:
    """Read a decision file.

    Raises
    ------
    InputError
        Anything wrong in the file; each fault with line and key.
    """
    file = load(path, DecisionFile)
    place = file.place
    _, until, measure = _read(place.until)
    faults = []
    options = []
    for number, o in enumerate(file.option, 1):
        text, scale, counted = _read(o.life.scale)
        if counted is not measure:
            said = f'"{text}" counts {counted}, but place.until counts {measure}; give both in one'
            faults.append(Fault(f"option.{number}.life", said, path.name))
        options.append(
            Option(
                o.way, o.time, o.cost, o.kept_strength, Weibull(o.life.shape, scale),
                o.belt_taken, o.belt_let_in, o.joints_more,
            )
        )  # fmt: skip
    with with_lines(path):
        if faults:
            raise InputError(*faults)
    situation = Situation(
        place.window, place.strength_needed, place.belt_spare, place.belt_in_stock,
        place.stop_cost_per_hour / 3600.0, place.failure_cost, until,
    )  # fmt: skip
    return Decision(place.name, situation, tuple(options), measure, place.invented)


def _read(use: Any) -> tuple[str, float, Measure]:
    """What `_use` has put in the place of the text."""
    text, value, measure = use
    return text, value, measure
