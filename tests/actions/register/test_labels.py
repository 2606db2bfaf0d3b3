"""What conveyors are called is kept while nothing changes, and never longer."""

from __future__ import annotations

from pathlib import Path
from uuid import UUID, uuid4

import pytest
from sqlalchemy import event

from actions.recorded import NOW, Recorded
from splicewright.actions.inspection_interval.choose import learn_delay_recorded
from splicewright.actions.register.use import conveyor_called, conveyor_labels, look_into
from splicewright.actions.wear.forecast import forecast_recorded_wear
from splicewright.errors import InputError
from splicewright.quantities import Kind
from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded


def test_labels_are_of_the_register_as_it_is(tmp_path: Path) -> None:
    made = Recorded(tmp_path)
    first = made.conveyor("K1")
    name = made.register.sites()[0].name
    for _ in range(2):
        assert conveyor_labels(made.register)[first] == "K1"
    site, second = uuid4(), uuid4()
    made.say(3, SiteAdded(site, "Upper Karst"), ConveyorRecorded(second, site, "K1", None, 9.0))
    labels = conveyor_labels(made.register)
    assert (labels[first], labels[second]) == (f"{name}: K1", "Upper Karst: K1")
    made.say(4, SiteAdded(site, "Lower Karst"))  # the conveyors are as they were
    assert conveyor_labels(made.register)[second] == "Lower Karst: K1"


def test_one_is_found_by_whatever_it_is_called(tmp_path: Path) -> None:
    """Each way against a look at every one; names may be doubled, or those of another's identity.

    Looked up, not gone through: the comparisons of ten thousand took 3 ms of every page of one.
    """
    made = Recorded(tmp_path)
    first, upper = made.conveyor("K1"), uuid4()
    third, odd = made.conveyor("K2"), uuid4()
    made.say(3, SiteAdded(upper, "Upper Karst"))
    for name, one in (("K1", uuid4()), (str(third), odd), ("K3", uuid4())):
        made.say(3, ConveyorRecorded(one, upper, name, None, 9.0))
    every, labels = made.register.conveyors(), conveyor_labels(made.register)
    ids = [c.conveyor for c in every]
    ways: list[UUID | str] = [
        *ids,
        *map(str, ids),
        *(i.hex.upper() for i in ids),
        *(c.name for c in every),
    ]
    ways += [*labels.values(), "K9", uuid4(), str(uuid4()), "k1"]
    for way in ways:
        same = [
            c.conveyor
            for c in every
            if way in (c.conveyor, str(c.conveyor), c.conveyor.hex.upper(), c.name)
            or way == labels[c.conveyor]
        ]
        if len(same) == 1:
            assert conveyor_called(made.register, way) == same[0]
            assert [*look_into(made.register, NOW, conveyor=way).conveyors] == same
        else:
            with pytest.raises(InputError, match="is the name of several" if same else "not known"):
                conveyor_called(made.register, way)
    assert first in ids and odd in ids


def test_what_is_read_of_one_conveyor_is_of_one_moment(tmp_path: Path) -> None:
    """Eight transactions each, and with PostgreSQL a look at the connection before every one."""
    made = Recorded(tmp_path)
    conveyor = made.conveyor("K1")
    made.joint(conveyor, "J1", 5, looks=((40, False), (80, True)))
    for when, typed in ((10, "9 mm"), (60, "8 mm"), (90, "7 mm")):
        made.reading(when, conveyor, "cover", Kind.LENGTH, typed)
    begun: list[object] = []
    event.listen(made.register._engine, "checkout", lambda *a: begun.append(a), named=False)
    assert forecast_recorded_wear(made.register, NOW, conveyor=conveyor, limit="3 mm").places
    assert learn_delay_recorded(made.register, NOW, conveyor=conveyor, found=0.9).learnt
    assert learn_delay_recorded(made.register, NOW, conveyor=conveyor, found=0.9, belts=True)
    assert len(begun) == 3
