"""What was seen on a joint in service: plates, pin and edges, as somebody wrote it down."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.errors import Fault
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.plant import Carcass
from splicewright.quantities import Given


@dataclass(frozen=True, slots=True)
class PlateFound:
    """One plate as it was found.

    number : from the left, facing in the direction of travel, from 1
    end : of which belt end; None where nobody wrote it down
    share_kept : of a sound plate's strength [1]; None where nobody judged it
    bolts_missing : lost or loose
    slack : free travel of a worn plate loop [m]
    """

    number: int
    end: End | None
    state: PlateState
    share_kept: float | None
    bolts_missing: int
    slack: float
    note: str


@dataclass(frozen=True, slots=True)
class TypedJoint:
    """Belt, plates and pull typed in where there is no plan.

    width, pitch, plate_width, pin [m]; strength, modulus, rated, starting_rated, running,
    starting: per width [N/m]; curve_depth [m]. `bolts`: of one plate. `hinged`: else plates are one
    piece across the ends.
    """

    width: float
    carcass: Carcass
    modulus: Given
    plates: int
    pitch: float
    plate_width: float
    bolts: int
    rated: float
    starting_rated: float | None
    pin: float | None
    curve_depth: float
    hinged: bool
    running: float
    starting: float | None


@dataclass(frozen=True, slots=True)
class Inspection:
    """An inspection file, checked for itself.

    plan, work : paths as written, from the inspection file; "" for none
    typed : belt, plates and pull typed in; None when there is a plan
    breaking : pull per width at which sound plates fail; None when not known [N/m]
    pin_new, pin_now : diameters; None when not given [m]
    torn_left, torn_right : width of belt torn off or cut through [m]
    torn_end : the belt end that is torn; None where nobody wrote it down
    """

    name: str
    invented: bool
    plan: str
    work: str
    typed: TypedJoint | None
    breaking: float | None
    plates: tuple[PlateFound, ...]
    pin_new: float | None
    pin_now: float | None
    torn_left: float
    torn_right: float
    torn_end: End | None
    file: str

    @property
    def torn(self) -> End | None:
        """The belt end taken as torn; None where none is."""
        if not (self.torn_left or self.torn_right):
            return None
        named = {plate.end or End.LEADING for plate in self.plates}
        alone = named.pop() if len(named) == 1 else End.LEADING
        return self.torn_end or alone

    def ends(self) -> tuple[End, ...]:
        """The belt ends with findings of their own; the leading one when there is none."""
        named = {plate.end or End.LEADING for plate in self.plates}
        if self.torn is not None:
            named.add(self.torn)
        return tuple(end for end in End if end in named) or (End.LEADING,)


def torn_faults(left: float, right: float, width: float, file: str = "") -> list[Fault]:
    """A tear as wide as the belt, or none; all lengths [m]."""
    torn = left + right
    if torn < width:
        return []
    wording = f"{1e3 * torn:g} mm torn in all is not less than the belt's {1e3 * width:g} mm"
    return [Fault("edge", wording, file)]
