"""What a range file may hold of vulcanised joints (TOML), and what may be wrong with it."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field

from splicewright.errors import Fault
from splicewright.files.fields import Entry, Plain, Quantity, Table
from splicewright.joint.fasteners.ranges import CordLine, CureTime, StepForm, StepSize
from splicewright.plant import Carcass
from splicewright.quantities import Kind

_DEG = math.pi / 180
Length = Annotated[float, Plain(Kind.LENGTH, 0.0, 1.0)]
Size_ = Annotated[float, Plain(Kind.LENGTH, 0.0, 4.0, above=True)]
Time = Annotated[float, Plain(Kind.TIME, 0.0, 48 * 3600.0)]


class CureRow(Table):
    """cures: how long a belt up to a thickness is held at a temperature."""

    thickness_up_to: Size_
    temperature: Annotated[float, Plain(Kind.TEMPERATURE, 280.0, 480.0)]
    time: Annotated[float, Plain(Kind.TIME, 0.0, 48 * 3600.0, above=True)]


class CordRow(Table):
    """cords: one line of the repeating pattern of a steel-cord joint.

    Where the trailing end's cord stops and the leading end's starts, from the first cord end.
    """

    trailing: Annotated[float, Plain(Kind.LENGTH, 0.0, 10.0)] | None = None
    leading: Annotated[float, Plain(Kind.LENGTH, 0.0, 10.0)] | None = None


class StepRow(Table):
    """[[steps]]: one vulcanised joint, from its maker's data: steps, fingers, overlap or cords."""

    form: StepForm = StepForm.STEP
    plies: int = Field(ge=1, le=10)
    strength: Annotated[Entry, Quantity(Kind.WIDTH_FORCE, 1e4, 5e6)]
    carcass: list[Carcass] = Field(min_length=1, max_length=6)
    step_length: Size_
    bias: Annotated[float, Plain(Kind.ANGLE, 0.0, 60 * _DEG)]
    kept_strength: Annotated[float, Plain(Kind.SHARE, 0.0, 1.0, above=True)]
    safety_factor: Annotated[float, Plain(Kind.RATIO, 1.0, 50.0)]
    starting_safety_factor: Annotated[float, Plain(Kind.RATIO, 1.0, 50.0)] | None = None
    cure_time: Time
    cure_temperature: Annotated[float, Plain(Kind.TEMPERATURE, 280.0, 480.0)]
    heating_time: Time
    cooling_time: Time
    work_temperature: Annotated[Entry, Quantity(Kind.TEMPERATURE, 230.0, 340.0)] | None = None
    smallest_pulley: Size_
    coats: int | None = Field(default=None, ge=1, le=9)
    drying: Annotated[float, Plain(Kind.TIME, 0.0, 24 * 3600.0, above=True)] | None = None
    dew_margin: float | None = Field(
        default=None, ge=0.0, le=20.0, description="kelvin (degrees Celsius of difference), 0 to 20"
    )
    pressure: Annotated[float, Plain(Kind.PRESSURE, 0.0, 3e6, above=True)] | None = None
    press_beyond: Length | None = None
    heat_overlap: Length | None = None
    iron_under: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.01)] | None = None
    cover_strip: Size_ | None = None
    finger_width: Size_ | None = None
    cures: list[CureRow] = Field(default=[], max_length=40)
    cords: list[CordRow] = Field(default=[], max_length=24)
    transition: Length = 0.0
    cord: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.02, above=True)] | None = None
    full_load_after: Time | None = None


def step_size(row: StepRow) -> StepSize:
    """The joint of its checked row."""
    around = row.work_temperature
    return StepSize(
        form=row.form,
        plies=row.plies,
        strength=(row.strength.low, row.strength.high),
        carcass=tuple(row.carcass),
        step_length=row.step_length,
        bias=row.bias,
        kept_strength=row.kept_strength,
        safety_factor=row.safety_factor,
        starting_safety_factor=row.starting_safety_factor,
        cure_time=row.cure_time,
        cure_temperature=row.cure_temperature,
        heating_time=row.heating_time,
        cooling_time=row.cooling_time,
        work_temperature=None if around is None else (around.low, around.high),
        smallest_pulley=row.smallest_pulley,
        coats=row.coats,
        drying=row.drying,
        dew_margin=row.dew_margin,
        pressure=row.pressure,
        press_beyond=row.press_beyond,
        heat_overlap=row.heat_overlap,
        iron_under=row.iron_under,
        cover_strip=row.cover_strip,
        finger_width=row.finger_width,
        cures=tuple(CureTime(c.thickness_up_to, c.temperature, c.time) for c in row.cures),
        cords=tuple(CordLine(c.trailing, c.leading) for c in row.cords),
        transition=row.transition,
        cord=row.cord,
        full_load_after=row.full_load_after,
    )


