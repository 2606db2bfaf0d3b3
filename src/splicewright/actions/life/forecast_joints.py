"""Forecast all joints of the register: how long they last at each site, and which fails next."""

from __future__ import annotations

import io
import zipfile
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.quantities.going_on import go_on
from splicewright.store.present.life import life_of
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.history.life.counts import LifeCount
    from splicewright.history.life.study import LifeStudy, Record
    from splicewright.quantities import System
    from splicewright.store import Register
    from splicewright.store.present.present import JointNow

ONE_BY_ONE = 2_000
"""Joints of one site that are studied one by one and by conveyor; of more, joints whose ages differ
by half a per cent, and those put to work on one day, are counted together."""
_QUICK_ABOVE = 1_000
_LONGEST_SHEET = 1_048_575
"""Rows of a spreadsheet below its head."""
_STILL = (1980, 1, 1, 0, 0, 0)
_PAGE = 1_000
ASSUMED = (
    "Age is counted from the day a joint was put to work as if the belt never stood still: running "
    "time is not recorded. (assumption)",
    "The register is taken to know every joint of a site since its first. Where only those are "
    "recorded that still ran when the register began, lives come out too long. (assumption)",
    "A joint removed for another reason than those listed, and one found unfit to run, counts as "
    "failed, which brings the forecast forward. (assumption)",
)


@dataclass(frozen=True, slots=True)
class SiteForecast:
    """What was said of one site.

    joints, failures : studied; words : the answer; expected : joints that fail within the time
    ahead, None where the lives do not settle it
    """

    site: str
    joints: int
    failures: int
    words: tuple[str, ...]
    expected: float | None

    def as_table(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "site": self.site,
            "joints": self.joints,
            "failures": self.failures,
            "words": list(self.words),
            "expected": self.expected,
        }


@dataclass(frozen=True, slots=True)
class JointsForecast:
    """All sites, what was assumed, and a zip file with table and report of each."""

    sites: tuple[SiteForecast, ...]
    assumed: tuple[str, ...]
    content: bytes


def forecast_joints(
    register: Register,
    now: datetime,
    ahead: float,
    *,
    site: UUID | None = None,
    system: System = "metric",
    paper: PaperName = "A4",
    tell: Tell = tell_nobody,
) -> JointsForecast:
    """Forecast the joints of one site or of all, each site a fleet of its own.

    now : ages are counted to it
    ahead : how far to look [s]
    tell : is called before each site
    Raises InputError: there is no such site, or no joint was ever put to work.
    """
    from splicewright.actions.register.use import conveyor_labels

    wanted = [s for s in register.sites() if site is None or s.site == site]
    if not wanted:
        raise InputError(Fault("site", "the register knows no such site"))
    labels = conveyor_labels(register)
    buffer, forecasts = io.BytesIO(), list[SiteForecast]()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, each in enumerate(wanted):
            tell(number, len(wanted), f"{each.name}: site {number + 1} of {len(wanted)}")
            lives = _lives(register, each.site, labels, now)
            if not lives.records:
                continue
            study = _study(lives.records, each.name, ahead)
            forecasts.append(_site_forecast(study, each.name, lives, system))
            folder = f"site {len(forecasts)}"
            for name, content in _files(study, each.name, lives, system, paper):
                archive.writestr(zipfile.ZipInfo(f"{folder}/{name}", _STILL), content)
    if not forecasts:
        raise InputError(Fault("site", "no joint was put to work there yet; nothing to forecast"))
    return JointsForecast(tuple(forecasts), ASSUMED, buffer.getvalue())


@dataclass(frozen=True, slots=True)
class _Lives:
    """The lives of a site's joints: one by one, or those alike as one record.

    running : label, conveyor, age and life, counted by itself, of each joint that runs
    """

    records: tuple[Record, ...]
    counted: bool
    running: Callable[[], Iterator[tuple[str, str, float, LifeCount]]]


