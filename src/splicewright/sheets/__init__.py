"""Sheets: the drawings and documents that a crew holds in hand. Lengths here are millimetres.

    from splicewright.sheets import pack

The names below load their module when they are first used: a drawing or PDF library is imported
only when something is drawn with it.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.sheets.card_sheet import card, card_pdf
    from splicewright.sheets.cut_sheet import corner, marking, squaring
    from splicewright.sheets.files import pack
    from splicewright.sheets.joint_sheet import end_drawing, joint_drawing
    from splicewright.sheets.loads_sheet import loads_diagram
    from splicewright.sheets.loop_sheet import side_view
    from splicewright.sheets.page import A4, LETTER, Paper
    from splicewright.sheets.template_sheet import template
    from splicewright.sheets.tension_sheet import tension_diagram

_MODULES = {
    "A4": "page",
    "LETTER": "page",
    "Paper": "page",
    "card": "card_sheet",
    "card_pdf": "card_sheet",
    "corner": "cut_sheet",
    "end_drawing": "joint_sheet",
    "joint_drawing": "joint_sheet",
    "loads_diagram": "loads_sheet",
    "marking": "cut_sheet",
    "pack": "files",
    "side_view": "loop_sheet",
    "squaring": "cut_sheet",
    "template": "template_sheet",
    "tension_diagram": "tension_sheet",
}

__all__ = [
    "A4",
    "LETTER",
    "Paper",
    "card",
    "card_pdf",
    "corner",
    "end_drawing",
    "joint_drawing",
    "loads_diagram",
    "marking",
    "pack",
    "side_view",
    "squaring",
    "template",
    "tension_diagram",
]


def __getattr__(name: str) -> object:
    """Load the module of a public name on first use."""
    if name not in _MODULES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(f"{__name__}.{_MODULES[name]}"), name)
