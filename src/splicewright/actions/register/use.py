"""Whose facts are looked at, and how much each conveyor has run: its meter, or the calendar."""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Literal, TypeVar
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind

if TYPE_CHECKING:
    from splicewright.history.meter import Meter
    from splicewright.history.pace import Pace
    from splicewright.quantities.measure import Measure
    from splicewright.store import Register, Stored
    from splicewright.store.facts.joint_facts import ReadingTaken
    from splicewright.store.present.present import ConveyorNow, JointNow

UseName = Literal["", "time", "mass", "turns"]
_Id = TypeVar("_Id", UUID, str)
_MOST_JOINTS = 1_000_000
_NEW, _CHECKED = "new meter", "checked"
_METERED = (Kind.RUN_TIME, Kind.TIME, Kind.TONNAGE, Kind.TURNS)


@dataclass(frozen=True)
class Looked:
    """What the register says of the conveyors looked at.

    register, now : where, and when
    name : of the site, or of the one conveyor
    conveyors : those looked at, by id
    labels : what each is called; the site before it where two sites use one name
    sites : names of sites by id
    measure : what use is counted in
    meters : of each conveyor; those that have none in this measure are missing
    metered : readings that the meters were made of, and for all conveyors all there are
    things : the one conveyor that was asked for, its site, and all that lies or lay there; None
        for all
    assumed, left_out : what to tell with every answer
    invented : a site of theirs says so of itself
    """

    register: Register
    now: datetime
    name: str
    conveyors: Mapping[UUID, ConveyorNow]
    labels: Mapping[UUID, str]
    sites: Mapping[UUID, str]
    measure: Measure
    meters: Mapping[UUID, Meter]
    metered: Sequence[Stored]
    things: frozenset[UUID] | None = None
    assumed: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    invented: bool = False

    @property
    def today(self) -> date:
        """The day of now."""
        return self.now.date()

    @property
    def pace(self) -> Pace | None:
        """How much the conveyors looked at run a day; None where that of one is not known."""
        from splicewright.history.pace import pace_of

        rates = [m.rate for c in self.conveyors if (m := self.meters.get(c)) is not None]
        return pace_of(self.today, rates) if len(rates) == len(self.conveyors) else None

    @property
    def readings(self) -> Sequence[Stored]:
        """All readings of those conveyors, their belts and joints, in the order they came."""
        return self.metered if self.things is None else [*self.facts("reading taken")]

    def facts(self, *kinds: str, sound: bool = True) -> Iterator[Stored]:
        """Facts of some kinds: of the one conveyor and what lies there, or of the register.

        sound : False may leave out plates that are sound, see `Register.facts_of_things`
        """
        from splicewright.actions.register.facts import facts_of

        return facts_of(self.register, *kinds, about=self.things, sound=sound)

    def joint(self, joint: UUID) -> JointNow | None:
        """One joint; those of one conveyor are read together, once."""
        if self.things is None:
            return self.register.joint(joint)
        return self._joints_there.get(joint)

    @cached_property
    def _joints_there(self) -> dict[UUID, JointNow]:
        one = next(iter(self.conveyors))
        return {j.joint: j for j in self.register.joints(one, limit=_MOST_JOINTS)}

    def joints(self) -> Iterator[JointNow]:
        """Joints of the conveyors looked at, by label."""
        from splicewright.actions.register.facts import every_joint

        if len(self.conveyors) == 1:
            return iter(self._joints_there.values())
        return (j for j in every_joint(self.register) if j.conveyor in self.conveyors)