def _lives(register: Register, site: UUID, labels: Mapping[UUID, str], now: datetime) -> _Lives:
    from splicewright.history.life.counts import Fate, records_of
    from splicewright.history.life.study import Record

    def each() -> Iterator[tuple[str, str, float, LifeCount]]:
        for conveyor in register.conveyors(site):
            for joint in _joints(register, conveyor.conveyor):
                life = life_of(joint)
                if life is not None and joint.put_to_work is not None and joint.put_to_work < now:
                    yield joint.label, labels[conveyor.conveyor], life.age(now), life

    def running() -> Iterator[tuple[str, str, float, LifeCount]]:
        return (one for one in each() if one[3].fate is Fate.RUNNING)

    counts = register.life_counts(site)
    if sum(c.count for c in counts) > ONE_BY_ONE:
        return _Lives(records_of(counts, now), True, running)
    records = []
    for label, conveyor, _, life in each():
        [record] = records_of([life], now)
        life_ = replace(record.life, joint=label)
        records.append(Record(life_, life.kind, conveyor, record.running))
    return _Lives(tuple(records), False, running)


def _joints(register: Register, conveyor: UUID) -> Iterator[JointNow]:
    after = None
    while page := register.joints(conveyor, after=after, limit=_PAGE):
        go_on()
        yield from page
        after = (page[-1].label, page[-1].joint)


def _study(records: Sequence[Record], site: str, ahead: float) -> LifeStudy:
    from splicewright.history.life.study import study_life

    return study_life(records, name=site, further=ahead, test_fit=len(records) <= _QUICK_ABOVE)


def _site_forecast(study: LifeStudy, site: str, lives: _Lives, system: System) -> SiteForecast:
    from splicewright.sheets.reports.life import life_answer, life_words

    words = [*life_answer(study, system), *life_words(study)]
    if lives.counted:
        words.append(
            f"Of more than {ONE_BY_ONE} joints, those whose ages differ by half a per cent count "
            "together, and conveyors are not told apart."
        )
    expected = study.expected if study.outlooks else None
    return SiteForecast(site, study.number, study.failures, tuple(words), expected)


def _files(
    study: LifeStudy, site: str, lives: _Lives, system: System, paper: PaperName
) -> Iterator[tuple[str, bytes]]:
    from splicewright.files.spreadsheets import write_table
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.canvas.svg_file import standing_alone
    from splicewright.sheets.pages.report import printed
    from splicewright.sheets.reports.life import life_report

    header = ("site", "conveyor", "label", "age", "chance to fail within the time ahead")
    rows = _rows(study, site, lives, system) if study.outlooks else []
    if len(rows) <= _LONGEST_SHEET:
        yield "joints.xlsx", write_table(Path("joints.xlsx"), header, rows)
    yield "joints.csv", write_table(Path("joints.csv"), header, rows)
    document = life_report(study, system)
    yield "life.pdf", printed(document, PAPERS[paper])
    for diagram in document.diagrams:
        yield f"{diagram.name}.svg", standing_alone(diagram.draw())


def _rows(
    study: LifeStudy, site: str, lives: _Lives, system: System
) -> list[tuple[str, str, str, str, str]]:
    """Every running joint, most likely to fail first."""
    from splicewright.quantities import show

    kind = study.measure.kind
    if not lives.counted:
        return [
            (
                site,
                o.record.conveyor,
                o.record.life.joint,
                show(o.record.life.good, kind, system),
                f"{o.chance:.4f}",
            )
            for o in study.outlooks
        ]
    by_age = sorted((o.record.life.good, o.chance) for o in study.outlooks)
    ages, chances = [a for a, _ in by_age], [c for _, c in by_age]
    rows = [
        (chances[min(bisect_left(ages, age), len(ages) - 1)], conveyor, label, age)
        for label, conveyor, age, _ in lives.running()
    ]
    rows.sort(key=lambda row: -row[0])
    return [
        (site, name, label, show(age, kind, system), f"{chance:.4f}")
        for chance, name, label, age in rows
    ]
