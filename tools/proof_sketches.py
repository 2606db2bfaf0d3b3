"""Sketches of the verification book: what a case is about, as small line drawings (SVG)."""

from __future__ import annotations

import math

_HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 240 90" width="240" height="90" '
    'font-family="Splicewright Sans, sans-serif" font-size="9" fill="none" stroke="#111" '
    'stroke-width="1.1">'
)


def _said(x: float, y: float, text: str, anchor: str = "middle") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="#111" stroke="none">{text}</text>'
    )


def _arrow(x1: float, y1: float, x2: float, y2: float) -> str:
    """A line with a head at its second end."""
    turn, head = math.atan2(y2 - y1, x2 - x1), ""
    for way in (2.7, -2.7):
        x, y = x2 + 6 * math.cos(turn + way), y2 + 6 * math.sin(turn + way)
        head += f"M{x2:g} {y2:g}L{x:.1f} {y:.1f}"
    return f'<path d="M{x1:g} {y1:g}L{x2:g} {y2:g}{head}"/>'


def _circle(x: float, y: float, r: float) -> str:
    return f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}"/>'


def _path(d: str, more: str = "") -> str:
    return f'<path d="{d}" {more}/>'


_FINE = 'stroke-width="0.6"'
_LOOP = _path("M40 30H200M40 60H200") + _circle(40, 45, 15) + _circle(200, 45, 15)
_DRAWN = {
    "level": _LOOP
    + "".join(_circle(x, 34, 3) for x in range(65, 190, 18))
    + _arrow(95, 18, 145, 18)
    + _said(120, 12, "travel")
    + _said(200, 82, "drive: pull F")
    + _said(40, 82, "tail"),
    "incline": _path("M30 75L205 28M36 87L208 44")
    + _circle(32, 80, 7)
    + _circle(207, 36, 8)
    + _path("M30 89H225", _FINE)
    + _arrow(225, 89, 225, 34)
    + _said(221, 62, "H", "end")
    + _arrow(95, 46, 135, 35)
    + _said(112, 30, "T1, loaded side")
    + _said(120, 82, "T2, return"),
    "wrap": _circle(110, 48, 26)
    + _path("M110 22H215M110 74H215")
    + _arrow(180, 22, 222, 22)
    + _arrow(180, 74, 206, 74)
    + _said(226, 17, "T1", "end")
    + _said(226, 84, "T2", "end")
    + _said(110, 46, "wrap φ")
    + _said(110, 58, "friction μ"),
    "two-pulleys": _circle(50, 46, 28)
    + _circle(190, 50, 16)
    + _path("M54 18L191 34M54 74L191 66")
    + _path("M50 46L190 50", _FINE + ' stroke-dasharray="4 2"')
    + _said(120, 46, "C")
    + _said(50, 88, "D")
    + _said(190, 80, "d"),
    "roll": "".join(_circle(120, 45, r) for r in (10, 16, 22, 28, 34))
    + _path("M120 79H215")
    + _said(205, 73, "thickness t")
    + _said(60, 20, "outer D")
    + _said(120, 48, "core"),
    "take-up": _path("M20 25H70V50M130 50V25H220")
    + _circle(100, 50, 30)
    + _arrow(100, 80, 100, 89)
    + _said(125, 88, "weight", "start")
    + _arrow(175, 50, 175, 78)
    + _arrow(175, 78, 175, 50)
    + _said(181, 67, "travel", "start"),
    "stopped": _path("M20 78L215 22")
    + _path("M95 48l8 16M103 46l8 16")
    + _path("M131 38l8 16M139 36l8 16")
    + _arrow(97, 56, 62, 66)
    + _arrow(141, 43, 176, 33)
    + _said(60, 54, "hangs below")
    + _said(182, 52, "pulls from above")
    + _said(120, 84, "clamps at the place of work"),
    "catch": _path("M20 45H95")
    + '<rect x="95" y="35" width="18" height="20"/>'
    + _arrow(113, 45, 142, 45)
    + _path("M150 45l4-7 8 14 8-14 8 14 8-14 4 7H215M215 30V60")
    + _said(55, 38, "strand let go")
    + _said(104, 68, "clamp m")
    + _said(170, 68, "hoist, chain k")
    + _said(131, 34, "gap"),
    "trough": _path("M45 25L90 62H150L195 25")
    + _path("M58 35Q120 -8 182 35", _FINE)
    + _said(120, 45, "section S")
    + _said(120, 78, "middle roll")
    + _said(205, 42, "λ"),
    "transition": _path("M25 45H75M75 45L190 22M75 45L190 62M75 45L190 70M190 22L190 62")
    + _circle(25, 45, 12)
    + _arrow(40, 84, 188, 84)
    + _arrow(188, 84, 40, 84)
    + _said(114, 80, "transition length L")
    + _said(205, 26, "edge", "start")
    + _said(205, 68, "middle", "start"),
    "curve": _path("M20 75H70Q130 75 165 45L205 12")
    + _arrow(100, 8, 112, 66)
    + _said(92, 20, "R", "end")
    + _arrow(128, 62, 128, 84)
    + _said(134, 82, "weight q", "start"),
    "strip": '<rect x="60" y="15" width="160" height="60"/>'
    + "".join(
        f'<rect x="46" y="{y}" width="24" height="9"/>' + _arrow(46, y + 4.5, 26, y + 4.5)
        for y in (17, 29, 53, 65)
    )
    + _path("M60 41H72M60 50H72", _FINE)
    + _said(150, 48, "belt end: E along, G in shear")
    + _said(40, 88, "plates; one lost"),
    "pin": _path("M120 8V84", 'stroke-width="2.6"')
    + "".join(f'<rect x="84" y="{y}" width="34" height="8"/>' for y in (12, 32, 52, 72))
    + "".join(f'<rect x="122" y="{y}" width="34" height="8"/>' for y in (22, 42, 62))
    + _arrow(80, 45, 40, 45)
    + _arrow(160, 45, 200, 45)
    + _said(52, 36, "leading")
    + _said(192, 36, "trailing")
    + _said(128, 88, "pin", "start"),
    "bolt": '<rect x="50" y="28" width="120" height="8"/>'
    '<rect x="20" y="38" width="200" height="14"/>'
    '<rect x="50" y="54" width="120" height="8"/>'
    + "".join(_path(f"M{x} 20V70M{x - 6} 20H{x + 6}M{x - 5} 70H{x + 5}") for x in (85, 135))
    + _said(200, 48, "belt")
    + _said(62, 23, "plate")
    + _said(110, 84, "rows of bolts"),
    "square": _path("M40 12V80M190 12V80")
    + _path("M40 26L190 20")
    + _path("M40 66L190 20M190 66L40 26", _FINE)
    + _path("M115 12V84", _FINE + ' stroke-dasharray="4 2"')
    + _said(115, 10, "cut")
    + _said(70, 46, "d1")
    + _said(160, 46, "d2"),
    "step": _path("M20 25H110V37H140V49H170V61H225M20 61H104V49H104M104 49V49")
    + _path("M140 37H225M170 49H225M20 37H108M20 49H138", _FINE)
    + _arrow(110, 76, 140, 76)
    + _arrow(140, 76, 110, 76)
    + _said(125, 88, "step length"),
    "weibull": _path("M30 10V78H215")
    + _path("M32 77C90 74 110 20 205 14")
    + "".join(_circle(x, y, 2) for x, y in ((60, 74), (85, 62), (102, 50), (120, 38), (150, 24)))
    + _said(205, 88, "age", "end")
    + _said(36, 16, "share failed", "start"),
    "wear": _path("M30 10V78H215")
    + _path("M32 20L205 66")
    + _path("M30 60H215", _FINE + ' stroke-dasharray="4 2"')
    + "".join(_circle(x, y, 2) for x, y in ((36, 22), (60, 26), (84, 36), (110, 40), (136, 47)))
    + _said(205, 88, "use", "end")
    + _said(205, 56, "limit", "end"),
    "spread": _path("M30 10V78H215")
    + _path("M45 78L110 24L190 78")
    + _path("M70 78V57M160 78V58", _FINE + ' stroke-dasharray="4 2"')
    + _said(115, 88, "what is not known, from low to high")
    + _said(36, 16, "how likely", "start"),
    "sizes": "".join(
        f'<rect x="{x}" y="{y}" width="22" height="{78 - y}"/>'
        for x, y in ((45, 58), (80, 46), (115, 26), (150, 38), (185, 62))
    )
    + _path("M30 50H215", _FINE + ' stroke-dasharray="4 2"')
    + _path("M30 78H215")
    + _said(126, 18, "chosen")
    + _said(34, 46, "asked", "start")
    + _said(215, 88, "fasteners of the range, smallest reserve", "end"),
    "joints": _LOOP
    + "".join(_path(f"M{x} 25V35") for x in (70, 130, 175))
    + "".join(_path(f"M{x} 55V65") for x in (95, 150))
    + _circle(130, 30, 9)
    + _circle(95, 60, 9)
    + _said(130, 15, "renew")
    + _said(95, 82, "renew")
    + _said(175, 18, "leave"),
    "inspections": _path("M20 55H220")
    + "".join(_path(f"M{x} 45V65") for x in (40, 100, 160, 215))
    + _path("M118 55L150 32V55", 'stroke-width="1.6"')
    + _said(118, 75, "shows")
    + _said(150, 27, "fails")
    + _said(100, 40, "inspection")
    + _said(70, 50, "interval T"),
    "stock": "".join(
        f'<rect x="{x}" y="{y}" width="16" height="{78 - y}"/>'
        for x, y in ((40, 66), (60, 44), (80, 26), (100, 30), (120, 46), (140, 60), (160, 70))
    )
    + _path("M30 78H215")
    + _path("M138 10V78", _FINE + ' stroke-dasharray="4 2"')
    + _said(142, 16, "stock held", "start")
    + _said(215, 88, "pieces used until the next delivery", "end"),
    "network": "".join(_circle(x, y, 8) for x, y in ((35, 45), (110, 20), (110, 70), (205, 45)))
    + _arrow(43, 42, 102, 22)
    + _arrow(43, 48, 102, 68)
    + _arrow(110, 28, 110, 61)
    + _arrow(118, 22, 197, 42)
    + _arrow(118, 68, 197, 48)
    + _said(35, 66, "start")
    + _said(205, 66, "finish")
    + _said(160, 26, "task"),
    "rule": '<rect x="30" y="20" width="180" height="34"/>'
    + "".join(_path(f"M{30 + 9 * n} 20V{36 if n % 5 == 0 else 28}") for n in range(21))
    + _arrow(60, 70, 30, 70)
    + _arrow(180, 70, 210, 70)
    + _said(120, 73, "as printed = as measured")
    + _said(48, 48, "0")
    + _said(186, 48, "100 mm"),
    "photograph": _path("M25 70L60 20H190L225 70Z")
    + "".join(f'<rect x="{x}" y="{y}" width="20" height="14"/>' for x, y in ((70, 26), (160, 26)))
    + "".join(f'<rect x="{x}" y="{y}" width="24" height="16"/>' for x, y in ((52, 48), (174, 48)))
    + _path("M64 64Q125 58 186 64", 'stroke-width="1.8"')
    + _said(125, 54, "belt end")
    + _said(125, 36, "printed sheets")
    + _path("M112 86h26v-8h-6l-3-4h-8l-3 4h-6z")
    + _said(146, 86, "camera", "start"),
}
SKETCHES = {name: f"{_HEAD}{inside}</svg>" for name, inside in _DRAWN.items()}
"""Name -> SVG, 240 by 90."""