def look_into(
    register: Register, now: datetime, *, conveyor: str | UUID = "", use: UseName = ""
) -> Looked:
    """Find the conveyors and their meters.

    A meter is every reading of a conveyor that counts running time, mass carried or turns; of
    several that count the same, the one read most often. A reading whose note holds "new meter"
    begins a new one, which goes on where the old one stood; "checked" lets a jump pass.

    now : ages are told at this moment
    conveyor : id of the only one to look at, or its name, as it is or with its site
        ("SITE: NAME")
    use : what lives are counted in; mass carried where every conveyor has such a meter, else time
    Raises InputError: the register knows no such conveyor, or several; or none has run by that
    measure.
    """
    from splicewright.actions.register.facts import facts_of
    from splicewright.history.meter import calendar_meter
    from splicewright.quantities.measure import Measure

    sites = {s.site: s for s in register.sites()}
    names = {s.site: s.name for s in sites.values()}
    every = register.conveyors()
    found = _named(every, names)
    labels, chosen = found.labels, _meant(found, conveyor)
    one = chosen[0]
    things = register.lies_at(one.conveyor) | {one.conveyor, one.site} if conveyor else None
    conveyors = {c.conveyor: c for c in chosen}
    # Of one conveyor its own only: what was read of its joints is more, and few ask for it.
    metered = [*facts_of(register, "reading taken", about=things and frozenset(conveyors))]
    assumed: list[str] = []
    left_out: list[str] = []
    read = _meters(conveyors, metered, now.date(), labels, left_out)
    measure = _chosen(use, conveyors, read)
    meters = {c: held[measure] for c, held in read.items() if measure in held}
    if measure is Measure.TURNS:
        meters = _turned(conveyors, read, meters, labels, assumed)
    bare = [c for c in conveyors if c not in meters]
    if bare and measure is not Measure.TIME:
        if len(bare) == len(conveyors):
            wording = f"no conveyor has a meter of {measure}; count by time, or record two readings"
            raise InputError(Fault("use", wording))
        left_out.append(_listed([labels[c] for c in bare], f"no meter of {measure}: left out"))
    elif bare:
        yesterday = now.date() - timedelta(days=1)
        meters.update(dict.fromkeys(bare, calendar_meter(yesterday, now.date())))
        assumed.append(
            _listed(
                [labels[c] for c in bare],
                "no hour meter: counted as if the belt never stood still, which brings work "
                "forward",
            )
        )
    whose = {c.site for c in chosen}
    where = labels[chosen[0].conveyor] if conveyor else ", ".join(sorted(names[s] for s in whose))
    return Looked(
        register,
        now,
        where if len(where) <= 80 else f"{len(whose)} sites",
        conveyors,
        labels,
        names,
        measure,
        meters,
        metered,
        things,
        assumed,
        left_out,
        any("invented" in f"{sites[s].name} {sites[s].note}".lower() for s in whose),
    )


@dataclass(frozen=True, slots=True)
class Named:
    """What conveyors are called, in their order.

    labels : so that no other is called the same: the name alone where no other conveyor has it,
        else with its site ("SITE: NAME"), and with a part of its identity where sites have one
        name too
    search_texts : name and site, folded, to be looked through
    called : those of an identity, a name or a label
    """

    conveyors: Sequence[ConveyorNow]
    labels: Mapping[UUID, str]
    search_texts: Mapping[UUID, str]
    called: Mapping[UUID | str, Sequence[ConveyorNow]]


def named(register: Register) -> Named:
    """What every conveyor is called."""
    return _named(register.conveyors(), {s.site: s.name for s in register.sites()})


def conveyor_labels(register: Register) -> Mapping[UUID, str]:
    """What each conveyor is called so that no other is called the same; see `Named`."""
    return named(register).labels


def conveyor_called(register: Register, conveyor: str | UUID) -> UUID:
    """The only conveyor of this name, label or identity.

    Raises InputError: there is none, or there are several.
    """
    return _meant(named(register), conveyor)[0].conveyor


def _meant(named: Named, conveyor: str | UUID) -> list[ConveyorNow]:
    """All conveyors where none is named, else the one that is meant."""
    every, labels = named.conveyors, named.labels
    if not conveyor:
        chosen = list(every)
    else:
        ways: list[UUID | str] = [conveyor]
        if isinstance(conveyor, str):
            with suppress(ValueError):
                ways.append(UUID(conveyor))
        # Looked up: to go through ten thousand takes longer than to read what was asked of one.
        chosen = [*{c.conveyor: c for way in ways for c in named.called.get(way, ())}.values()]
    if not chosen or (conveyor and len(chosen) > 1):
        accepted = (
            ", ".join(labels[c.conveyor] for c in (chosen or every)[:12]) or "none is on file"
        )
        reason = "is the name of several" if chosen else "is not known to the register"
        wording = f'"{conveyor}" {reason}; accepted is one of: {accepted}'
        raise InputError(Fault("conveyor", wording))
    return chosen


_NAMED: OrderedDict[int, tuple[Mapping[UUID, str], Named]] = OrderedDict()
"""By the identity of what was named, which is held with it, so that no other gets its place."""
_MOST_NAMED = 16


def _named(every: Sequence[ConveyorNow], sites: Mapping[UUID, str]) -> Named:
    """What each is called. Kept: a register gives the same conveyors until a fact changes one."""
    found = _NAMED.get(id(every))
    if found is not None and found[1].conveyors is every and found[0] == sites:
        return found[1]
    search_texts = {c.conveyor: f"{c.name} {sites.get(c.site, '')}".casefold() for c in every}
    labels = _labelled(every, sites)
    called: dict[UUID | str, list[ConveyorNow]] = {}
    for one in every:
        ways: set[UUID | str] = {one.conveyor, one.name, labels[one.conveyor]}
        for way in ways:
            called.setdefault(way, []).append(one)
    new = Named(every, labels, search_texts, called)
    _NAMED[id(every)] = (sites, new)
    while len(_NAMED) > _MOST_NAMED:
        with suppress(KeyError):  # another thread let it go
            _NAMED.popitem(last=False)
    return new


def _labelled(every: Sequence[ConveyorNow], sites: Mapping[UUID, str]) -> dict[UUID, str]:
    doubled = {n for n, times in Counter(c.name for c in every).items() if times > 1}
    return unmistakable(
        [
            (c.conveyor, f"{sites.get(c.site, '')}: {c.name}" if c.name in doubled else c.name)
            for c in every
        ]
    )


