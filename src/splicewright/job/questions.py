"""What carries the plan and nobody stated: asked on page one, and taken at its bad end."""

from __future__ import annotations

from splicewright.plant import Conveyor
from splicewright.quantities import Sentence, sentence
from splicewright.tension import AtRest


def questions(conveyor: Conveyor, stopped: AtRest) -> tuple[Sentence, ...]:
    """What is to be settled before work: doubts of the stopped belt, and the belt's class."""
    asks = [doubt.ask for doubt in stopped.doubts]
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
