"""What a crew is told of the stopped belt: what may hold it, and what to know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.plant import Conveyor, Coupling, Gear, Work
from splicewright.quantities import Figure, Sentence, sentence
from splicewright.tension.at_rest.load_rest import LoadRest, rest_findings
from splicewright.tension.at_rest.movement import Movement
from splicewright.tension.at_rest.run_back import RunBack

if TYPE_CHECKING:
    from collections.abc import Sequence

    from splicewright.tension.at_rest.bounds import StrandForces


def what_holds(conveyor: Conveyor) -> tuple[Sentence, ...]:
    """What may hold the belt at each drive, as far as anybody said; none of it is trusted."""
    sentences = []
    for drive in conveyor.drives:
        parts = []
        if drive.holdback:
            parts.append("its holdback stops the belt running back, not forward")
        if drive.brake:
            parts.append("its brake holds both ways, as far as it grips")
        if drive.gear is Gear.WORM:
            parts.append("its worm gear may hold both ways, and may creep when it is shaken")
        if drive.coupling is Coupling.FLUID:
            parts.append("its fluid coupling holds nothing")
        elif drive.gear is Gear.PLAIN and not drive.holdback and not drive.brake:
            parts.append("its gearbox and motor only drag")
        if parts:
            sentences.append(sentence(f"{drive.name}: {'; '.join(parts)}. Not trusted to hold."))
        else:
            sentences.append(
                sentence(
                    f"{drive.name}: what holds it is not stated. Forces are the largest whether it "
                    "holds or not; find out, and do not rely on it in either case."
                )
            )
    return tuple(sentences)


def remarks(
    work: Work,
    back: RunBack,
    rests: tuple[LoadRest, ...],
    loaded: Figure | None,
    moved: Movement,
    sides: Sequence[StrandForces],
) -> tuple[Sentence, ...]:
    """What to know of all forces: how they are meant, what they rest on, what moves.

    Parameters
    ----------
    work : the job
    back, rests : pull of the load, and whether it stays where it lies
    loaded : rating of the clamps were the belt full; None where it is taken as full
    moved : how far things move
    sides : the strands on either side of the place
    """
    sentences = [
        sentence(
            "At most: every input not measured stands at its bad end, friction works whichever way "
            "is worse, and no drive is trusted to hold."
        )
    ]
    if loaded is not None:
        sentences.append(
            sentence(
                "All forces here hold with {share} of a full load left on the belt, as stated: "
                "check the whole belt first. Fully loaded, each restraining clamp needs a "
                "rating of {rating}.",
                share=work.load_left,
                rating=loaded,
            )
        )
    through = max(sides, key=lambda side: side.sudden.value - side.hold.largest.value)
    if through.sudden.value > through.hold.largest.value:
        sentences.append(
            sentence(
                "A held drum grips only while the belt on its near side pulls. If the clamp "
                f"{through.name} lets go, tight belt from beyond the drum comes through it, up "
                "to {pull}: what a clamp carries is no measure of the shock, and the ratings count "
                "it.",
                pull=through.sudden,
            )
        )
    if back.most.value > 0:
        sentences.append(
            sentence(
                "The load alone pulls {pull} down the slope. Set the clamps before the take-up is "
                "released: without them the belt may slip over its held drum and run.",
                pull=back.most,
            )
        )
        sentences.append(back.says)
    sentences += rest_findings(rests)
    if work.load_left.value > 0:
        sentences.append(
            sentence("The belt is assumed loaded. Run it empty if that is still possible.")
        )
    return (*sentences, *moved.says)
