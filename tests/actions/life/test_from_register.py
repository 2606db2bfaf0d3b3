"""From facts to lives, meters, wear, stock and times: what each fact must come out as."""

from __future__ import annotations

import csv
import io
import math
import zipfile
from datetime import date, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from actions.recorded import NOW, Recorded, day
from splicewright.actions.fleet.fleet import see_fleet
from splicewright.actions.life.forecast_joints import SiteForecast, forecast_joints
from splicewright.actions.life.from_register import lives_of_register
from splicewright.actions.life.study import study_recorded_lives
from splicewright.actions.register.use import look_into
from splicewright.actions.renewal import when_to_renew_recorded
from splicewright.actions.shutdown.from_register import past_times_of_register
from splicewright.actions.stock.from_register import shelf_of_register
from splicewright.actions.stock.size import size_recorded_stock
from splicewright.actions.wear.forecast import forecast_recorded_wear
from splicewright.actions.wear.from_register import wear_of_register
from splicewright.actions.wear.limits import limits_of, set_limit, withdraw_limit
from splicewright.errors import InputError
from splicewright.history.life.lives import Life
from splicewright.quantities import Kind
from splicewright.quantities.measure import Measure
from splicewright.sheets.reports.life import life_report
from splicewright.store import Fact, Stream
from splicewright.store.facts.facts import Correction
from splicewright.store.facts.job_facts import JobOpened, StepTicked
from splicewright.store.facts.joint_facts import JointPutToWork, JointSuspended, Mode, ReadingTaken
from splicewright.store.facts.plant_facts import BeltPlaced, StockMoved

H, DAY = 3600.0, 86400.0


@pytest.fixture
def site(tmp_path: Path) -> Recorded:
    return Recorded(tmp_path)


def lives(site: Recorded, **how: str) -> dict[str, Life]:
    read = lives_of_register(look_into(site.register, NOW, **how))  # type: ignore[arg-type]
    return {r.life.joint: r.life for r in read.records}


