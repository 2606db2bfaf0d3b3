"""Forces in the belt: running, across the width, standing still; and the energy stored."""

from splicewright.tension.at_rest import AtRest
from splicewright.tension.at_rest.load_rest import LoadRest, load_rests
from splicewright.tension.running.demand import Demand, demand, governing
from splicewright.tension.running.load_cases import ORDINARY, LoadCase, applicable
from splicewright.tension.running.partial_loading import WorstLoading, worst_loading
from splicewright.tension.running.running import Running, running
from splicewright.tension.second_look.second_look import SecondLook, second_look
from splicewright.tension.study import Study, study
from splicewright.tension.unknowns import unknowns

__all__ = [
    "ORDINARY",
    "AtRest",
    "Demand",
    "LoadCase",
    "LoadRest",
    "Running",
    "SecondLook",
    "Study",
    "WorstLoading",
    "applicable",
    "demand",
    "governing",
    "load_rests",
    "running",
    "second_look",
    "study",
    "unknowns",
    "worst_loading",
]
