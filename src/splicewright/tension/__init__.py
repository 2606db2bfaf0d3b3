"""Forces in the belt: running, across the width, standing still; and the energy stored."""

from splicewright.tension.demand import CASES, Demand, Nameplate, Passing, demand
from splicewright.tension.running import LoadCase, Point, RunForce, Running, running
from splicewright.tension.standing import Standing, standing

__all__ = [
    "CASES",
    "Demand",
    "LoadCase",
    "Nameplate",
    "Passing",
    "Point",
    "RunForce",
    "Running",
    "Standing",
    "demand",
    "running",
    "standing",
]
