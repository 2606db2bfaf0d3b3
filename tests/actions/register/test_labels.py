"""What conveyors are called is kept while nothing changes, and never longer."""

from __future__ import annotations

from pathlib import Path
from uuid import uuid4

from actions.recorded import Recorded
from splicewright.actions.register.use import conveyor_labels
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
