"""What a decision file may hold (TOML): a torn or worn place and the ways to put it right."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from splicewright.errors import Fault, InputError
from splicewright.files.answers import Money, Number, TypedUse, Whole
from splicewright.files.fields import Plain, Table
from splicewright.files.question import Ask
from splicewright.files.toml import load, with_lines
from splicewright.files.typed_file import Readable
from splicewright.history.decision.options import Option, Situation, Way
from splicewright.history.decision.study import Decision
from splicewright.history.life.weibull import Weibull
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind
from splicewright.quantities.measure import read_use

Time = Annotated[float, Plain(Kind.TIME, 0.0, 90 * 86400.0)]
Belt = Annotated[float, Plain(Kind.DISTANCE, 0.0, 50_000.0)]
Kept = Annotated[float, Plain(Kind.SHARE, 0.0, 1.0)]
Cost = Annotated[float, Money()]
Use = Annotated[str, TypedUse()]


class PlaceTable(Table):
    """[place]: what there is, and what is asked for."""

    name: Annotated[Name, Ask("Which place", example="incline, 40 m from the tail")]
    invented: bool = False
    window: Annotated[Time, Ask("Time available", example="12 h")]
    strength_needed: Annotated[
        Kept,
        Ask(
            "Strength the duty needs, share of the belt's",
            example="45 %",
            hint="The running and starting tension over the belt's breaking strength, with your "
            "site's reserve.",
        ),
    ]
    belt_spare: Annotated[
        Belt, Ask("Belt available from the take-up", example="0.8 m", inch="2 ft 6 in")
    ]
    belt_in_stock: Annotated[Belt, Ask("Belt in stock", example="12 m", inch="40 ft")]
    stop_cost_per_hour: Annotated[Cost, Ask("Cost of one hour stopped", example="1500")]
    failure_cost: Annotated[Cost, Ask("Cost of a failure later", example="40000")]
    until: Annotated[Use, Ask("Use until the next planned stop", example="3000 h or 250 kt")]
    note: str = ""


class LifeTable(Table):
    """life: the law of life of what is made."""

    shape: Annotated[
        float,
        Number(0.2, 10.0),
        Ask(
            "Shape of the life curve",
            example="2",
            hint="1: random failures; 2: wear-out (assumed); 3 or more: all fail at about the "
            "same age.",
        ),
    ]
    scale: Annotated[
        Use, Ask("Life: age by which about two in three have failed", example="9000 h")
    ]


class OptionTable(Table):
    """[[option]]: one way, with what it takes and gives."""

    way: Way
    time: Annotated[Time, Ask("Stop it takes", example="6 h")]
    cost: Annotated[Cost, Ask("Material and work", example="1800")]
    kept_strength: Annotated[
        float,
        Plain(Kind.SHARE, 0.0, 1.0, above=True),
        Ask("Strength kept, share of the belt's", example="55 %"),
    ]
    life: LifeTable
    belt_taken: Annotated[Belt, Ask("Belt cut out", example="0.6 m", inch="2 ft")] = 0.0
    belt_let_in: Annotated[Belt, Ask("Belt inserted", example="0")] = 0.0
    joints_more: Annotated[int, Whole(0, 20), Ask("Extra joints", example="0")] = 0


class DecisionFile(Table):
    """A decision file."""

    place: PlaceTable
    option: list[OptionTable] = Field(min_length=1, max_length=20)


def load_decision(path: Readable) -> Decision:
    """Read a decision file.

    Raises InputError: anything wrong in the file; each fault with line and key.
    """
    with with_lines(path):
        return decision_of(load(path, DecisionFile))


def decision_of(file: DecisionFile) -> Decision:
    """What a file, or a form of the same fields, asks.

    Raises InputError: lives counted otherwise than the use until the next stop.
    """
    place = file.place
    until, measure = read_use(place.until, "place.until")
    faults = []
    options = []
    for number, o in enumerate(file.option, 1):
        text = o.life.scale
        scale, counted = read_use(text, f"option.{number}.life.scale")
        if counted is not measure:
            wording = (
                f'"{text}" counts {counted}, but place.until counts {measure}; give both in one'
            )
            faults.append(Fault(f"option.{number}.life.scale", wording))
        options.append(
            Option(
                o.way,
                o.time,
                o.cost,
                o.kept_strength,
                Weibull(o.life.shape, scale),
                o.belt_taken,
                o.belt_let_in,
                o.joints_more,
            )
        )
    if faults:
        raise InputError(*faults)
    situation = Situation(
        place.window,
        place.strength_needed,
        place.belt_spare,
        place.belt_in_stock,
        place.stop_cost_per_hour / 3600.0,
        place.failure_cost,
        until,
    )
    return Decision(place.name, situation, tuple(options), measure, place.invented)
