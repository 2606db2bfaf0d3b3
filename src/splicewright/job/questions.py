"""What carries the plan and nobody stated: asked on page one, and taken at its bad end."""

from __future__ import annotations

from splicewright.joint import StepGeometry
from splicewright.plant import Conveyor
from splicewright.quantities import Sentence, sentence
from splicewright.tension import AtRest


def questions(
    conveyor: Conveyor, stopped: AtRest, vulcanised: StepGeometry | None = None
) -> tuple[Sentence, ...]:
    """What is to be settled before work: doubts of the stopped belt, the belt's class, the press
    of a vulcanised joint."""
    asks = [doubt.ask for doubt in stopped.doubts]
    curing = vulcanised.curing if vulcanised is not None and not vulcanised.cold else None
    if vulcanised is not None and curing is not None and not curing.platen:
        asks.append(
            sentence(
                "Press not given: one heat is counted, {each} in the press. Give its length: it "
                "must cover {length}, or each further heat takes as long again.",
                each=vulcanised.press_time,
                length=curing.press_length,
            )
        )
    strength = conveyor.belt.strength
    if strength.assumed and strength.low < strength.high:
        asks.append(
            sentence(
                "Class of the belt not stated: {strength} is taken (plausible {low} to {high}). "
                "Read the marking on the cover: joint and kept strength rest on it.",
                strength=strength,
                low=(strength.low, strength.kind),
                high=(strength.high, strength.kind),
            )
        )
    return tuple(asks)
