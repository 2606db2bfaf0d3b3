"""Fastener range files: read whole, refused where their parts do not fit together."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.joint import Construction, StepForm, load_range, load_ranges, range_schema
from splicewright.plant import Environment
from strategies import EXAMPLES

GOOD = """\
[range]
name = "typed in"
invented = true

[[materials]]
name = "stainless"
suits = ["wet", "food"]
hottest = "200 degC"

[[sizes]]
pitch = "1-3/4 in"
plate_width = "1-1/2 in"
plate_length = "2-1/2 in"
thickness = "7/16 to 5/8 in"
cut_line = "1/2 in"
mesh_offset = "7/8 in"
setback = "1/2 to 2-1/4 in"
rows = [{ from_cut = "5/8 in", across = ["-7/16 in", "7/16 in"] }]
hole = "7/16 in"
bolt = "3/8 in"
bolt_lengths = [
  { belt_up_to = "5/8 in", length = "2 in" },
  { belt_up_to = "1/2 in", length = "1-3/4 in" },
]
rated_tension = "450 lbf/in"
smallest_pulley = "20 in"
proud_height = "1/4 in"
pin = "3/8 in"
pin_inset = "5/8 in"
liner_over = "3 in"
seating_over = "4 in"
sets = [3, 1, 3]
"""
INCH = 0.0254
SCHEMA = Path(__file__).parents[3] / "docs" / "schema" / "fasteners.json"


def load(text: str, folder: Path) -> str:
    path = folder / "range.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        load_range(path)
    return str(caught.value)


def test_read_in_inch(tmp_path: Path) -> None:
    path = tmp_path / "range.toml"
    path.write_text(GOOD, "utf-8")
    found = load_range(path)
    assert (found.name, found.invented, found.construction) == (
        "typed in", True, Construction.HINGED,
    )  # fmt: skip
    assert found.materials[0].suits == (Environment.WET, Environment.FOOD)
    assert found.materials[0].hottest == pytest.approx(473.15)
    size = found.sizes[0]
    assert size.thickness == pytest.approx((7 / 16 * INCH, 5 / 8 * INCH))
    assert size.setback == pytest.approx((0.5 * INCH, 2.25 * INCH))
    assert size.rows[0].across == pytest.approx((-7 / 16 * INCH, 7 / 16 * INCH))
    assert size.rated_tension == pytest.approx(450 * 4.4482216152605 / INCH)
    assert size.sets == (1, 3)
    assert size.bolts_per_plate == 2
    assert size.name == "pitch 44.45, 11.1125-15.875 mm"


def test_bolt_by_belt_thickness(tmp_path: Path) -> None:
    path = tmp_path / "range.toml"
    path.write_text(GOOD, "utf-8")
    size = load_range(path).sizes[0]
    # The list is put in order: the file has the thick belt first.
    assert size.bolt_length(0.45 * INCH) == pytest.approx(1.75 * INCH)
    assert size.bolt_length(0.5 * INCH) == pytest.approx(1.75 * INCH)
    assert size.bolt_length(0.6 * INCH) == pytest.approx(2 * INCH)
    assert size.bolt_length(0.7 * INCH) is None


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'plate_width = "1-1/2 in"',
            'plate_width = "2 in"',
            "range.toml:12: sizes.1.plate_width: is wider than the pitch; plates of one end would "
            "overlap",
        ),
        (
            'mesh_offset = "7/8 in"',
            'mesh_offset = "2 in"',
            "range.toml:16: sizes.1.mesh_offset: is more than the pitch; it is about half of it",
        ),
        (
            '"7/16 in"] }]',
            '"5/8 in"] }]',
            "range.toml:18: sizes.1.rows: has a hole that reaches beyond the plate; see across and "
            "plate_width",
        ),
        (
            'from_cut = "5/8 in"',
            'from_cut = "2-1/4 in"',
            "range.toml:18: sizes.1.rows: has a bolt row behind the plate; see from_cut, cut_line "
            "and plate_length",
        ),
        (
            '"7/16 in"] }]',
            '"7/16 in"] }, { from_cut = "2-1/4 in", across = ["0 in"] }]',
            "range.toml:18: sizes.1.rows: has a bolt row behind the plate; see from_cut, cut_line "
            "and plate_length",
        ),
        (
            'bolt = "3/8 in"',
            'bolt = "1/2 in"',
            "range.toml:19: sizes.1.hole: is smaller than the bolt",
        ),
        (
            "sets = [3, 1, 3]",
            "sets = [3]",
            "range.toml:32: sizes.1.sets: lacks 1: single plates must be among the sets",
        ),
        (
            "sets = [3, 1, 3]",
            'curve_depth = "1/8 in"\ncurve_radius = "60 ft"',
            "range.toml:33: sizes.1.curve_radius: stands beside curve_depth; give one of them",
        ),
        (
            'belt_up_to = "5/8 in"',
            'belt_up_to = "9/16 in"',
            "range.toml:21: sizes.1.bolt_lengths: ends before the thickest belt of the window",
        ),
        (
            'rated_tension = "450 lbf/in"\n',
            "",
            "range.toml:10: sizes.1.rated_tension: is missing; it must be given",
        ),
        (
            'suits = ["wet", "food"]',
            'suits = ["mud"]',
            "range.toml:7: materials.1.suits.1: 'mud' is not known; accepted is 'wet', "
            "'corrosive', 'hot', 'underground', 'food' or 'magnetic separator'",
        ),
        (
            'pin = "3/8 in"',
            'pin = "3/8 in"\ncolour = "red"',
            "range.toml:29: sizes.1.colour: is no key of this file; docs/files.md lists those that "
            "are",
        ),
        (
            'smallest_pulley = "20 in"',
            "smallest_pulley = 20",
            "range.toml:26: sizes.1.smallest_pulley: 20 has no unit; accepted is a length such as "
            "11.5 mm or 19/32 in (units: mm, cm, dm, m, km, in, inch, inches, \", ft, feet, ', yd)",
        ),
    ],
)
def test_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    assert GOOD.count(old) >= 1
    assert load(GOOD.replace(old, new, 1), tmp_path) == message


def test_the_faults_of_all_sizes_at_once(tmp_path: Path) -> None:
    size = GOOD[GOOD.index("[[sizes]]") :]
    bad = (
        GOOD.replace('hole = "7/16 in"', 'hole = "1/8 in"')
        + "\n"
        + size.replace("[3, 1, 3]", "[3]")
    )
    keys = [line.split(": ")[1] for line in load(bad, tmp_path).splitlines()]
    assert keys == ["sizes.1.hole", "sizes.2.sets"]


def test_a_folder_stands_for_its_files_in_order_of_name() -> None:
    folder = EXAMPLES / "karst-hollow" / "fasteners"
    found = load_ranges((folder, folder / "hinged.toml"))
    assert [r.name for r in found] == [
        "Karst example hinge", "Karst example riveted hinge", "Karst example solid plate",
        "Karst example hot splice", "Karst example hinge",
    ]  # fmt: skip
    assert all(r.invented for r in found)


def test_schema() -> None:
    """What is accepted is what was published: how many of each, and within what."""
    assert range_schema() == json.loads(SCHEMA.read_text("utf-8"))


def test_lists_are_accepted_up_to_what_the_schema_says(tmp_path: Path) -> None:
    size = range_schema()["$defs"]["SizeRow"]["properties"]
    for key, entry in (
        ("rows", '{ from_cut = "5/8 in", across = ["0 in"] }'),
        ("bolt_lengths", '{ belt_up_to = "5/8 in", length = "2 in" }'),
    ):
        rest, least = GOOD[: GOOD.index(f"{key} = [")], size[key]["minItems"]
        after = GOOD[GOOD.index("]\n", GOOD.index(f"{key} = [")) + 2 :]
        for number, fits in ((least, True), (size[key]["maxItems"], True), (least - 1, False),
                             (size[key]["maxItems"] + 1, False)):  # fmt: skip
            path = tmp_path / "range.toml"
            path.write_text(f"{rest}{key} = [{', '.join([entry] * number)}]\n{after}", "utf-8")
            if fits:
                assert len(getattr(load_range(path).sizes[0], key)) == number
            else:
                with pytest.raises(InputError, match=f"sizes.1.{key}: "):
                    load_range(path)


STEPS = """\
[range]
name = "hot splice"
construction = "vulcanised step"

