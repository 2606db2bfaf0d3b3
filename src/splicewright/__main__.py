"""`python -m splicewright`."""

from splicewright.cli import run

run()
