"""Bad conveyor files: each fault in one sentence with file, line and key."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.files.toml import line_of
from splicewright.plant import load_conveyor
from strategies import loop_file, outline, pulley, run, small_loop, text_of

Write = Callable[[dict[str, Any] | str | bytes], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def put(data: dict[str, Any] | str | bytes) -> Path:
        path = tmp_path / "belt.toml"
        text = text_of(data) if isinstance(data, dict) else data
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return put


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        load_conveyor(path)
    return str(caught.value)


A_LENGTH = (
    "accepted is a length such as 11.5 mm or 19/32 in (units: mm, cm, dm, m, km, in, inch, "
    "inches, \", ft, feet, ', yd)"
)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"belt": {"width": "800 kg"}},
            f'belt.toml:11: belt.width: "800 kg" has the unit "kg"; {A_LENGTH}',
        ),
        (
            {"belt": {"thickness": "-11 mm"}},
            "belt.toml:13: belt.thickness: '-11 mm' is too small; accepted is 2 mm or more",
        ),
        (
            {"belt": {"thickness": float("nan")}},
            f"belt.toml:13: belt.thickness: nan has no unit; {A_LENGTH}",
        ),
        (
            {"resistance": {"friction": float("nan")}},
            "belt.toml:27: resistance.friction: nan is not a finite number; accepted is a ratio "
            "such as 1.5 (units: a plain number)",
        ),
        (
            {"resistance": {"friction": float("inf")}},
            "belt.toml:27: resistance.friction: inf is not a finite number; accepted is a ratio "
            "such as 1.5 (units: a plain number)",
        ),
        (
            {"belt": {"width": "5 m"}},
            "belt.toml:11: belt.width: '5 m' is too large; accepted is up to 4000 mm",
        ),
        (
            {"conveyor": {"speed": "0 m/s"}},
            "belt.toml:3: conveyor.speed: '0 m/s' is too small; accepted is more than 0 m/s",
        ),
        (
            {"belt": {"thickness": "6 mm"}},
            "belt.toml:13: belt.thickness: 6 mm is not thicker than its covers 5 mm and 2 mm",
        ),
        (
            {"belt": {"colour": "black"}},
            "belt.toml:14: belt.colour: is no key of this file; docs/files.md lists those that are",
        ),
        (
            {"belt": {"marking": "hello"}},
            'belt.toml:12: belt.marking: "hello" cannot be read; accepted is carcass, strength in '
            'N/mm, plies, covers in mm, such as "EP 500/3 5+2"',
        ),
        (
            {"belt": {"carcass": "wool"}},
            "belt.toml:14: belt.carcass: 'wool' is not known; accepted is 'EP', 'NN', 'cotton', "
            "'aramid', 'solid woven' or 'steel cord'",
        ),
        (
            {"belt": {"plies": 13}},
            "belt.toml:14: belt.plies: 13 cannot be used: input should be less than or equal to 12",
        ),
        (
            {"outline": {"head_pulley": "9 m", "centre_distance": "8 m", "lift": "0 m"}},
            "belt.toml:9: outline.head_pulley: head pulley of 9000 mm is larger than the longest "
            "run, 8.00 m",
        ),
        (
            {"take_up": {"kind": "spring"}},
            "belt.toml:24: take_up.kind: 'spring' is not known; accepted is 'gravity', 'screw' or "
            "'winch'",
        ),
        (
            {"take_up": {"kind": "screw", "mass": "3 t"}},
            "belt.toml:25: take_up.mass: a screw take-up has no counterweight; give take_up.force",
        ),
        (
            {"take_up": {"mass": "3 t", "force": "3 kN"}},
            "belt.toml:26: take_up.force: give the mass of the counterweight or the force, not "
            "both",
        ),
        (
            {"take_up": {"mass": "300 t"}},
            "belt.toml:25: take_up.mass: 300000 kg would load the belt beyond half its strength; "
            "believable is up to 40775 kg",
        ),
        (
            {"take_up": {"position": "4 m", "travel": "3 m"}},
            "belt.toml:25: take_up.position: 4 m is more than the whole travel 3 m",
        ),
        (
            {"take_up": {"pulley": "none"}},
            'belt.toml:25: take_up.pulley: "none" is no pulley of the loop; accepted is one of '
            "tail pulley, head pulley, first bend pulley, take-up pulley, second bend pulley",
        ),
        (
            {"drives": [{"name": "one"}, {"name": "two"}, {"name": "three"}]},
            "belt.toml:19: drives: 3 are given; the short form takes two, at head and tail: give "
            "[[loop]] with the pulley that each one turns",
        ),
        (
            {"drives": [{"name": "one", "share": 0.5}]},
            "belt.toml:19: drives: the shares of the pull add up to 50 % instead of 100 %",
        ),
        (
            {"drives": [{"name": "one", "efficiency": "2"}]},
            "belt.toml:21: drives.1.efficiency: '2' is too large; accepted is up to 100 %",
        ),
        (
            {"special": [{"kind": "plough", "per_width": "1 N/mm"}, {"kind": "wind"}]},
            "belt.toml:30: special.2: kind 'wind' is not known; accepted is 'idler tilt', "
            "'skirts', 'cleaner', 'plough', 'allowance', 'force'",
        ),
        (
            {"special": [{"force": "1 kN"}]},
            "belt.toml:26: special.1: has no kind; docs/files.md lists those that are accepted",
        ),
        (
            {"special": [{"kind": "force", "force": "-1 kN"}]},
            "belt.toml:28: special.1.force: '-1 kN' is too small; accepted is 0 kN or more",
        ),
        (
            {"special": [{"kind": "force", "force": "1 kN", "run": "lost"}]},
            'belt.toml:29: special.1.run: "lost" is no run of the loop; accepted is one of carry '
            "run, return run, head to take-up, into the take-up, out of the take-up, return run, "
            "take-up to tail",
        ),
        (
            {"loop": [pulley("tail", "tail"), run("carry", "carry", "60 m")]},
            "belt.toml:26: loop: give either [outline] or [[loop]], not both",
        ),
    ],
)
def test_one_fault(write: Write, changes: dict[str, Any], message: str) -> None:
    assert refused(write(outline(**changes))) == message


def test_ambiguous_tons(write: Write) -> None:
    message = refused(write(outline(material={"rate": "600 tph"})))
    assert message.startswith(
        'belt.toml:16: material.rate: "600 tph": tons differ: write t/h (metric, 1000 kg), short '
        "ton/h (2000 lb) or long ton/h; accepted is a mass flow such as "
    )


LEVEL = [
    pulley("tail", "tail"),
    run("carry", "carry", "60 m"),
    pulley("head", "head"),
    run("back", "return", "60 m"),
]


def loop_with(place: int, **changes: Any) -> dict[str, Any]:
    elements = [dict(e) for e in LEVEL]
    elements[place] |= changes
    return loop_file(*elements)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (
            loop_with(1, rise="5 m"),
            "belt.toml:21: loop: does not close: the rises add up to 5.00 m instead of 0; check "
            "the sign of each rise (down is negative)",
        ),
        (
            loop_with(0, name="head"),
            'belt.toml:33: loop.3: the name "head" stands twice; each needs its own',
        ),
        (
            loop_with(1, name="Tail!"),
            'belt.toml:27: loop.2: the name "Tail!" stands twice; each needs its own',
        ),
        (
            loop_with(1, side="both"),
            "belt.toml:30: loop.2.side: 'both' is not known; accepted is 'carry' or 'return'",
        ),
        (
            loop_with(2, wrap="400 deg"),
            "belt.toml:38: loop.3.wrap: '400 deg' is too large; accepted is up to 360°",
        ),
        (
            loop_with(2, crown="60 mm"),
            "belt.toml:38: loop.3.crown: '60 mm' is too large; accepted is up to 50 mm",
        ),
        (
            loop_with(2, crown="50 mm", diameter="400 mm"),
            "belt.toml:38: loop.3.crown: 50 mm on a pulley of 400 mm is no crown; accepted is up "
            "to a tenth of the diameter (radius in the middle less radius at the edges)",
        ),
        (
            loop_with(2, crown="5 mm", crown_flat="900 mm"),
            "belt.toml:39: loop.3.crown_flat: 900 mm does not lie under the belt; the belt is "
            "800 mm wide",
        ),
        (
            loop_with(2, crown="5 mm", crown_shape="arc", crown_flat="300 mm"),
            "belt.toml:40: loop.3.crown_flat: is stated for an arc; a cylinder in the middle is "
            "for cones",
        ),
        (
            {**loop_with(1), "idlers.carry": {"middle_roll": "810 mm"}},
            "belt.toml:46: idlers.carry.middle_roll: 810 mm does not lie under the belt; the "
            "belt is 800 mm wide",
        ),
        (
            loop_with(2, kind="rope"),
            "belt.toml:33: loop.3: kind 'rope' is not known; accepted is 'run', 'pulley'",
        ),
        (
            loop_file(*LEVEL[:2]),
            "belt.toml:21: loop: has 1 pulleys and 1 runs; a closed loop needs two of each or more",
        ),
        (
            loop_file(*LEVEL, drives=[{"name": "x"}, {"name": "x"}]),
            "belt.toml:14: drives: 2 drives for 1 driven pulley; say at each pulley which drive "
            "turns it\n"
            'belt.toml:17: drives.2: the drive name "x" stands twice; each needs its own',
        ),
        (
            {k: v for k, v in small_loop().items() if k != "loop"},
            "belt.toml: outline: give either [outline] or [[loop]]",
        ),
    ],
)
def test_one_fault_of_the_loop(write: Write, data: dict[str, Any], message: str) -> None:
    assert refused(write(data)) == message


def test_a_loop_may_miss_closing_by_rounding_only(write: Write) -> None:
    assert load_conveyor(write(loop_with(1, rise="0.2 m"))).runs()[0].rise.value == 0.2
    assert "does not close" in refused(write(loop_with(1, rise="0.3 m")))  # 0.2 % of 120 m


def test_a_pulley_larger_than_the_runs(write: Write) -> None:
    data = loop_file(
        pulley("tail", "tail"),
        run("carry", "carry", "4 m"),
        pulley("head", "head", diameter="4.1 m"),
        run("back", "return", "4 m"),
    )
    assert refused(write(data)) == (
        "belt.toml:37: loop.3.diameter: head of 4100 mm is larger than the longest run, 4.00 m"
    )


def test_all_faults_at_once(write: Write) -> None:
    data = outline(
        conveyor={"speed": "0 m/s"}, belt={"width": "5 m", "age": 7}, outline={"lift": "high"}
    )
    lines = refused(write(data)).splitlines()
    assert [line.split(": ")[:2] for line in lines] == [
        ["belt.toml:3", "conveyor.speed"],
        ["belt.toml:7", "outline.lift"],
        ["belt.toml:11", "belt.width"],
        ["belt.toml:14", "belt.age"],
    ]


def test_all_contradictions_at_once(write: Write) -> None:
    data = outline(
        belt={"thickness": "6 mm"},
        take_up={"kind": "winch", "mass": "1 t", "position": "9 m", "travel": "3 m"},
        loop=LEVEL,
    )
    del data["outline"]
    keys = [line.split(": ")[1] for line in refused(write(data)).splitlines()]
    assert keys == ["belt.thickness", "take_up.position", "take_up.mass"]


def test_a_bad_belt_is_told_together_with_a_doubled_loop(write: Write) -> None:
    keys = [
        line.split(": ")[1]
        for line in refused(write(outline(belt={"thickness": "6 mm"}, loop=LEVEL))).splitlines()
    ]
    assert keys == ["belt.thickness", "loop"]


def test_unknown_drive_at_a_pulley(write: Write) -> None:
    assert refused(write(loop_with(2, drive="lost"))) == (
        'belt.toml:21: loop: head is turned by "lost", which is not among the drives; accepted is '
        "head drive\n"
        'belt.toml:14: drives: "head drive" turns no pulley; name it at a pulley of the loop'
    )


def test_missing_tables(write: Write) -> None:
    data = small_loop()
    del data["belt"], data["take_up"], data["conveyor"]["speed"]
    assert refused(write(data)) == (
        "belt.toml:1: conveyor.speed: is missing; it must be given\n"
        "belt.toml: belt: is missing; it must be given\n"
        "belt.toml: take_up: is missing; it must be given"
    )


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b'a = 1\nb = "\xff"', "belt.toml:2: is not UTF-8 text; save it as UTF-8"),
        ("a = 1".encode("utf-16"), "belt.toml:1: is not UTF-8 text; save it as UTF-8"),
        (b"a = 1\na = 2\n", "belt.toml:2: is not valid TOML: Cannot overwrite a value"),
        (b"a = [", "belt.toml: is not valid TOML: Invalid value (at end of document)"),
        (b"#" * 10_000_000, "belt.toml: is larger than 1000 kB; a file of this kind is a few kB"),
    ],
)
def test_files_that_are_no_text_of_ours(write: Write, raw: bytes, message: str) -> None:
    assert refused(write(raw)) == message


def test_missing_file(tmp_path: Path) -> None:
    assert refused(tmp_path / "no.toml") == "no.toml: there is no file no.toml"


def test_folder_in_place_of_a_file(tmp_path: Path) -> None:
    folder = tmp_path / "conveyors"
    folder.mkdir()
    assert refused(folder) == "conveyors: conveyors is a folder; a TOML file is needed"


def test_byte_order_mark_is_accepted(write: Write) -> None:
    text = text_of(outline()).encode("utf-8-sig")
    assert load_conveyor(write(text)).name == "test conveyor"


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (
            '{ value = "11 mm", colour = 1 }',
            "has the unknown key 'colour'; accepted are value, sd, measured (true or false) and "
            "note",
        ),
        (
            '{ note = "x" }',
            "has no value; accepted are value, sd, measured (true or false) and note",
        ),
        (
            '{ value = "11 mm", measured = "yes" }',
            "accepted are measured = true or false and note = a text",
        ),
    ],
)
def test_a_number_with_its_story_told_wrongly(write: Write, number: str, message: str) -> None:
    text = text_of(outline()).replace('thickness = "11 mm"', f"thickness = {number}")
    assert refused(write(text)) == f"belt.toml:13: belt.thickness: {message}"


def test_lines_are_found_in_tables_of_a_loop_element(write: Write) -> None:
    text = text_of(small_loop()).replace(
        'side = "carry"\nlength = "60 m"',
        'side = "carry"\nlength = "60 m"\n\n[loop.idlers]\nspacing = "1 m"\ntrough = "80 deg"',
    )
    line = text.splitlines().index('trough = "80 deg"') + 1
    assert refused(write(text)) == (
        f"belt.toml:{line}: loop.2.idlers.trough: '80 deg' is too large; accepted is up to 70°"
    )


def test_a_file_full_of_faults_tells_a_hundred_and_how_many_more(tmp_path: Path) -> None:
    path = tmp_path / "k.toml"
    path.write_text("".join(f"odd{n} = 1\n" for n in range(250)))
    with pytest.raises(InputError) as refused:
        load_conveyor(path)
    assert len(refused.value.faults) == 101
    assert refused.value.faults[-1].sentence.endswith("more faults; mend these first")


@pytest.mark.parametrize("line", [" " * 60_000, "[" + " " * 60_000, "a" + " " * 60_000 + "b"])
def test_long_lines_are_looked_through_once(line: str) -> None:
    # In the time of the test: what looks at every pair of blanks takes minutes.
    assert line_of(f"{line}\nspeed = 1\n", ["speed"]) == 2
