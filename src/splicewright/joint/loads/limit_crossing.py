"""Where something that grows passes its limit."""

from __future__ import annotations

from collections.abc import Callable

_ROUNDS = 60
_NEAR = 1e-12
"""How near to the limit is on it, and how narrow a bracket is a point [1]."""


def crossing(
    over: Callable[[float], float], below: tuple[float, float], above: tuple[float, float]
) -> float:
    """The largest amount found not to be over a limit, between one that is not and one that is.

    False position, with the middle tried every third time: what is straight in pieces, as plate
    loads are between two contacts, is closed in a few turns, and anything else is halved.

    Parameters
    ----------
    over : by how much an amount passes the limit, over the limit [1]
    below, above : an amount and what it is over by: not above 0, and above 0
    """
    (low, under), (top, beyond) = below, above
    for turn in range(_ROUNDS):
        if top - low <= _NEAR * top:
            break
        amount = low - under * (top - low) / (beyond - under)
        if turn % 3 == 2:
            amount = (low + top) / 2
        now = over(amount)
        if abs(now) <= _NEAR:
            return amount
        if now > 0:
            top, beyond = amount, now
        else:
            low, under = amount, now
    return low
