"""Size the stock: from items, and the joints that use them, to what to hold and what to order."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date, datetime

    from splicewright.actions.register.use import UseName
    from splicewright.actions.stock.from_register import Shelf
    from splicewright.history.stock.levels import Shortage
    from splicewright.history.stock.study import Item, ItemAdvice
    from splicewright.job import JointPlan
    from splicewright.store import Register


@dataclass(frozen=True, slots=True)
class StockSized:
    """What to hold.

    name : of the site or table
    service : chance that the next one to need an item finds it [0..1]
    items : advised
    notes : what was assumed or left out on the way
    invented : the figures are
    missing : parts of a job the store does not cover; None when no job was asked about
    today : day on which an order would be made; None where that was not asked
    """

    name: str
    service: float
    items: tuple[ItemAdvice, ...]
    notes: tuple[str, ...] = ()
    invented: bool = False
    missing: tuple[Shortage, ...] | None = None
    today: date | None = None


def size_stock(
    items: Readable, service: float, *, lives: Readable | None = None, use_a_day: str = ""
) -> StockSized:
    """Advise the stock of every item in a table.

    service : chance that the next one to need an item finds it [0..1]
    lives : CSV file of the joints that use items
    use_a_day : how fast the joints age, with unit
    Raises InputError: anything wrong in the files or the values.
    """
    from splicewright.history.life.file import load_lives
    from splicewright.history.stock.file import load_items
    from splicewright.history.stock.study import study_stock
    from splicewright.quantities.measure import read_use

    kept, invented = load_items(items)
    records = load_lives(lives)[0] if lives is not None else ()
    rate = 0.0
    if use_a_day:
        rate, measure = read_use(use_a_day, "use a day")
        if records and measure is not records[0].life.measure:
            wording = f'"{use_a_day}" counts {measure}, the lives {records[0].life.measure}'
            raise InputError(Fault("use a day", f"{wording}; give both in one"))
    advised = study_stock(kept, service, records=records, use_per_day=rate)
    return StockSized(items.stem, service, advised, invented=invented)


def size_recorded_stock(
    register: Register,
    now: datetime,
    service: float,
    *,
    items: Readable | None = None,
    lead: str = "",
    conveyor: str = "",
    use: UseName = "",
) -> StockSized:
    """Advise the stock of a site by what its register holds.

    What lies on the shelf comes from stock movements. Items of the table keep what the table says
    of them; items that are only in the register are taken out as often as they were so far.

    service : chance that the next one to need an item finds it [0..1]
    items : CSV file with lead times, and whether failing joints use the item
    lead : lead time of items the table does not name, with unit; empty leaves them out
    conveyor : the only one whose joints count; empty takes all
    Raises InputError: nothing to size, or anything wrong in the table or the values.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into
    from splicewright.actions.stock.from_register import shelf_of_register
    from splicewright.history.fleet.joints import chances_ahead
    from splicewright.history.stock.file import load_items
    from splicewright.history.stock.study import study_stock

    looked = look_into(register, now, conveyor=conveyor, use=use)
    shelf = shelf_of_register(looked)
    listed = load_items(items)[0] if items is not None else ()
    notes: list[str] = []
    kept = [_shelved(item, shelf, notes) for item in listed]
    waits = read(lead, Kind.TIME, "lead time") if lead else math.nan
    named = {item.name.casefold() for item in listed}
    kept += _from_shelf({k: s for k, s in shelf.items() if k not in named}, waits, notes)
    if not kept:
        wording = "none can be sized: give a table of items, or a lead time for those on file"
        raise InputError(Fault("items", wording + (f" ({notes[0]})" if notes else "")))
    if not any(item.joints for item in kept):
        return StockSized(
            looked.name,
            service,
            study_stock(kept, service),
            (*notes, *looked.left_out),
            looked.invented,
        )
    joints = lives_of_register(looked, kinds=False).joints
    advised = study_stock(kept, service, ahead=chances_ahead(joints))
    remarks = (*notes, *looked.assumed, *looked.left_out)
    return StockSized(looked.name, service, advised, remarks, looked.invented)


def kit_against_stock(
    plan: JointPlan, register: Register, now: datetime, conveyor: str = ""
) -> tuple[Shortage, ...]:
    """Parts of a planned job that the store of its site does not cover, spares included.

    plan : whose parts list is meant; items and parts are matched by name
    conveyor : whose site's store; empty takes the plan's own conveyor
    Raises InputError: the register does not know the conveyor.
    """
    from splicewright.actions.register.use import look_into
    from splicewright.actions.stock.from_register import shelf_of_register
    from splicewright.actions.stock.movements import item_of
    from splicewright.history.stock.levels import what_is_missing

    looked = look_into(register, now, conveyor=conveyor or plan.conveyor.name)
    shelf = shelf_of_register(looked)
    needs: dict[str, float] = {}
    there: dict[str, float] = {}
    for part in plan.parts:
        # The store's name for a part, or its plain name where the store has one item of it.
        whole = item_of(part)
        name = whole if whole.casefold() in shelf else part.name
        needs[name] = needs.get(name, 0.0) + part.total
        if name.casefold() in shelf:
            there[name] = max(0.0, shelf[name.casefold()].there)
    return what_is_missing(needs, there)


def _shelved(item: Item, shelf: Mapping[str, Shelf], notes: list[str]) -> Item:
    """The item with what the register says lies there."""
    stock = shelf.get(item.name.casefold())
    if stock is None:
        notes.append(f"{item.name}: no movement is on file; what the table says is on the shelf")
        return item
    if stock.there < 0:
        notes.append(f"{stock.item}: more went out than came in; counted as none on the shelf")
    return replace(item, on_shelf=max(0, math.floor(stock.there + 1e-9)))


def _from_shelf(shelf: Mapping[str, Shelf], lead: float, notes: list[str]) -> Sequence[Item]:
    from splicewright.history.stock.study import Item

    items = []
    for one in shelf.values():
        if math.isnan(lead):
            notes.append(f"{one.item}: its lead time is not known; left out")
        elif math.isnan(one.per_year):
            notes.append(f"{one.item}: on file for less than a month; left out")
        else:
            notes.append(f"{one.item}: taken out {one.outs} times, {one.per_year:.2g} a year")
            there = max(0, math.floor(one.there + 1e-9))
            items.append(
                Item(one.item, one.per_year, lead, one.each, on_shelf=there, watched=one.watched)
            )
    return items
