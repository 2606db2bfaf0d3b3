"""What the API answers with about the plant: every number in SI, its unit in brackets."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field

from splicewright.store import State, Stream
from splicewright.store.facts.joint_facts import Mode
from splicewright.store.facts.plant_facts import Grade, PersonRole


class Out(BaseModel):
    """An answer; made from a row of the present state."""

    model_config = ConfigDict(from_attributes=True)


class SiteOut(Out):
    """A site."""

    site: UUID
    name: str
    note: str


class ConveyorOut(Out):
    """A conveyor, and the newest version of its file."""

    conveyor: UUID
    site: UUID
    name: str
    file: str | None = Field(description="SHA-256 of the newest file; null when there is none.")
    file_version: int = Field(description="Number of that version, from 1.")
    belt_length: float | None = Field(description="Length of the closed belt [m].")
    speed: float | None = Field(description="Belt speed [m/s].")


class FileVersionOut(Out):
    """One version of a conveyor's file."""

    version: int = Field(description="From 1.")
    file: str | None = Field(description="SHA-256 of the file; null when it had none.")
    at: datetime
    by: str


class RecordedConveyorOut(Out):
    """What recording a conveyor file did."""

    site: UUID
    conveyor: UUID
    name: str
    version: int = Field(description="Version of the file now, from 1.")
    new: bool = Field(description="False when this very file was the newest already.")


class BeltOut(Out):
    """A belt on a conveyor."""

    belt: UUID
    conveyor: UUID
    name: str
    length: float = Field(description="Length of the closed belt [m].")
    marking: str
    placed: datetime


class PieceOut(Out):
    """A piece of belt in the loop."""

    piece: UUID
    belt: UUID
    name: str
    start: float = Field(description="From the mark on the belt, in the direction of travel [m].")
    length: float = Field(description="Along the belt [m].")
    marking: str
    made: datetime | None
    placed: datetime
    removed: datetime | None


class DamageOut(Out):
    """A damage of a belt."""

    damage: UUID
    belt: UUID
    place: float = Field(description="From the mark on the belt [m].")
    length: float = Field(description="Along the belt [m].")
    grade: Grade
    across: float | None = Field(description="From the centreline, positive to the left [m].")
    note: str
    found: datetime
    mended: datetime | None


class JointOut(Out):
    """A joint, its state and its history."""

    joint: UUID
    conveyor: UUID
    belt: UUID | None
    label: str
    place: float | None = Field(description="Of the pin axis, from the mark on the belt [m].")
    state: State
    plan: str | None = Field(description="SHA-256 of its plan, to be had as a content.")
    plan_id: str
    retighten_after: float | None = Field(description="As planned, after being put to work [s].")
    inspect_after: float | None = Field(description="As planned, after being put to work [s].")
    planned: datetime
    built: datetime | None
    put_to_work: datetime | None
    stopped: datetime | None
    removed: datetime | None
    mode: Mode | None = Field(description="Why it was removed.")
    retightened: datetime | None
    inspected: datetime | None
    can_run: bool | None = Field(description="What the last inspection decided.")
    seen_station: float | None = Field(description="Station of the loop where it was seen [m].")
    seen: datetime | None
    construction: str = Field(description="Kind of joint; empty where nobody said it.")


class JointsOut(Out):
    """A page of joints."""

    joints: list[JointOut]
    next: str | None = Field(description="Send as `after` for the next page; null at the end.")


class JobOut(Out):
    """A job."""

    job: UUID
    conveyor: UUID
    joint: UUID | None
    name: str
    opened: datetime
    signed: datetime | None
    signed_by: str
    changed: bool = Field(description="Facts came after what the last signature saw.")
    closed: datetime | None


class ReadingOut(Out):
    """A reading as it counts now: corrected ones by their correction, withdrawn ones left out."""

    fact: UUID
    of: Stream
    about: UUID
    what: str
    measure: str = Field(description="Kind of quantity; says which SI unit the value has.")
    value: float = Field(description="[SI unit of the measure]")
    typed: str = Field(description="As it was typed, with its unit.")
    note: str
    when: datetime
    by: str


class StockOut(Out):
    """How many of an item lie in a site's store."""

    site: UUID
    item: str
    count: float = Field(description="Below 0 when more went out than came in [1].")


class PersonOut(Out):
    """A person."""

    person: UUID
    name: str
    role: PersonRole


class DueOut(Out):
    """Something due."""

    joint: UUID | None = Field(description="Null where a deviation's job has no joint.")
    label: str
    state: State | None
    conveyor: UUID
    conveyor_name: str
    site: UUID
    task: Literal["re-tighten", "inspect", "renew", "put right"] = Field(
        description="What to do; `put right` is a value left outside its limits until that day."
    )
    due: datetime
    why: str
    job: UUID | None = Field(description="The job of a value left outside its limits.")
    job_name: str


class StoredOut(Out):
    """A fact as recorded."""

    seq: int = Field(description="Place in the order of arrival, from 1.")
    received: datetime
    hash: str = Field(description="SHA-256 that chains it to the fact before, hexadecimal.")
    fact: dict[str, Any] = Field(description="The fact; its form is in docs/register.md.")


class FactsOut(Out):
    """A page of facts in the order of arrival."""

    facts: list[StoredOut]
    next: int = Field(description="Send as `since` for the next page.")
    head: int = Field(description="Number of the last fact of the register.")