def test_what_happened_to_a_joint_is_its_life(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    # 12 h a day, so that hours of the meter are not those of the calendar
    site.meter(k1, (0, "100 h"), (730, "8860 h"))
    site.joint(k1, "runs", 100)
    site.joint(k1, "pulled out", 100, removed=300, mode=Mode.PULL_OUT, looks=((200, True),))
    site.joint(k1, "pin worn", 100, removed=300, mode=Mode.PIN_WORN, looks=((200, True),))
    site.joint(k1, "never looked at", 100, removed=300, mode=Mode.LOOP_WORN)
    site.joint(k1, "renewed", 100, removed=300, mode=Mode.RENEWED)
    site.joint(k1, "went with the belt", 100, removed=310, mode=Mode.BELT_CHANGED)
    site.joint(k1, "unfit", 100, looks=((150, True), (180, True), (240, False)))
    site.joint(k1, "unfit, then removed", 100, removed=260, mode=Mode.RENEWED,
               looks=((180, True), (240, False)))  # fmt: skip
    found = lives(site)

    def at(days: float) -> float:
        return days * 12 * H

    expected = {
        "runs": (at(631), math.inf),
        "pulled out": (at(200), at(200)),
        "pin worn": (at(100), at(200)),
        "never looked at": (0.0, at(200)),
        "renewed": (at(200), math.inf),
        "went with the belt": (at(210), math.inf),
        "unfit": (at(80), at(140)),
        "unfit, then removed": (at(80), at(140)),
    }
    assert set(found) == set(expected)
    for name, ages in expected.items():
        assert (found[name].good, found[name].bad) == pytest.approx(ages, rel=1e-3), name
        assert found[name].entered == 0.0
    assert found["pin worn"].cause == "pin worn"
    assert found["runs"].cause == ""


def test_only_joints_that_had_not_failed_are_counted_as_whole_when_removed(site: Recorded) -> None:
    """Of all ways to be removed, renewing in time and a new belt say nothing against a joint."""
    k1 = site.conveyor("K1")
    for mode in Mode:
        site.joint(k1, f"was {mode.value}", 100, removed=300, mode=mode)
    site.joint(k1, "runs", 100)
    suspended = site.joint(k1, "stopped", 100)
    site.say(200, JointSuspended(suspended, "idler torn"))
    site.joint(k1, "not yet", 800)  # put to work after today
    [told] = forecast_joints(site.register, NOW, 30 * DAY).sites
    assert (told.joints, told.failures) == (len(Mode) + 2, len(Mode) - 2)
    content = forecast_joints(site.register, NOW, 30 * DAY).content
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        [table] = [archive.read(n).decode() for n in archive.namelist() if n.endswith(".csv")]
    # Only a joint that runs can fail in the time ahead.
    [row] = csv.DictReader(io.StringIO(table))
    assert row["label"] == "runs"
    assert float(row["age"].removesuffix(" h")) == pytest.approx(631 * 24, rel=1e-3)


def test_many_joints_are_forecast_by_counts_as_they_are_one_by_one(
    site: Recorded, monkeypatch: pytest.MonkeyPatch
) -> None:
    k1 = site.conveyor("K1")
    for number in range(60):
        gone = 200 + 7 * number if number % 3 else None
        site.joint(k1, f"J{number}", 5 * number, removed=gone, mode=Mode.PIN_WORN)

    def asked() -> tuple[SiteForecast, list[dict[str, str]]]:
        made = forecast_joints(site.register, NOW, 200 * DAY)
        with zipfile.ZipFile(io.BytesIO(made.content)) as archive:
            table = archive.read("site 1/joints.csv").decode()
        rows = sorted(csv.DictReader(io.StringIO(table)), key=lambda row: row["label"])
        return made.sites[0], rows

    one, each = asked()
    monkeypatch.setattr("splicewright.actions.life.forecast_joints.ONE_BY_ONE", 10)
    counted, alike = asked()
    assert (counted.joints, counted.failures) == (one.joints, one.failures) == (60, 40)
    assert counted.expected == pytest.approx(one.expected, rel=1e-3)
    assert "count together" in counted.words[-1]
    told = "chance to fail within the time ahead"
    assert [row["label"] for row in alike] == [row["label"] for row in each]
    for a, b in zip(alike, each, strict=True):
        assert (a["age"], a["conveyor"]) == (b["age"], b["conveyor"])
        assert float(a[told]) == pytest.approx(float(b[told]), abs=2e-3)


def test_a_stopped_joint_ages_no_further(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    joint = site.joint(k1, "J1", 10)
    site.say(110, JointSuspended(joint, "idler torn"))
    assert lives(site)["J1"].good == pytest.approx(100 * DAY)
    site.say(120, JointPutToWork(joint, "idler renewed"))
    assert lives(site)["J1"].good == pytest.approx((731 - 10) * DAY)


def test_joints_that_ran_before_the_log_are_left_truncated(site: Recorded) -> None:
    k1 = site.conveyor("K1", 400)
    site.joint(k1, "old", 100)
    site.joint(k1, "new", 500)
    found = lives(site)
    assert found["old"].entered == pytest.approx(300 * DAY)
    assert found["new"].entered == 0.0


def test_joints_removed_before_the_log_show_that_somebody_kept_one(site: Recorded) -> None:
    k1 = site.conveyor("K1", 400)
    site.joint(k1, "older", 50)
    site.joint(k1, "old", 100, removed=300, mode=Mode.PULL_OUT)
    found = lives(site)
    assert found["old"].entered == 0.0
    assert found["older"].entered == pytest.approx(50 * DAY)


def test_a_correction_changes_the_life(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    joint = site.joint(k1, "J1", 100, removed=300, mode=Mode.PULL_OUT)
    assert lives(site)["J1"].failed
    removal = next(s for s in site.register.facts_about(joint) if s.fact.kind == "joint removed")
    site.register.append(
        Fact(uuid4(), day(301), "Ada Example",
             Correction(Stream.JOINT, joint, removal.fact.id, None, "the wrong joint"))
    )  # fmt: skip
    assert not lives(site)["J1"].failed


def test_without_a_meter_the_calendar_counts_and_says_so(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.joint(k1, "J1", 31)
    looked = look_into(site.register, NOW)
    assert looked.measure is Measure.TIME
    assert "K1: no hour meter" in looked.assumed[0]
    assert lives(site)["J1"].good == pytest.approx(700 * DAY)


def test_a_meter_read_once_gives_no_rate_and_is_named(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.meter(k1, (5, "300 h"))
    looked = look_into(site.register, NOW)
    assert any("K1: meter: has 1 readings; a rate of use needs two" in s for s in looked.left_out)
    assert looked.meters[k1].rate == pytest.approx(DAY)


def test_tonnes_that_run_backwards_are_named_and_not_used(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.meter(k1, (5, "300 kt"), (50, "320 kt"), (90, "290 kt"))
    site.joint(k1, "J1", 31)
    looked = look_into(site.register, NOW)
    assert looked.measure is Measure.TIME
    assert any("does not run backwards" in s for s in looked.left_out)
    with pytest.raises(InputError, match="no conveyor has a meter of mass carried"):
        look_into(site.register, NOW, use="mass")


def test_a_unit_that_changes_in_mid_series_is_named(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.meter(k1, (5, "300 t"), (50, "320 kt"))
    looked = look_into(site.register, NOW)
    assert any("as if the unit had changed" in s for s in looked.left_out)
    site.meter(k1, (50, "320 kt"), note="checked: the scale was in tonnes by mistake")
    assert look_into(site.register, NOW).measure is Measure.MASS


def test_a_new_meter_goes_on_where_the_old_one_stood(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.meter(k1, (0, "9000 h"), (100, "10000 h"))
    site.meter(k1, (110, "5 h"), note="new meter")
    site.meter(k1, (210, "1005 h"))
    meter = look_into(site.register, NOW).meters[k1]
    assert meter.now == pytest.approx(11000 * H)


def test_turns_come_from_hours_speed_and_length(site: Recorded) -> None:
    k1 = site.conveyor("K1", speed=3.0)
    site.meter(k1, (0, "0 h"), (731, "7310 h"))
    site.joint(k1, "J1", 0)
    # 10 h a day at 3 m/s on 240 m: 450 turns a day
    assert lives(site, use="turns")["J1"].good == pytest.approx(731 * 450)


def test_two_sites_may_use_one_name(site: Recorded) -> None:
    from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded

    site.conveyor("K1")
    other = uuid4()
    site.say(1, SiteAdded(other, "Blind Valley (invented)"))
    site.say(1, ConveyorRecorded(uuid4(), other, "K1", None, 90.0, 1.0))
    with pytest.raises(InputError, match="name of several"):
        look_into(site.register, NOW, conveyor="K1")
    one = look_into(site.register, NOW, conveyor="Blind Valley (invented): K1")
    assert one.invented
    with pytest.raises(InputError, match='"K9" is not known to the register'):
        look_into(site.register, NOW, conveyor="K9")


def test_dates_stand_beside_hours(site: Recorded) -> None:
    """12 h a day: so many hours ahead are a twelfth as many days; by hand."""
    k1 = site.conveyor("K1")
    site.meter(k1, (0, "0 h"), (730, "8760 h"))
    for n, life in enumerate((270.0, 285, 300, 310, 320)):
        site.joint(k1, f"F{n}", 10.0 * n, removed=10.0 * n + life, mode=Mode.PULL_OUT)
    site.joint(k1, "runs", 600)
    study = study_recorded_lives(site.register, NOW, further="700 h")
    (one,) = study.outlooks
    assert study.day(one.record, 120 * H) == NOW.date() + timedelta(days=10)
    by = NOW.date() + timedelta(days=one.half_left / (12 * H))
    assert any(str(by) in line for line in life_report(study).lines())
    fleet = see_fleet(site.register, NOW)
    assert any(f"(to {by})" in r.say() for r in fleet.lines[0].reasons)


def test_no_failure_gives_a_lower_bound(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    for n in range(4):
        site.joint(k1, f"J{n}", 10 * n)
    study = study_recorded_lives(site.register, NOW)
    assert study.settled is None
    assert study.at_least is not None
    assert study.invented
    renew = when_to_renew_recorded(site.register, NOW, 1.0, 5.0)
    assert renew.rules is None
    assert renew.why_not


def test_failures_all_at_one_age_give_no_law_but_a_bound(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    for n in range(4):
        site.joint(k1, f"F{n}", 10, removed=210, mode=Mode.PULL_OUT)
    study = study_recorded_lives(site.register, NOW)
    assert study.failures == 4
    assert study.settled is None
    assert study.at_least is not None
    assert study.why_not


def test_a_joint_that_failed_as_it_was_put_to_work_is_left_out_and_named(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.joint(k1, "J1", 10, removed=10, mode=Mode.PULL_OUT)
    looked = look_into(site.register, NOW)
    assert lives_of_register(looked).records == ()
    assert any("J1: failed before it had run" in s for s in looked.left_out)
    with pytest.raises(InputError, match="has run yet"):
        study_recorded_lives(site.register, NOW)


def wear(site: Recorded, conveyor: object, *readings: tuple[float, str, str]) -> None:
    for when, typed, note in readings:
        site.reading(when, conveyor, "carry cover left", Kind.LENGTH, typed, note)  # type: ignore[arg-type]


def test_a_new_measurement_moves_the_forecast(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.meter(k1, (0, "0 kt"), (365, "365 kt"), (731, "731 kt"))
    wear(site, k1, (0, "8.0 mm", "limit 3 mm"), (100, "7.52 mm", ""), (200, "6.98 mm", ""),
         (300, "6.51 mm", ""))  # fmt: skip
    before = forecast_recorded_wear(site.register, NOW).places[0]
    assert before.forecast.measure is Measure.MASS
    assert before.forecast.likely == pytest.approx(1e9, rel=0.03)
    wear(site, k1, (400, "5.3 mm", ""))
    after = forecast_recorded_wear(site.register, NOW).places[0]
    assert after.forecast.likely < 0.95 * before.forecast.likely
    assert after.dates is not None
    assert before.dates is not None
    assert after.dates.likely is not None
    assert before.dates.likely is not None
    assert after.dates.likely < before.dates.likely


def test_wear_of_a_joint_counts_from_when_it_was_put_to_work(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    joint = site.joint(k1, "J1", 100)
    for when, typed in ((150, "0.2 mm"), (200, "0.41 mm")):
        what = ReadingTaken(Stream.JOINT, joint, "hinge pin", Kind.LENGTH,
                            float(typed[:-3]) / 1e3, typed, "limit 2.5 mm; new 0 mm")  # fmt: skip
        site.say(when, what)
    ((series,),) = wear_of_register(look_into(site.register, NOW)).values()
    assert series.place == "joint J1, hinge pin"
    assert series.limit == pytest.approx(2.5e-3)
    assert series.new == 0.0
    assert [r.use for r in series.readings] == pytest.approx([50 * DAY, 100 * DAY])
    assert series.days[0][0] == date(2024, 5, 30)


def test_readings_of_a_belt_that_was_taken_off_do_not_count(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    site.say(0, BeltPlaced(uuid4(), k1, "first", 240.0))
    wear(site, k1, (0, "8 mm", "limit 3 mm"), (200, "3.2 mm", ""))
    site.say(210, BeltPlaced(uuid4(), k1, "second", 240.0))
    wear(site, k1, (210, "8 mm", ""), (310, "7.4 mm", ""))
    looked = look_into(site.register, NOW)
    ((series,),) = wear_of_register(looked).values()
    assert [r.value for r in series.readings] == pytest.approx([8e-3, 7.4e-3])
    assert any("2 readings of what lay there before" in s for s in looked.left_out)


def test_one_reading_and_a_place_without_limit_are_said_plainly(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    wear(site, k1, (10, "8 mm", ""))
    with pytest.raises(InputError, match="no value worn out is stated"):
        forecast_recorded_wear(site.register, NOW)
    place = forecast_recorded_wear(site.register, NOW, limit="3 mm").places[0]
    assert "not enough data to say" in place.answer.say()


def _set(site: Recorded, of: Stream, about: UUID, place: str, limit: str, source: str) -> None:
    site.moment += timedelta(minutes=1)
    set_limit(
        site.register, of, about, place, limit, source, by="Lead Example", now=site.moment
    )  # fmt: skip


def _limit(site: Recorded) -> tuple[float, str]:
    """In mm, and who states it."""
    ((series,),) = wear_of_register(look_into(site.register, NOW)).values()
    return round(1e3 * series.limit, 6), series.source


def test_a_limit_that_was_set_goes_before_notes_and_can_be_taken_back(site: Recorded) -> None:
    """The belt's own limit before the conveyor's, that before an old note; each with its source."""
    k1, belt = site.conveyor("K1"), uuid4()
    site.say(0, BeltPlaced(belt, k1, "first", 240.0))
    wear(site, k1, (0, "8 mm", "limit 3 mm; new 8 mm"), (90, "7 mm", ""))
    assert _limit(site) == (3.0, "noted with a reading")
    _set(site, Stream.CONVEYOR, k1, "Carry cover left ", "4 mm", "site rule 7")
    assert _limit(site) == (4.0, "site rule 7")
    _set(site, Stream.BELT, belt, "carry cover left", "3/16 in", "maker's instruction")
    assert _limit(site) == (4.7625, "maker's instruction")
    _set(site, Stream.BELT, belt, "carry cover left", "5 mm", "maker's letter")  # said again
    assert _limit(site) == (5.0, "maker's letter")
    (now,) = limits_of(site.register.facts_about(belt))
    withdraw_limit(site.register, now.fact, "of another belt", by="Lead", now=site.moment)
    assert _limit(site) == (4.7625, "maker's instruction")
    assert site.register.verify().faults == ()


def test_a_joints_limit_is_its_own(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    joint, other = site.joint(k1, "J1", 100), site.joint(k1, "J2", 100)
    for when, typed in ((150, "0.2 mm"), (200, "0.41 mm")):
        for each in (joint, other):
            what = ReadingTaken(Stream.JOINT, each, "hinge pin", Kind.LENGTH,
                                float(typed[:-3]) / 1e3, typed)  # fmt: skip
            site.say(when, what)
    set_limit(
        site.register, Stream.JOINT, joint, "hinge pin", "2.5 mm", "maker", new="0 mm",
        by="Lead Example", now=site.moment,
    )  # fmt: skip
    looked = look_into(site.register, NOW)
    ((series,),) = wear_of_register(looked).values()
    assert (series.place, series.new) == ("joint J1, hinge pin", 0.0)
    assert any("J2, hinge pin: no value worn out is stated" in s for s in looked.left_out)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"limit": "3"}, "limit"),
        ({"limit": "9 m"}, "limit"),
        ({"limit": "3 mm", "new": "3 mm"}, "new"),
        ({"limit": "3 mm", "source": " "}, "source"),
        ({"limit": "3 mm", "place": ""}, "place"),
    ],
)
def test_a_limit_that_says_nothing_is_refused(
    site: Recorded, typed: dict[str, str], field: str
) -> None:
    k1 = site.conveyor("K1")
    head = site.register.head()
    said = {"place": "hinge pin", "source": "maker", "new": ""} | typed
    with pytest.raises(InputError) as refused:
        set_limit(
            site.register, Stream.CONVEYOR, k1, said["place"], said["limit"], said["source"],
            new=said["new"], by="Lead", now=NOW,
        )  # fmt: skip
    assert [f.key for f in refused.value.faults] == [field]
    assert site.register.head() == head


def test_readings_of_several_conveyors_need_a_name(site: Recorded) -> None:
    for name in ("K1", "K2"):
        wear(site, site.conveyor(name), (10, "8 mm", "limit 3 mm"), (90, "7 mm", ""))
    with pytest.raises(InputError, match="name one of: K1, K2"):
        forecast_recorded_wear(site.register, NOW)
    assert forecast_recorded_wear(site.register, NOW, conveyor="K2").name == "K2"


def test_a_jump_in_mid_series_is_refused_unless_checked(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    wear(site, k1, (0, "12 mm", "limit 3 mm"), (100, "11.5 mm", ""), (200, "0.45 mm", ""))
    with pytest.raises(InputError, match="unit"):
        forecast_recorded_wear(site.register, NOW)


def test_stock_is_what_the_movements_leave(site: Recorded) -> None:
    site.conveyor("K1")
    site.say(0, StockMoved(site.site, "Fastener kit", 6.0))
    for when in (100, 300, 500):
        site.say(when, StockMoved(site.site, "fastener kit", -1.0, "joint"))
    shelf = shelf_of_register(look_into(site.register, NOW))
    assert shelf["fastener kit"].there == 3
    assert shelf["fastener kit"].per_year == pytest.approx(3 / 731 * 365.25)
    sized = size_recorded_stock(site.register, NOW, 0.95, lead="6 weeks")
    (item,) = sized.items
    # 3 uses in 731 days, 42 days ahead: negative binomial of shape 3.5, c = 42/731, mean 3.5 c. The
    # next one to come sees shape 4.5: P(0) = (1 + c)^-4.5 = 0.778, P(1) = 0.778 * 4.5 c/(1 + c) =
    # 0.190, so one piece is left with 0.968 where two are held
    c = 42 / 731
    assert item.expected == pytest.approx(3.5 * c, rel=2e-3)
    assert item.advice.service.stock == 2
    assert item.advice.service.fill == pytest.approx(
        (1 + c) ** -4.5 * (1 + 4.5 * c / (1 + c)), rel=1e-3
    )
    assert item.order_now == 0
    with pytest.raises(InputError, match="none can be sized"):
        size_recorded_stock(site.register, NOW, 0.95)


def test_stock_follows_the_joints_of_the_register(site: Recorded, tmp_path: Path) -> None:
    k1 = site.conveyor("K1")
    site.say(0, StockMoved(site.site, "kit", 1.0))
    for n in range(6):
        site.joint(k1, f"J{n}", 0, removed=200 + 40 * n, mode=Mode.PULL_OUT)
    for n in range(5):
        site.joint(k1, f"R{n}", 450 + n)
    items = tmp_path / "items.csv"
    items.write_text("item,per year,lead time [weeks],joints\nkit,0.1,8,yes\n", "utf-8")
    sized = size_recorded_stock(site.register, NOW, 0.95, items=items)
    (kit,) = sized.items
    assert kit.item.on_shelf == 1
    assert kit.from_joints > 1
    assert kit.order_now == kit.advice.service.stock - 1


def test_steps_took_from_tick_to_tick(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    for n in range(2):
        job = uuid4()
        site.say(10 * n, JobOpened(job, k1, f"job {n}"))
        site.say(10 * n + 0.05, StepTicked(job, "clamp"))
        site.say(10 * n + 0.05 + (1 + n) / 24, StepTicked(job, "punch"))
        site.say(10 * n + 0.9, StepTicked(job, "record"))  # the next morning: says nothing
    past = past_times_of_register(look_into(site.register, NOW))
    assert past["punch"] == pytest.approx((3600.0, 7200.0))
    assert "clamp" not in past
    assert "record" not in past
