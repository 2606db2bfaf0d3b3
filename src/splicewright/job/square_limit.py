"""How far out of square the ends of one joint may be: from its own mechanics."""

from __future__ import annotations

from splicewright.job.joined_belt import JoinedBelt
from splicewright.joint import Which
from splicewright.joint.square_end import Limit
from splicewright.joint.tolerances import LOSS, Error, tolerance
from splicewright.quantities import Kind, sentence


def square_limit(joined: JoinedBelt) -> Limit:
    """The out of square that costs a tenth of the margin, the smallest over all assumptions.

    Both ends of a joint are cut: each may use half of it.

    Parameters
    ----------
    joined : the joint with its belt
    """
    found = tolerance(
        Error.OUT_OF_SQUARE, joined.cases(Which.LEADING), joined.running * joined.width
    )
    whole = found.smallest if found.smallest is not None else found.searched_to
    typical = found.typical if found.typical is not None else found.searched_to
    return Limit(
        whole / 2,
        sentence("from the joint's own mechanics: {whole} over both ends (typical case {typical}) "
                 "costs {loss} of the margin at {pull}, each end may use half; the maker's limit "
                 "goes first", typical=(typical, Kind.LENGTH), whole=(whole, Kind.LENGTH),
                 loss=(LOSS, Kind.SHARE), pull=(joined.running, Kind.WIDTH_FORCE)),
    )  # fmt: skip
