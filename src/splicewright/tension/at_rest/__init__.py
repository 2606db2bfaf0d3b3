"""The belt at rest: one model of the stopped belt, from which every standstill figure comes."""

from splicewright.tension.at_rest.bounds import Bounds, StrandForces, Way, side_name
from splicewright.tension.at_rest.doubts import Doubt
from splicewright.tension.at_rest.lets_go import LetsGo
from splicewright.tension.at_rest.model import AtRest, Ratings, at_rest
from splicewright.tension.at_rest.movement import Movement
from splicewright.tension.at_rest.points import RestPoint, rest_points
from splicewright.tension.at_rest.run_back import RunBack, run_back
from splicewright.tension.at_rest.sag import doubt_of_sag_tension, read_sag, tension_from_sag
from splicewright.tension.at_rest.stages import Force, Stage
from splicewright.tension.at_rest.state import Chains, Hoists, Move, Place, State, after, states
from splicewright.tension.at_rest.summary import Summary

__all__ = [
    "AtRest",
    "Bounds",
    "Chains",
    "Doubt",
    "Force",
    "Hoists",
    "LetsGo",
    "Move",
    "Movement",
    "Place",
    "Ratings",
    "RestPoint",
    "RunBack",
    "Stage",
    "State",
    "StrandForces",
    "Summary",
    "Way",
    "after",
    "at_rest",
    "doubt_of_sag_tension",
    "read_sag",
    "rest_points",
    "run_back",
    "side_name",
    "states",
    "tension_from_sag",
]
