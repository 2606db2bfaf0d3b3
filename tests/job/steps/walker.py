"""A crew that acts the steps out on a belt of its own, and believes nothing but what it sees.

It knows none of the program's states: the belt here is six facts, changed only by what a step's
words say is done. Every sentence of every hold point has its own meaning, written down by hand
from its words; a sentence that is not in the list is a failure, so none goes unread. Sources: the
law of lock-out (29 CFR 1910.147(d): stored energy is relieved or restrained and that is verified
before work), otherwise common sense of a person who stands there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from splicewright.job import JointPlan, Step
from splicewright.job.steps import cautions as care


@dataclass
class Belt:
    """What stands there: drive, take-up, chains of the clamps, hoists, the belt, the ends."""

    drive_live: bool = True
    take_up_pulls: bool = True
    clamps_on: bool = False
    chains: str = "none"  # none, snug, hanging, bearing
    hoists: str = "none"  # none, pulling, snug
    belt: str = "whole"  # whole, slack, open, together, joined
    cuts: int = 0
    done: set[str] = field(default_factory=set)

    @property
    def held(self) -> bool:
        """Whether each open end is held by something other than hands."""
        return (self.clamps_on and self.chains == "bearing") or self.hoists == "pulling"


class WrongError(AssertionError):
    """What a person standing there would have stopped the work for."""


def need(true: bool, step: Step, why: str) -> None:
    if not true:
        raise WrongError(f"step {step.number}, {step.title}: {why}")


TOUCHES = re.compile(r"\b(cut|punch|clamp|pin|bolt|plate|skive|draw|chalk|measure)", re.IGNORECASE)


def _lock(belt: Belt, step: Step) -> None:
    need(belt.drive_live, step, "locked out already")
    belt.drive_live = False


def _clamps(belt: Belt, step: Step) -> None:
    need(not belt.drive_live, step, "clamps set on a belt that can be driven")
    need(belt.take_up_pulls, step, "clamps come before the take-up is touched")
    belt.clamps_on, belt.chains = True, "snug"


def _release(belt: Belt, step: Step) -> None:
    need(belt.clamps_on and belt.chains == "snug", step, "take-up released without clamps")
    belt.take_up_pulls = False


def _draw(belt: Belt, step: Step) -> None:
    need(not belt.take_up_pulls and belt.clamps_on, step, "drawn against the take-up")
    belt.hoists, belt.belt, belt.chains = "pulling", "slack", "hanging"


def _chains(belt: Belt, step: Step) -> None:
    need(belt.hoists == "pulling", step, "chains shortened on a belt that pulls on them")
    belt.chains, belt.hoists = "bearing", "snug"


def _open(belt: Belt, step: Step) -> None:
    need(belt.belt == "slack" and belt.chains == "bearing", step, "opened under tension")
    need(not belt.drive_live and not belt.take_up_pulls, step, "opened with power or take-up")
    belt.belt = "open"


def _pull_in(belt: Belt, step: Step) -> None:
    need(belt.belt == "open" and not belt.drive_live, step, "drawn in on a belt that is closed")
    belt.done.add("new belt")


def _together(belt: Belt, step: Step) -> None:
    need(belt.belt == "open" and belt.hoists == "snug", step, "nothing to draw the ends with")
    belt.belt, belt.hoists, belt.chains = "together", "pulling", "hanging"


def _join(belt: Belt, step: Step) -> None:
    need(belt.belt == "together" and belt.hoists == "pulling", step, "ends not held together")
    belt.belt = "joined"


def _ease(belt: Belt, step: Step) -> None:
    need(belt.belt == "joined", step, "hoists let go of open ends")
    belt.hoists = "none"


def _slack(belt: Belt, step: Step) -> None:
    need(belt.belt in {"joined", "whole"} and belt.hoists == "none", step, "chains let go of it")
    need(not belt.take_up_pulls, step, "chains eased while the take-up pulls on them")
    belt.chains = "slack"


def _restore(belt: Belt, step: Step) -> None:
    need(belt.chains == "slack" and belt.clamps_on, step, "take-up pulls on clamps, or none stand")
    need(belt.belt in {"joined", "whole"}, step, "take-up pulls on an open belt")
    belt.take_up_pulls = True


def _off(belt: Belt, step: Step) -> None:
    need(belt.take_up_pulls and belt.chains == "slack", step, "clamps off before the take-up holds")
    belt.clamps_on, belt.chains = False, "none"


def _unlock(belt: Belt, step: Step) -> None:
    need(not belt.clamps_on and belt.hoists == "none", step, "locks off with clamps on the belt")
    need(belt.take_up_pulls and belt.belt in {"joined", "whole"}, step, "started open or slack")
    belt.drive_live = True


ACTS: dict[str, Callable[[Belt, Step], None]] = {
    "lock out": _lock,
    "set the restraining clamps": _clamps,
    "release the take-up": _release,
    "set pulling clamps and hoists": lambda _belt, _step: None,
    "draw slack to the place": _draw,
    "take up the chains": _chains,
    "open the belt": _open,
    "draw the new belt in": _pull_in,
    "bring the ends together": _together,
    "pin the joint": _join,
    "ease the hoists, take them off": _ease,
    "slack the chains, clamps still on": _slack,
    "let the take-up pull again": _restore,
    "take the clamps off": _off,
    "take the locks off": _unlock,
}

# What each sentence of a hold point claims, in the belt's own words. "seen": it is about things
# the belt's state does not hold (papers, marks, people, workmanship), signed by looking.
Claim = Callable[[Belt], bool]


def seen(_belt: Belt) -> bool:
    return True


def locked(b: Belt) -> bool:
    return not b.drive_live


def moving_is_possible(b: Belt) -> bool:
    return b.drive_live


CLAIMS: list[tuple[str, Claim]] = [
    (r"Belt stopped with .+ at the place", moving_is_possible),
    (r"Nobody was at the belt while it moved", moving_is_possible),
    (r"locked, tagged and tried", locked),
    (r"Feeding conveyors included", locked),
    (r"Barriers closed", locked),
    (r"Width, marking and edge thickness",
     lambda b: (locked(b) and not b.held) or "new belt" in b.done),
    (r"A second person has checked both square lines",
     lambda b: not b.clamps_on or "new belt" in b.done),
    (r"Both clamps seated", lambda b: b.clamps_on and b.chains == "snug"),
    (r"Nobody and nothing on the belt: now the take-up may be touched",
     lambda b: b.take_up_pulls and b.clamps_on),
    (r"Everybody is off the belt", locked),
    (r"Carry side seen empty", lambda b: b.clamps_on),
    (r"Counterweight hangs on its tackle|Belt slack at the take-up pulley",
     lambda b: not b.take_up_pulls),
    (r"Belt between the pulling clamps hangs slack",
     lambda b: b.belt == "slack" and b.hoists == "pulling"),
    (r"Nobody is in line with it", seen),
    (r"Both chains bear, their anchors seen under load", lambda b: b.chains == "bearing"),
    (r"Only now may the belt be opened",
     lambda b: b.belt == "slack" and b.chains == "bearing" and not b.take_up_pulls),
    (r"Both ends lie still", lambda b: b.belt == "open" and b.chains == "bearing"),
    (r"Loops are whole over the width", lambda b: b.belt == "open"),
    (r"Every new plate seated", lambda b: b.belt == "open"),
    (r"Cut line follows the template|Both cuts on their lines", lambda b: b.belt == "open"),
    (r"Every thickness across both cuts", lambda b: b.belt == "open" and b.cuts > 0),
    (r"If not: (stop and plan again|cut back further)", seen),
    (r"Each end lies with its carry cover up", lambda b: b.belt == "open"),
    (r"First and last hole measured", lambda b: b.belt in {"open", "together"}),
    (r"Ends butted over the whole width", lambda b: b.belt == "together"),
    (r"Teeth through the pulley cover|Every rivet set full",
     lambda b: b.belt in {"open", "together", "joined"}),
    (r"The piece lies with its covers", lambda b: b.belt == "open"),
    (r"First pin turns freely", lambda b: b.belt == "open"),
    (r"Carry cover on the same side of both ends", lambda b: b.belt in {"together", "joined"}),
    (r"Pin turns freely", lambda b: b.belt == "joined" and b.hoists == "pulling"),
    (r"Acceptance sheet signed|Signed by both", lambda b: b.belt == "joined"),
    (r"If a line fails|A joint that fails|If there is one|If one is|If it is", seen),
    (r"No (ply|cloth|cord) nicked|Every face dull|Every coat dry", lambda b: b.belt == "open"),
    (r"Do not touch it again", seen),
    (r"Straight along the chalk line", lambda b: b.belt == "together"),
    (r"Actual time(, temperature)? and", lambda b: b.belt == "together"),
    (r"No blister", lambda b: b.belt == "joined"),
    (r"Hoists off, both chains slack", lambda b: b.hoists == "none" and b.chains == "slack"),
    (r"Both chains slack, clamps still on", lambda b: b.clamps_on and b.chains == "slack"),
    (r"Nobody and nothing on the belt, at the pulleys", lambda b: not b.take_up_pulls),
    (r"Take-up holds the belt", lambda b: b.take_up_pulls and not b.clamps_on),
    (r"has passed every pulley", moving_is_possible),
    (r"The whole belt runs straight", moving_is_possible),
    (r"Permit signed by both sides|The person whom the site's rules name", seen),
    (r"Tag on the start button", locked),
    (r"Control room has repeated it", seen),
    (r"The cause is found and removed", locked),
    (r"A round hole at each end|Edges closed over|Hole round|No step, no loose ply",
     lambda b: locked(b) and not b.take_up_pulls),
    (r"Cover, arrow, LEFT and RIGHT marked|Marking read on the belt", seen),
    (r"New belt round the whole loop", lambda b: "new belt" in b.done and b.belt == "open"),
    (r"Both chains bear on it", lambda b: b.chains == "bearing"),
    (r"Every joint of the list was counted|Belt seen empty", moving_is_possible),
    (r"Looked at with the drive locked and tried", moving_is_possible),
    (r"Looked at, drive locked and tried", locked),
    (r"Joint chalked, both rules", moving_is_possible),
    (r"The same quarter reads alike", moving_is_possible),
    (r"What is to blame is named", locked),
    (r"People and tools counted, guards on", moving_is_possible),
]  # fmt: skip

# Before these can be read the belt must be so; the rest can be read whenever it is asked.
READABLE: list[tuple[str, Claim]] = [
    (r"^Belt thickness, (leading|trailing) end", lambda b: b.belt == "open" and b.cuts > 0),
    (r"^Diagonals after the cut", lambda b: b.belt == "open"),
    (r"^Rubber left on the carcass", lambda b: b.belt == "open"),
    (r"^Turns of each screw|^Sag between", lambda b: b.clamps_on and not b.take_up_pulls),
    (r"^Patch left slack|^Torque of the plates", lambda b: not b.take_up_pulls),
    (r"^Warmest place when the pressure", lambda b: b.belt == "together"),
    (r"^Torque when gone over", lambda b: b.belt == "joined"),
    (r"^Torque at the last round", lambda b: b.belt in {"open", "together", "joined"}),
    (r"^Take-up travel used, after", lambda b: b.take_up_pulls and not b.clamps_on),
    (r"^Take-up travel used, before", lambda b: b.take_up_pulls and not b.clamps_on),
    (r"^Belt thickness at the", lambda b: not b.drive_live),
    (r"^Point to left and right end", lambda b: not b.drive_live),
    (r"^Edge at place", moving_is_possible),
]

# Words that cannot be done without the tool beside them.
TOOL_WORDS: list[tuple[str, str]] = [
    (r"\bradio\b", "radio"),
    (r"\bPunch them\b", "punch"),
    (r"\bTemplate on the centreline", "template"),
    (r"\bpulling clamps and one hoist", "pulling clamp"),
    (r"\bOne clamp on each side", "restraining clamp"),
    (r"\bcounterweight by\b", "chain hoist"),
    (r"\bSetting pin\b", "setting pin"),
    (r"\bbreaker\b", "bolt-end breaker"),
    (r"\bsetter square\b", "rivet setter"),
    (r"\bchalk line\b", "chalk"),
    (r"\bboard under the belt\b", "board"),
    (r"\bcarry cover off under\b", "skiving"),
    (r"\bFold each end back over a bench\b", "bench"),
    (r"\bwith a sling\b", "sling"),
    (r"\bhook the winch\b", "winch"),
    (r"\bplatens?\b", "press"),
    (r"\bopen faces at\b", "hygrometer"),
    (r"\bEdge irons\b", "edge irons"),
    (r"\bback, (carry|pulley) cover up, over a bench\b", "bench"),
    (r"\bknife away\b", "knife"),
    (r"\bPhotograph", "camera"),
    (r"\bstring line\b", "string"),
    (r"\btight by the maker's\b", "wrench"),
    (r"\b[Dd]raw the edges together\b", "straps"),
    (r"\bby the sag\b|\bMeasure it\b", "tape"),
    (r"\bCords freed\b", "cord cutter"),
    (r"\bscrews? evenly\b|\bturns of each screw\b", "spanners"),
]

# Values that a step tells to take, and the box they are written into.
BOX_WORDS: list[tuple[str, str]] = [
    (r"\bcount the turns of each screw\b", "Turns of each screw"),
    (r"\bTake-up position\b", "Take-up travel used, before"),
    (r"\bThe take-up should stop at\b", "Take-up travel used, after"),
    (r"\bPressure\b.+\bbefore heat\b", "Pressure before heat"),
    (r"\bCool under pressure before\b", "Warmest place when the pressure"),
    (r"\bHeat to\b", "Platen temperature"),
    (r"\bthe time its system asks\b", "Patch left slack"),
    (r"\btight by the maker's\b", "Torque"),
    (r"\b[Ww]idth on both sides\b", "Belt width"),
    (r"\bThickness at \d+ places\b", "Belt thickness"),
    (r"\bboth diagonals\b", "iagonals"),
    (r"[Mm]easure what came out", "came out"),
    (r"\bRead air, humidity\b", "Humidity"),
    (r"\bRead air, humidity\b", "Air temperature"),
    (r"\bRead air, humidity\b", "Coldest face"),
    (r"\bmeasure between them\b", "Between the marks"),
    (r"\bsteps of .* on each end\b", "leading end"),
    (r"\bsteps of .* on each end\b", "trailing end"),
]

# Parts a step puts in, and the line of the parts list that has to hold them.
PART_WORDS: list[tuple[str, str]] = [
    (r"\bhinge pin of\b", "hinge pin"),
    (r"\bpin retainers\b", "pin retainer"),
    (r"\bWear sleeve of\b", "wear sleeve"),
    (r"\bbedding strips?\b", "bedding strip"),
    (r"\bCement of the kit\b", "cement"),
    (r"\bIntermediate rubber\b", "intermediate rubber"),
    (r"\bCover strips and edge strips in\b", "cover strip"),
    (r"\bcore rubber\b", "core rubber"),
    (r"\bCover rubber on both sides\b", "cover rubber"),
    (r"\bRun all nuts down\b", "nut"),
    (r"\bBolts from\b", "bolt"),
    (r"\bRivets from\b", "rivet"),
    (r"\bplates over\b", "plate for repairs"),
    (r"\bNew plates on sound holes\b", "plate set"),
    (r"\bPatch by the instructions\b", "patch"),
    (r"\bSeal the cut edge\b", "edge sealing"),
    (r"\bof belt or more, about\b", "roll of new belt"),
]


# What can hurt at a step that does this, said beside it.
CARE_WORDS: list[tuple[str, tuple[str, ...]]] = [
    (r"[Bb]reak off|\bbreaker\b", (care.BOLT_ENDS,)),
    (r"\bknife\b|(?<!never )\b[Cc]ut (both|across|it|one|along)\b", (care.CUTTING, care.PLY_KNIFE)),
    (r"\bCement of the kit|\bcleaner\b", (care.SOLVENT,)),
    (r"\b[Bb]uff\b|\bgrind the new", (care.BUFFING,)),
    (r"\b[Pp]unch them\b", (care.PUNCH, care.HAND_PUNCH)),
    (r"\bHeat to\b", (care.FIRE,)),
    (r"\bcover off under\b", (care.SKIVING,)),
    (r"\bcounterweight (by|to|off)\b", (care.COUNTERWEIGHT,)),
    (r"\binching speed\b|\bInch until\b", (care.MOVING,)),
    (r"\bCords freed\b", (care.CORDS,)),
    (r"\bloops mesh\b|\bhalf joints\b", (care.HANDS,)),
]


# A caution against a tool is read as noise where the tool is not there.
CARE_TOOLS: list[tuple[str, str]] = [
    (r"\b[Pp]ower (wrench|tool)\b", "power"),
    (r"\bhammer\b", "hammer"),
]


def walk(plan: JointPlan) -> Belt:
    """Act a plan's steps through; the belt as it stands afterwards.

    Raises
    ------
    WrongError
        What would have been wrong, unsafe, or impossible there.
    """
    belt = Belt()
    tools = [tool.name for tool in plan.tools]
    parts = [part.name for part in plan.parts]
    for step in plan.steps:
        before = belt.drive_live
        for move in step.moves:
            ACTS[move.value](belt, step)
        if step.key in {"cut", "open"}:
            belt.cuts += 1
        live = before and belt.drive_live and not step.moves
        need(step.running or not live, step, "work at the belt while its drive is live")
        if belt.belt in {"open", "together"}:
            need(belt.held, step, "people between ends that nothing holds")
            need(not belt.drive_live and not belt.take_up_pulls, step, "open under power or pull")
        for reading in step.readings:
            for pattern, readable in READABLE:
                if re.search(pattern, reading.what):
                    need(readable(belt), step, f'"{reading.what}" cannot be measured yet')
        _hold(belt, step)
        _things(step, tools, parts)
        belt.done.add(step.key)
    return belt


def _hold(belt: Belt, step: Step) -> None:
    if step.hold_point is None:
        return
    for said in re.split(r"(?<=[.])\s+", step.hold_point):
        known = [claim for pattern, claim in CLAIMS if re.search(pattern, said)]
        need(bool(known), step, f'nobody has said what "{said}" means')
        need(all(claim(belt) for claim in known), step, f'"{said}" is not true at that moment')


def _things(step: Step, tools: list[str], parts: list[str]) -> None:
    text = " ".join(said.say() for said in step.text)
    for pattern, tool in TOOL_WORDS:
        if re.search(pattern, text):
            need(any(tool in name for name in tools), step, f'"{tool}" is not on the tools list')
            need(any(tool in name for name in step.tools), step, f'"{tool}" is not beside it')
    for pattern, box in BOX_WORDS:
        if re.search(pattern, text):
            need(any(box in r.what for r in step.readings), step, f'no box for "{box}"')
    # Paper is no screen, and points to nothing that is not on it.
    need("`" not in text and "(below)" not in text, step, "words of another page")
    for pattern, cautions in CARE_WORDS:
        if re.search(pattern, text):
            need(
                any(said in step.cautions for said in cautions),
                step,
                f'nothing says what can hurt at "{pattern}"',
            )
    for pattern, tool in CARE_TOOLS:
        if any(re.search(pattern, said) for said in step.cautions):
            need(any(tool in name for name in tools), step, f'cautions against "{tool}"')
    for name in step.tools:
        need(name in tools, step, f'"{name}" is not on the tools list')
    for pattern, part in PART_WORDS:
        if re.search(pattern, text):
            need(any(part in name for name in parts), step, f'"{part}" is not in the parts list')
