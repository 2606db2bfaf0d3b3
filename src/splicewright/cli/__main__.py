"""`python -m splicewright.cli`."""

from splicewright.cli import main

main()
