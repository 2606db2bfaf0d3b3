"""Bundle the job folders of several jobs into one file to carry away."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.actions.job.left_outside import left_outside_of
from splicewright.errors import Fault, InputError, OutputError
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.quantities import System
    from splicewright.sheets.crew_pack.left_outside import LeftOutside
    from splicewright.store import Register

LARGEST = 60_000_000
"""Bytes of one bundle."""
_STILL = (1980, 1, 1, 0, 0, 0)
"""The moment of every entry: the same plans give the same bytes."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """A zip file with a folder for each job.

    packs : names of the folders; left_out : jobs without a pack, one sentence each
    """

    packs: tuple[str, ...]
    left_out: tuple[str, ...]
    content: bytes


def bundle_packs(
    register: Register,
    jobs: Sequence[UUID],
    system: System = "metric",
    paper: PaperName = "A4",
    *,
    tell: Tell = tell_nobody,
) -> Bundle:
    """Make the job folders of these jobs, from their plans as they were recorded.

    tell : is called before each pack
    Raises InputError: None of the jobs has a plan, or together they are too large. Raises
    OutputError: a pack cannot be made.
    """
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.crew_pack.files import pack

    buffer, left_out, size = io.BytesIO(), list[str](), 0
    folders: list[str] = []
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, job in enumerate(jobs):
            planned = _planned(register, job)
            if isinstance(planned, str):
                left_out.append(planned)
                continue
            name, plan, left, witness = planned
            tell(number, len(jobs), f"{name}: pack {number + 1} of {len(jobs)}")
            folder = _free(name, folders)
            files = pack(plan, system, PAPERS[paper], left, witness=witness)
            size += sum(map(len, files.values()))
            if size > LARGEST:
                most = LARGEST // 1_000_000
                raise InputError(Fault("jobs", f"make more than {most} MB; bundle fewer at once"))
            _put(archive, folder, files)
            folders.append(folder)
    if not folders:
        raise InputError(Fault("jobs", "none of the jobs has a plan: " + " ".join(left_out)))
    return Bundle(tuple(folders), tuple(left_out), buffer.getvalue())


def _planned(
    register: Register, job: UUID
) -> tuple[str, JointPlan, tuple[LeftOutside, ...], str] | str:
    """Name and plan of a job's joint, what is outside its limits, and the plan's witness.

    Or why there is none.
    """
    from splicewright.actions.register.use import conveyor_labels
    from splicewright.actions.register.witness import witness_of_plan
    from splicewright.job import JointPlan

    there = register.job(job)
    if there is None:
        return f"The register knows no job {job}."
    joint = register.joint(there.joint) if there.joint is not None else None
    if joint is None or joint.plan is None:
        return f"{there.name}: no plan is recorded for it."
    name = f"{conveyor_labels(register).get(there.conveyor, '')} {joint.label} {there.name}"
    try:
        plan = JointPlan.from_json(register.content(joint.plan).data)
        witness = witness_of_plan(register, joint.joint, joint.plan)
        return name, plan, left_outside_of(register, joint.joint), witness
    except InputError as error:
        msg = f"the plan of {there.name} cannot be read: {error}"
        raise OutputError(msg) from None


def _free(name: str, taken: Sequence[str]) -> str:
    """A folder's name that any system takes and no other folder has."""
    plain = re.sub(r"[^\w .-]+|\.{2,}", " ", name).strip(" .")
    plain = re.sub(r"\s+", " ", plain)[:80].strip(" .") or "job"
    folder, number = plain, 1
    while folder.lower() in {other.lower() for other in taken}:
        number += 1
        folder = f"{plain} ({number})"
    return folder


def _put(archive: zipfile.ZipFile, folder: str, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        entry = zipfile.ZipInfo(f"{folder}/{name}", _STILL)
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.external_attr = 0o644 << 16
        archive.writestr(entry, content)
