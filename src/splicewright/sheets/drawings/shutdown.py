"""The shutdown as bars over time: paper and screen, black and white."""

from __future__ import annotations

from splicewright.history.shutdown.study import Bar, ShutdownStudy
from splicewright.quantities import percent, show_time
from splicewright.sheets.canvas.chart import GRID, INVENTED, key
from splicewright.sheets.canvas.expansion import text_width
from splicewright.sheets.canvas.scene import (
    CUT,
    OUTLINE,
    THIN,
    Group,
    Item,
    Line,
    Pen,
    Polyline,
    Scene,
    Text,
)

_ACROSS, _ROW, _SIZE = 174.0, 5.6, 2.6
_STRIP, _STRIP_ROW, _LARGE = 86.0, 10.6, 3.7
_LATE = Pen("end in nine runs of ten", 0.4, (1.0, 0.8))
_HOLDS = Pen("often holds up the finish", 2.6)
_OTHER = Pen("other task", 2.6, grey=0.75)
_STEPS = (900.0, 1800.0, 3600.0, 7200.0, 14400.0, 21600.0, 43200.0, 86400.0, 172800.0, 604800.0)
_OFTEN = 0.5
_LONGEST = 44
_COLUMNS = 48
_WHOLE = slice(None)
SHEET_ROWS = 24
"""Rows that fit a sheet of paper under its head."""


def shutdown_bars(study: ShutdownStudy, part: slice = _WHOLE) -> Scene:
    """Draw each task as a bar at its likely time, with the end that nine runs in ten keep.

    Parameters
    ----------
    part : the rows to draw, all of them on one scale, so that sheets can be laid side by side

    Returns
    -------
    Scene in millimetres of paper, 174 mm across, a row for each task, its name before it
    """
    bars, window = study.bars, study.shutdown.window
    names = [_called(bar) for bar in bars]
    wide = _ACROSS - max(text_width(name, _SIZE) for name in names) - 2.0
    right = 1.02 * max([window, *(b.late for b in bars), *(b.end for b in bars)])
    bars, names = bars[part], names[part]
    low = -_ROW * len(bars)
    most = max(3, int(wide // 14))
    step = next((s for s in _STEPS if right / s <= most), _STEPS[-1])
    items: list[Item] = []
    for tick in range(int(right / step) + 1):
        x = wide * tick * step / right
        items.append(Line((x, 0.0), (x, low), GRID))
        text = show_time(tick * step) if tick else "0"
        items.append(Text((x, 1.5), text, _SIZE, "middle"))
    items += [Line((0.0, 0.0), (wide, 0.0), OUTLINE), Line((0.0, low), (wide, low), THIN)]
    for row, (bar, name) in enumerate(zip(bars, names, strict=True)):
        y = -_ROW * (row + 0.5)
        items.append(Text((-2.0, y), name, _SIZE, "end", "middle"))
        items += _row(bar, y, wide / right)
    end = wide * window / right
    items.append(Line((end, 0.0), (end, low - 1.0), CUT))
    items.append(Text((end, 5.5), f"window {show_time(window)}", 2.8, "end", bold=True))
    items += key([(p.name, p) for p in (_HOLDS, _OTHER, _LATE)], (0.0, low - 6.0), wide)
    text = (
        f"Bars: a plan at likely times, {study.rule}. Finish within the window in "
        f"{percent(study.chance.share)} of {study.shutdown.runs} simulated runs."
    )
    text += INVENTED if study.shutdown.invented else ""
    return Scene((Group("shutdown", tuple(items)),), f"Shutdown {study.shutdown.name}", text)


def shutdown_strip(study: ShutdownStudy) -> Scene:
    """Draw the same for a phone: each task's name over its bar, large enough to read there.

    Returns
    -------
    Scene in millimetres, 86 mm across
    """
    bars, window = study.bars, study.shutdown.window
    right = 1.02 * max([window, *(b.late for b in bars), *(b.end for b in bars)])
    low = -_STRIP_ROW * len(bars)
    step = next((s for s in _STEPS if right / s <= 5), _STEPS[-1])
    items: list[Item] = []
    for tick in range(int(right / step) + 1):
        x = _STRIP * tick * step / right
        items.append(Line((x, 0.0), (x, low), GRID))
        text = show_time(tick * step) if tick else "0"
        items.append(Text((x, 1.5), text, _LARGE, "middle"))
    for row, bar in enumerate(bars):
        top = -_STRIP_ROW * row
        name = bar.task if len(bar.task) <= _LONGEST else bar.task[: _LONGEST - 1] + "…"
        items.append(Text((0.0, top - 3.0), name, _LARGE, "start", "middle", masked=True))
        items += _row(bar, top - 7.6, _STRIP / right)
    end = _STRIP * window / right
    items += [Line((0.0, 0.0), (_STRIP, 0.0), OUTLINE), Line((end, 0.0), (end, low - 1.0), CUT)]
    items.append(Text((end, 6.0), f"window {show_time(window)}", _LARGE, "end", bold=True))
    text = f"Finish within the window in {percent(study.chance.share)} of the simulated runs."
    return Scene((Group("shutdown", tuple(items)),), f"Shutdown {study.shutdown.name}", text)


def _called(bar: Bar) -> str:
    """The task and whom it needs, no longer than its column."""
    needs = ", ".join(
        "1 person" if (n, who) == (1, "people") else f"{n} {who}" for who, n in bar.needs.items()
    )
    behind = f" ({needs})" if needs else ""
    room = max(_LONGEST - len(behind), 12)
    task = bar.task if len(bar.task) <= room else bar.task[: room - 1].rstrip() + "…"
    return task + behind


def _row(bar: Bar, y: float, scale: float) -> list[Item]:
    """A bar and its late end."""
    left, right, late = bar.start * scale, bar.end * scale, bar.late * scale
    low, high = y - 1.5, y + 1.5
    corners = ((left, low), (right, low), (right, high), (left, high))
    shade = 0.0 if bar.critical >= _OFTEN else 0.85
    items: list[Item] = [Polyline(corners, OUTLINE, True, shade)]
    if late > right:
        items += [
            Line((right, y), (late, y), _LATE),
            Line((late, y - 1.0), (late, y + 1.0), OUTLINE),
        ]
    return items


def shutdown_text(study: ShutdownStudy) -> list[str]:
    """The same as lines of text: # often holds up the finish, = other, - until nine in ten."""
    window = study.shutdown.window
    right = max([window, *(b.late for b in study.bars), *(b.end for b in study.bars)])
    wide = max(len(b.task) for b in study.bars)
    mark = min(round(window / right * _COLUMNS), _COLUMNS - 1)
    lines = []
    for bar in study.bars:
        row = [" "] * _COLUMNS
        first, last, late = (
            min(round(t / right * _COLUMNS), _COLUMNS) for t in (bar.start, bar.end, bar.late)
        )
        sign = "#" if bar.critical >= _OFTEN else "="
        for k in range(first, max(last, first + 1)):
            row[min(k, _COLUMNS - 1)] = sign
        for k in range(max(last, first + 1), late):
            row[k] = "-"
        if row[mark] in " -":
            row[mark] = "|"
        times = f"{show_time(bar.start)} to {show_time(bar.end)}"
        lines.append(f"{bar.task:<{wide}}  {''.join(row)}  {times}")
    return lines
