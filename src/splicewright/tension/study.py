"""A conveyor studied on its own: demand, second look, what is not known, all explained."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.loop import Path, lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Record, Worksheet, identity
from splicewright.tension.demand import Demand, demand
from splicewright.tension.second_look import SecondLook, second_look
from splicewright.tension.unknowns import SAMPLES, SEED, Swing, Unknowns, swings, unknowns
from splicewright.version import __version__

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = 1
"""Version of the JSON form of a study."""


@dataclass(frozen=True, slots=True)
class Study:
    """Everything the tool can say of the tension in one conveyor.

    id : ten letters and digits made from the inputs; swings : each unknown moved alone;
    unknowns : all of them open together
    """

    format: int
    id: str
    version: str
    conveyor: Conveyor
    path: Path
    demand: Demand
    second_look: SecondLook
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
        from pydantic import ValidationError

        try:
            return _adapter().validate_json(text)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            key = ".".join(str(part) for part in first["loc"])
            raise InputError(
                Fault(key, f"is no study of format {FORMAT}: {first['msg']}")
            ) from None


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
    return Study(
        FORMAT,
        identity(__version__, conveyor, rating, samples, seed),
        __version__,
        conveyor,
        path,
        asked,
        look,
        swings(conveyor),
        unknowns(conveyor, rating, samples, seed),
        sheet.finish(),
    )


_ADAPTERS: list[TypeAdapter[Study]] = []


def _adapter() -> TypeAdapter[Study]:
    """The serialiser, built once."""
    if not _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS.append(TypeAdapter(Study))
    return _ADAPTERS[0]
