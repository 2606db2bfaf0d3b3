"""Plan a joint: from the files on disk to the plan, and to the folder for the crew."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from splicewright.actions.folder.writing import PaperName, replace_folder
from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory, Readable

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.steps.timing import PastShares
    from splicewright.quantities import System
    from splicewright.sheets.crew_pack.files import Only


def plan_joint(
    conveyor: Readable,
    work: Readable | None = None,
    fasteners: tuple[Readable, ...] = (),
    past: PastShares = MappingProxyType({}),
) -> JointPlan:
    """Plan the joint that these files describe.

    work : work file; None plans a joint nobody described, with named assumptions
    fasteners : range files or folders; empty takes the folder "fasteners" beside the file or
        beside its folder, where there is one
    past : what past jobs say of the steps' times, from `actions.job.step_times.past_shares`
    Raises InputError: anything wrong in any of the files.
    """
    from splicewright.job import plan
    from splicewright.joint import load_ranges
    from splicewright.plant import load_conveyor, load_work

    plant = load_conveyor(conveyor)
    job = load_work(work, plant)
    return plan(plant, job, load_ranges(fasteners or fasteners_beside(conveyor)), past)


def fasteners_beside(conveyor: Readable) -> tuple[Path, ...]:
    """The folder of fastener ranges that belongs to a conveyor file; empty when there is none."""
    if isinstance(conveyor, InMemory):
        return ()
    for folder in (conveyor.parent / "fasteners", conveyor.parent.parent / "fasteners"):
        if folder.is_dir():
            return (folder,)
    return ()


def read_plan(
    source: Readable, work: Readable | None = None, fasteners: tuple[Readable, ...] = ()
) -> JointPlan:
    """A plan from what the user points at: a pack folder, a plan.json, or a conveyor file.

    Raises InputError: there is no plan there, or it cannot be read.
    """
    from splicewright.job import JointPlan

    file = source / "plan.json" if isinstance(source, Path) and source.is_dir() else source
    if file.suffix != ".json":
        return plan_joint(file, work, fasteners)
    try:
        return JointPlan.from_json(file.read_bytes())
    except FileNotFoundError:
        raise InputError(Fault("", "there is no plan.json here", str(source))) from None
    except OSError as error:
        raise InputError(Fault("", f"cannot be read: {error.strerror}", str(file))) from None
    except InputError as error:
        raise InputError(*(Fault(f.key, f.sentence, file.name) for f in error.faults)) from None


def write_pack(
    plan: JointPlan, out: Path, system: System, paper: PaperName, only: Only | None = None
) -> tuple[Path, ...]:
    """Write the folder of a job: all of it, or nothing.

    out : folder; made when missing, replaced when it holds an earlier pack
    only : "crew" or "dossier" for that PDF and plan.json alone; None for everything
    Returns the files written. Raises OutputError: the folder holds other things, or cannot be
    written; what was there is untouched.
    """
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.crew_pack.files import pack

    files = pack(plan, system, PAPERS[paper], only=only)
    return replace_folder(out, files, known="plan.json")
