"""Joints by their crew hours: against trying every choice."""

from itertools import chain, combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from proof import proves
from splicewright.errors import InputError
from splicewright.history.shutdown.joint_choice import Candidate, Choice, choose_renewals

HOUR = 3600.0


@st.composite
def problems(draw: st.DrawFn) -> tuple[list[Candidate], float, dict[str, float]]:
    number = draw(st.integers(1, 8))
    joints = [
        Candidate(
            f"J{i}",
            draw(st.sampled_from(["C1", "C2", "C3"])),
            draw(st.floats(0.0, 1.0)),
            0.02,
            draw(st.floats(0.0, 5e4)),
            draw(st.floats(0.0, 3e3)),
            draw(st.floats(1.0, 12.0)) * HOUR,
        )
        for i in range(number)
    ]
    opening = {c: draw(st.floats(0.0, 4.0)) * HOUR for c in ("C1", "C2", "C3")}
    return joints, draw(st.floats(2.0, 40.0)) * HOUR, opening


@proves(
    "Stock, inspection and shutdown",
    "Which joints to renew, against every choice",
    "D",
    "Random lists of joints with chances, costs and hours of the crew: every set of joints that "
    "can be done in the time is tried, and none may cost less than the set chosen.",
    doubt="Brute force: exact for the costs and hours given.",
    tolerance="1e-5 of the cost: what the chosen set may cost more, by rounding of hours",
    sketch="joints",
)
@settings(max_examples=examples(60), deadline=None)
@given(problem=problems())
def test_no_other_choice_costs_less(
    problem: tuple[list[Candidate], float, dict[str, float]],
) -> None:
    joints, crew_hours, opening = problem
    none = sum(c.chance_if_left * c.failure_cost for c in joints)
    best = none
    for some in chain.from_iterable(combinations(joints, k) for k in range(len(joints) + 1)):
        hours = sum(c.hours for c in some) + sum(opening[v] for v in {c.conveyor for c in some})
        if hours <= crew_hours:
            best = min(best, none - sum(c.gain for c in some))
    choice = choose_renewals(joints, crew_hours, opening)
    assert choice.hours <= crew_hours * (1 + 1e-6)
    assert choice.cost == pytest.approx(best, abs=1e-5 * max(1.0, none))
    assert choice.cost_if_none == pytest.approx(none)


def three() -> list[Candidate]:
    return [
        Candidate("worn", "C1", 0.5, 0.02, 20e3, 1e3, 6 * HOUR),
        Candidate("fair", "C1", 0.2, 0.02, 20e3, 1e3, 6 * HOUR),
        Candidate("young", "C2", 0.03, 0.02, 20e3, 1e3, 6 * HOUR),
    ]


def test_opening_up_is_paid_once() -> None:
    both = choose_renewals(three(), 14 * HOUR, {"C1": 2 * HOUR})
    assert both.renew == ("worn", "fair")
    assert both.hours == 14 * HOUR
    assert choose_renewals(three(), 13 * HOUR, {"C1": 2 * HOUR}).renew == ("worn",)


def test_what_a_better_choice_might_add_is_a_share_of_the_most() -> None:
    chosen = Choice(("worn",), 60.0, 100.0, 6 * HOUR, most=50.0)
    assert chosen.gap == pytest.approx((50 - 40) / 50)  # 40 are saved of the 50 that could be
    assert Choice((), 100.0, 100.0, 0.0, most=0.0).gap == 0.0


def test_joints_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="joints: there are none"):
        choose_renewals([], 5.0)
    wrong = [Candidate("J", "C", 1.5, -0.1, -1.0, 2.0, 0.0)]
    with pytest.raises(InputError) as caught:
        choose_renewals([*wrong, *wrong], 0.0, {"C": -1.0})
    lines = str(caught.value).splitlines()
    assert lines[0] == "crew hours: 0 s must be a finite number above zero"
    assert lines[1] == "joint J: chance of failing if left 1.5; accepted is 0 to 1"
    assert lines[2] == "joint J: chance of failing if renewed -0.1; accepted is 0 to 1"
    assert lines[3] == "joint J: cost of a failure -1; accepted is a number of zero or more"
    assert lines[4] == "joint J: crew hours 0 s; accepted is above zero"
    assert lines[5] == "joint J: is given twice; names must differ"
    assert lines[-1] == "conveyor C: opening up -1 s; accepted is a number of zero or more"
