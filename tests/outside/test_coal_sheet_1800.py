"""Coal, 1800 t/h over 136.68 m: FH, special resistances, lift, power, slip, sag, point tensions.

Source: anonymous engineering sheet in Chinese on a document-sharing page (headings: raw
parameters, main resistance FH, simplified factor C, circumferential force FU), no author, no
year. An office sheet, not a standard, but with every intermediate number printed.

Tolerance: half the last printed digit, for forces half of 0.01 N. F_H, the lift, the pull, both
powers and the point tensions are independent checks. The tilt, skirt, cleaner, plough, slip and
sag rows check the form of the relation only: their friction and pressure are not printed and
were inferred from one number each (see the conveyor file).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from proof import proves
from splicewright.job import JointPlan, plan
from splicewright.plant import Conveyor, load_work
from splicewright.quantities import Figure, Given, Line
from splicewright.tension import LoadCase, Running
from strategies import EXAMPLES, published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Coal, 1800 t/h over 137 m, every intermediate number",
    "A",
    "Main and special resistances, lift, pull, power, slip, sag and point tensions of a coal "
    "conveyor.",
    doubt=(
        "An office sheet, not a standard. Tilt, skirt, cleaner, plough, slip and sag rows "
        "check the form only: their friction was inferred from one number each."
    ),
    tolerance="half of 0.01 N, the last printed digit",
    sketch="incline",
)


PRINTED = 0.006  # half of 0.01 N, and the last digit of the inputs


@pytest.fixture(scope="module")
def conveyor() -> Conveyor:
    return published("sheet-coal-1800")


@pytest.fixture(scope="module")
def whole(conveyor: Conveyor) -> JointPlan:
    return plan(conveyor, load_work(None, conveyor))


@pytest.fixture(scope="module")
def full(whole: JointPlan) -> Running:
    return whole.demand.case(LoadCase.FULL)


def figure(whole: JointPlan, key: str) -> Figure:
    found = whole.worksheet.find(key)
    return found.figure if isinstance(found, Line) else found


def test_the_file_names_its_source() -> None:
    text = (EXAMPLES / "published/conveyors/sheet-coal-1800.toml").read_text("utf-8")
    assert "anonymous engineering sheet in Chinese" in text


def test_load_per_metre(conveyor: Conveyor) -> None:
    assert conveyor.material.line_mass.value == pytest.approx(200, rel=1e-12)


def test_main_resistance(full: Running) -> None:
    assert sum(f.main.value for f in full.forces) == pytest.approx(6909.35, abs=PRINTED)


def test_secondary_resistance_by_c(full: Running) -> None:
    together = sum(f.main.value + f.secondary.value for f in full.forces)
    assert together == pytest.approx(1.92 * 6909.35, abs=2 * PRINTED)


@pytest.mark.parametrize(
    ("key", "printed"),
    [
        ("full.carry-up.idler-tilt-1", 365.72),
        ("full.carry-up.skirts-2", 309.41),
        ("full.return-up.cleaner-3", 4800.0),
        ("full.return-up.plough-4", 2100.0),
    ],
)
def test_special_resistances(whole: JointPlan, key: str, printed: float) -> None:
    assert figure(whole, key).value == pytest.approx(printed, abs=PRINTED)


def test_special_resistances_by_group(full: Running) -> None:
    special = {f.run: f.special.value for f in full.forces if f.special is not None}
    assert special["carry, up"] == pytest.approx(675.14, abs=PRINTED)  # FS1
    assert special["return, up"] == pytest.approx(6900.0, abs=PRINTED)  # FS2


def test_lift(full: Running) -> None:
    # The belt's own weight cancels round the loop; what is left is the load's.
    assert sum(f.slope.value for f in full.forces) == pytest.approx(53631.27, abs=PRINTED)


def test_pull(full: Running) -> None:
    assert full.pull.value == pytest.approx(74472.35, abs=0.02)  # sum of six rounded parts


def test_power_at_the_drum(whole: JointPlan) -> None:
    assert figure(whole, "full.pulley_power").value == pytest.approx(186.18e3, abs=5)


def test_motor_power(full: Running) -> None:
    assert full.power.value == pytest.approx(267.27e3, abs=5)


def test_slip_limit_of_both_drums_together(full: Running) -> None:
    assert full.needed[0].value == pytest.approx(10578.46, abs=0.01)


@pytest.mark.parametrize(
    ("key", "printed"), [("full.carry-up.sag", 31033.935), ("full.return-down.sag", 4009.8375)]
)
def test_sag_limits(whole: JointPlan, key: str, printed: float) -> None:
    assert figure(whole, key).value == pytest.approx(printed, abs=6e-4)


def test_sag_governs_over_slip() -> None:
    # The sheet knows the full belt only; with falling runs loaded alone sag would want more.
    full = solved(published("sheet-coal-1800"))
    # The sheet: "if S13 < F_MIN, set S13 = F_MIN", 31.0 kN wanted against 10.6 kN for slip.
    slip, sag = full.needed[0].value, max(n.value for n in full.needed[1:])
    assert sag > slip
    assert full.behind_drive.value >= sag * (1 - 1e-12)
    assert full.at("tail pulley").leaving.value == pytest.approx(31033.935, abs=6e-4)


def points(result: Running) -> list[float]:
    names = ("second drum", "first bend", "second bend", "take-up pulley", "third bend")
    return [result.at(name).leaving.value for name in names]


def test_point_tensions_where_slip_governs(conveyor: Conveyor) -> None:
    # First column of the sheet: from the slip limit on, before its sag rule.
    loose = replace(conveyor, method=replace(conveyor.method, sag_limit=_sag(conveyor, 0.9)))
    printed = [10578, 10896, 11223, 11672, 12022]
    result = solved(loose)
    # Our walk ends where it began: behind the second drum, on the tension X.
    found = [result.behind_drive.value, *points(result)[1:]]
    assert found == pytest.approx(printed, abs=0.5)


def test_point_tensions_of_the_second_drum_alone(conveyor: Conveyor) -> None:
    # Second column: half of FU on the second drum, no margin, T2 = (FU/2)/(3.4 - 1).
    method = replace(
        conveyor.method,
        sag_limit=_sag(conveyor, 0.9),
        slip_margin=conveyor.method.slip_margin.at(1.0),
        shared_by_grip=False,
    )
    result = solved(replace(conveyor, method=method))
    found = [result.behind_drive.value, *points(result)[1:]]
    assert found == pytest.approx([15515, 15981, 16460, 17118, 17632], abs=0.5)


def test_stale_volume_flow_is_pointed_out(whole: JointPlan) -> None:
    # 0.1556 m3/s stands in the sheet; 1800 t/h at 950 kg/m3 is 0.5263 m3/s.
    said = [str(s) for s in whole.demand.findings if "volume flow" in str(s)]
    assert said == [
        "skirts 2: the volume flow 560 m3/h does not follow from mass flow and density, which "
        "give 1895 m3/h."
    ]
    assert figure(whole, "load.flow").value == pytest.approx(0.5263, abs=5e-5)


def test_skirts_with_the_flow_that_follows(conveyor: Conveyor) -> None:
    # Own remark on the source: with 0.5263 m3/s the skirts take 3540 N.
    skirts = conveyor.specials[1]
    inputs = tuple(i for i in skirts.inputs if i[0] != "volume_flow")
    specials = (conveyor.specials[0], replace(skirts, inputs=inputs), *conveyor.specials[2:])
    special = solved(replace(conveyor, specials=specials)).forces[0].special
    assert special is not None
    assert special.value - 365.72 == pytest.approx(3540, abs=0.5)


def _sag(conveyor: Conveyor, share: float) -> Given:
    return conveyor.method.sag_limit.at(share)


def test_section_of_the_same_sheet_from_the_file(whole: JointPlan) -> None:
    # Its trough table prints 0.27137 m2 for this width, roll, trough and surcharge.
    assert figure(whole, "load.room").value == pytest.approx(0.27137, abs=5.1e-6)
