"""`python -m splicewright`."""

from splicewright.cli import main

main(prog_name="splicewright")
