"""Another end curve, proposed where it would make the verdict on a joint's plates better."""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.joint.choice.verdict import Standing, standing
from splicewright.joint.loads.places import Place, loads_round_the_loop
from splicewright.joint.loads.stiffness import Case
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, sentence

TEMPLATE_STEP = 1e-3
"""A proposed curve is a whole number of millimetres: a template is cut no finer [m]."""


def proposed_curve(
    cases: tuple[Case, ...],
    places: Sequence[Place],
    depth: float,
    now: float,
    held: tuple[Figure, float],
    sheet: Worksheet,
) -> Sentence | None:
    """What is proposed, None where another curve makes nothing better.

    Parameters
    ----------
    cases, places : all that is assumed, and wherever the joint passes: the proposal is judged by
        them as the planned end is
    depth : whose worst load over the cases is smallest [m]
    now : largest plate load of the planned end [N]
    held : rating of a plate, and how uneven a share it covers
    """
    rating, evenness = held
    before = standing(now, rating.value, evenness)
    if before is Standing.WITHIN:
        return None
    depth = round(depth / TEMPLATE_STEP) * TEMPLATE_STEP
    load = max(at.worst[2] for at in loads_round_the_loop(cases, places, depth))
    after = standing(load, rating.value, evenness)
    order = list(Standing)
    if order.index(after) >= order.index(before):
        return None
    figure = sheet.found(
        "loads.proposed",
        "largest plate load with the proposed end curve",
        load,
        Kind.FORCE,
        "as the largest plate load, the middle cut back by the proposed depth",
        [rating],
        "membrane",
    )
    if depth == 0:
        return sentence(
            "A straight end would bring the plate that carries most to {load}: "
            f"{after.value}. Ask the maker before the end is cut so.",
            load=figure,
        )
    return sentence(
        "An end curve of {depth} would bring the plate that carries most to {load}: "
        f"{after.value}. Ask the maker for a template of that depth, then plan again with it as "
        "curve_depth.",
        depth=(depth, Kind.LENGTH),
        load=figure,
    )
