"""The reports on wear and life read back: numbers, marks, and the words where data are too few."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import pypdfium2
import pytest

from splicewright.history.life.file import load_lives
from splicewright.history.life.lives import failed, running
from splicewright.history.life.study import LifeStudy, Record
from splicewright.history.life.study import study_life as study_lives
from splicewright.history.shutdown.file import load_shutdown
from splicewright.history.shutdown.study import study_shutdown
from splicewright.history.wear.file import load_readings
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.study import Series, WearStudy
from splicewright.history.wear.study import study_wear as study_readings
from splicewright.quantities import System, show
from splicewright.sheets.canvas.chart import Chart, key, ladder
from splicewright.sheets.canvas.expansion import bounds
from splicewright.sheets.canvas.paper import A4, LETTER
from splicewright.sheets.canvas.scene import OUTLINE, Circle, Pen, Polyline, Scene, Text, leaves
from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.drawings.life import life_diagram
from splicewright.sheets.drawings.shutdown import shutdown_bars, shutdown_text
from splicewright.sheets.drawings.wear import wear_diagram
from splicewright.sheets.pages.document import Section
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.life import life_report, life_words
from splicewright.sheets.reports.wear import wear_report

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow" / "history"
SYSTEMS: tuple[System, ...] = ("metric", "inch")


@cache
def wear() -> WearStudy:
    series, measure, invented = load_readings(SITE / "incline-wear.csv")
    return study_readings(
        series, today=date(2026, 3, 1), name="incline", measure=measure, invented=invented
    )


@cache
def life() -> LifeStudy:
    records, invented = load_lives(SITE / "joint-lives.csv")
    return study_lives(records, name="joints", further=2000 * 3600.0, invented=invented)


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        words = page.get_textpage()
        found.append(words.get_text_range())
        words.close()
        page.close()
    document.close()
    return " ".join(" ".join(found).split())


def texts(scene: Scene) -> list[str]:
    return [item.text for _, item in leaves(scene) if isinstance(item, Text)]


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_wear_report_says_place_end_and_doubt(system: System) -> None:
    said = text_of(printed(wear_report(wear(), system), LETTER if system == "inch" else A4))
    first = wear().places[0].forecast
    for value in (first.likely, first.earliest, first.latest):
        assert show(value, first.measure.kind, system) in said
    assert "INVENTED DATA: NOT FOR REAL WORK" in said
    assert "not enough data to say" in said
    assert "Far off and counted less: 2025-06-30" in said
    assert "competent person" in said


def test_the_life_report_gives_each_number_its_limits() -> None:
    said = text_of(printed(life_report(life())))
    settled = life().settled
    assert settled is not None
    assert f"{settled.law.shape:.2f} {settled.shape.low:.2f} to {settled.shape.high:.2f}" in said
    for group in life().groups:
        assert group.name in said
    assert "not enough data to say" in said  # the conveyor without failures, alone
    assert "Assumption of this tool" in said


def test_the_same_study_gives_the_same_bytes() -> None:
    assert printed(wear_report(wear())) == printed(wear_report(wear()))


def test_lives_without_failures_give_a_report_without_a_diagram() -> None:
    records, _ = load_lives(SITE / "joint-lives.csv")
    good = [r for r in records if not r.life.failed]
    said = text_of(printed(life_report(study_lives(good, name="good"))))
    assert "Not enough data to say how long joints live" in said
    assert "nine in ten live at least" in said


def test_two_failures_prove_nothing_and_no_two_lines_contradict_each_other() -> None:
    """Reproduced: "joints wear out", and two lines on "pure chance stays possible"."""
    good = [Record(running(age), running=True) for age in (900.0, 1500, 2300, 2800, 3100)]
    for number, said in (
        (2, "The failures look like wear-out; so few cannot prove it."),
        (4, "Joints wear out: the chance of failing grows with age."),
    ):
        failures = [Record(failed(3000.0 + 40 * n, cause="pull-out")) for n in range(number)]
        words = life_words(study_lives([*good, *failures], test_fit=False))
        assert said in words
        assert f"{number} failures do not tell a Weibull law from a lognormal one." in words
        assert not any("pure chance" in line for line in words)


def test_readings_are_drawn_where_they_lie() -> None:
    place = next(p for p in wear().places if p.series.place == "carry cover left")
    scene = wear_diagram(wear(), place)
    dots = [i for _, i in leaves(scene) if isinstance(i, Circle)]
    assert len(dots) == len(place.series.readings)
    # one scale for all: use and reading of two dots against their places on paper
    (a, b), (first, last) = (dots[1], dots[-1]), (
        place.series.readings[1], place.series.readings[-1],
    )  # fmt: skip
    assert b.centre[0] / a.centre[0] == pytest.approx(last.use / first.use)
    assert b.centre[1] / a.centre[1] == pytest.approx(last.value / first.value)


def test_readings_of_nothing_still_make_a_diagram() -> None:
    series = Series("new pin", (Reading(5.0, 0.0), Reading(7.0, 0.0)), 0.0)
    study = study_readings((series,), today=date(2026, 3, 1))
    assert len(texts(wear_diagram(study, study.places[0]))) > 4


def test_a_wild_reading_is_a_cross_with_its_date() -> None:
    scene = wear_diagram(wear(), wear().places[0])
    assert "2025-06-30" in texts(scene)
    assert "Crosses" in scene.description


def test_the_staircase_goes_on_to_the_last_watched_age() -> None:
    records, _ = load_lives(SITE / "joint-lives.csv")
    seen = max(r.life.good for r in records)
    assert life().longest == seen
    study = study_lives([r for r in records if r.life.joint in {"K2-d", "K3-a"}])
    scene = life_diagram(study)  # fails at 2950 h, watched to 9800 h
    (stairs,) = [
        i for _, i in leaves(scene)
        if isinstance(i, Polyline) and i.pen is not None and i.pen.name == "staircase"
    ]  # fmt: skip
    assert stairs.points[-1][0] / stairs.points[1][0] == pytest.approx(9800 / 2950)


def test_a_drawing_of_invented_data_says_so() -> None:
    study = study_shutdown(load_shutdown(SITE / "incline-shutdown.toml"))
    for scene in (life_diagram(life()), wear_diagram(wear(), wear().places[0]),
                  shutdown_bars(study)):  # fmt: skip
        assert scene.description.endswith("Invented data: not for real work.")


def test_the_staircase_only_falls_and_is_told_apart_from_the_law() -> None:
    scene = life_diagram(life())
    lines = [i for _, i in leaves(scene) if isinstance(i, Polyline) and i.pen is not None]
    (stairs,) = [i for i in lines if i.pen is not None and i.pen.name == "staircase"]
    heights = [y for _, y in stairs.points]
    assert heights == sorted(heights, reverse=True)
    looks = {(i.pen.width, i.pen.dash) for i in lines if i.pen is not None}
    assert len(looks) == 3  # staircase, law, its limits: apart without colour


def test_svg_is_black_and_white() -> None:
    study = study_shutdown(load_shutdown(SITE / "incline-shutdown.toml"))
    for scene in (life_diagram(life()), wear_diagram(wear(), wear().places[0]),
                  shutdown_bars(study)):  # fmt: skip
        for element in ET.fromstring(svg(scene)).iter():
            for look in ("fill", "stroke"):
                colour = element.get(look, "none")
                assert colour == "none" or colour[1:3] == colour[3:5] == colour[5:7]


def test_bars_stand_at_their_times() -> None:
    study = study_shutdown(load_shutdown(SITE / "incline-shutdown.toml"))
    scene = shutdown_bars(study)
    bars = [i for _, i in leaves(scene) if isinstance(i, Polyline) and i.closed]
    assert len(bars) == len(study.bars)
    ends = [max(x for x, _ in b.points) for b in bars]
    for end, bar in zip(ends, study.bars, strict=True):
        assert end / ends[0] == pytest.approx(bar.end / study.bars[0].end)
    told = " ".join(texts(scene))
    assert all(bar.task in told for bar in study.bars)
    lines = shutdown_text(study)
    assert len(lines) == len(study.bars)
    assert max(map(len, lines)) < 110


def test_long_task_names_are_cut_with_a_sign() -> None:
    from dataclasses import replace

    study = study_shutdown(load_shutdown(SITE / "incline-shutdown.toml"))
    named = replace(study, bars=(replace(study.bars[0], task="x" * 80),))
    assert any("…" in t for t in texts(shutdown_bars(named)))


def test_steps_of_an_axis_are_round_and_few_enough() -> None:
    from splicewright.quantities import Kind

    for top in (0.003, 0.0081, 0.5):
        step, unit = ladder(top, Kind.LENGTH, "metric", 6)
        assert top / step <= 6 and f"{step / unit:g}".strip("0.").rstrip("0") in {"1", "2", "25",
                                                                                 "5"}  # fmt: skip


def test_a_curve_stops_at_the_frame() -> None:
    chart = Chart(100.0, 50.0, 10.0, 1.0)
    pieces = chart.curve([(0, 0.5), (2, 0.6), (4, 1.4), (6, 0.9), (8, 0.8)], OUTLINE)
    assert [len(p.points) for p in pieces if isinstance(p, Polyline)] == [2, 2]


def test_a_key_goes_on_in_the_next_row() -> None:
    items = key([("a long name of a line", Pen("a", 0.3))] * 6, (0.0, 0.0), 100.0)
    left, low, right, _ = bounds(Scene(tuple(items)))
    assert left >= -1.0 and right <= 101.0 and low < -9.0


def test_a_table_as_text_lines_up() -> None:
    rows = (("abc", "1"), ("d", "100"))
    lines = list(Section("t", ("said",), head=("", "n"), table=rows).lines())
    assert lines == ["       n", "abc    1", "d    100", "said"]
