"""What somebody takes of a proposal becomes their signature, and the facts that it fills."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import numpy as np
import pytest

from splicewright.actions.photographs.proposals import MeasureAsked, Proposal, Proposed, taken
from splicewright.actions.photographs.proposing import equal_lengths
from splicewright.errors import InputError
from splicewright.joint.inspection.verdict import PlateState
from splicewright.photographs.measures import EndMeasured, Value
from splicewright.quantities import Kind
from splicewright.store import Fact, Stored
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import PhotoAdded, PlateInspected
from splicewright.store.facts.kinds import Stream
from splicewright.store.facts.photo_facts import PhotographMeasured, Shows, ToMeasure
from splicewright.store.present.measurings import Measuring, measurings

PHOTO, DOCUMENT = "a" * 64, "d" * 64
NOW = datetime(2026, 5, 4, tzinfo=UTC)


def waiting(of: Stream, shows: Shows, step: str = "") -> Measuring:
    asked = ToMeasure(uuid4(), shows, "leading", 0.2)
    photo = PhotoAdded(of, uuid4(), PHOTO, step=step, measure=asked)
    fact = Fact(uuid4(), NOW, "Ada", photo)
    (made,) = measurings([Stored(1, NOW, b"", fact)])
    assert made.whole and made.signed is None
    return made


def proposal(shows: Shows, *values: Proposed, missing: tuple[int, ...] = ()) -> Proposal:
    asked = MeasureAsked((PHOTO,), shows, "leading", 0.2)
    covariance = tuple(tuple(map(float, row)) for row in 1e-6 * np.eye(len(values)))
    return Proposal(
        asked, "left and right", "to be confirmed with the tape", "0", values, covariance, missing,
        (), ((1920, 1440),), ({"cut": ((1.0, 2.0), (3.0, 4.0))},), (1, 2), (1400.0,), 0.05,
    )  # fmt: skip


def test_the_diagonals_are_those_of_the_parallelogram_of_corners_and_marks() -> None:
    # Corners and marks laid out by hand, then measured from point to point.
    width, square, back = 1.0, 0.006, 0.9
    left, right = np.array([square / 2, width / 2]), np.array([-square / 2, -width / 2])
    behind = np.array([back, 0.0])
    covariance = np.diag([1e-6, 4e-6])
    end = EndMeasured(
        (Value("width", "", width, 0), Value("out_of_square", "", square, 0)), covariance, ()
    )
    made, whole = equal_lengths(end, back, "leading", cut=True)
    drawn = np.linalg.norm(left - (right - behind)), np.linalg.norm(right - (left - behind))
    assert [d.value for d in made] == pytest.approx(drawn, abs=1e-12)
    # The range against drawn samples of width and square (Monte Carlo).
    rng = np.random.default_rng(1)
    w, s = rng.multivariate_normal([width, square], covariance, 200_000).T
    assert made[0].half_width == pytest.approx(1.96 * np.hypot(w, back + s).std(), rel=0.02)
    assert whole.shape == (4, 4) and np.allclose(whole, whole.T)
    assert {d.what for d in made} == {"Diagonals after the cut, leading end"}


def test_the_lengths_of_the_square_line_are_those_of_its_triangle() -> None:
    # The line's two ends and the point behind it on the centreline, laid out by hand.
    width, square, back = 1.2, 0.004, 0.7
    point = np.array([-back, 0.0])
    left, right = np.array([square / 2, width / 2]), np.array([-square / 2, -width / 2])
    covariance = np.diag([1e-6, 2e-6])
    end = EndMeasured(
        (Value("width", "", width, 0), Value("out_of_square", "", square, 0)), covariance, ()
    )
    made, _ = equal_lengths(end, back, "trailing", cut=False)
    drawn = np.linalg.norm(left - point), np.linalg.norm(right - point)
    assert [d.value for d in made] == pytest.approx(drawn, abs=1e-12)
    rng = np.random.default_rng(1)
    w, s = rng.multivariate_normal([width, square], covariance, 200_000).T
    assert made[1].half_width == pytest.approx(1.96 * np.hypot(w / 2, back - s / 2).std(), rel=0.02)
    assert {d.what for d in made} == {"Point to left and right end of the line, trailing end"}


def test_a_box_is_filled_at_its_own_step_only() -> None:
    made = proposal("gap", Proposed("edges", "edges", Kind.LENGTH, 2e-3, 1e-3, None, "Edge", 1))
    for step, filled in (("check", 1), ("couple", 0)):
        measuring = waiting(Stream.JOB, "gap", step)
        _, *boxes = taken(made, DOCUMENT, measuring, ["edges"], {}, [], "metric")
        assert len(boxes) == filled, step


def test_values_are_accepted_overruled_or_set_aside() -> None:
    measuring = waiting(Stream.JOB, "cut", "cut")
    made = proposal(
        "cut",
        Proposed("width", "width", Kind.LENGTH, 1.00012, 2e-3),
        Proposed("one", "diagonal", Kind.LENGTH, 1.234567, 2e-3, None, "Diagonals", 1),
        Proposed("two", "diagonal", Kind.LENGTH, 1.234567, 2e-3, None, "Diagonals", 2),
        Proposed("three", "left out", Kind.LENGTH, 0.1, 2e-3, None, "Diagonals", 3),
    )
    facts = taken(made, DOCUMENT, measuring, ["width", "one"], {"two": "1240 mm"}, [], "metric")
    signed, *boxes = facts
    assert isinstance(signed, PhotographMeasured) and signed.document == DOCUMENT
    assert [(v.taken, v.typed) for v in signed.values] == [
        (1.00012, ""), (pytest.approx(1.2346), ""), (pytest.approx(1.24), "1240 mm"), (None, ""),
    ]  # fmt: skip
    assert all(isinstance(box, ValueRecorded) for box in boxes)
    told = [(b.box, b.typed, b.step) for b in boxes if isinstance(b, ValueRecorded)]
    assert told == [(1, "1234.6 mm", "cut"), (2, "1240 mm", "cut")]
    again = Proposal.from_data(made.to_json())
    assert again == made == Proposal.from_data(made.to_data())


def test_a_missing_plate_is_said_only_where_somebody_confirms_it() -> None:
    measuring = waiting(Stream.JOINT, "plates")
    pitch = Proposed("pitch", "pitch", Kind.LENGTH, 0.043, 1e-4)
    made = proposal("plates", pitch, missing=(7, 9))
    signed, *lost = taken(made, DOCUMENT, measuring, [], {}, [7], "metric")
    assert isinstance(signed, PhotographMeasured) and signed.missing == (7,)
    (plate,) = lost
    assert isinstance(plate, PlateInspected)
    assert (plate.plate, plate.state, plate.end) == (7, PlateState.LOST, "leading end")
    with pytest.raises(InputError, match="plate 8 was not proposed"):
        taken(made, DOCUMENT, measuring, [], {}, [8], "metric")


def test_nothing_taken_is_no_signature_and_what_cannot_be_read_is_told() -> None:
    measuring = waiting(Stream.JOB, "cut", "cut")
    made = proposal("cut", Proposed("width", "width", Kind.LENGTH, 1.0, 2e-3))
    with pytest.raises(InputError, match="nothing is taken"):
        taken(made, DOCUMENT, measuring, [], {}, [], "metric")
    with pytest.raises(InputError) as refused:
        taken(made, DOCUMENT, measuring, [], {"width": "broad"}, [], "metric")
    assert refused.value.faults[0].key == "width"