[[materials]]
name = "splice rubber"

[[steps]]
plies = 4
strength = "400 to 1000 N/mm"
carcass = ["EP"]
step_length = "10 in"
bias = "20 deg"
kept_strength = "70 %"
safety_factor = 8
heating_time = "50 min"
cure_time = "30 min"
cure_temperature = "293 degF"
cooling_time = "1 h"
smallest_pulley = "400 mm"
"""


def test_steps_are_read(tmp_path: Path) -> None:
    path = tmp_path / "range.toml"
    path.write_text(STEPS, "utf-8")
    found = load_range(path)
    (step,) = found.steps
    assert found.construction is Construction.STEP and found.sizes == ()
    assert step.step_length == pytest.approx(0.254)
    assert step.cure_temperature == pytest.approx(418.15)
    assert step.press_time == pytest.approx(140 * 60)
    assert (step.starting_safety_factor, step.work_temperature) == (None, None)
    assert step.name == "4 plies, step 254 mm"


def test_nothing_of_a_step_joint_is_invented(tmp_path: Path) -> None:
    for key in ("step_length", "bias", "kept_strength", "safety_factor", "cure_time"):
        lines = [line for line in STEPS.splitlines() if not line.startswith(key)]
        said = load("\n".join(lines), tmp_path)
        assert said.endswith(f"steps.1.{key}: is missing; it must be given")


def test_a_joint_keeps_no_more_than_the_plies_that_go_through(tmp_path: Path) -> None:
    said = load(STEPS.replace('"70 %"', '"80 %"'), tmp_path)
    assert said == (
        "range.toml:14: steps.1.kept_strength: 80 % is more than a step joint of 4 plies can "
        "keep: at each step one ply is cut, 75 % are left"
    )
    said = load(STEPS.replace('["EP"]', '["EP", "steel cord"]'), tmp_path)
    assert said == (
        "range.toml:11: steps.1.carcass: holds a carcass without plies; accepted are EP, NN, "
        "cotton and aramid"
    )


CORDS = (
    STEPS.replace("plies = 4", 'form = "cord"\nplies = 1')
    .replace('["EP"]', '["steel cord"]')
    .replace('"10 in"', '"600 mm"')
    .replace('"70 %"', '"90 %"')
    + """\
