"""The moves of a crew: an order that can be done, refused by name where it cannot."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.tension.at_rest.state import (
    USUAL,
    Chains,
    Hoists,
    Move,
    Place,
    State,
    after,
    states,
)


def test_the_usual_order_can_be_done_and_ends_as_it_began() -> None:
    """Order of common practice, no source: clamps before the take-up is touched, chains taken up
    before the belt is opened, take-up back before the clamps come off."""
    order = [move for move, _ in states(USUAL)]
    assert order == list(USUAL)
    at = {move: n for n, move in enumerate(order)}
    assert at[Move.LOCK_OUT] < at[Move.SET_CLAMPS] < at[Move.RELEASE] < at[Move.DRAW]
    assert at[Move.DRAW] < at[Move.TAKE_UP_CHAINS] < at[Move.OPEN] < at[Move.PIN]
    assert at[Move.PIN] < at[Move.EASE_HOISTS] < at[Move.RESTORE] < at[Move.CLAMPS_OFF]
    last = states(USUAL)[-1][1]
    assert last == State(place=Place.JOINED)


@pytest.mark.parametrize(
    ("moves", "refused", "why"),
    [
        ([Move.LOCK_OUT, Move.RELEASE], "step 2, release the take-up", "clamps must hold"),
        ([*USUAL[:7], Move.PIN], "step 8, pin the joint", "the ends are apart"),
        ([*USUAL[:7], Move.CLAMPS_OFF], "step 8, take the clamps off", "clamp that holds"),
        ([*USUAL[:5], Move.OPEN], "step 6, open the belt", "chains must bear"),
        ([*USUAL[:9], Move.RESTORE], "step 10, let the take-up pull again", "slack the chains"),
        ([*USUAL[:7], Move.EASE_HOISTS], "step 8, ease the hoists, take them off", "pin the joint"),
        ([Move.SET_CLAMPS], "step 1, set the restraining clamps", "lock out first"),
    ],
)
def test_a_move_that_cannot_follow_is_refused_by_its_step(
    moves: list[Move], refused: str, why: str
) -> None:
    with pytest.raises(InputError) as told:
        states(moves)
    [fault] = told.value.faults
    assert fault.key == refused
    assert why in fault.sentence


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(list(Move)), max_size=40))
def test_no_order_of_moves_reaches_a_state_that_hurts(moves: list[Move]) -> None:
    """A crew that tries moves at random: refused ones are left out, the rest must be safe."""
    state = State()
    for move in moves:
        try:
            state = after(state, move)
        except InputError:
            continue
        if state.place in {Place.OPEN, Place.TOGETHER}:
            assert not state.acting  # nobody opens a belt its take-up pulls on
            assert state.locked
            assert state.chains in {Chains.BEARING, Chains.LEFT_BEHIND}
            assert state.hoists is not Hoists.NONE  # they stand by for a clamp that slips
        if not state.acting:
            assert state.locked
            assert state.chains is not Chains.NONE or state.place is Place.JOINED
        if not state.locked:
            assert state.chains is Chains.NONE and state.hoists is Hoists.NONE and state.acting
