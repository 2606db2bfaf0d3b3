"""One job as one result: everything the crew needs for one joint."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from splicewright.job.clamping import Clamping, clamping
from splicewright.job.isolation import DEFER, EnergySource, energy_sources
from splicewright.job.lengths import CutLengths, cut_lengths, joint_span
from splicewright.job.parts import Part, along_parts, parts_list, repair_parts, vulcanised_parts
from splicewright.job.questions import questions
from splicewright.job.steps.damage import plates_lost, rows_across
from splicewright.job.steps.drafts import Setting, Step, numbered
from splicewright.job.steps.sequence import drafts_of
from splicewright.job.steps.timing import PastShare, PastShares, Timing, timing
from splicewright.job.tools import Tool, tool_box, tools_list
from splicewright.job.worst_place import worst_place
from splicewright.joint import (
    Candidate,
    Choice,
    Layout,
    MakingLimits,
    Range,
    Size,
    StepGeometry,
    belt_width,
    choose,
    curve_of,
    deepest_trough,
    lay_plates,
    lay_steps,
    making_limits,
)
from splicewright.loop import BeltBudget, Path, budget, lay_out
from splicewright.plant import Conveyor, Damage, JobKind, Work
from splicewright.quantities import (
    Figure,
    Kind,
    Record,
    Sentence,
    Worksheet,
    assumed,
    identity,
    sentence,
)
from splicewright.quantities.result_json import read_kept
from splicewright.tension import AtRest, Demand, demand
from splicewright.tension.at_rest import at_rest
from splicewright.version import __version__

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = 2
"""Version of the JSON form of a plan."""


@dataclass(frozen=True, slots=True)
class FollowUp:
    """What comes after the job: re-tightening and first inspection, after so much running [s]."""

    retighten_after: Figure
    inspect_after: Figure


@dataclass(frozen=True, slots=True)
class JointPlan:
    """A whole job: what the machine demands, the joint, the work.

    layout, lengths, limits : None when no fastener meets every requirement, or the joint is
        vulcanised
    step_joint : geometry of a vulcanised joint, None otherwise
    id : ten letters and digits made from the inputs; the same inputs give the same id
    past : what past jobs said of the times of steps, by the step's key
    """

    format: int
    id: str
    version: str
    conveyor: Conveyor
    work: Work
    path: Path
    demand: Demand
    choice: Choice
    layout: Layout | None
    lengths: CutLengths | None
    limits: MakingLimits | None
    step_joint: StepGeometry | None
    belt: BeltBudget
    at_rest: AtRest
    clamps: Clamping
    isolation: tuple[EnergySource, ...]
    parts: tuple[Part, ...]
    tools: tuple[Tool, ...]
    steps: tuple[Step, ...]
    timing: Timing
    follow_up: FollowUp
    warnings: tuple[Sentence, ...]
    worksheet: Record
    past: dict[str, PastShare] = field(default_factory=dict)

    @property
    def mark(self) -> str:
        """Which plan this is, as printed."""
        return f"Plan {self.id}"

    @property
    def complete(self) -> bool:
        """Whether plates could be laid out; else the pack holds no layout and no templates."""
        return self.layout is not None

    @property
    def questions(self) -> tuple[Sentence, ...]:
        """What nobody stated and moves a safety figure: to be settled before work, on page one."""
        return questions(self.conveyor, self.at_rest, self.step_joint)

    @property
    def construction(self) -> str:
        """Kind of joint that is planned; empty where no fastener fits."""
        return self.fastener.construction.value if self.fastener is not None else ""

    @property
    def fastener(self) -> Candidate | None:
        """The recommended fastener, None when none fits."""
        return self.choice.best

    def to_json(self) -> str:
        """The whole plan as JSON; `from_json` gives it back without loss."""
        return _adapter().dump_json(self).decode()

    @classmethod
    def from_json(cls, text: str | bytes) -> JointPlan:
        """Read a plan back.

        Raises InputError: the text is no plan of this format.
        """
        return read_kept(_adapter(), text, f"plan of format {FORMAT}")


def plan(
    conveyor: Conveyor,
    work: Work,
    ranges: tuple[Range, ...] = (),
    past: PastShares = MappingProxyType({}),
) -> JointPlan:
    """Plan one job: the whole way from plant to steps.

    ranges : fastener data, from `load_ranges`; empty gives demand, isolation and lengths only
    past : what past jobs say of the steps' times; of other steps they are assumed
    """
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    # A belt that stays in one piece needs no fastener, only a joint that is opened or made does.
    choice = choose(ranges if work.job.plated else (), conveyor, work, asked, sheet)
    best = choice.best
    layout = lengths = limits = step_joint = None
    if best is not None and best.steps is not None:
        step_joint = lay_steps(
            best.steps, belt_width(conveyor, work), conveyor, work, choice.thickest, sheet
        )
    elif best is not None:
        layout = lay_plates(
            best.size,
            belt_width(conveyor, work),
            deepest_trough(conveyor),
            work.travel,
            sheet,
            curve=curve_of(work),
            notch=work.notch_width,
        )
        lengths = cut_lengths(best, layout, sheet)
        limits = making_limits(
            best.size,
            layout,
            conveyor.belt,
            asked.running,
            choice.thinnest,
            sheet,
            hinged=best.construction.hinged,
        )
    span = _span(lengths, step_joint, choice, sheet)
    belt = budget(conveyor, work, path.belt_length, span, sheet)
    parts: tuple[Part, ...] = ()
    if best is not None and layout is not None and lengths is not None:
        parts = parts_list(best, layout, lengths, choice.thickest, work.joints, belt.roll)
        if not work.job.joins:
            plates = plates_lost(work, best.size.pitch, layout.count)
            parts = repair_parts(best, lengths, choice.thickest, plates)
    elif best is not None and best.steps is not None and step_joint is not None:
        wide = belt_width(conveyor, work)
        parts = vulcanised_parts(best.steps, step_joint, wide, work.joints)
    elif work.damage is not None and work.job is JobKind.ALONG:
        rows = rows_across(work, sheet)[0] if work.damage is Damage.RIP else 0
        parts = along_parts(work.damage, rows, work.damage_width, conveyor.belt.thickness)
    if work.distance.assumed:
        work = worst_place(conveyor, work, path, asked, belt, span, sheet)
    stopped = at_rest(conveyor, work, path, asked, belt.slack_needed, belt.slack_there, sheet)
    clamps = clamping(conveyor, work, path, stopped, span, sheet)
    drafts = drafts_of(
        Setting(
            conveyor,
            work,
            stopped,
            belt,
            clamps,
            best,
            layout,
            lengths,
            limits,
            step_joint,
            asked.running,
            sheet,
        )
    )
    boxes = tool_box(conveyor, work, stopped, best, belt.roll)
    named = {key: tuple(tool.name for tool in tools) for key, tools in boxes.items()}
    tasks, timed = numbered(drafts, work, sheet, named, past)
    times = timing(
        timed,
        work,
        sheet,
        whole=best is not None or not work.job.joins,
        before=[(step.hands, step.time) for step in tasks if step.outside],
    )
    after = _follow_up(sheet)
    return JointPlan(
        format=FORMAT,
        id=identity(__version__, conveyor, work, ranges, *((dict(past),) if past else ())),
        version=__version__,
        conveyor=conveyor,
        work=work,
        path=path,
        demand=asked,
        choice=choice,
        layout=layout,
        lengths=lengths,
        limits=limits,
        step_joint=step_joint,
        belt=belt,
        at_rest=stopped,
        clamps=clamps,
        isolation=energy_sources(conveyor, work, stopped),
        parts=parts,
        tools=tools_list(
            [key for draft in drafts for key in draft.tools],
            conveyor,
            work,
            stopped,
            best,
            belt.roll,
        ),
        steps=tasks,
        timing=times,
        follow_up=after,
        warnings=(
            *_warnings(conveyor, work, asked, choice, belt, stopped, times),
            *_too_few(tasks, work),
            *(() if clamps.fits else (clamps.remarks[0],)),
        ),
        worksheet=sheet.finish(),
        past=dict(past),
    )


def _span(
    lengths: CutLengths | None, step_joint: StepGeometry | None, choice: Choice, sheet: Worksheet
) -> Figure:
    """Span of the joint; without a chosen one that of the nearest size with plates, or unknown."""
    if lengths is not None:
        return lengths.span
    if step_joint is not None:
        return step_joint.span
    plated = (c.joint for c in choice.candidates if isinstance(c.joint, Size))
    nearest = next(plated, None)
    cut = nearest.cut_line if nearest is not None else 0.012
    why = (
        f"no fastener chosen: cut line of the nearest, {nearest.name}"
        if nearest is not None
        else "no fastener known: 12 mm from the pin axis to the cut taken"
    )
    given = assumed(
        "lengths.cut_line", "pin axis to cut line", cut, Kind.LENGTH, why, (0.5 * cut, 2 * cut)
    )
    return sheet.work(
        "lengths.span", "cut line to cut line across the joint", joint_span, cut=given, depth=0.0
    )


def _follow_up(sheet: Worksheet) -> FollowUp:
    shift, week = 8 * 3600.0, 7 * 86400.0
    return FollowUp(
        sheet.note(
            assumed(
                "follow_up.retighten",
                "re-tighten after running for",
                shift,
                Kind.TIME,
                "first shift of loaded running; common practice, no source",
                (3600.0, 3 * shift),
            )
        ),
        sheet.note(
            assumed(
                "follow_up.inspect",
                "first inspection after",
                week,
                Kind.TIME,
                "no published interval; one week taken, sooner where a failure can hurt",
                (86400.0, 4 * week),
            )
        ),
    )


def _warnings(
    conveyor: Conveyor,
    work: Work,
    asked: Demand,
    choice: Choice,
    belt: BeltBudget,
    stopped: AtRest,
    times: Timing,
) -> tuple[Sentence, ...]:
    warnings = [sentence(DEFER)]
    best = choice.best or choice.nearest
    if conveyor.invented or (best is not None and best.invented):
        warnings.append(sentence("INVENTED DATA: this plan must not be used for real work."))
    if work.job_why:
        warnings.append(sentence(f'Kind of job not stated: "{work.job.value}" {work.job_why}.'))
    if choice.best is None and work.job.plated:
        warnings.append(
            sentence("No fastener chosen: this pack holds isolation, demand and lengths.")
        )
    elif choice.best is not None and choice.best.steps is not None:
        warnings.append(
            sentence(
                "Vulcanised joint: its maker's splicing instructions lead the work, and who "
                "does it must have learnt it."
            )
        )
    if not work.thickness and work.job.plated:
        warnings.append(
            sentence("Belt thickness not measured at the joint: measure before buying or cutting.")
        )
    if not belt.closes or not belt.room_for_stretch:
        warnings.extend(belt.remarks)
    if work.job.clamped and belt.closes and not stopped.movement.enough:
        warnings.append(stopped.movement.short)
    if times.verdict in {"does not fit", "may not fit"} and times.window is not None:
        warnings.append(
            sentence(
                f"The job {times.words}: likely {{likely}}, up to {{high}}; window {{window}}.",
                likely=times.likely,
                high=times.high,
                window=times.window,
            )
        )
    warnings.extend(asked.findings)
    return tuple(warnings)


def _too_few(tasks: tuple[Step, ...], work: Work) -> tuple[Sentence, ...]:
    """Steps that take more people than there are."""
    most = max(tasks, key=lambda step: step.people, default=None)
    if most is None or most.people <= work.crew:
        return ()
    return (sentence(f"Step {most.number} takes {most.people} people; the crew is {work.crew}."),)


_ADAPTERS: list[TypeAdapter[JointPlan]] = []


def _adapter() -> TypeAdapter[JointPlan]:
    """The serialiser, built once: it takes longer than a plan."""
    if not _ADAPTERS:
        from pydantic import TypeAdapter

        _ADAPTERS.append(TypeAdapter(JointPlan))
    return _ADAPTERS[0]
