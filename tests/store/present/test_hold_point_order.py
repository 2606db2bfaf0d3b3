"""Hold points signed out of order are told, whatever came in when; none is refused for it."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import combinations
from uuid import uuid4

from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from planned import planned
from splicewright.store.facts.job_facts import HoldPointSigned
from splicewright.store.present.job_sheet import Entry, JobSheet, job_sheet
from splicewright.store.present.job_view import keeps_open, out_of_order
from store.making import START

PLAN = planned("incline", "incline-worn-joint")
HOLDS = [s for s in PLAN.steps if s.hold_point is not None]


def _sheet(signed: list[tuple[int, datetime]]) -> JobSheet:
    """Signatures as they arrived: of which hold point, signed when."""
    bare = job_sheet(())
    for n, (which, when) in enumerate(signed):
        step = HOLDS[which]
        what = HoldPointSigned(uuid4(), step.key, step.hold_point or "")
        entry = Entry(uuid4(), n + 1, "Ada Example", when, f"phone {n}", what)
        bare.hold_points[step.key] = (*bare.hold_points.get(step.key, ()), entry)
    return bare


@given(
    st.lists(st.tuples(st.integers(0, len(HOLDS) - 1), st.integers(0, 6)), max_size=14),
    st.randoms(use_true_random=False),
)
@settings(max_examples=examples(60), deadline=None)
def test_told_is_what_every_pair_says(signed: list[tuple[int, int]], draw: object) -> None:
    """Against all pairs of hold points, by their first signatures."""
    at = [(which, START + timedelta(hours=h)) for which, h in signed]
    first = {which: min(t for w, t in at if w == which) for which, _ in at}
    early = {
        after for before, after in combinations(range(len(HOLDS)), 2)
        if after in first and (before not in first or first[before] > first[after])
    }  # fmt: skip
    told = out_of_order(PLAN, _sheet(at))
    assert [t.split(",")[0] for t in told] == [
        f"the hold point of step {HOLDS[n].number}" for n in sorted(early)
    ]
    # What arrives in another order is the same.
    getattr(draw, "shuffle")(at)  # noqa: B009
    assert out_of_order(PLAN, _sheet(at)) == told


def test_it_names_the_first_and_keeps_nothing_open() -> None:
    late = [(n, START + timedelta(hours=n)) for n in range(len(HOLDS))]
    assert out_of_order(PLAN, _sheet(late)) == ()
    late[0] = (0, START + timedelta(hours=1.5))
    first, second = HOLDS[0], HOLDS[1]
    assert out_of_order(PLAN, _sheet(late)) == (
        f"the hold point of step {second.number}, {second.title}, was signed before that of step "
        f"{first.number}, {first.title}",
    )
    assert keeps_open(PLAN, _sheet(late)) == keeps_open(PLAN, _sheet(late[::-1]))
    assert out_of_order(None, _sheet(late)) == ()
