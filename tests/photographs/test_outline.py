"""The outline is found whichever way the sheets lie, as long as they keep clear of the edges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from photographs.rendering import Scene, draw
from photographs.scenes import SMALL, measured, truth


def _turned(scene: Scene, turn: float) -> Scene:
    """All sheets turned alike, as by somebody who lays them by a belt that runs askew to them."""
    return replace(scene, sheets=tuple(replace(s, turn=s.turn + turn) for s in scene.sheets))


def _staggered(scene: Scene, by: float) -> Scene:
    """The sheets in front further in than those behind them."""
    moved = (
        replace(s, y=s.y - by * (1 if s.y > 0 else -1)) if s.number in (1, 2) else s
        for s in scene.sheets
    )
    return replace(scene, sheets=tuple(moved))


LAID: dict[str, Callable[[Scene], Scene]] = {
    "turned left": lambda s: _turned(s, 0.12),
    "turned right": lambda s: _turned(s, -0.12),
    "staggered": lambda s: _staggered(s, 0.05),
}


@pytest.mark.parametrize("laid", LAID)
def test_sheets_that_lie_turned_or_staggered_hide_no_edge(laid: str) -> None:
    scene = LAID[laid](draw(5001, size=SMALL, shadows=()))
    known = truth(scene)
    for value in measured(scene, 5001).end.values:
        if value.key in known:
            assert abs(value.value - known[value.key]) < 1.5 * value.half_width, value
