"""The process that shows pages as they stood, while a server brings its register up to date."""

from __future__ import annotations

import sys

from splicewright.web.start import show_as_it_stands

if __name__ == "__main__":
    show_as_it_stands(sys.stdin.readline())
