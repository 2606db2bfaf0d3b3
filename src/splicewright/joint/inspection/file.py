"""What an inspection file may hold (TOML)."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Any

from pydantic import Field

from splicewright.errors import Fault, InputError
from splicewright.files.fields import Entry, Plain, Quantity, Table
from splicewright.files.typed_file import Readable
from splicewright.joint.fasteners.ranges import Construction
from splicewright.joint.inspection.seen import Inspection, PlateFound, TypedJoint, torn_faults
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.plant import Carcass
from splicewright.plant.conveyor_file import Name
from splicewright.plant.filling.belt import assumed_modulus
from splicewright.plant.filling.origin import stated_in
from splicewright.quantities import Given, Kind

Length = Annotated[float, Plain(Kind.LENGTH, 0.0, 1.0)]
Above = Annotated[float, Plain(Kind.LENGTH, 0.0, 1.0, above=True)]
Tear = Annotated[float, Plain(Kind.LENGTH, 0.0, 4.0)]
WidthForce = Annotated[float, Plain(Kind.WIDTH_FORCE, 0.0, 5e6, above=True)]


class InspectionTable(Table):
    """[inspection]: what was inspected; `plan` is a plan.json, its folder or a conveyor file."""

    name: Name
    invented: bool = False
    plan: str = ""
    work: str = ""
    note: str = ""


class BeltTable(Table):
    """[belt]: the belt, when there is no plan."""

    width: Annotated[float, Plain(Kind.LENGTH, 0.1, 4.0)]
    carcass: Carcass = Carcass.POLYESTER
    strength: WidthForce | None = None
    modulus: Annotated[Entry, Quantity(Kind.WIDTH_FORCE, 1e4, 5e8)] | None = None


class FastenerTable(Table):
    """[fastener]: the plates of one belt end, when there is no plan; `breaking` also beside one."""

    plates: int | None = Field(default=None, ge=1, le=400)
    pitch: Above | None = None
    plate_width: Above | None = None
    bolts: int | None = Field(default=None, ge=1, le=12)
    rated_tension: WidthForce | None = None
    starting_tension: WidthForce | None = None
    breaking: WidthForce | None = None
    curve_depth: Length | None = None
    construction: Construction | None = None


class PullTable(Table):
    """[pull]: largest tension per width in running and starting, when there is no plan."""

    running: WidthForce
    starting: WidthForce | None = None


class PlateRow(Table):
    """[[plates]]: one plate that is not sound, counted from the left facing travel."""

    number: int = Field(ge=1, le=400)
    end: End | None = None
    state: PlateState = PlateState.OK
    share_kept: Annotated[float, Plain(Kind.SHARE, 0.0, 1.0)] | None = None
    bolts_missing: int = Field(default=0, ge=0, le=12)
    slack: Length = 0.0
    note: str = ""


class PinTable(Table):
    """[pin]: diameter of the hinge pin now, at its thinnest place, and when it was new."""

    now: Above
    new: Above | None = None


class EdgeTable(Table):
    """[edge]: width of belt torn off or cut through at each side, and of which belt end."""

    torn_left: Tear = 0.0
    torn_right: Tear = 0.0
    end: End | None = None


class InspectionFile(Table):
    """An inspection file: what was seen on one joint."""

    inspection: InspectionTable
    belt: BeltTable | None = None
    fastener: FastenerTable = FastenerTable()
    pull: PullTable | None = None
    plates: list[PlateRow] = Field(default=[], max_length=800)
    pin: PinTable | None = None
    edge: EdgeTable = EdgeTable()


_TYPED = ("plates", "pitch", "plate_width", "bolts", "rated_tension")
_BESIDE_PLAN = (
    "plates",
    "pitch",
    "plate_width",
    "bolts",
    "rated_tension",
    "starting_tension",
    "curve_depth",
    "construction",
)


def build(file: InspectionFile, name: str = "") -> Inspection:
    """Make the inspection of its checked file.

    Raises
    ------
    InputError
        A plate named twice; neither plan nor typed-in joint, or both; a worn plate that
        nobody judged; a tear as wide as the belt.
    """
    faults = [*_plate_faults(file), *_joint_faults(file)]
    if file.belt is not None:
        faults += torn_faults(file.edge.torn_left, file.edge.torn_right, file.belt.width)
    if faults:
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    head, pin = file.inspection, file.pin
    return Inspection(
        name=head.name,
        invented=head.invented,
        plan=head.plan,
        work=head.work,
        typed=None if head.plan else _typed(file),
        breaking=file.fastener.breaking,
        plates=tuple(
            PlateFound(p.number, p.end, p.state, p.share_kept, p.bolts_missing, p.slack, p.note)
            for p in file.plates
        ),
        pin_new=pin.new if pin else None,
        pin_now=pin.now if pin else None,
        torn_left=file.edge.torn_left,
        torn_right=file.edge.torn_right,
        torn_end=file.edge.end,
        file=name,
    )


def _plate_faults(file: InspectionFile) -> list[Fault]:
    faults = []
    named: Counter[tuple[int, End]] = Counter()
    for row, plate in enumerate(file.plates, 1):
        key, place = f"plates.{row}", (plate.number, plate.end or End.LEADING)
        named[place] += 1
        if named[place] == 2:
            where = f" of the {plate.end.value}" if plate.end else ""
            faults.append(
                Fault(
                    f"{key}.number",
                    f"plate {plate.number}{where} is named twice; name each "
                    "plate once, with all that was found on it",
                )
            )
        if plate.state is PlateState.WORN and plate.share_kept is None:
            faults.append(
                Fault(
                    f"{key}.share_kept",
                    "is missing; a worn plate needs the share of its "
                    'strength that is left, such as "70 %"',
                )
            )
        if plate.state is PlateState.LOST and (plate.share_kept or 0.0) > 0:
            faults.append(
                Fault(
                    f"{key}.share_kept",
                    f"{100 * (plate.share_kept or 0.0):g} % does not go "
                    "with a lost plate; leave it out, or call the plate worn",
                )
            )
    return faults


def _joint_faults(file: InspectionFile) -> list[Fault]:
    if file.inspection.plan:
        faults = [
            Fault(table, "stands beside a plan, which holds it already; leave one of them out")
            for table, given in (("belt", file.belt), ("pull", file.pull))
            if given is not None
        ]
        faults += [
            Fault(
                f"fastener.{field}",
                "stands beside a plan, which holds it already; leave one of them out",
            )
            for field in _BESIDE_PLAN
            if getattr(file.fastener, field) is not None
        ]
        return faults
    faults = []
    if file.fastener.construction is Construction.STEP:
        faults.append(
            Fault(
                "fastener.construction",
                "has no plates to judge; accepted are hinged, riveted hinge and solid plate",
            )
        )
    if file.inspection.work:
        faults.append(Fault("inspection.work", "stands without a plan; name the conveyor file"))
    if file.belt is None and file.pull is None:
        return [
            *faults,
            Fault(
                "inspection.plan",
                "is missing; name a plan.json, its folder or a conveyor "
                "file, or type in [belt], [fastener] and [pull]",
            ),
        ]
    for table, given in (("belt", file.belt), ("pull", file.pull)):
        if given is None:
            faults.append(Fault(table, "is missing; without a plan it must be given"))
    if file.belt is not None and file.belt.strength is None and file.belt.modulus is None:
        faults.append(Fault("belt.strength", "is missing; give it, or the modulus"))
    faults += [
        Fault(f"fastener.{field}", "is missing; without a plan it must be given")
        for field in _TYPED
        if getattr(file.fastener, field) is None
    ]
    return faults


def _typed(file: InspectionFile) -> TypedJoint:
    belt, fastener, pull = file.belt, file.fastener, file.pull
    assert belt is not None and pull is not None  # _joint_faults has looked
    assert fastener.plates is not None and fastener.pitch is not None
    assert fastener.plate_width is not None and fastener.bolts is not None
    assert fastener.rated_tension is not None
    return TypedJoint(
        width=belt.width,
        carcass=belt.carcass,
        modulus=_modulus(belt),
        plates=fastener.plates,
        pitch=fastener.pitch,
        plate_width=fastener.plate_width,
        bolts=fastener.bolts,
        rated=fastener.rated_tension,
        starting_rated=fastener.starting_tension,
        pin=file.pin.new if file.pin else None,
        curve_depth=fastener.curve_depth or 0.0,
        hinged=fastener.construction is not Construction.SOLID,
        running=pull.running,
        starting=pull.starting,
    )


def _modulus(belt: BeltTable) -> Given:
    if belt.modulus is not None:
        return stated_in(belt.modulus, "belt.modulus", "belt modulus", Kind.WIDTH_FORCE)
    assert belt.strength is not None  # one of them is there
    return assumed_modulus(belt.carcass, (belt.strength, belt.strength, belt.strength))


def load_inspection(path: Readable) -> Inspection:
    """Read an inspection file (TOML).

    Raises
    ------
    InputError
        Anything wrong with the file, every fault with key and line.
    """
    from splicewright.files.toml import load, with_lines

    with with_lines(path):
        return build(load(path, InspectionFile), path.name)


def inspection_schema() -> dict[str, Any]:
    """The JSON Schema of an inspection file."""
    return InspectionFile.model_json_schema(by_alias=True)
