"""The joints of a shutdown as a whole: what fits, what more buys, what half and double change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.shutdown.joint_choice import Candidate
from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
from splicewright.history.shutdown.joint_choice_study import study_choice

H = 3600.0
JOINTS = (
    Candidate("A", "K1", 0.40, 0.02, 40e3, 5e3, 16 * H),
    Candidate("B", "K1", 0.30, 0.02, 40e3, 5e3, 16 * H),
    Candidate("C", "K2", 0.25, 0.02, 40e3, 5e3, 30 * H),
    Candidate("D", "K2", 0.05, 0.02, 40e3, 5e3, 16 * H),
)
ASKED = Renewals("spring", JOINTS, 13 * H, 4, 2, {"K1": 4 * H, "K2": 4 * H})


def test_the_choice_is_done_in_the_window() -> None:
    study = study_choice(ASKED)
    # 52 crew hours: A and B with K1 opened take 36; C would take 34 more
    assert study.advice.stated.renew == ("A", "B")
    assert study.advice.stated.hours == 36 * H
    assert study.schedule is not None
    # open 2 h, then two gangs side by side, 8 h each: 10 h of 13
    assert max(b.end for b in study.schedule.bars) == pytest.approx(10 * H)
    assert study.with_power is None
    # one chance, whether it stands at the choice or at the schedule
    assert study.schedule.chance.share == study.advice.stated.chance >= 0.8
    # C by itself takes 2 h + 15 h of 13: no second crew makes room for it
    assert study.crew_twice.renew == ("A", "B")


def test_what_does_not_fit_by_itself_is_left_and_says_why() -> None:
    # C needs 15 h of two people after 2 h of opening up: never in 14 h, whatever the sum of hours
    study = study_choice(replace(ASKED, people=10, window=14 * H))
    assert study.advice.stated.renew == ("A", "B")
    assert study.advice.reasons["C"].startswith("left: by itself it is done within the window with")


def test_reasons_and_what_depends_on_the_costs() -> None:
    joints = (
        Candidate("worn", "C1", 0.5, 0.02, 20e3, 1e3, 6 * H),
        Candidate("fair", "C1", 0.2, 0.02, 20e3, 1e3, 6 * H),
        Candidate("young", "C2", 0.03, 0.02, 20e3, 1e3, 6 * H),
        Candidate("edge", "C2", 0.1, 0.02, 20e3, 1.3e3, 2 * H),
    )
    advice = study_choice(Renewals("spring", joints, 40 * H, 2)).advice
    assert advice.sure == ("worn", "fair")
    assert advice.depends == ("edge",)
    assert advice.stated.renew == ("worn", "fair", "edge")
    assert advice.reasons["worn"] == (
        "renewed: the chance of failing falls from 50 % to 2 %; after its cost it saves 8 600"
    )
    # (3 % - 2 %) of 20 000 spared by 1 000
    assert advice.reasons["young"] == "left: renewing it now costs 800 more than leaving it"
    tight = study_choice(Renewals("spring", joints[:3], 4 * H, 2)).advice
    assert tight.stated.renew == ("worn",)
    assert tight.reasons["fair"].startswith("left: it would save 2 600, but with it all is done")


def test_power_tools_make_room() -> None:
    study = study_choice(replace(ASKED, power_share=0.5, people=4))
    assert study.with_power is not None
    # open 2 h; one gang has C done at 9.5 h, the other A at 6 h and B at 10 h, of 13
    assert set(study.with_power.renew) == {"A", "B", "C"}
    assert study.schedule is not None
    names = [b.name for b in study.schedule.bought]
    assert names == ["a second crew", "power tools"]
    assert study.schedule.bought[1].gain.saved > 3 * H


def test_half_and_double_the_cost_of_a_failure() -> None:
    study = study_choice(ASKED)
    assert study.advice.double.renew == ("A", "B")
    half = study_choice(replace(ASKED, candidates=tuple(
        replace(c, failure_cost=c.failure_cost / 2) for c in JOINTS
    )))  # fmt: skip
    assert half.advice.stated.renew == study.advice.half.renew


def test_nothing_to_gain_is_an_answer() -> None:
    young = tuple(replace(c, chance_if_left=0.03) for c in JOINTS)
    study = study_choice(replace(ASKED, candidates=young))
    assert study.advice.stated.renew == ()
    assert study.schedule is None


def test_many_joints_are_chosen_quickly_and_well() -> None:
    # 5000 candidates of which 40 are worth it; nothing to open. Ten gangs, and two joints of 5 h in
    # a window of 10 h are done in time in fewer than half of all runs: one each, the ten best
    many = tuple(
        Candidate(f"J{n}", f"K{n % 500}", 0.5 - 0.002 * n if n < 40 else 0.01, 0.01, 40e3, 5e3,
                  10 * H)
        for n in range(5000)
    )  # fmt: skip
    study = study_choice(Renewals("fleet", many, 10 * H, 20, 2))
    assert study.advice.stated.renew == tuple(f"J{n}" for n in range(10))


def test_the_range_of_the_saving_is_that_of_what_is_spared() -> None:
    """Half of the laws spare half as much as expected, half of them half as much again: the saving
    and what the renewals cost are then half, and half as much again, less that cost."""
    costs = np.array([c.renewal_cost for c in JOINTS])
    spared = np.array([c.gain for c in JOINTS]) + costs
    laws = np.repeat([0.5, 1.5], 20)[:, None] * spared - costs
    stated = study_choice(ASKED, (laws, laws, laws)).advice.stated
    renewals = sum(c.renewal_cost for c in JOINTS if c.joint in stated.renew)
    assert len(stated.renew) == 2 and stated.span is not None
    for end, times in ((stated.span.low, 0.5), (stated.span.high, 1.5)):
        assert end == pytest.approx(times * (stated.saving + renewals) - renewals)


@pytest.mark.parametrize(
    "ends",
    [
        {"gang": 1}, {"gang": 4}, {"power_share": 1.0}, {"common_cause": 0.0},
        {"common_cause": 1.0}, {"overrun_cost": 0.0},
    ],
)  # fmt: skip
def test_the_ends_of_what_is_accepted_are_accepted(ends: dict[str, float]) -> None:
    assert study_choice(replace(ASKED, **ends)).advice.reasons  # type: ignore[arg-type]


def test_what_cannot_be_is_named() -> None:
    for wrong in (
        {"gang": 0}, {"power_share": 1.01}, {"chance": 0.0}, {"common_cause": -0.01},
        {"common_cause": 1.01}, {"overrun_cost": -1.0},
    ):  # fmt: skip
        with pytest.raises(InputError, match=f"{next(iter(wrong)).replace('_', ' ')}: .* cannot"):
            study_choice(replace(ASKED, **wrong))
    with pytest.raises(InputError, match="gang: 5 cannot be; accepted is 1 to the 4 people"):
        study_choice(replace(ASKED, gang=5))
    with pytest.raises(InputError, match="power share: 0 cannot be"):
        study_choice(replace(ASKED, power_share=0.0))
    with pytest.raises(InputError, match="chance: 1 cannot be; accepted is above 0 and below 1"):
        study_choice(replace(ASKED, chance=1.0))
