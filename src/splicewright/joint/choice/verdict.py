"""One verdict on a joint's plates, for plan, plate loads and assessment alike.

A range's rating is a tension per width. Shared evenly it gives the rating of one plate; but no
joint shares evenly, least of all in a transition, and a joint that was proved as a whole carried
its uneven share then. So the rating covers some unevenness: as much as the range states, or, where
it states none, as much as edges of a belt are commonly allowed over its rated tension.
"""

from __future__ import annotations

from enum import StrEnum

from splicewright.joint.fasteners.ranges import Size
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    assumed,
    formula,
    sentence,
    stated,
)

EVENNESS = 1.3


class Standing(StrEnum):
    """How the plate that carries most stands to its rating; the words of every page."""

    WITHIN = "within the rating"
    BY_ALLOWANCE = "within the rating only with its allowance for uneven shares"
    OVER = "over the rating"


@formula(
    "F_P = k_E F_R",
    gives=("F_P", Kind.FORCE),
    symbols={"evenness": "k_E", "rating": "F_R"},
    source="assumption",
    limits="what the rating covers of uneven shares; asked of the maker where it decides",
)
def permitted(evenness: float, rating: float) -> float:
    """Pull that the plate with the largest share may carry in running.

    Parameters
    ----------
    evenness : largest share over the even one that the rating covers [-]
    rating : of one plate, the belt's rated pull shared evenly [N]
    """
    return evenness * rating


def evenness_of(evenness: float | None, name: str) -> Given:
    """How uneven a share the rating of a size covers [-]: as its range states, or assumed."""
    key, label = "range.evenness", "largest plate share the rating covers, over the even share"
    if evenness is not None:
        return stated(key, label, evenness, Kind.RATIO, f"range data, {name}")
    return assumed(
        key,
        label,
        EVENNESS,
        Kind.RATIO,
        "not stated by the range: 1.3 taken, as belt edges are commonly allowed in transitions; "
        "ask the maker",
        (1.0, EVENNESS),
    )


def standing(largest: float, rating: float, evenness: float) -> Standing:
    """How a plate stands whose largest load [N], even rating [N] and allowance [-] are known."""
    if largest <= rating * (1 + 1e-9):
        return Standing.WITHIN
    if largest <= rating * evenness * (1 + 1e-9):
        return Standing.BY_ALLOWANCE
    return Standing.OVER


def standing_sentence(
    stands: Standing, largest: Figure, rating: Figure, evenness: Given, where: str
) -> Sentence:
    """The verdict in one sentence; what decides it is named."""
    whose = "assumed, ask the maker" if evenness.assumed else "range data"
    if stands is Standing.WITHIN:
        template = (
            f"The plate that carries most is {stands.value}: up to {{load}} of {{rating}}, {where}."
        )
    else:
        bad = "NOT RECOMMENDED: the" if stands is Standing.OVER else "The"
        template = (
            f"{bad} plate that carries most is {stands.value}: up to {{load}} of {{permitted}}, "
            f"{where}, with {{evenness}} times the even share allowed ({whose})."
        )
    return sentence(
        template,
        load=largest,
        rating=rating,
        evenness=evenness,
        permitted=(rating.value * evenness.value, Kind.FORCE),
    )


def evenness_of_size(size: Size) -> Given:
    """The same of a size."""
    return evenness_of(size.evenness, size.name)