def unmistakable(named: Sequence[tuple[_Id, str]]) -> dict[_Id, str]:
    """Names by identity; those that several have get a part of the identity behind them."""
    times = Counter(name for _, name in named)
    return {id_: f"{name} ({str(id_)[:8]})" if times[name] > 1 else name for id_, name in named}


def _meters(
    conveyors: Mapping[UUID, ConveyorNow],
    readings: Sequence[Stored],
    today: date,
    labels: Mapping[UUID, str],
    left_out: list[str],
) -> dict[UUID, dict[Measure, Meter]]:
    """Meters of every conveyor by what they count; what cannot be used is told."""
    from splicewright.quantities.measure import Measure
    from splicewright.store import Stream
    from splicewright.store.facts.joint_facts import ReadingTaken

    kinds = {
        Kind.RUN_TIME: Measure.TIME,
        Kind.TIME: Measure.TIME,
        Kind.TONNAGE: Measure.MASS,
        Kind.TURNS: Measure.TURNS,
    }
    held: dict[tuple[UUID, Measure], dict[str, list[Stored]]] = {}
    for stored in readings:
        reading = stored.what
        assert isinstance(reading, ReadingTaken)
        if (
            reading.of is Stream.CONVEYOR
            and reading.measure in _METERED
            and reading.about in conveyors
        ):
            key = (reading.about, kinds[reading.measure])
            held.setdefault(key, {}).setdefault(reading.what.casefold(), []).append(stored)
    meters: dict[UUID, dict[Measure, Meter]] = {}
    for (conveyor, measure), by_name in held.items():
        name, rows = max(by_name.items(), key=lambda item: len(item[1]))
        others = [n for n in by_name if n != name]
        if others:
            wording = f"{labels[conveyor]}: {measure} is taken from the meter read most often"
            left_out.append(f'{wording}, "{name}"; left out: {", ".join(others)}')
        try:
            meters.setdefault(conveyor, {})[measure] = _joined(rows, measure, today)
        except InputError as error:
            first = error.faults[0]
            left_out.append(f"{labels[conveyor]}: {first.key}: {first.sentence}")
    return meters


def _joined(rows: Sequence[Stored], measure: Measure, today: date) -> Meter:
    """One checked meter of all readings; of two on one day the later counts."""
    from splicewright.history.meter import Meter, join_meters, read_meter

    spans: list[dict[date, float]] = [{}]
    checked: set[date] = set()
    for stored in sorted(rows, key=lambda s: (s.when, s.seq)):
        reading: ReadingTaken = stored.what  # type: ignore[assignment]
        day, note = stored.when.date(), reading.note.casefold()
        if _NEW in note and spans[-1]:
            spans.append({})
        if _CHECKED in note:
            checked.add(day)
        spans[-1][day] = reading.value
    meters = [Meter(tuple(s), tuple(s.values()), measure) for s in spans]
    whole = meters[0]
    for meter in meters[1:]:
        whole = join_meters(whole, meter)
    return read_meter(list(zip(whole.days, whole.totals, strict=True)), measure, today, checked)


def _chosen(
    use: UseName,
    conveyors: Mapping[UUID, ConveyorNow],
    read: Mapping[UUID, Mapping[Measure, Meter]],
) -> Measure:
    from splicewright.quantities.measure import Measure

    asked = {"time": Measure.TIME, "mass": Measure.MASS, "turns": Measure.TURNS}
    if use:
        return asked[use]
    by_mass = all(Measure.MASS in read.get(c, {}) for c in conveyors)
    return Measure.MASS if by_mass else Measure.TIME


def _turned(
    conveyors: Mapping[UUID, ConveyorNow],
    read: Mapping[UUID, Mapping[Measure, Meter]],
    meters: Mapping[UUID, Meter],
    labels: Mapping[UUID, str],
    assumed: list[str],
) -> dict[UUID, Meter]:
    """Turns from running hours, speed and belt length, where no meter counts them."""
    from splicewright.history.meter import Meter
    from splicewright.quantities.measure import Measure

    by_conveyor = dict(meters)
    worked = []
    for key, conveyor in conveyors.items():
        hours = read.get(key, {}).get(Measure.TIME)
        if key in by_conveyor or hours is None or not conveyor.speed or not conveyor.belt_length:
            continue
        rate = conveyor.speed / conveyor.belt_length
        by_conveyor[key] = Meter(hours.days, tuple(t * rate for t in hours.totals), Measure.TURNS)
        worked.append(labels[key])
    if worked:
        assumed.append(_listed(worked, "turns worked from hours, belt speed and belt length"))
    return by_conveyor


def _listed(names: Sequence[str], remark: str) -> str:
    shown = ", ".join(names[:6])
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return f"{shown}{more}: {remark}"
