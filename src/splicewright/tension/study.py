"""A conveyor studied on its own: demand, second look, what is not known, all explained."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.loop import Path, lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import (
    Given,
    Kind,
    Record,
    Sentence,
    Worksheet,
    assumed,
    identity,
    stated,
)
from splicewright.quantities.result_json import read_kept
from splicewright.tension.at_rest import RestPoint, RunBack, rest_points, run_back
from splicewright.tension.at_rest.load_rest import LoadRest, load_rests, rest_findings
from splicewright.tension.at_rest.model import stopped
from splicewright.tension.running.demand import Demand, demand
from splicewright.tension.second_look.second_look import SecondLook, second_look
from splicewright.tension.unknowns import (
    SAMPLES,
    SEED,
    Swing,
    Unknowns,
    open_inputs,
    swings,
    unknowns,
)
from splicewright.version import __version__

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = 2
"""Version of the JSON form of a study."""


@dataclass(frozen=True, slots=True)
class Study:
    """Everything the tool can say of the tension in one conveyor.

    id : ten letters and digits made from the inputs; run_back, load_rests, rest_points : belt
    stopped with any load on it, and what that means in standstill; swings : each unknown
    moved alone; unknowns : all of them open together
    """

    format: int
    id: str
    version: str
    conveyor: Conveyor
    path: Path
    demand: Demand
    second_look: SecondLook
    run_back: RunBack
    load_rests: tuple[LoadRest, ...]
    rest_points: tuple[RestPoint, ...]
    standstill: tuple[Sentence, ...]
    swings: tuple[Swing, ...]
    unknowns: Unknowns
    worksheet: Record

    @property
    def mark(self) -> str:
        """Which study this is, as printed."""
        return f"Study {self.id}"

    def to_json(self) -> str:
        """The whole study as JSON; `from_json` gives it back without loss."""
        return _adapter().dump_json(self).decode()

    @classmethod
    def from_json(cls, text: str | bytes) -> Study:
        """Read a study back.

        Raises
        ------
        InputError
            The text is no study of this format.
        """
        return read_kept(_adapter(), text, f"study of format {FORMAT}")


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

    Raises
    ------
    InputError
        All wrap angles are stated and do not close.
    """
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    look = second_look(conveyor, asked, sheet)
    back = run_back(conveyor, _any_load(), sheet)
    rests = load_rests(conveyor, sheet)
    points = rest_points(stopped(conveyor, _any_load(), asked.every(), sheet), sheet)
    moved, open_ = swings(conveyor), unknowns(conveyor, rating, samples, seed)
    _write_unknowns(conveyor, moved, open_, sheet)
    return Study(
        FORMAT,
        identity(__version__, conveyor, rating, samples, seed),
        __version__,
        conveyor,
        path,
        asked,
        look,
        back,
        rests,
        points,
        (*((back.says,) if back.most.value > 0 else ()), *rest_findings(rests)),
        moved,
        open_,
        sheet.finish(),
    )


def _write_unknowns(
    conveyor: Conveyor, moved: tuple[Swing, ...], open_: Unknowns, sheet: Worksheet
) -> None:
    """A line for every number of the uncertainty run, so that each can be explained."""
    inputs = open_inputs(conveyor)
    run = (
        f"of {open_.samples} samples, seed {open_.seed}: every open input between its ends, all at "
        "once, through all load cases"
    )
    for name, span in (("running", open_.running), ("starting", open_.starting)):
        for key, label, value in (
            ("low", "5 %", span.low),
            ("median", "median", span.median),
            ("high", "95 %", span.high),
        ):
            sheet.found(
                f"unknowns.{name}.{key}",
                f"{name} tension per width, {label}",
                value,
                Kind.WIDTH_FORCE,
                f"{label} {run}",
                inputs,
            )
    if open_.rating is not None and open_.exceeded is not None:
        rating = stated("unknowns.rating", "rating asked about", open_.rating, Kind.WIDTH_FORCE)
        sheet.found(
            "unknowns.exceeded",
            "chance that the running tension is more than the rating",
            open_.exceeded,
            Kind.SHARE,
            f"share {run}",
            [rating, *inputs],
        )
    for one in open_.influences:
        for key, label, value in (
            ("total", "with all it acts together with", one.total),
            ("alone", "alone", one.alone),
        ):
            sheet.found(
                f"unknowns.{one.given.key}.{key}",
                f"spread behind {one.given.label}, {label}",
                value,
                Kind.SHARE,
                f"Sobol index {run}",
                inputs,
                "sobol",
            )
    for swing in moved:
        for key, value in (("low", swing.at_low), ("high", swing.at_high)):
            sheet.found(
                f"moved.{swing.given.key}.{key}",
                f"running tension with {swing.given.label} at its {key} end",
                value,
                Kind.WIDTH_FORCE,
                "all load cases worked again with this input alone moved",
                [swing.given],
            )


def _any_load() -> Given:
    return assumed(
        "run_back.load",
        "load on the stopped belt",
        1.0,
        Kind.SHARE,
        "all loadings asked about: as much of the full load as pulls most, wherever it lies",
        (1.0, 1.0),
    )


_ADAPTERS: list[TypeAdapter[Study]] = []


def _adapter() -> TypeAdapter[Study]:
    """The serialiser, built once."""
    if not _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS.append(TypeAdapter(Study))
    return _ADAPTERS[0]