def step_faults(row: StepRow, key: str, name: str) -> list[Fault]:
    """What does not go together in one row; key and name: where it stands, for the message."""
    faults = []
    stepped = row.form is StepForm.STEP
    if stepped and row.plies < 2:
        return [
            Fault(
                f"{key}.plies",
                "is 1, which leaves no step; a belt of one ply takes the form finger or overlap",
                name,
            )
        ]
    left = (row.plies - 1) / row.plies if stepped else 1.0
    if row.kept_strength > left * (1 + 1e-9):
        faults.append(
            Fault(
                f"{key}.kept_strength",
                f"{100 * row.kept_strength:g} % is more than a step "
                f"joint of {row.plies} plies can keep: at each step one ply is cut, "
                f"{100 * left:.3g} % are left",
                name,
            )
        )
    faults += _cord_faults(row, key, name)
    if row.finger_width is not None and row.form is not StepForm.FINGER:
        faults.append(
            Fault(
                f"{key}.finger_width",
                f"does not go with the form {row.form.value}; leave it out",
                name,
            )
        )
    if row.form is StepForm.CORD:
        return faults
    if Carcass.STEEL_CORD in row.carcass or (stepped and Carcass.SOLID_WOVEN in row.carcass):
        faults.append(
            Fault(
                f"{key}.carcass",
                "holds a carcass without plies; accepted are EP, NN, cotton "
                "and aramid" + ("" if stepped else ", and solid woven"),
                name,
            )
        )
    return faults


def _cord_faults(row: StepRow, key: str, name: str) -> list[Fault]:
    """What is wrong with the table of a steel-cord joint."""

    def fault(field: str, sentence: str) -> Fault:
        return Fault(f"{key}.{field}", sentence, name)

    if row.form is not StepForm.CORD:
        given = [field for field in ("cords", "transition", "cord") if getattr(row, field)]
        return [
            fault(field, f"does not go with the form {row.form.value}; leave it out")
            for field in given
        ]
    faults = []
    if set(row.carcass) != {Carcass.STEEL_CORD} or row.plies != 1:
        faults.append(fault("carcass", 'must be ["steel cord"], with plies = 1, for the form cord'))
    ends = [{c.trailing for c in row.cords} - {None}, {c.leading for c in row.cords} - {None}]
    if not all(ends):
        faults.append(
            fault(
                "cords",
                "is missing, or holds cords of one end only; give every line "
                "of the repeating pattern of your own scheme, as "
                '{ trailing = "600 mm" }, { leading = "0 mm" }',
            )
        )
    for n, line in enumerate(row.cords, 1):
        far = [x for x in (line.trailing, line.leading) if x is not None]
        if not far or max(far) > row.step_length * (1 + 1e-9):
            faults.append(
                fault(
                    f"cords.{n}",
                    f"must name a place from 0 to the step_length of {1e3 * row.step_length:g} mm",
                )
            )
        elif len(far) == 2 and far[0] >= far[1]:
            faults.append(
                fault(
                    f"cords.{n}",
                    "lets two cords of one line overlap; the leading "
                    "one starts behind the end of the trailing one, with a "
                    "gap",
                )
            )
    least = 16 * row.cord if row.cord is not None else 0.0
    if row.transition < least * (1 - 1e-9):
        faults.append(
            fault(
                "transition",
                f"is {1e3 * row.transition:g} mm; ISO 15236-4 allows no "
                f"less than 16 cord diameters, {1e3 * least:g} mm",
            )
        )
    return faults
