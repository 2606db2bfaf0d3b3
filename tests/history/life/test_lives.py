"""Records of lives: what is taken, what is refused and with which words."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.lives import Life, failed, for_cause, gather, lives_of, running
from splicewright.quantities.measure import Measure


def test_every_kind_of_record_keeps_its_two_ages() -> None:
    lives = gather(
        [
            failed(500.0),
            running(700.0),
            Life(0.0, 300.0),
            Life(200.0, 400.0),
            Life(650.0, 690.0, 600.0),
        ]
    )
    assert lives.good.tolist() == [500.0, 700.0, 0.0, 200.0, 650.0]
    assert lives.bad.tolist() == [500.0, math.inf, 300.0, 400.0, 690.0]
    assert lives.exact.tolist() == [True, False, False, False, False]
    assert lives.suspended.tolist() == [False, True, False, False, False]
    assert lives.between.tolist() == [False, False, True, True, True]
    assert (lives.number, lives.failures) == (5, 4)


def test_arrays_share_one_scalar_and_carry_counts() -> None:
    lives = lives_of([1.0, 2.0], [1.0, math.inf], count=[3, 40])
    assert lives.number == 43
    assert lives.failures == 3
    assert lives.entered.tolist() == [0.0, 0.0]


def test_arrays_cannot_be_changed_afterwards() -> None:
    mine = np.array([1.0, 2.0])
    lives = lives_of(mine, mine)
    mine[0] = 9.0
    assert lives.good[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        lives.good[0] = 5.0


def test_other_causes_end_the_watch() -> None:
    records = [
        failed(500.0, cause="pull-out"),
        failed(600.0, cause="pin broken"),
        Life(200.0, 400.0, cause="pin broken"),
        running(700.0),
    ]
    pins = for_cause(records, "pull-out")
    assert [life.failed for life in pins] == [True, False, False, False]
    assert pins[1].good == 600.0
    assert pins[2].good == 200.0, "suspended when last seen good, not when found failed"


@pytest.mark.parametrize(
    ("life", "sentence"),
    [
        (
            Life(-5.0, math.inf, 0.0, joint="J1"),
            "lives, J1: the last good age -5 must be a number of zero or more",
        ),
        (
            Life(math.nan, math.inf),
            "lives, record 1: the last good age nan must be a number of zero or more",
        ),
        (
            Life(10.0, 20.0, -1.0),
            "lives, record 1: the age -1 at which the log began must be a number of zero or more",
        ),
        (
            failed(0.0, joint="J2"),
            "lives, J2: the failure age 0 must be above zero; a joint that never ran is no life",
        ),
        (
            Life(50.0, 40.0),
            "lives, record 1: seen failed at 40 but still good at 50; a failure comes after the "
            "last good look",
        ),
        (
            running(100.0, entered=200.0),
            "lives, record 1: last seen good at 100, before the log began to watch at 200; leave "
            "it out or correct the ages",
        ),
        (
            failed(200.0, entered=200.0),
            "lives, record 1: failed at 200, the very age at which the log began; leave it out or "
            "correct the ages",
        ),
    ],
)
def test_impossible_ages_are_named(life: Life, sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        gather([life])
    assert str(caught.value) == sentence


def test_all_faults_are_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        gather([running(-1.0, joint="A"), failed(5.0), Life(9.0, 8.0, joint="C")])
    assert [fault.key for fault in caught.value.faults] == ["lives, A", "lives, C"]


def test_no_records_and_mixed_measures_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        gather([])
    assert str(caught.value) == "lives: there are none; give at least one joint's life"
    with pytest.raises(InputError) as caught:
        gather([failed(5.0), failed(6.0, measure=Measure.MASS)])
    assert str(caught.value) == (
        "lives: are counted in mass carried and running time; give all of them in one measure"
    )


def test_arrays_of_different_length_and_odd_counts_are_refused() -> None:
    with pytest.raises(InputError, match=r"arrays differ in length \(2, 3, 1, 1\)"):
        lives_of([1.0, 2.0], [1.0, 2.0, 3.0])
    with pytest.raises(InputError, match="there are none"):
        lives_of([], [])
    with pytest.raises(InputError, match=r"the count 1\.5 must be a whole number of joints"):
        lives_of([1.0], [1.0], count=1.5)
