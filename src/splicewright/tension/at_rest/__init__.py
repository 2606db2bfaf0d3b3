"""The belt at rest: one model of the stopped belt, from which every standstill figure comes."""

from splicewright.tension.at_rest.bounds import Way
from splicewright.tension.at_rest.lets_go import LetsGo
from splicewright.tension.at_rest.model import AtRest, at_rest
from splicewright.tension.at_rest.points import RestPoint, rest_points
from splicewright.tension.at_rest.run_back import RunBack, run_back
from splicewright.tension.at_rest.sag import read_sag
from splicewright.tension.at_rest.stages import Force, Stage
from splicewright.tension.at_rest.state import Move

__all__ = [
    "AtRest",
    "Force",
    "LetsGo",
    "Move",
    "RestPoint",
    "RunBack",
    "Stage",
    "Way",
    "at_rest",
    "read_sag",
    "rest_points",
    "run_back",
]
