"""Kind of job: stated or taken from the reason, and what goes with it."""

from __future__ import annotations

from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.plant import JobKind
from strategies import conveyor_of, outline, work_of


def kind_of(**work: Any) -> tuple[JobKind, str]:
    made = work_of(conveyor_of(outline()), **work)
    return made.job, made.job_why


@pytest.mark.parametrize(
    ("reason", "belt", "kind"),
    [
        (None, {}, JobKind.ANEW),
        ("worn joint", {}, JobKind.ANEW),
        ("worn joint", {"insert": "2 m"}, JobKind.PIECE),
        ("torn belt", {"cut_out": "2 m", "insert": "2 m"}, JobKind.PIECE),
        ("torn belt", {"cut_out": "0.3 m"}, JobKind.ANEW),
        ("shorten belt", {"cut_out": "0.3 m"}, JobKind.SHORTENED),
        ("lengthen belt", {"insert": "0.3 m"}, JobKind.LENGTHENED),
        ("new belt", {}, JobKind.NEW_BELT),
    ],
)
def test_old_files_keep_working_and_say_so(
    reason: str | None, belt: dict[str, str], kind: JobKind
) -> None:
    work = {} if reason is None else {"reason": reason}
    found, why = kind_of(work=work, belt=belt)
    assert found is kind
    assert why.startswith(f"taken from the reason: {reason or 'worn joint'}")


def test_a_stated_kind_needs_no_reason() -> None:
    assert kind_of(work={"kind": "belt shortened"}, belt={"cut_out": "1 m"}) == (
        JobKind.SHORTENED, "",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"work": {"kind": "new belt", "reason": "worn joint"}}, "work.reason: .* does not go"),
        ({"work": {"kind": "piece inserted"}}, "belt.insert: is missing"),
        ({"work": {"kind": "worn joint made anew"}, "belt": {"insert": "1 m"}}, "two joints"),
        ({"work": {"kind": "emergency repair"}}, 'damage.what: must be given .*"pin", "plates"'),
        ({"work": {"kind": "emergency repair"}, "damage": {"what": "plates"}}, "damage.width"),
        (
            {
                "work": {"kind": "emergency repair"},
                "damage": {"what": "pin"},
                "joint": {"kind": "solid plate"},
            },
            "joint.kind: .* has no pin",
        ),
        ({"work": {"kind": "repair along the belt"}, "damage": {"what": "pin"}}, 'accepted: "rip"'),
        ({"work": {"kind": "repair along the belt"}, "damage": {"what": "rip"}}, "damage.length"),
        (
            {
                "work": {"kind": "repair along the belt"},
                "damage": {"what": "edge tear", "length": "1 m", "width": "0.8 m"},
            },
            "whole belt",
        ),
        (
            {
                "work": {"kind": "repair along the belt"},
                "damage": {"what": "rip", "length": "1 m"},
                "belt": {"cut_out": "1 m"},
            },
            "belt.cut_out: .* leaves it whole",
        ),
        ({"work": {"kind": "inspection round"}}, "round: is missing"),
        ({"round": [{"name": "J1", "behind": "1 m"}]}, "round: does not go"),
        ({"work": {"round_way": "foot"}}, "work.round_way: does not go"),
        ({"damage": {"what": "pin"}}, "damage: does not go"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_one_clear_sentence(
    tables: dict[str, Any], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        kind_of(**tables)
