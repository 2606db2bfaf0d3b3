"""`python -m splicewright.cli`."""

from splicewright.cli import run

run()