transition = "150 mm"
cord = "5.6 mm"
cords = [{ trailing = "600 mm" }, { trailing = "295 mm", leading = "305 mm" }, { leading = "0 mm" }]
"""
)


def test_a_steel_cord_joint_is_the_users_own_table(tmp_path: Path) -> None:
    path = tmp_path / "range.toml"
    path.write_text(CORDS, "utf-8")
    (step,) = load_range(path).steps
    assert step.form is StepForm.CORD and step.transition == pytest.approx(0.15)
    assert [(c.trailing, c.leading) for c in step.cords] == [
        (pytest.approx(0.6), None), (pytest.approx(0.295), pytest.approx(0.305)),
        (None, pytest.approx(0.0)),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('leading = "305 mm"', 'leading = "290 mm"', "cords.2: lets two cords of one line overlap"),
        ('trailing = "600 mm"', 'trailing = "700 mm"', "cords.1: must name a place from 0 to"),
        # ISO 15236-4, as read: never below 16 cord diameters. 16 x 5.6 mm = 89.6 mm.
        ('"150 mm"', '"80 mm"', "transition: is 80 mm; ISO 15236-4 allows no less than 16 cord "
         "diameters, 89.6 mm"),
        ('["steel cord"]', '["EP"]', 'carcass: must be ["steel cord"]'),
        ('form = "cord"', 'form = "overlap"', "cords: does not go with the form overlap"),
        (', { leading = "0 mm" }', "", ""),
        ('trailing = "295 mm", leading', "leading", ""),
    ],
)  # fmt: skip
def test_a_table_of_cords_that_cannot_be_is_refused(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    assert old in CORDS
    wrong = CORDS.replace(old, new)
    if not message:  # a cord fewer is another table, not a wrong one
        path = tmp_path / "range.toml"
        path.write_text(wrong, "utf-8")
        assert len(load_range(path).steps[0].cords) in {2, 3}
        return
    assert f"steps.1.{message}" in load(wrong, tmp_path)


def test_sizes_and_steps_go_with_their_construction(tmp_path: Path) -> None:
    wrong = STEPS.replace('"vulcanised step"', '"hinged"')
    assert load(wrong, tmp_path).splitlines() == [
        "range.toml: sizes: is missing; it must be given",
        "range.toml:8: steps: does not go with the construction 'hinged'; give [[sizes]]",
    ]
    riveted = GOOD.replace("invented = true", 'construction = "riveted hinge"')
    path = tmp_path / "range.toml"
    path.write_text(riveted, "utf-8")
    assert load_range(path).construction is Construction.RIVETED
    assert load(riveted + 'seat_torque = "9 N m"\n', tmp_path).endswith(
        "sizes.1.seat_torque: does not go with rivets; leave it out"
    )


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ('thread_pitch = "6 mm"', "thread_pitch: is half the bolt or more"),
        ('nut_face = "10 mm"', "nut_face: is no wider than the bolt"),
        ('retighten_after = ["8 h", "1 h"]', "retighten_after: does not rise from time to time"),
    ],
)
def test_bolt_data_that_cannot_be(line: str, sentence: str, tmp_path: Path) -> None:
    text = (EXAMPLES / "karst-hollow" / "fasteners" / "hinged.toml").read_text("utf-8")
    path = tmp_path / "hinged.toml"
    path.write_text(text.replace('seat_torque = "38 N m"', f'seat_torque = "38 N m"\n{line}'))
    with pytest.raises(InputError) as caught:
        load_range(path)
    assert sentence in str(caught.value)


def test_bolt_data_are_read_and_do_not_go_with_rivets(tmp_path: Path) -> None:
    text = (EXAMPLES / "karst-hollow" / "fasteners" / "hinged.toml").read_text("utf-8")
    lines = (
        'seat_torque = "38 N m"\nthread_pitch = "1.5 mm"\nnut_face = "14 mm"\nclamp = "12 kN"\n'
        'retighten_after = ["1 h", "8 h"]\nhinge_angle = "35 deg"\nsteel = "4.4 mm"'
    )
    path = tmp_path / "hinged.toml"
    path.write_text(text.replace('seat_torque = "38 N m"', lines))
    size = next(s for s in load_range(path).sizes if s.pitch == pytest.approx(0.043))
    assert (size.thread_pitch, size.nut_face, size.clamp) == pytest.approx((1.5e-3, 14e-3, 12e3))
    assert size.retighten_after == (3600.0, 28800.0)
    assert (size.hinge_angle, size.steel) == pytest.approx((math.radians(35), 4.4e-3))
    riveted = (EXAMPLES / "karst-hollow" / "fasteners" / "riveted.toml").read_text("utf-8")
    path.write_text(riveted.replace("\nhole =", '\nclamp = "5 kN"\nhole =', 1))
    with pytest.raises(InputError, match="clamp: does not go with rivets; leave it out"):
        load_range(path)


def test_fingers_and_overlaps_of_belts_of_one_ply(tmp_path: Path) -> None:
    """No table of ours: the user's data go in, and the joint takes one length and the bias."""
    text = (EXAMPLES / "karst-hollow" / "fasteners" / "step.toml").read_text("utf-8")
    head = text[: text.index("[[steps]]")]
    row = text[text.index("[[steps]]") : text.rindex("[[steps]]")]
    path = tmp_path / "finger.toml"
    one = row.replace("plies = 3", 'form = "finger"\nplies = 1').replace('"60 %"', '"90 %"')
    path.write_text(head + one.replace('["EP", "NN"]', '["EP", "solid woven"]'))
    [size] = load_range(path).steps
    assert (size.name, size.steps, size.kept_strength) == ("1 ply, finger 200 mm", 1, 0.9)
    path.write_text(head + row.replace("plies = 3", "plies = 1"))
    with pytest.raises(InputError, match="plies: is 1, which leaves no step; a belt of one ply"):
        load_range(path)
    path.write_text(head + one.replace('["EP", "NN"]', '["steel cord"]'))
    with pytest.raises(InputError, match="carcass: holds a carcass without plies"):
        load_range(path)


def test_a_range_says_which_pieces_stand_at_the_edges_and_what_its_parts_are_called(
    tmp_path: Path,
) -> None:
    file = tmp_path / "range.toml"
    rule = 'edge_sets = [{ trough_up_to = "90 deg", plates = 3, each_edge = 2 }]\n'
    named = GOOD.replace("[[materials]]", '[range.words]\nspacer = "comb"\n\n[[materials]]', 1)
    file.write_text(named + "\n" + rule, "utf-8")
    found = load_range(file)
    assert found.words.spacer == "comb"
    assert found.words.wear_sleeve == "wear sleeve"  # ours, where the range is silent
    [rule_read] = found.sizes[-1].edge_sets
    assert (rule_read.plates, rule_read.each_edge) == (3, 2)
    assert (
        load_range(EXAMPLES / "karst-hollow" / "fasteners" / "solid.toml").sizes[0].edge_sets == ()
    )


def test_pieces_at_the_edges_must_be_among_the_sets(tmp_path: Path) -> None:
    rule = 'edge_sets = [{ trough_up_to = "90 deg", plates = 5 }]\n'
    assert "names pieces of 5 plates" in load(GOOD + "\n" + rule, tmp_path)
