"""The tools of a job: those that its steps name, with the ratings the forces ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.joint import Candidate, Construction, StepSize
from splicewright.plant import Conveyor, Environment, Tools, Work
from splicewright.quantities import Kind, Sentence, sentence

if TYPE_CHECKING:
    from splicewright.loop import Roll
    from splicewright.tension import AtRest


@dataclass(frozen=True, slots=True)
class Tool:
    """One line of the tools list."""

    name: str
    count: int
    note: Sentence


def tools_list(
    keys: Sequence[str],
    conveyor: Conveyor,
    work: Work,
    stopped: AtRest,
    candidate: Candidate | None,
    roll: Roll | None = None,
) -> tuple[Tool, ...]:
    """The tools that steps name by these keys, in their order, and what everybody wears.

    keys : of the steps' tools, in order; named twice is listed once
    roll : new belt inserted or put on, None without any
    """
    boxes = tool_box(conveyor, work, stopped, candidate, roll)
    tools = [tool for key in dict.fromkeys(keys) for tool in boxes[key]]
    tools.append(
        Tool(
            "eye and ear protection, helmet, cut-proof gloves, boots, dust mask",
            work.crew,
            sentence("mask when skiving or grinding: rubber and silica dust"),
        )
    )
    tools.append(Tool("first-aid kit, rescue gear of the site, fire extinguisher", 1, sentence("")))
    if Environment.UNDERGROUND in work.environment:
        tools.append(
            Tool(
                "gas test and hot-work rules of the mine", 1, sentence("no grinding without leave")
            )
        )
    return tuple(tools)


def tool_box(
    conveyor: Conveyor, work: Work, stopped: AtRest, candidate: Candidate | None, roll: Roll | None
) -> dict[str, tuple[Tool, ...]]:
    """Every tool a step can name, by key, sized for this job."""
    plain = sentence("")
    ratings = stopped.ratings
    power = work.tools is Tools.POWER
    by_key: dict[str, tuple[Tool, ...]] = {
        "locks": (Tool("lock and tag for each person, lock box", work.crew, plain),),
        "radio": (Tool("radio to the control room", 2, plain),),
        "marker": (Tool("chalk line, paint marker, chalk", 1, plain),),
        "barriers": (Tool("barriers, signs, platform, edge protection", 1, plain),),
        "cleaning": (Tool("water, brushes, rags, blower", 1, plain),),
        "light": (Tool("lamps", 1, plain),),
        "camera": (Tool("camera or phone", 1, plain),),
        "tape": (Tool("tape, steel rule, calliper, long square", 1, plain),),
        "shovels": (Tool("shovels", work.crew, plain),),
        "spanners": (Tool("spanners for take-up and idlers", 1, plain),),
        "clamps": (
            Tool(
                "restraining clamp, full belt width",
                2,
                sentence(
                    "rated {rating} or more each, with anchor chains of the same",
                    rating=ratings.clamps,
                ),
            ),
        ),
        "hoists": (
            Tool(
                "pulling clamp, full belt width",
                2,
                sentence("rated {rating} or more", rating=ratings.hoists),
            ),
            Tool(
                "lever hoist or winch",
                2,
                sentence(
                    "rated {rating} or more each, for one may have to carry all; the same on "
                    "both sides",
                    rating=ratings.hoists,
                ),
            ),
        ),
        "hoist": (
            Tool(
                "lever hoist, to unload a chain",
                2,
                sentence("rated {rating} or more each", rating=ratings.hoists),
            ),
        ),
        "tackle": (
            Tool(
                "chain hoist, rated chains and blocks for the counterweight",
                1,
                sentence("rated {rating} or more", rating=ratings.tackle)
                if ratings.tackle is not None
                else sentence("find its mass first: weight unknown"),
            ),
        ),
        "knife": (
            Tool(
                "belt knife with guard, or belt cutter; board under the belt",
                1,
                sentence("blade away from the body"),
            ),
        ),
        "batten": (
            Tool(
                "straight batten, wider than the belt",
                1,
                sentence("{width} or more", width=conveyor.belt.width),
            ),
        ),
        "bench": (Tool("bench or trestles under the belt ends", 1, plain),),
        "ropes": (Tool("ropes to turn and tie belt ends", 2, plain),),
        "slings": (Tool("rated slings", 2, sentence("for the new belt")),),
        "skiver": (Tool("skiving knife or cover skiver", 1, plain),),
        "drill": (Tool("drill or round knife, probe", 1, plain),),
        "row": (
            Tool(
                "wrench for the plates' bolts, straps or clamps to draw the edges together",
                1,
                sentence("torque by the maker's instructions"),
            ),
        ),
        "gauge": (Tool("feeler gauge, torch, hammer to sound plates", 1, plain),),
        "patching": (
            Tool(
                "patching system with its instructions, buffer, cement, roller",
                1,
                sentence("within date"),
            ),
        ),
        "string": (Tool("string line, level", 1, plain),),
        "tag": (Tool("tag for the start button, with date and limits", 1, plain),),
        "winch": (
            Tool(
                "pulling winch with rope, and pulling head or temporary joint",
                1,
                sentence("rated for the pull at the worst position"),
            ),
        ),
        "roll": (
            Tool(
                "roll stand with brake, spreader and lifting gear for the new belt",
                1,
                sentence("for {mass} and the core", mass=roll.mass) if roll is not None else plain,
            ),
        ),
    }
    by_key["breaker"] = (Tool("bolt-end breaker, file or grinder", 1, sentence("eye protection")),)
    if candidate is not None and candidate.steps is not None:
        by_key["vulcanising"] = tuple(_vulcanising_tools(candidate.steps))
        by_key["cords"] = (Tool("cord cutter, pliers", 1, sentence("for steel cord")),)
    elif candidate is not None:
        by_key |= _joint_tools(candidate, power)
    return by_key


def _joint_tools(candidate: Candidate, power: bool) -> dict[str, tuple[Tool, ...]]:
    size = candidate.size
    torque = (
        sentence("set to {torque}", torque=(size.seat_torque, Kind.TORQUE))
        if size.seat_torque is not None
        else sentence("torque by the maker's instructions")
    )
    wrench = "power wrench and torque wrench" if power else "torque wrench"
    drive = "belt punch with power drive" if power else "belt punch and hammer"
    return {
        "template": (
            Tool("punch template", 1, sentence(f"{size.name}; or the 1:1 sheets of this pack")),
        ),
        "punch": (Tool(drive, 1, sentence("hole ⌀ {hole}", hole=(size.hole, Kind.LENGTH))),),
        "rivet": (
            Tool(
                "rivet setter with its anvil and guide block, hammer",
                1,
                sentence("of the range; eye protection"),
            ),
        ),
        "wrench": (Tool(f"{wrench}, socket", 1, torque),)
        if candidate.construction is not Construction.RIVETED
        else (),
        "setting": (
            Tool("setting pin", 1, sentence("⌀ {pin}", pin=(size.pin, Kind.LENGTH))),
            Tool(f"{candidate.words.spacer}s or alignment bar", 1, sentence("")),
        ),
    }


def _vulcanising_tools(size: StepSize) -> list[Tool]:
    plain = sentence("")
    pressed = [
        Tool(
            "vulcanising press with controls and recorder, spare fuses and hoses",
            1,
            sentence(
                "for {temperature}, longer than the joint and wider than the belt",
                temperature=(size.cure_temperature, Kind.TEMPERATURE),
            ),
        ),
        Tool(
            "edge irons",
            2,
            sentence(
                "as long as the press; {under} thinner than the belt",
                under=(size.iron_under, Kind.LENGTH),
            )
            if size.iron_under is not None
            else sentence("as long as the press; a little thinner than the belt, by the maker"),
        ),
    ]
    return [
        *(
            [Tool("hand roller, hammer with a broad face, boards and weights", 1, plain)]
            if size.cold
            else pressed
        ),
        Tool("ply knife, ply pincers, ply lifter", 1, sentence("cut-proof gloves, both hands")),
        Tool("buffer, brush, roller, cement brushes", 1, plain),
        Tool("contact thermometer, air thermometer and hygrometer, hardness tester", 1, plain),
        Tool("gas meter, fan", 1, sentence("vapour of cements burns and stuns")),
        Tool("tent or shelter over the place", 1, sentence("no rain, dust or dew on open rubber")),
    ]
