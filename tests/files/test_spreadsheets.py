"""Reading tables, hostile ones too, and writing them so that no spreadsheet works them out."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.files import spreadsheets
from splicewright.files.spreadsheets import (
    harmless,
    looks_like_formula,
    plain,
    read_table,
    write_table,
)

CELLS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=40)


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_a_table_comes_back(ending: str, tmp_path: Path) -> None:
    @given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=8))
    @settings(max_examples=examples(25), deadline=None, suppress_health_check=list(HealthCheck))
    def holds(rows: list[tuple[str, str, str]]) -> None:
        path = tmp_path / f"table{ending}"
        path.write_bytes(write_table(path, ("a", "b", "c"), rows))
        read = read_table(path)
        assert read.header == ("a", "b", "c")
        came = [tuple(plain(cell) for cell in row) for _, row in read.rows]
        kept = [tuple(cell.strip() for cell in row) for row in rows]
        assert came == [row for row in kept if any(row)]

    holds()


def test_a_workbook_tells_no_hour_of_its_making() -> None:
    """The same rows are the same bytes, whenever they are written."""
    book = zipfile.ZipFile(io.BytesIO(write_table(Path("table.xlsx"), ("a",), [("b",)])))
    assert b">1980-01-01T00:00:00Z</dcterms:created>" in book.read("docProps/core.xml")


FORMULAS = ["=1+1", "@SUM(A1)", "+1+2", "-cmd|' /C calc'!A0", '=HYPERLINK("x")', "+A1", "-(1)",
            "-1-3/8", "-2*3", "+1 m=2", "-1 m(2)", "-", "+"]  # fmt: skip
NUMBERS_AND_WORDS = ["-16", "-0.5 mm", "+12", "-.5", "-1-3/8 in", "-1/2", "-5 degC", "+1e-3 m",
                     "-5 °C", '-3"', "J1", "", "'quoted'", "'"]  # fmt: skip


@pytest.mark.parametrize("cell", FORMULAS)
def test_formulas_are_known(cell: str, tmp_path: Path) -> None:
    # The signs a spreadsheet starts a formula with; OWASP, CSV Injection.
    assert looks_like_formula(cell)
    assert harmless(cell) == f"'{cell}" and plain(harmless(cell)) == cell
    path = tmp_path / "t.csv"
    path.write_bytes(write_table(path, ("a",), [(cell,)]))
    (row,) = list(csv.reader(io.StringIO(path.read_text("utf-8-sig"))))[1:]
    assert row[0].startswith("'")
    path = tmp_path / "t.xlsx"
    path.write_bytes(write_table(path, ("a",), [(cell,)]))
    sheet = zipfile.ZipFile(path).read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in sheet and b"<f " not in sheet


@pytest.mark.parametrize("cell", NUMBERS_AND_WORDS)
def test_numbers_and_words_are_left(cell: str) -> None:
    assert not looks_like_formula(cell)
    assert plain(harmless(cell)) == cell


def test_separators_quotes_marks_and_line_numbers(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b'\xef\xbb\xbfA ;b;\r\n"one\r\nline";2;\r\n\r\n;;\r\n3;"x;""y"""\r\n')
    table = read_table(path)
    assert table.header == ("a", "b")
    assert table.rows == ((2, ("one\r\nline", "2", "")), (6, ("3", 'x;"y"')))


def test_cells_of_a_sheet_as_text(tmp_path: Path) -> None:
    from datetime import date, datetime

    path = tmp_path / "t.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        sheet.write_row(0, 0, ["a", "b", "c", "d", "e"])
        sheet.write_datetime(1, 0, date(2019, 5, 4), day)
        sheet.write_datetime(1, 1, datetime(2019, 5, 4, 6, 30), moment)
        sheet.write_number(1, 2, 12)
        sheet.write_number(1, 3, 0.1)
        sheet.write_boolean(1, 4, True)
    ((_, cells),) = read_table(path).rows
    assert cells == ("2019-05-04", "2019-05-04T06:30:00", "12", "0.1", "yes")


def _bomb() -> bytes:
    return _zip(bomb=bytes(210_000_000))


def _many() -> bytes:
    return _zip(**{f"p{n}": b"x" for n in range(2001)})


def _zip(**parts: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return made.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("t.txt", b"a\n1\n", '".txt" is not read; accepted is .csv or .xlsx'),
        ("t.csv", b"", "is empty; the first line must name the columns"),
        ("t.csv", b"a,,b\n", "t.csv:1: the first line must name every column, each once"),
        ("t.csv", b"a,a\n", "t.csv:1: the first line must name every column, each once"),
        ("t.csv", b"a\nb\n\xe9\n", "t.csv:3: is not UTF-8 text; save it as CSV UTF-8"),
        ("t.csv", b"a\n\x00\n", "t.csv:2: holds zero bytes; it is no CSV"),
        ("t.csv", b'a\n"b\n', "t.csv:2: cannot be read as CSV: unexpected end of data"),
        ("t.csv", b"a\n" + b"x" * 5000, "a cell has 5000 characters; accepted is up to 4000"),
        ("t.csv", b"a\n" + b"," * 70, "has 71 columns; accepted is up to 60"),
        ("t.csv", b"a\n" + b'"' + b"x" * 200_000, "cannot be read as CSV: field larger than"),
        ("t.xlsx", b"a,b\n1,2\n", "is no XLSX file"),
        ("t.xlsx", b"PK\x03\x04" + bytes(60), "is no XLSX file"),
        ("t.xlsx", _zip(hello=b"x"), "cannot be read as XLSX"),
        ("t.xlsx", _bomb, "unpacks to more than 200 MB; it is not read"),
        ("t.xlsx", _many, "holds more parts than any"),
    ],
)  # fmt: skip
def test_what_is_refused(
    name: str, content: bytes | Callable[[], bytes], sentence: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content() if callable(content) else content)
    with pytest.raises(InputError) as refused:
        read_table(path)
    assert sentence in str(refused.value)
    assert str(refused.value).startswith(name)


def test_size_and_lines_are_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"a\n" + b"1\n" * 30)
    monkeypatch.setattr(spreadsheets, "MOST_ROWS", 29)
    with pytest.raises(InputError, match="has more than 29 lines; cut it into parts"):
        read_table(path)
    monkeypatch.setattr(spreadsheets, "LARGEST_FILE", 50)
    with pytest.raises(InputError, match=r"is larger than 0\.05 kB; cut it into parts"):
        read_table(path)
    with pytest.raises(InputError, match=r"there is no file no\.csv"):
        read_table(tmp_path / "no.csv")
    with pytest.raises(InputError, match="is a folder; a CSV or XLSX file is needed"):
        (tmp_path / "d.csv").mkdir()
        read_table(tmp_path / "d.csv")


@given(st.binary(max_size=400))
@settings(max_examples=examples(150), deadline=None, suppress_health_check=list(HealthCheck))
def test_any_bytes_are_a_table_or_refused(tmp_path: Path, content: bytes) -> None:
    for name in ("t.csv", "t.xlsx"):
        path = tmp_path / name
        path.write_bytes(content)
        try:
            read_table(path)
        except InputError:
            continue
