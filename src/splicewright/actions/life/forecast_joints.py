"""Forecast all joints of the register: how long they last at each site, and which fails next."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from splicewright.actions.progress import Tell, tell_nobody
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.history.life.study import LifeStudy, Record
    from splicewright.quantities import System
    from splicewright.store import Register
    from splicewright.store.present.present import JointNow

MOST = 5_000
"""Joints of one site that are studied, the newest: the study grows faster than their number."""
_QUICK_ABOVE = 1_000
_STILL = (1980, 1, 1, 0, 0, 0)
_PAGE = 1_000
ASSUMED = (
    "Age is counted from the day a joint was put to work as if the belt never stood still: running "
    "time is not recorded. (assumption)",
    "The register is taken to know every joint of a site since its first. Where only those are "
    "recorded that still ran when the register began, lives come out too long. (assumption)",
    "A joint removed for another reason than those listed counts as failed, which brings the "
    "forecast forward. (assumption)",
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

    def told(self) -> dict[str, Any]:
        """As plain data."""
        return {"site": self.site, "joints": self.joints, "failures": self.failures,
                "words": list(self.words), "expected": self.expected}  # fmt: skip


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

    Parameters
    ----------
    now : ages are counted to it
    ahead : how far to look [s]
    site : only this one
    tell : is called before each site

    Raises
    ------
    InputError
        There is no such site, or no joint was ever put to work.
    """
    wanted = [s for s in register.sites() if site is None or s.site == site]
    if not wanted:
        raise InputError(Fault("site", "the register knows no such site"))
    made, said = io.BytesIO(), list[SiteForecast]()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, each in enumerate(wanted):
            tell(number, len(wanted), f"{each.name}: site {number + 1} of {len(wanted)}")
            records, left = _records(register, each.site, now)
            if not records:
                continue
            study = _study(records, each.name, ahead)
            said.append(_told(study, each.name, left, system))
            folder = f"site {len(said)}"
            for name, content in _files(study, each.name, system, paper).items():
                archive.writestr(zipfile.ZipInfo(f"{folder}/{name}", _STILL), content)
    if not said:
        raise InputError(Fault("site", "no joint was put to work there yet; nothing to forecast"))
    return JointsForecast(tuple(said), ASSUMED, made.getvalue())


def _records(register: Register, site: UUID, now: datetime) -> tuple[list[Record], int]:
    """The lives of a site's joints, the newest `MOST`, and how many older ones were left out."""
    from splicewright.actions.register.use import conveyor_labels

    labels = conveyor_labels(register)
    found = [
        (joint, labels[conveyor.conveyor])
        for conveyor in register.conveyors(site)
        for joint in _joints(register, conveyor.conveyor)
        if joint.put_to_work is not None and joint.put_to_work < now
    ]
    found.sort(key=lambda pair: pair[0].put_to_work or now, reverse=True)
    return [_record(j, name, now) for j, name in found[:MOST]], max(0, len(found) - MOST)


def _joints(register: Register, conveyor: UUID) -> Iterator[JointNow]:
    after = None
    while page := register.joints(conveyor, after=after, limit=_PAGE):
        yield from page
        after = (page[-1].label, page[-1].joint)


def _record(joint: JointNow, conveyor: str, now: datetime) -> Record:
    from splicewright.history.life.lives import failed, running
    from splicewright.history.life.study import Record
    from splicewright.store import State
    from splicewright.store.facts.joint_facts import Mode

    assert joint.put_to_work is not None
    end = joint.removed or joint.stopped or now
    age = max(1.0, (end - joint.put_to_work).total_seconds())
    if joint.state is State.REMOVED and joint.mode not in {Mode.RENEWED, Mode.BELT_CHANGED}:
        cause = joint.mode.value if joint.mode is not None else Mode.OTHER.value
        return Record(failed(age, joint=joint.label, cause=cause), "", conveyor)
    still = joint.state is State.RUNNING
    return Record(running(age, joint=joint.label), "", conveyor, still)


def _study(records: Sequence[Record], site: str, ahead: float) -> LifeStudy:
    from splicewright.history.life.study import study_life

    return study_life(records, name=site, further=ahead, test_fit=len(records) <= _QUICK_ABOVE)


def _told(study: LifeStudy, site: str, left: int, system: System) -> SiteForecast:
    from splicewright.sheets.words.life import life_answer, life_words

    words = [*life_answer(study, system), *life_words(study)]
    if left:
        words.append(f"The newest {MOST} joints were studied; {left} older ones were left out.")
    expected = study.expected if study.outlooks else None
    return SiteForecast(site, study.number, study.failures, tuple(words), expected)


def _files(study: LifeStudy, site: str, system: System, paper: PaperName) -> dict[str, bytes]:
    from splicewright.files.spreadsheets import write_table
    from splicewright.quantities import show
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.canvas.svg_file import standing_alone
    from splicewright.sheets.drawings.life import life_diagram
    from splicewright.sheets.reports.life import life_report

    header = ("site", "conveyor", "label", "age", "chance to fail within the time ahead")
    rows = [
        (site, o.record.conveyor, o.record.life.joint,
         show(o.record.life.good, study.measure.kind, system), f"{o.chance:.4f}")
        for o in study.outlooks
    ]  # fmt: skip
    files = {
        "joints.xlsx": write_table(Path("joints.xlsx"), header, rows),
        "joints.csv": write_table(Path("joints.csv"), header, rows),
        "life.pdf": life_report(study, system, PAPERS[paper]),
    }
    if study.failures:
        files["life.svg"] = standing_alone(life_diagram(study, system))
    return files
