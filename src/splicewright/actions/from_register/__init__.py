"""From the register's facts to what the forecasts start from: the one place for it.

Only this package knows both. Each module gives what a table of docs/history-files.md would give.
"""

from splicewright.actions.from_register.delays import (
    belt_damage_of_register,
    watches_of_register,
)
from splicewright.actions.from_register.lives import JointsRead, lives_of_register
from splicewright.actions.from_register.matters import matters_of_register
from splicewright.actions.from_register.stock import Shelf, shelf_of_register
from splicewright.actions.from_register.times import past_times_of_register
from splicewright.actions.from_register.use import Looked, UseName, look_into
from splicewright.actions.from_register.wear import WearRead, wear_of_register

__all__ = [
    "JointsRead",
    "Looked",
    "Shelf",
    "UseName",
    "WearRead",
    "belt_damage_of_register",
    "lives_of_register",
    "look_into",
    "matters_of_register",
    "past_times_of_register",
    "shelf_of_register",
    "watches_of_register",
    "wear_of_register",
]
