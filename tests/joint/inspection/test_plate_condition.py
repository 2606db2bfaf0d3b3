"""Findings of an inspection turned into what each plate can do."""

from __future__ import annotations

import pytest

from splicewright.errors import InputError
from splicewright.joint.inspection.plate_condition import (
    PIN_WORN_SAID,
    SOFTER_SAID,
    TORN_SAID,
    Findings,
    PlateFinding,
    condition,
    kept_by_bolts,
    kept_by_pin,
    lost,
)
from splicewright.joint.loads.membrane import even_row

ROW = even_row(10, 0.06, 0.055)
WIDTH = 0.65


def test_kept_strengths() -> None:
    """A pin at half its diameter keeps 1/8 of its section modulus; one bolt of two, half."""
    assert kept_by_pin(4e-3, 8e-3) == pytest.approx(0.125)
    assert kept_by_bolts(1, 2) == 0.5


def test_torn_edge_takes_the_plates_on_it() -> None:
    """Left edge at 325 mm torn by 100 mm: plate 1 (297.5..242.5) off, plate 2 (..182.5)
    keeps 42.5 of 55 mm."""
    state = condition(Findings(torn_left=0.1), ROW, WIDTH)
    assert state.alive.tolist() == [False] + [True] * 9
    assert state.strength[1] == pytest.approx(42.5 / 55)
    assert state.stiffness[1] == pytest.approx(42.5 / 55)
    # Torn by 120 mm it keeps 22.5 of 55 mm, less than half: it holds nothing that counts.
    assert condition(Findings(torn_left=0.12), ROW, WIDTH).alive.tolist()[:3] == [
        False,
        False,
        True,
    ]
    right = condition(Findings(torn_right=0.04), ROW, WIDTH)
    assert right.alive.tolist() == [True] * 10
    assert right.strength[-1] == pytest.approx(42.5 / 55)


@pytest.mark.parametrize(
    ("findings", "said"),
    [
        (Findings(), set()),
        (Findings((lost(3),)), set()),
        (Findings((PlateFinding(3, 1.0, slack=1e-3),)), set()),
        (Findings((PlateFinding(3, 0.5, kept_stiffness=0.8),)), set()),
        (Findings((lost(2), PlateFinding(3, 0.5))), {SOFTER_SAID}),
        (Findings(pin_diameter=8e-3, pin_wear=1e-3), {PIN_WORN_SAID}),
        (Findings(torn_left=0.01), {TORN_SAID}),
        (Findings(torn_right=0.01), {TORN_SAID}),
    ],
)
def test_only_what_was_assumed_is_said(findings: Findings, said: set[str]) -> None:
    """Of a plate that is lost, whole, or whose stiffness was told, none is assumed."""
    assert set(findings.assumptions()) == said


def test_findings_that_do_not_fit_are_refused_all_at_once() -> None:
    wrong = Findings(
        (lost(3), lost(3), lost(11), PlateFinding(4, 1.2, slack=-1e-3)),
        pin_wear=1e-3,
        torn_left=0.7,
    )
    with pytest.raises(InputError) as caught:
        condition(wrong, ROW, WIDTH)
    assert [str(fault) for fault in caught.value.faults] == [
        "plate: 3 is named 2 times: give each plate once",
        "plate: 11 is not on this joint: its plates are 1 to 10",
        "kept_strength: 1.2 on plate 4 is not accepted: give 0 to 1",
        "slack: -1 mm on plate 4 is not accepted: give 0 mm or more",
        "pin_diameter: not given: a worn pin needs the diameter of the new one",
        "torn: 0 mm right and 700 mm left are not accepted: give 0 mm or more, together less "
        "than the belt's 650 mm",
    ]
    with pytest.raises(InputError, match=r"^plates: all 10 plates are lost: nothing holds the"):
        condition(Findings(tuple(lost(n) for n in range(1, 11))), ROW, WIDTH)
    with pytest.raises(InputError, match=r"^pin_wear: 9 mm is not accepted: give 0 mm or more"):
        condition(Findings(pin_diameter=8e-3, pin_wear=9e-3), ROW, WIDTH)
