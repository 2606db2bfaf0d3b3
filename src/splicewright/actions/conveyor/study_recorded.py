"""Study a conveyor as the register keeps it: tension, drawings, what was assumed.

Files are kept under their digest and never change, so answers are remembered by it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory

if TYPE_CHECKING:
    from splicewright.actions.files.check import Checked
    from splicewright.plant import Conveyor
    from splicewright.quantities import System
    from splicewright.store import Register
    from splicewright.store.present.present import ConveyorNow
    from splicewright.tension import Study

Drawing = Literal["loop", "tension", "tension-reverse"]


def check_recorded(register: Register, conveyor: ConveyorNow) -> Checked:
    """What the newest file lacks and what was assumed for it; see `check_file`."""
    return _checked(_file(register, conveyor))


def study_recorded(register: Register, conveyor: ConveyorNow) -> Study:
    """The study of its newest file; see `study_conveyor`."""
    return _study(_file(register, conveyor))


def draw_recorded(
    register: Register,
    conveyor: ConveyorNow,
    drawing: Drawing,
    system: System,
    *,
    phone: bool = False,
) -> bytes:
    """A drawing of its newest file, as SVG; drawn anew for the width of a phone, if asked.

    Raises InputError: it has no file, or is not drawn so: only a belt that runs both ways has the
    reverse.
    """
    return _drawn(_file(register, conveyor), drawing, system, phone)


def sheet_recorded(register: Register, conveyor: ConveyorNow, system: System) -> bytes:
    """The conveyor sheet of its newest file, as PDF."""
    from splicewright.sheets.pages.report import printed
    from splicewright.sheets.reports.conveyor import conveyor_report

    return printed(conveyor_report(study_recorded(register, conveyor), system))


def _file(register: Register, conveyor: ConveyorNow) -> bytes:
    if conveyor.file is None:
        raise InputError(
            Fault("conveyor", f"{conveyor.name} has no file yet; give its next version")
        )
    return register.content(conveyor.file).data


@lru_cache(maxsize=64)
def _conveyor(data: bytes) -> Conveyor:
    from splicewright.plant import load_conveyor

    return load_conveyor(InMemory("conveyor.toml", data))


@lru_cache(maxsize=64)
def _checked(data: bytes) -> Checked:
    from splicewright.actions.files.check import check_file

    return check_file(InMemory("conveyor.toml", data))


@lru_cache(maxsize=16)
def _study(data: bytes) -> Study:
    from splicewright.tension import study

    return study(_conveyor(data))


@lru_cache(maxsize=64)
def _drawn(data: bytes, drawing: Drawing, system: System, phone: bool) -> bytes:
    from splicewright.sheets.canvas.chart import PHONE, SHEET
    from splicewright.sheets.canvas.svg_file import standing_alone
    from splicewright.sheets.drawings.loop import side_view
    from splicewright.sheets.drawings.tension import tension_diagram

    conveyor_study = _study(data)
    wide = PHONE if phone else SHEET
    if drawing == "loop":
        return standing_alone(side_view(conveyor_study, system, long=wide), within=phone)
    reverse = drawing == "tension-reverse"
    if reverse and not conveyor_study.demand.reverse_cases:
        raise InputError(Fault("drawing", "this belt runs one way only"))
    scene = tension_diagram(conveyor_study, system, reverse=reverse, every=not reverse, wide=wide)
    return standing_alone(scene, within=phone)
