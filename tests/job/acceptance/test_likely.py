"""A slip of unit or digit is asked about, and what is true never: over all readings of plans.

The slips are those a crew makes: a digit too many or too few, inches read as millimetres, metres as
feet (factors by definition: 1 in = 25.4 mm, 1 ft = 0.3048 m).
"""

from __future__ import annotations

import pytest

from planned import planned
from splicewright.job import JointPlan, Reading, asked_of, far_off, likely, printed_limits
from splicewright.job.acceptance.likely import is_likely
from splicewright.quantities import Kind, sentence

JOBS = (("incline", "incline-worn-joint"), ("incline", "incline-vulcanised"))


def _readings(plan: JointPlan) -> list[Reading]:
    return [r for s in plan.steps for r in asked_of(plan, s) if not r.of_pair]


def _expected(reading: Reading) -> list[float]:
    """Values that the plan itself names: both limits, or what is planned [SI]."""
    low, high = reading.low, reading.high
    if low and high:
        return [low, high]
    return [v for _, v, kind in reading.limit.numbers if kind is reading.kind and not high]


@pytest.mark.parametrize("job", JOBS)
def test_what_the_plan_asks_for_is_never_asked_about(job: tuple[str, str]) -> None:
    plan = planned(*job)
    width = plan.conveyor.belt.width.value
    for reading in _readings(plan):
        span = likely(reading, width)
        limits = [v for v in printed_limits(reading) if v is not None]
        for value in (*_expected(reading), *limits):
            assert is_likely(span, reading.kind, value, [value]), (reading.what, value)


@pytest.mark.parametrize("job", JOBS)
def test_every_slip_is_asked_about(job: tuple[str, str]) -> None:
    """Where the plan names a value, none of its slips passes."""
    plan, seen = planned(*job), 0
    width = plan.conveyor.belt.width.value
    slips = {
        Kind.LENGTH: (10.0, 0.1, 25.4, 1 / 25.4, 1000.0, 0.001),
        Kind.DISTANCE: (10.0, 1 / 0.3048),
        Kind.TORQUE: (10.0, 0.1),
        Kind.TIME: (1 / 60,),
    }
    for reading in _readings(plan):
        expected = _expected(reading)
        if not expected or (reading.low == 0 and reading.high):
            continue
        typical = sum(expected) / len(expected)
        for factor in slips.get(reading.kind, ()):
            if reading.high is None and reading.low and factor > 1:
                continue  # "at least": larger is what is asked for
            seen += 1
            assert not is_likely(likely(reading, width), reading.kind, typical * factor, ()), (
                reading.what, factor,
            )  # fmt: skip
    assert seen > 10


def test_boxes_of_one_reading_are_held_against_each_other() -> None:
    """Two diagonals of which nothing is planned: 1.402 m, then 14.02 m."""
    plan = planned(*JOBS[0])
    step = next(s for s in plan.steps if s.key == "cut")
    asked, width = asked_of(plan, step), plan.conveyor.belt.width.value
    what = asked[0].what
    assert far_off(asked, {(what, 1): 1.402, (what, 2): 1.404}, width) == ()
    # Only the later one is asked about, so that mending either mends both.
    assert far_off(asked, {(what, 1): 1.402, (what, 2): 0.1404}, width) == ((what, 2),)
    assert far_off(asked, {(what, 1): 14.02}, width) == ((what, 1),)
    # Small differences may truly be many times each other.
    assert is_likely((None, None), Kind.LENGTH, 0.004, [0.0005])


def test_a_thickness_or_a_bow_of_which_nothing_is_said_is_not_as_long_as_the_belt_is_wide() -> None:
    """Belts of 12 mm, a bow of 12 mm over a piece of 4 m; a digit too many, or inches as mm."""
    small = {"flat-torn-belt": 1, "incline-vulcanised": 3, "incline-round": 3}
    for job, count in small.items():
        plan = planned(job.partition("-")[0], job)
        width = plan.conveyor.belt.width.value
        free = [
            reading
            for reading in _readings(plan)
            if reading.kind is Kind.LENGTH and reading.low is None and reading.high is None
            and not reading.limit.numbers
            and any(w in reading.what.lower() for w in ("thick", "thin", "bow", "out of"))
        ]  # fmt: skip
        assert len({reading.what for reading in free}) == count, job
        for reading in free:
            span = likely(reading, width)
            assert is_likely(span, Kind.LENGTH, 0.012, ())
            assert not is_likely(span, Kind.LENGTH, 0.120, ()), reading.what
            assert not is_likely(span, Kind.LENGTH, 0.012 * 25.4, ()), reading.what


@pytest.mark.parametrize(
    ("what", "kind", "low", "high", "span"),
    [
        ("gap", Kind.LENGTH, 0.002, 0.004, (0.002 / 3, 0.012)),
        ("difference", Kind.LENGTH, 0.0, 0.002, (None, 0.02)),
        ("difference", Kind.LENGTH, None, 0.002, (None, 0.02)),
        ("pull", Kind.FORCE, 0.0, 2e3, (None, 6e3)),
        ("strip", Kind.LENGTH, 0.05, None, (0.05 / 3, 1.5)),
        ("pull", Kind.FORCE, 2e3, None, (2e3 / 3, 6e4)),
        ("heat", Kind.TEMPERATURE, 413.15, 423.15, (373.15, 463.15)),
        ("heat", Kind.TEMPERATURE, 413.15, None, (373.15, 453.15)),
        ("weather", Kind.TEMPERATURE, None, None, (233.15, 473.15)),
        ("belt thickness", Kind.LENGTH, None, None, (None, 0.1)),
        ("edge to string line", Kind.LENGTH, None, None, (None, 0.14)),
        ("diagonal", Kind.LENGTH, None, None, (None, 4.2)),
        ("area left", Kind.SHARE, None, None, (0.0, 1.0)),
        ("torque", Kind.TORQUE, None, None, (None, None)),
    ],
)
def test_each_line_of_the_table_gives_its_span(
    what: str, kind: Kind, low: float | None, high: float | None, span: tuple[float | None, ...]
) -> None:
    """The table in the words of `likely`, worked by hand for a belt 1.4 m wide; ends are within."""
    found = likely(Reading(what, kind, low, high, 1, sentence("none said")), 1.4)
    assert found == pytest.approx(span)
    for bound in found:
        assert bound is None or is_likely(found, kind, bound, ())


def test_two_boxes_are_held_against_each_other_from_100_mm_to_three_times() -> None:
    for shorter, longer, likely_so in (
        (0.02, 0.099, True), (0.02, 0.1, False), (0.05, 0.15, True), (0.05, 0.151, False),
    ):  # fmt: skip
        for value, other in ((shorter, longer), (longer, shorter)):
            assert is_likely((None, None), Kind.LENGTH, value, [other]) == likely_so
            assert is_likely((None, None), Kind.SHARE, value, [other])
