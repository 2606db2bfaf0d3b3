"""Tables that people typed: what is read, and every way in which they are refused."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.files.table import LARGEST, Table, read_table
from splicewright.quantities import Kind
from splicewright.quantities.measure import Measure


def table(tmp_path: Path, text: str | bytes, must: tuple[str, ...] = ("use", "value")) -> Table:
    path = tmp_path / "t.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_table(path, must, ("note", "date", "count"))


def faults(tmp_path: Path, text: str | bytes) -> list[str]:
    with pytest.raises(InputError) as caught:
        read = table(tmp_path, text)
        for row in read.rows:
            row.number("use", Kind.RUN_TIME)
            row.number("value", Kind.LENGTH, most=0.5)
            row.day("date")
            row.yes("note")
            row.whole("count", 1, least=1)
        read.settle()
    return str(caught.value).splitlines()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_units_stand_in_the_heading_or_in_the_cell(tmp_path: Path, mark: str) -> None:
    text = f"use [h]{mark}value [mm]\n1200{mark}9.6\n50 d{mark}3/8 in\n"
    first, second = table(tmp_path, text).rows
    assert first.number("use", Kind.RUN_TIME) == 1200 * 3600
    assert first.number("value", Kind.LENGTH) == pytest.approx(0.0096)
    assert second.number("use", Kind.RUN_TIME) == 1200 * 3600
    assert second.number("value", Kind.LENGTH) == pytest.approx(0.375 * 0.0254)


def test_remarks_empty_lines_and_quoted_line_ends(tmp_path: Path) -> None:
    text = '\ufeff# Invented\r\n\r\nuse [h],value [mm],note\r\n1,2,"two\r\nlines"\r\n,,\r\n3,4,\r\n'
    read = table(tmp_path, text)
    assert read.invented
    assert [row.line for row in read.rows] == [4, 7]
    assert read.rows[0].text("note") == "two\r\nlines"


@pytest.mark.parametrize(
    ("unit", "measure"),
    [("h", Measure.TIME), ("kt", Measure.MASS), ("short ton", Measure.MASS),
     ("turns", Measure.TURNS)],
)  # fmt: skip
def test_the_unit_says_what_use_is_counted_in(tmp_path: Path, unit: str, measure: Measure) -> None:
    head = table(tmp_path, f"use [{unit}],value [mm]\n1,2\n")
    cell = table(tmp_path, f"use,value [mm]\n1 {unit},2\n")
    assert head.measure(("use",)) is cell.measure(("use",)) is measure


def test_a_name_that_begins_like_a_remark_is_kept_when_quoted(tmp_path: Path) -> None:
    read = table(tmp_path, 'note,use [h],value [mm]\n"# 3 pin",1,2\n# a remark,1,2\n')
    assert [row.text("note") for row in read.rows] == ["# 3 pin"]


def test_columns_that_are_wrong(tmp_path: Path) -> None:
    assert faults(tmp_path, "use [h],valeu [mm],use\n1,2,3\n") == [
        "t.csv:1: valeu: is no column of this file; accepted are use, value, note, date, count",
        "t.csv:1: use: stands twice among the columns",
        "t.csv:1: value: is missing; the table must have this column",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "t.csv: holds no table; the first line names the columns"),
        ("# only a remark\n", "t.csv: holds no table; the first line names the columns"),
        ("use,value\n", "t.csv: has no line below the names of its columns"),
        ("use,value\n1,2,3,4\n", "t.csv:2: has 4 cells, but the table has 2 columns"),
        (b"use,value\n1,2\n\xff\xfe,1\n", "t.csv:3: is not UTF-8 text; save it as UTF-8"),
        ('use,value\n1,"2\n', "t.csv:2: cannot be read as a table: unexpected end of data"),
        (
            b"use,value\n" + b"9" * 200_000 + b",1\n",
            "t.csv:2: cannot be read as a table: field larger than field limit (131072)",
        ),
        ("use,value\n" + "9" * 300 + ",1\n", "t.csv:2: use: holds 300 characters; accepted are up "
         "to 200"),
        ("use,value\n=A1*2,1\n", 't.csv:2: use: "=A1*2" is a formula; save the values'),
        ("use,value,note\n1,2,@SUM(A1)\n", 't.csv:2: note: "@SUM(A1)" is a formula; save the '
         "values"),
        ("use,value\n1\x07,2\n", "t.csv:2: use: holds signs that are no text"),
    ],
)  # fmt: skip
def test_tables_that_are_none(tmp_path: Path, text: str | bytes, words: str) -> None:
    assert faults(tmp_path, text) == [words]


def test_cells_that_cannot_be(tmp_path: Path) -> None:
    text = (
        "use [h],value [mm],date,note,count\n"
        "-5,2,2026-02-30,maybe,0\n"
        '5 kg,"9,6",31.12.2025,,1.5\n'
        "5,900 mm,20260101,,\n"
        "five,nan,,,\n"
        "1e999,2,,,\n"
    )
    said = faults(tmp_path, text)
    assert [line.split(";")[0] for line in said] == [
        't.csv:2: use: "-5" cannot be',
        't.csv:2: date: "2026-02-30" is no date',
        't.csv:2: note: "maybe" is not known',
        't.csv:2: count: "0" cannot be used',
        't.csv:3: use: "5 kg" has the unit "kg"',
        't.csv:3: value: "9,6 mm" has a comma: write decimals with a point',
        't.csv:3: date: "31.12.2025" is no date',
        't.csv:3: count: "1.5" cannot be used',
        't.csv:4: value: "900 mm" cannot be',
        't.csv:4: date: "20260101" is no date',
        't.csv:5: use: "five" cannot be read as a number with a unit',
        't.csv:5: value: "nan" cannot be read as a number with a unit',
        't.csv:6: use: "1e999 h" is not a finite number',
    ]
    far = faults(tmp_path, "use [h],value [mm],date\n1,2,6267-10-21\n1,2,1899-12-31\n")
    assert far == [
        f"t.csv:{line}: date: {day} is not believable; accepted is 1900 to 2200"
        for line, day in ((2, "6267-10-21"), (3, "1899-12-31"))
    ]


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"use,value\n" + b"1,2\n" * 2_600_000)
    assert path.stat().st_size > 10_000_000 > LARGEST
    with pytest.raises(InputError, match="is larger than 2 MB"):
        read_table(path, ("use", "value"), ())


def test_many_faults_are_counted(tmp_path: Path) -> None:
    said = faults(tmp_path, "use [h],value [mm]\n" + "-1,2\n" * 500)
    assert len(said) == 21
    assert said[-1] == "t.csv: 480 further faults like these"


def test_what_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"there is no file none\.csv"):
        read_table(tmp_path / "none.csv", (), ())
    with pytest.raises(InputError, match="is a folder; a CSV file is needed"):
        read_table(tmp_path, (), ())


def test_a_date_is_read(tmp_path: Path) -> None:
    (row,) = table(tmp_path, "use [h],value [mm],date\n1,2,2026-03-31\n").rows
    assert row.day("date") == date(2026, 3, 31)


def test_rows_are_counted_before_they_are_read(tmp_path: Path) -> None:
    """20,000 equal rows of wear took 4.7 GB; a place each took longer still."""
    from splicewright.history.wear.file import MOST_PLACES, MOST_READINGS, load_readings

    path = tmp_path / "wear.csv"
    path.write_text("place,use,value\n" + "p,100 h,9 mm\n" * 20_000)
    with pytest.raises(InputError) as refused:
        load_readings(path, 0.012)
    said = f"holds 20000 rows; accepted are up to {MOST_READINGS}: cut it into parts"
    assert str(refused.value) == f"wear.csv:{MOST_READINGS + 2}: {said}"
    path.write_text("place,use,value\n" + "".join(f"p{n},1 h,9 mm\n" for n in range(201)))
    with pytest.raises(InputError, match=rf"names 201 places; accepted are up to {MOST_PLACES}"):
        load_readings(path, 0.012)
    path.write_text("place,use,value\n" + "".join(f"p{n % 200},1 h,9 mm\n" for n in range(5000)))
    assert len(load_readings(path, 0.012)[0]) == 200
