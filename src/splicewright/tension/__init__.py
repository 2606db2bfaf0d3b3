"""Forces in the belt: running, across the width, standing still; and the energy stored."""

from splicewright.tension.at_rest import (
    AtRest,
    RestPoint,
    RunBack,
    Stage,
    rest_points,
    run_back,
)
from splicewright.tension.cases import ORDINARY, LoadCase, applicable
from splicewright.tension.demand import Demand, Governing, Nameplate, Passing, demand, governing
from splicewright.tension.load_rest import LoadRest, load_rests
from splicewright.tension.partial import WorstLoading, WorstPoint, worst_loading
from splicewright.tension.run_forces import RunForce
from splicewright.tension.running import Point, Running, running
from splicewright.tension.second_look import SecondLook, second_look
from splicewright.tension.study import Study, study
from splicewright.tension.unknowns import Unknowns, swings, unknowns

__all__ = [
    "ORDINARY",
    "AtRest",
    "Demand",
    "Governing",
    "LoadCase",
    "LoadRest",
    "Nameplate",
    "Passing",
    "Point",
    "RestPoint",
    "RunBack",
    "RunForce",
    "Running",
    "SecondLook",
    "Stage",
    "Study",
    "Unknowns",
    "WorstLoading",
    "WorstPoint",
    "applicable",
    "demand",
    "governing",
    "load_rests",
    "rest_points",
    "run_back",
    "running",
    "second_look",
    "study",
    "swings",
    "unknowns",
    "worst_loading",
]
