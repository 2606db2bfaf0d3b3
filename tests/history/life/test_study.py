"""Lives from the table to the answer: what they settle, and what they do not."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.files.table import LARGEST as TABLE
from splicewright.history.life.few_failures import failing_by, weigh_laws
from splicewright.history.life.file import load_lives
from splicewright.history.life.lives import lives_of
from splicewright.history.life.study import LifeStudy, study_life
from splicewright.history.life.weibull import fit_weibull
from splicewright.quantities.measure import Measure
from splicewright.sheets.reports.life import life_tables

# NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units suspended at 500 h (seen)
NIST = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
NIST_ROWS = "good [h],failed [h],count\n" + "".join(f"{t},{t},\n" for t in NIST) + "500,,10\n"


def study(tmp_path: Path, text: str, **more: object) -> LifeStudy:
    path = tmp_path / "lives.csv"
    path.write_text(text, "utf-8")
    records, invented = load_lives(path)
    return study_life(records, invented=invented, **more)  # type: ignore[arg-type]


def test_published_lives_from_the_table_to_the_law(tmp_path: Path) -> None:
    found = study(tmp_path, NIST_ROWS)
    assert (found.number, found.failures, found.measure) == (20, 10, Measure.TIME)
    assert found.settled is not None
    # printed there: shape 1.7208, scale 606.5280
    assert found.settled.law.shape == pytest.approx(1.7208, abs=5e-5)
    assert found.settled.law.scale / 3600 == pytest.approx(606.528, abs=5e-3)
    assert found.settled.shape.low < 1.7208 < found.settled.shape.high
    assert "follows the lives" in found.settled.fit
    curve = found.settled.curve  # the law lies between its limits
    assert all(p.low <= p.good <= p.high for p in curve)
    assert [p.good for p in curve] == sorted((p.good for p in curve), reverse=True)


def test_the_ages_of_the_answer_are_those_by_which_a_tenth_and_half_have_failed(
    tmp_path: Path,
) -> None:
    """Closed form of the law: t = scale (-ln(1 - share))^(1/shape), mean scale gamma(1 + 1/shape);
    shape and scale as printed, the limits those of the ages of all laws that the lives leave."""
    found = study(tmp_path, NIST_ROWS).settled
    assert found is not None
    shape, scale = 1.7208, 606.528 * 3600
    assert found.tenth == pytest.approx(scale * (-math.log(0.9)) ** (1 / shape), rel=1e-4)
    assert found.half == pytest.approx(scale * math.log(2) ** (1 / shape), rel=1e-4)
    laws = weigh_laws(
        fit_weibull(lives_of([*NIST, *[500] * 10], [*NIST, *[math.inf] * 10]))
    )  # in hours
    for limits, share in ((found.tenth_limits, 0.1), (found.half_limits, 0.5)):
        ages = laws.age_limits(failing_by(share))
        assert limits.low == pytest.approx(ages.low * 3600, rel=1e-6)
        assert limits.high == pytest.approx(ages.high * 3600, rel=1e-6)
    mean = scale * math.gamma(1 + 1 / shape)
    assert found.mean_limits.low < mean < found.mean_limits.high
    assert found.scale.low < scale < found.scale.high


def test_the_staircase_is_the_product_over_the_failures(tmp_path: Path) -> None:
    # by hand: 19/20, 18/20 ... while all suspensions lie beyond the last failure
    steps = study(tmp_path, NIST_ROWS).steps
    assert [s.good for s in steps] == pytest.approx([1 - k / 20 for k in range(1, 11)])


def test_no_failure_gives_a_lower_bound_only(tmp_path: Path) -> None:
    found = study(tmp_path, "good [h],failed [h]\n1000,\n2000,\n", shape=2.0)
    assert found.settled is None and not found.steps and not found.outlooks
    assert "hold no failure" in found.why_not
    # zero failures: scale >= (Σt²/-ln 0.1)^(1/2)
    bound = math.sqrt((1000**2 + 2000**2) / -math.log(0.1))
    assert found.at_least is not None
    assert found.at_least.scale / 3600 == pytest.approx(bound)


def test_one_failure_settles_no_shape_but_leans_on_the_belief(tmp_path: Path) -> None:
    text = "joint,good [h],failed [h],running\na,900,900,\nb,1500,,yes\nc,200,,yes\n"
    found = study(tmp_path, text, further=3600.0 * 500)
    assert found.settled is None and "one failure only" in found.why_not
    assert [o.record.life.joint for o in found.outlooks] == ["b", "c"]
    assert 0 < found.outlooks[1].chance < found.outlooks[0].chance < 1
    assert found.expected == pytest.approx(sum(o.chance for o in found.outlooks))
    assert "believed beforehand" in found.belief


def test_causes_compete(tmp_path: Path) -> None:
    text = "good [h],failed [h],cause\n" + "".join(
        f"{t},{t},{'pin worn' if t % 200 else 'pull-out'}\n" for t in range(500, 1500, 100)
    )
    found = study(tmp_path, text, cause="pin worn")
    assert found.causes == (("pin worn", 5), ("pull-out", 5))
    assert (found.failures, found.number) == (5, 10)


def test_kinds_are_compared_and_conveyors_lean_on_each_other(tmp_path: Path) -> None:
    rows = "conveyor,kind,good [h],failed [h],running\n"
    rows += "".join(f"K1,hinged,{t},{t},\n" for t in (900, 1100, 1200, 1500))
    rows += "".join(f"K2,solid plate,{t},{t},\n" for t in (2900, 3100, 3600, 3700))
    rows += "K3,solid plate,500,,yes\n"
    found = study(tmp_path, rows)
    (pair,) = found.comparisons
    assert pair.result is not None and pair.result.limits.low > 1
    assert found.groups_by == "conveyor"
    assert found.groups[0].name == "K1"
    lone = next(g for g in found.groups if g.name == "K3")
    assert math.isnan(lone.alone) and lone.tenth > found.groups[0].tenth
    assert {g.name for g in study(tmp_path, rows, by="kind").groups} == {"hinged", "solid plate"}


def test_looks_make_bands_not_steps_with_limits(tmp_path: Path) -> None:
    found = study(tmp_path, "good [h],failed [h]\n0,100\n100,200\n100,200\n200,300\n300,\n")
    assert found.between
    assert [s.age / 3600 for s in found.steps] == pytest.approx([100, 200, 300])
    assert [s.good for s in found.steps] == pytest.approx([0.8, 0.4, 0.2])
    assert all(math.isnan(s.low) for s in found.steps)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",,,,", "good: is empty; give the age at which the joint was last seen good"),
        (",500,,,", "good: is empty; give the age at the last good inspection"),
        ("0,0,,,", 'failed: "0" cannot be; a joint that never ran is no life'),
        ("900,500,,,", 'failed: "500" is less than good "900"; a failure comes after'),
        ("900,,1000,,", 'entered: "1000" is not before good "900"'),
        ("900,950,,yes,", "running: says yes, but the joint has failed"),
        ("900,,,,pull-out", "cause: is given, but the joint has not failed"),
        ("-3,,,,", 'good: "-3" cannot be; accepted is 0 h to'),
    ],
)
def test_lives_that_cannot_be(tmp_path: Path, row: str, words: str) -> None:
    text = "joint,good [h],failed [h],entered [h],running,cause\nx," + row + "\n"
    with pytest.raises(InputError) as caught:
        study(tmp_path, text)
    assert str(caught.value).startswith(f"lives.csv:2: {words}")


def test_a_count_is_no_way_to_fill_the_memory(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="count: makes more than 1000000 joints in all"):
        study(tmp_path, "good [h],failed [h],count\n900,900,\n500,,9999999\n")


def test_a_large_fleet_is_named_worst_first_and_then_counted(tmp_path: Path) -> None:
    rows = "good [h],failed [h],running\n" + "".join(f"{t},{t},\n" for t in (900, 1100, 1500))
    rows += "".join(f"{t},,yes\n" for t in range(100, 900, 10))
    found = study(tmp_path, rows, further=3600.0 * 200)
    assert len(found.outlooks) == 80
    assert [o.record.life.good for o in found.outlooks][:2] == [890 * 3600, 880 * 3600]
    assert math.isfinite(found.outlooks[39].half_left)
    assert math.isnan(found.outlooks[40].half_left)
    (table,) = life_tables(found)
    assert len(table.table) == 40
    assert table.points[0] == "40 further joints run; they are less likely to fail."


@pytest.mark.parametrize("column", ["conveyor", "kind"])
def test_a_table_of_too_many_groups_is_refused_in_a_sentence(tmp_path: Path, column: str) -> None:
    """Fault found: a table of 20,000 conveyors took a quarter of an hour of a core."""
    for number, fits in ((200, True), (201, False)):
        path = tmp_path / f"{number}.csv"
        rows = [f"{n} h,{n} h,g{n}" for n in range(1, number + 1)]
        path.write_text(f"good,failed,{column}\n" + "\n".join(rows))
        if fits:
            assert len(load_lives(path)[0]) == number
            continue
        with pytest.raises(InputError) as refused:
            load_lives(path)
        (fault,) = refused.value.faults
        assert (fault.key, fault.sentence) == (
            column, "names 201 different ones; accepted are up to 200: cut the table"
        )  # fmt: skip


def test_a_table_of_lives_may_be_longer_than_other_tables(tmp_path: Path) -> None:
    """Reproduced: 100,000 lives were worked in two seconds, and refused as a file."""
    path = tmp_path / "lives.csv"
    rows = "".join(f"{900 + n % 700},,a joint with a long name\n" for n in range(80_000))
    path.write_text("good [h],failed [h],note\n" + rows)
    assert path.stat().st_size > TABLE and len(load_lives(path)[0]) == 80_000
