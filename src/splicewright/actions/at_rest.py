"""The belt at rest for one job, without a fastener: from the files to stages and ratings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.quantities import Figure
    from splicewright.tension.at_rest import AtRest


@dataclass(frozen=True, slots=True)
class Stopped:
    """The belt at rest at one place of work, as asked of two files."""

    conveyor: str
    work: str
    place: str
    id: str
    at_rest: AtRest


def stopped_belt(conveyor: Path, work: Path | None) -> Stopped:
    """Work out the stopped belt for a job; without a work file for a joint on the return side.

    Raises
    ------
    InputError
        Anything wrong in the files.
    """
    from splicewright.job import plan
    from splicewright.plant import load_conveyor, load_work

    plant = load_conveyor(conveyor)
    made = plan(plant, load_work(work, plant))
    job = made.work  # where no place was given, the worst was found
    place = f"{job.run}, {job.distance.show()} along it"
    return Stopped(plant.name, job.name, place, made.id, made.at_rest)


@dataclass(frozen=True, slots=True)
class SagReading:
    """Belt tension from the sag between two idlers, and what it says of the take-up [N].

    tension, doubt: there, with its half-width (95 %); least, largest: of the pull on the take-up
    pulley, all its strands together, friction on the way either way.
    """

    run: str
    tension: Figure
    doubt: Figure
    least: Figure
    largest: Figure


def tension_of_sag(conveyor: Path, sag: str, span: str, run: str = "") -> SagReading:
    """What a sag measured with a string and a tape says of the take-up.

    Parameters
    ----------
    conveyor : conveyor file, for the belt and the way to the take-up
    sag : of the empty, standing belt below the string, in the middle, such as "14 mm"
    span : between the two idlers, such as "3 m"
    run : on which run; the longest of the return side without it

    Raises
    ------
    InputError
        A sag or span that cannot be, or a run the conveyor does not have.
    """
    from splicewright.plant import Side, load_conveyor
    from splicewright.quantities import Kind, Worksheet, read
    from splicewright.tension import demand
    from splicewright.tension.at_rest import read_sag

    plant = load_conveyor(conveyor)
    depth, spacing = read(sag, Kind.LENGTH, "sag"), read(span, Kind.DISTANCE, "span")
    if not 0 < depth < spacing / 4:
        raise InputError(
            Fault(
                "sag",
                f'"{sag}" over "{span}" cannot be; give more than 0 and less than a '
                "quarter of the span",
            )
        )
    runs = {r.name: r for r in plant.runs()}
    if run and run not in runs:
        raise InputError(
            Fault("run", f'"{run}" is no run of the loop; accepted: {", ".join(runs)}')
        )
    back = [r for r in plant.runs() if r.side is Side.RETURN] or list(plant.runs())
    chosen = runs[run] if run else max(back, key=lambda r: r.length.value)
    sheet = Worksheet()
    found = read_sag(plant, demand(plant, sheet).every(), chosen, depth, spacing, sheet)
    return SagReading(chosen.name, *found)
