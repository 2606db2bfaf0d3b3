"""The belt at rest: what it pulls at each stage, what must hold, what happens if it lets go."""

from __future__ import annotations

from splicewright.quantities import Figure, System
from splicewright.sheets.pages.document import Document, KeyNumber, Point, Section
from splicewright.tension.at_rest import AtRest

_CAUTIONS = (
    "Ratings are least ratings, with the stated factor in them. Local law, site rules and the "
    "makers' instructions may ask for more.",
    "What is not known is taken at its bad end. Settle it before work.",
)
_SAG_CAUTIONS = (
    "A sag tells of the belt as it stands now. Measure again after the take-up was moved or the "
    "belt was run.",
)


def sag_report(
    run: str,
    tension: Figure,
    doubt: Figure,
    least: Figure,
    largest: Figure,
    units: System,
    *,
    invented: bool = False,
) -> Document:
    """What a measured sag says: tension of the belt there, and pull of the take-up [N]."""
    return Document(
        "Belt tension from its sag",
        run,
        "From the sag between two idlers of the empty, standing belt.",
        (
            f"Belt tension on {run}: {tension.show(units)}, give or take {doubt.show(units)}.",
            f"The take-up pulls {least.show(units)} to {largest.show(units)} on its pulley, "
            "friction on the way counted either way.",
            "Write it into the conveyor file: [take_up] force = "
            f'"{least.value / 1e3:.1f} to {largest.value / 1e3:.1f} kN"',
        ),
        cautions=_SAG_CAUTIONS,
        invented=invented,
    )


def rest_report(
    rest: AtRest, units: System, *, name: str, source: str, invented: bool = False
) -> Document:
    """What to settle, the stages with their forces, ratings, what lets go, and movements."""
    ratings = rest.ratings
    numbers = [
        KeyNumber("each restraining clamp, chain, anchor", ratings.clamps.show(units)),
        KeyNumber("each hoist and pulling clamp", ratings.hoists.show(units)),
    ]
    if ratings.tackle is not None:
        numbers.append(KeyNumber("tackle of the counterweight", ratings.tackle.show(units)))
    stages = tuple(
        Point(
            f"{stage.name}. {stage.says.say(units)}".rstrip("."),
            "; ".join(
                f"{f.name}: {f.least.show(units)} to {f.largest.show(units)}"
                if f.largest.value
                else f"{f.name}: slack"
                for f in stage.forces
            ),
        )
        for stage in rest.stages
    )
    lets_go = tuple(
        Point(
            f"{row.name} ({row.when})",
            "; ".join(f"{o.name} {o.force.show(units)}" for o in row.others)
            + f"; moves {row.travel.show(units)}, up to {row.speed.show(units)}, "
            f"{row.energy.show(units)}. {row.says.say(units)}",
        )
        for row in rest.lets_go
    )
    moves = tuple(s.say(units) for s in (*rest.holds, *rest.remarks))
    settle = tuple(doubt.ask.say(units) for doubt in rest.doubts)
    sections = (
        Section("Settle before work", settle),
        Section("Stage by stage, least to largest", listed=stages),
        Section("Least ratings, the stated factor in them", numbers=tuple(numbers)),
        Section("If this lets go", listed=lets_go),
        Section("Movements and what to know", moves),
    )
    return Document(
        "Belt at rest",
        name,
        source,
        (
            f"Rate each restraining clamp for {ratings.clamps.show(units)} or more, each hoist and "
            f"pulling clamp for {ratings.hoists.show(units)} or more.",
            *(
                (f"{len(settle)} unknowns move these numbers: settle them before work.",)
                if len(settle) > 1
                else ("One unknown moves these numbers: settle it before work.",) * len(settle)
            ),
        ),
        sections=tuple(s for s in sections if s.points or s.listed or s.numbers),
        cautions=_CAUTIONS,
        invented=invented,
    )
