"""Can it run? Statics on rigid belts, the promises of the verdict, and what is refused."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from proof import proves
from splicewright.errors import InputError
from splicewright.joint.inspection.damage import DECISION, PlateRating, Zipper, can_it_run
from splicewright.joint.inspection.plate_condition import Findings, PlateFinding, lost
from splicewright.joint.inspection.verdict import Verdict
from splicewright.joint.loads.membrane import even_row, free_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.places import Place, curve_slack
from splicewright.joint.loads.sharing import Guidance, guided, share, unguided
from splicewright.joint.loads.stiffness import Case

pytestmark = proves(
    "Limits of making, and damage",
    "Damage: what must hold",
    "D",
    "What a damaged joint may carry: statics of a stiff belt, the largest pull found by trying, "
    "one direct solve, equilibrium over random damage.",
    doubt="Statics are exact for a stiff belt; trying and the direct solve use this tool's own "
    "mechanics and would share their errors.",
    tolerance="1e-6 for a belt a million times as stiff; 1e-9 where the same system is solved "
    "another way; 1e-4 for a load found by halving",
    sketch="pin",
)


ROW = even_row(10, 0.06, 0.055)
WIDTH = 0.65
RIGID = free_compliance(Strip(WIDTH, 1e14, 1e14, 1e14), ROW, refine=1)
SOFT_STRIP = Strip(WIDTH, 5e6, 1.6e6, 2.5e5)
SOFT = free_compliance(SOFT_STRIP, ROW, refine=1)
HELD = Case("rigid, held", RIGID, 2e6, Guidance("held", 0.0))
LOOSE = Case("rigid, loose", RIGID, 2e6, unguided())
REAL = Case("real, guided", SOFT, 2e6, guided(SOFT_STRIP))
PULL = 2e4
PLACE = [Place("head", PULL / WIDTH)]


def test_held_rigid_belt_is_plain_division() -> None:
    """8 plates left share evenly: margin 8 R/F; opens when F/left passes the breaking pull."""
    found = can_it_run([HELD], Findings((lost(1), lost(4))), PlateRating(4e3, 6.1e3), PLACE)
    result = found.typical
    assert result.loads == pytest.approx([0, 2500, 2500, 0, *[2500] * 6], rel=1e-6)
    assert result.margin == pytest.approx(8 * 4e3 / PULL, rel=1e-6)
    assert result.carries == pytest.approx(8 * 4e3 / PULL, rel=1e-5)
    # 20 kN on 4 plates is 5 kN each, on 3 plates 6.67 kN: the fifth loss opens it.
    assert result.losses_to_open == 5
    assert (result.zipper, found.verdict) == (Zipper.HOLDS, Verdict.WATCH)


def test_loose_rigid_belt_is_a_bolt_group() -> None:
    """P = F/n - F m (y - m) / sum (y - m)^2, m the middle of the plates left: statics."""
    found = can_it_run([LOOSE], Findings((lost(1), lost(2))), PlateRating(6e3, 2e4), PLACE)
    y = ROW.y[2:]
    arm = y - y.mean()
    expected = PULL / 8 - PULL * y.mean() * arm / (arm @ arm)
    np.testing.assert_allclose(found.typical.loads[2:], expected, rtol=1e-6)
    assert found.typical.next_plate == 3
    assert found.typical.next_load == pytest.approx(expected[0], rel=1e-6)


@pytest.mark.parametrize(
    ("breaking", "zipper", "verdict"),
    [
        (2.1e3, Zipper.OPENS, Verdict.STOP),
        (2.3e3, Zipper.NEXT, Verdict.REDUCE),
        (2.6e3, Zipper.HOLDS, Verdict.WATCH),
    ],
)
def test_zipper_by_hand(breaking: float, zipper: Zipper, verdict: Verdict) -> None:
    """20 kN: 9 plates 2.22 kN each, 8 plates 2.5 kN; peak 1.0, running rating 2.05 and up."""
    rating = PlateRating(min(breaking, 2.25e3), breaking)
    found = can_it_run([HELD], Findings((lost(5),)), rating, PLACE)
    assert (found.typical.zipper, found.verdict) == (zipper, verdict)


def test_starting_pull_counts_for_the_zipper_and_running_pull_for_the_margin() -> None:
    rating = PlateRating(2.25e3, 3.0e3)
    calm = can_it_run([HELD], Findings((lost(5),)), rating, PLACE)
    hard = can_it_run([HELD], Findings((lost(5),)), rating, PLACE, peak=1.5)
    assert calm.margin == hard.margin
    assert (calm.typical.zipper, hard.typical.zipper) == (Zipper.HOLDS, Zipper.OPENS)
    assert hard.verdict is Verdict.STOP


def test_overloaded_but_holding_joint_is_for_less_load() -> None:
    found = can_it_run([HELD], Findings((lost(1),)), PlateRating(2e3, 6e3), PLACE)
    assert found.verdict is Verdict.REDUCE
    assert found.carries[0] == pytest.approx(9 * 2e3 / PULL, rel=1e-5)
    empty = can_it_run([HELD], Findings((lost(1),)), PlateRating(2e3, 6e3), PLACE, least_share=0.95)
    assert empty.verdict is Verdict.STOP


def test_plates_on_one_side_of_a_loose_belt_open_at_once() -> None:
    findings = Findings(tuple(lost(n) for n in range(1, 6)))
    found = can_it_run([HELD, LOOSE], findings, PlateRating(6e3, 2e4), PLACE)
    assert found.verdict is Verdict.STOP
    assert (found.worst.zipper, found.worst.loads, found.worst.next_plate) == (Zipper.OPENS, (), 6)
    assert found.margin[0] == found.carries[0] == 0.0
    assert found.typical.margin > 0


def test_weak_plate_is_the_next_to_go_and_loads_are_those_of_the_share() -> None:
    finding = PlateFinding(7, 0.3, 1.0, what="one bolt left")
    found = can_it_run([REAL], Findings((finding,)), PlateRating(4e3, 8e3), PLACE, curve_depth=2e-3)
    direct = share(
        SOFT, 2e6, PULL, slack=curve_slack(ROW.y, WIDTH, 2e-3), guidance=REAL.guidance
    ).loads
    np.testing.assert_allclose(found.typical.loads, direct, rtol=1e-9)
    assert found.typical.next_plate == 7
    assert found.typical.margin == pytest.approx(0.3 * 4e3 / direct[6], rel=1e-9)


def test_at_the_largest_pull_the_margin_is_one() -> None:
    findings = Findings((lost(2), PlateFinding(3, 0.7, slack=1e-3)))
    found = can_it_run([REAL], findings, PlateRating(4e3, 8e3), PLACE, curve_depth=2e-3)
    there = [Place("head", found.typical.carries * PULL / WIDTH)]
    again = can_it_run([REAL], findings, PlateRating(4e3, 8e3), there, curve_depth=2e-3)
    assert again.typical.margin == pytest.approx(1.0, rel=1e-4)


@settings(deadline=None, max_examples=examples(30))
@given(
    plate=st.integers(1, 10),
    kept=st.tuples(st.floats(0.05, 1.0), st.floats(0.05, 1.0)),
    other=st.integers(1, 10),
)
def test_a_weaker_plate_never_helps(plate: int, kept: tuple[float, float], other: int) -> None:
    more, less = max(kept), min(kept)
    results = [
        can_it_run(
            [REAL],
            Findings((*([lost(other)] if other != plate else []), PlateFinding(plate, share, 1.0))),
            PlateRating(4e3, 8e3),
            PLACE,
        ).typical
        for share in (more, less)
    ]
    assert results[1].margin <= results[0].margin * (1 + 1e-12)
    assert results[1].carries <= results[0].carries * (1 + 1e-5)


def test_verdict_goes_by_the_worst_case_and_says_who_decides() -> None:
    findings = Findings((lost(1), lost(2)), pin_diameter=8e-3, pin_wear=0.5e-3)
    found = can_it_run([HELD, REAL, LOOSE], findings, PlateRating(4e3, 8e3), PLACE, peak=1.4)
    assert found.margin == (min(c.margin for c in found.cases), max(c.margin for c in found.cases))
    assert found.worst.carries == found.carries[0]
    assert found.decision == DECISION
    assert "competent person" in DECISION
    said = " ".join([*Verdict, *Zipper, DECISION, *found.reasons, *found.assumptions]).lower()
    assert "safe" not in said
    assert "1.40 times the running pull" in said
    assert "worn pin taken as bent" in said


def test_questions_that_cannot_be_answered_are_refused() -> None:
    rating = PlateRating(4e3, 8e3)
    for cases, places, extra, text in (
        ([], PLACE, {}, "cases: none given"),
        ([HELD], [], {}, "places: none given"),
        ([HELD], PLACE, {"peak": 0.9}, "peak: 0.9 is not accepted: give 1 or more"),
        ([HELD], PLACE, {"least_share": 1.5}, "least_share: 1.5 is not accepted: give 0 to 1"),
    ):
        with pytest.raises(InputError, match="^" + text):
            can_it_run(
                cases, Findings(), rating, places,
                peak=extra.get("peak", 1.0), least_share=extra.get("least_share", 0.5),
            )  # fmt: skip
    with pytest.raises(InputError, match=r"^rating: running 8000 N and breaking 4000 N"):
        PlateRating(8e3, 4e3)


def test_every_pair_of_lost_plates_gets_an_answer() -> None:
    for one, two in itertools.combinations(range(1, 11), 2):
        found = can_it_run(
            [REAL, LOOSE], Findings((lost(one), lost(two))), PlateRating(4e3, 8e3), PLACE
        )
        for result in found.cases:
            assert sum(result.loads) == pytest.approx(PULL, rel=1e-9)


def test_a_plate_with_a_worn_loop_takes_up_late_and_carries_less() -> None:
    """On a rigid held belt a slack g takes k g (1 - 1/n) off its load: springs side by side."""
    slack = 0.4e-3
    findings = Findings((PlateFinding(4, 1.0, slack=slack),))
    found = can_it_run([HELD], findings, PlateRating(4e3, 8e3), PLACE).typical
    assert found.loads[3] == pytest.approx(PULL / 10 - 2e6 * slack * 0.9, rel=1e-5)
    assert found.loads[0] == pytest.approx(PULL / 10 + 2e6 * slack * 0.1, rel=1e-5)


def test_the_next_plate_is_told_with_its_load_at_the_largest_pull() -> None:
    """Held and rigid, eight plates left share 1.4 times the pull evenly."""
    found = can_it_run(
        [HELD], Findings((lost(1), lost(4))), PlateRating(4e3, 1e4), PLACE, peak=1.4
    ).typical
    assert found.next_load == pytest.approx(1.4 * PULL / 8, rel=1e-6)
    assert found.loads[1] == pytest.approx(PULL / 8, rel=1e-6)
