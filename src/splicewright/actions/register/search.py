"""Find conveyors, joints and jobs by any words or numbers in what they are called."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.actions.register.use import named

if TYPE_CHECKING:
    from splicewright.store import Register
    from splicewright.store.present.present import ConveyorNow, JobNow, JointNow

MOST = 20
"""Things of one kind that are listed."""
_WORDS = 8
_LOOKED_AT = 500
"""Joints for each word, and newest jobs, that are looked through."""
_CODE = re.compile(
    r"/(joints|jobs|conveyors)/([0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12})(?![0-9a-fA-F-])"
)


@dataclass(frozen=True, slots=True)
class Found:
    """What has every word: with the name of its conveyor; at most `MOST` of each kind.

    more : whether there was more of some kind
    """

    conveyors: tuple[tuple[ConveyorNow, str], ...]
    joints: tuple[tuple[JointNow, str], ...]
    jobs: tuple[tuple[JobNow, str], ...]
    more: bool


def search(register: Register, text: str) -> Found:
    """Conveyors, joints and jobs that have every word of `text`.

    A conveyor is known by its name and its site's; a joint by its number, a job by its name, and
    both by their conveyor. The newest 500 jobs are looked through.
    """
    words = text.casefold().split()[:_WORDS]
    if not words:
        return Found((), (), (), more=False)
    sites = {s.site: s.name for s in register.sites()}
    every = named(register)
    labels, texts = every.labels, every.search_texts

    def has_all(own: str, conveyor: UUID) -> bool:
        whole = f"{own.casefold()} {texts.get(conveyor, '')}"
        return all(word in whole for word in words)

    conveyors = [
        c
        for c, whole in zip(every.conveyors, texts.values(), strict=True)
        if all(word in whole for word in words)
    ]
    near = {
        joint.joint: joint
        for some in _to_look_for(words, "\n".join(texts.values()))
        for joint in register.joints(like=some, limit=_LOOKED_AT)
    }
    joints = [j for j in near.values() if has_all(j.label, j.conveyor)]
    jobs = [j for j in register.jobs(limit=_LOOKED_AT) if has_all(j.name, j.conveyor)]
    return Found(
        tuple((c, sites.get(c.site, "")) for c in conveyors[:MOST]),
        tuple((j, labels.get(j.conveyor, "")) for j in sorted(joints, key=_number)[:MOST]),
        tuple((j, labels.get(j.conveyor, "")) for j in jobs[:MOST]),
        more=max(len(conveyors), len(joints), len(jobs)) > MOST,
    )


def _to_look_for(words: list[str], texts: str) -> list[tuple[str, ...]]:
    """Words that labels are looked through for, those of one turn together in one label.

    A word that no conveyor or site has stands in the label itself, so one turn for all such will
    do: every label of a large register is looked at in a turn.
    """
    own = tuple(word for word in words if word not in texts)
    return [own] if own else [(word,) for word in words]


def _number(joint: JointNow) -> tuple[int, str]:
    """Short numbers first: J1 before J10 and J100."""
    return len(joint.label), joint.label


def page_of_code(text: str) -> str:
    """The page that a label's code leads to, as a path; "" where the text is no such code."""
    match = _CODE.search(text)
    return f"/{match[1]}/{match[2].lower()}" if match is not None else ""
