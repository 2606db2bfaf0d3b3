"""The numbered drawings of the glossary: conveyor, joint, belt end, place of work, parts and tools.

`make docs` writes them to docs/drawings. Numbers are those of docs/glossary.md. Schematic.
"""

from __future__ import annotations

_FINE = 'stroke-width="0.8"'
_DASH = _FINE + ' stroke-dasharray="5 3"'


def _svg(width: int, height: int, title: str, inside: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'font-family="sans-serif" fill="none" stroke="#111" stroke-width="1.6">'
        f'<title>{title}</title><rect width="{width}" height="{height}" fill="#fff" stroke="none"/>'
        f"{inside}</svg>\n"
    )


def _number(n: int, x: float, y: float, to: tuple[float, float]) -> str:
    """A numbered ball, and a line to what it names."""
    return (
        f'<path d="M{x:g} {y:g}L{to[0]:g} {to[1]:g}" {_FINE}/>'
        f'<circle cx="{x:g}" cy="{y:g}" r="10" fill="#111" stroke="none"/>'
        f'<text x="{x:g}" y="{y + 4.2:g}" text-anchor="middle" font-size="12" fill="#fff" '
        f'stroke="none" font-weight="bold">{n}</text>'
    )


def _conveyor() -> str:
    rolls = "".join(f'<circle cx="{x}" cy="{y}" r="4"/>' for x, y in
                    [(x, 118 - (x - 130) * 0.172) for x in range(130, 560, 48)])  # fmt: skip
    back = "".join(f'<circle cx="{x}" cy="{y}" r="3.4"/>' for x, y in
                   [(x, 166 - (x - 130) * 0.172) for x in (150, 230, 470, 540)])  # fmt: skip
    drawn = (
        '<circle cx="70" cy="145" r="26"/><circle cx="630" cy="55" r="28"/>'
        '<circle cx="602" cy="96" r="12"/><path d="M66 119L627 27"/>'
        '<path d="M75 170L296 138M388 122L597 85"/>'
        '<circle cx="305" cy="150" r="11"/><circle cx="380" cy="137" r="11"/>'
        '<path d="M314 156V205M371 148V205"/><circle cx="342" cy="205" r="29"/>'
        '<rect x="318" y="240" width="48" height="26"/><path d="M342 234V240"/>'
        '<path d="M112 60L150 60 142 96 120 100Z"/><path d="M118 104L215 88" stroke-width="3"/>'
        '<path d="M655 90l14 -12" stroke-width="3"/><path d="M20 270H690" ' + _FINE + "/>"
    )
    numbers = [
        (1, 30, 190, (52, 162)), (2, 668, 28, (652, 40)), (3, 640, 120, (612, 102)),
        (4, 262, 172, (297, 153)), (5, 290, 222, (314, 212)), (6, 400, 262, (366, 254)),
        (7, 420, 32, (400, 62)), (8, 480, 130, (450, 112)), (9, 340, 48, (322, 80)),
        (10, 205, 190, (230, 152)), (11, 84, 48, (112, 66)), (12, 226, 62, (200, 88)),
        (13, 684, 100, (664, 84)), (14, 98, 96, (92, 114)),
    ]  # fmt: skip
    return _svg(720, 290, "A conveyor from the side, parts numbered as in the glossary",
                drawn + rolls + back + "".join(_number(*n) for n in numbers))  # fmt: skip


def _joint() -> str:
    def end(way: int) -> str:
        """Belt, plates and bolts of one end; way 1 to the right of the pin."""

        def x(d: float) -> float:
            return 360 + way * d

        belt = f'<path d="M{x(70)} 92H{x(340)}M{x(70)} 128H{x(340)}M{x(70)} 92V128"/>'
        ply = "".join(f'<path d="M{x(72)} {y}H{x(340)}" {_FINE}/>' for y in (104, 110, 116))
        top = (
            f'<path d="M{x(0)} 92Q{x(14)} 82 {x(40)} 84H{x(210)}V78H{x(40)}Q{x(8)} 76 {x(-9)} 94"/>'
        )
        bottom = (
            f'<path d="M{x(0)} 128Q{x(14)} 138 {x(40)} 136H{x(210)}V142H{x(40)}'
            f'Q{x(8)} 144 {x(-9)} 126"/>'
        )
        strips = "".join(
            f'<rect x="{min(x(74), x(212))}" y="{y}" width="138" height="4" fill="#bbb" '
            'stroke="none"/>'
            for y in (86, 130)
        )
        bolts = "".join(
            f'<path d="M{x(d)} 68V152M{x(d) - 9} 68H{x(d) + 9}M{x(d) - 8} 152H{x(d) + 8}'
            f'M{x(d) - 8} 147H{x(d) + 8}" stroke-width="2.4"/>'
            for d in (105, 170)
        )
        return belt + ply + strips + top + bottom + bolts

    pin = ('<circle cx="360" cy="110" r="22"/><circle cx="360" cy="110" r="15" fill="#ddd"/>'
           '<circle cx="360" cy="110" r="9" fill="#111"/>')  # fmt: skip
    numbers = [
        (20, 600, 40, (580, 100)), (21, 440, 30, (462, 80)), (22, 440, 190, (462, 139)),
        (23, 530, 190, (530, 150)), (24, 360, 190, (360, 118)), (25, 316, 180, (349, 120)),
        (26, 320, 40, (346, 92)), (27, 500, 36, (500, 86)), (28, 640, 40, (640, 93)),
        (29, 660, 190, (660, 127)), (30, 600, 190, (610, 110)), (31, 250, 40, (255, 66)),
        (32, 250, 190, (255, 150)),
    ]  # fmt: skip
    said = (
        '<text x="60" y="60" font-size="14" fill="#111" stroke="none">trailing end</text>'
        '<text x="50" y="215" font-size="14" fill="#111" stroke="none">travel to the right</text>'
        '<path d="M180 210H232M224 205L232 210 224 215"/>'
    )
    return _svg(720, 230, "A hinged joint cut along the belt, parts numbered as in the glossary",
                end(1) + end(-1) + pin + said + "".join(_number(*n) for n in numbers))  # fmt: skip


def _end() -> str:
    def back(x: float) -> float:
        """How far the middle is cut back behind the edges at x."""
        return 14 * (1 - ((x - 360) / 260) ** 2)

    plates = "".join(
        f'<rect x="{x}" y="{52 + back(x + 18):.1f}" width="36" height="106"/>'
        f'<circle cx="{x + 18}" cy="{118 + back(x + 18):.1f}" r="4"/>'
        f'<circle cx="{x + 18}" cy="{140 + back(x + 18):.1f}" r="4"/>'
        for x in range(122, 562, 48)
    )
    drawn = (
        '<path d="M100 96V290M620 96V290"/><path d="M100 96Q360 124 620 96"/>'
        f'<path d="M360 40V290" {_DASH}/><path d="M70 96H650" {_DASH}/>'
        f'<path d="M100 118Q360 146 620 118" {_FINE}/><path d="M100 140Q360 168 620 140" {_FINE}/>'
        '<path d="M100 96H116L100 150Z" fill="#bbb"/><path d="M40 60H680" stroke-width="3"/>'
        f'<path d="M122 200H170M122 195V205M170 195V205" {_FINE}/>'
        f'<path d="M100 230H122M100 225V235M122 225V235" {_FINE}/>'
        f'<path d="M380 96V110M376 96H384M376 110H384" {_FINE}/>'
        f'<path d="M100 270H620M100 265V275M620 265V275" {_FINE}/>'
    )
    numbers = [
        (40, 330, 26, (360, 46)), (41, 690, 120, (640, 96)), (42, 610, 40, (596, 98)),
        (43, 660, 170, (612, 117)), (44, 660, 210, (612, 139)), (45, 146, 225, (146, 202)),
        (46, 60, 250, (110, 231)), (47, 420, 30, (382, 100)), (48, 60, 180, (105, 125)),
        (49, 480, 250, (480, 270)), (50, 60, 30, (60, 58)),
    ]  # fmt: skip
    return _svg(720, 300, "A belt end from above, marks numbered as in the glossary",
                plates + drawn + "".join(_number(*n) for n in numbers))  # fmt: skip


def _place() -> str:
    def side(way: int) -> str:
        """Belt end, clamps, chain and anchor of one side; way 1 to the right."""

        def x(d: float) -> float:
            return 360 + way * d

        clamps = "".join(
            f'<rect x="{x(d) - 9}" y="{y}" width="18" height="14" fill="#ddd"/>'
            for d in (130, 250)
            for y in (98, 122)
        )
        return (
            f'<path d="M{x(26)} 114H{x(350)}M{x(26)} 120H{x(350)}M{x(26)} 114V120"/>{clamps}'
            f'<path d="M{x(259)} 105H{x(330)}" {_DASH}/><path d="M{x(330)} 60V160" '
            'stroke-width="5"/>'
            f'<path d="M{x(121)} 104Q{x(70)} 84 {x(24)} 84" {_DASH}/>'
        )

    drawn = (
        '<path d="M270 126H450V134H270ZM290 134V190M430 134V190M300 186H420"/>'
        '<rect x="336" y="74" width="48" height="20" fill="#ddd"/><path d="M360 74V56L380 44"/>'
        '<path d="M20 196H700" ' + _FINE + "/>"
    )
    numbers = [
        (60, 580, 30, (608, 98)), (61, 650, 36, (650, 104)), (62, 700, 180, (690, 150)),
        (63, 480, 40, (490, 98)), (64, 330, 30, (348, 76)), (65, 240, 170, (284, 132)),
        (66, 160, 160, (180, 121)),
    ]  # fmt: skip
    return _svg(720, 210, "The place of work from the side, parts numbered as in the glossary",
                side(1) + side(-1) + drawn + "".join(_number(*n) for n in numbers))  # fmt: skip


def _parts() -> str:
    def plates(xs: list[float], y: float = 40, joined: bool = False) -> str:
        bar = f'<path d="M{xs[0]} {y + 62}H{xs[-1] + 22}" stroke-width="4"/>' if joined else ""
        return bar + "".join(
            f'<rect x="{x}" y="{y}" width="22" height="70"/>'
            f'<circle cx="{x + 11}" cy="{y + 28}" r="3.5"/>'
            f'<circle cx="{x + 11}" cy="{y + 48}" r="3.5"/>'
            for x in xs
        )

    link = '<path d="M86 48H94M86 102H94M148 48H156M148 102H156M178 48H186M178 102H186"/>'
    meshed = "".join(
        f'<rect x="{x}" y="{y}" width="14" height="34" rx="7"/>'
        for n, x in enumerate(range(60, 180, 15))
        for y in ((66,) if n % 2 else (44,))
    )
    tiles = (
        # plate set: single, double, triple
        plates([24]) + plates([64, 94]) + plates([126, 156, 186]) + link,
        plates([24, 54, 84, 114, 144, 174], joined=True),
        # setting pin, with its handle
        meshed + '<path d="M30 72H206M30 60V84" stroke-width="4"/>',
        # pin retainer at the belt edge
        '<path d="M20 72H170" stroke-width="7"/><rect x="150" y="56" width="34" height="32" '
        'fill="#ddd"/><path d="M140 30V118M146 30V118" ' + _FINE + "/>",
        # alignment bar: lugs hold the loops in line
        '<rect x="24" y="84" width="186" height="16" fill="#ddd"/>'
        + "".join(f'<rect x="{x}" y="66" width="10" height="18" fill="#ddd"/>'
                  for x in range(34, 205, 24)) + '<path d="M24 60H210" ' + _DASH + "/>",
        # punch template: curved edge, two rows of holes
        '<path d="M24 40Q117 58 210 40V104Q117 122 24 104Z"/>'
        + "".join(f'<circle cx="{x}" cy="{y + 16 - 16 * ((x - 117) / 93) ** 2:.0f}" r="4"/>'
                  for x in range(42, 200, 25) for y in (60, 82)),
        # belt punch: a tube with a cutting edge on the belt
        '<path d="M104 24H130V84L124 96H110L104 84Z" fill="#ddd"/>'
        '<path d="M40 98H194M40 118H194"/>',
        # bolt-end breaker: a handle with a slot over the bolt's end
        '<path d="M60 108L76 100L190 30L200 44L84 114L68 122Z" fill="#ddd"/>'
        '<path d="M68 92V128" stroke-width="4"/>',
        # insert piece between two joints
        '<path d="M14 62H220M14 86H220"/>'
        + "".join(f'<path d="M{x} 54V94" stroke-width="5"/>' for x in (76, 158))
        + '<path d="M80 106H154M80 101V111M154 101V111" ' + _FINE + "/>",
    )  # fmt: skip
    drawn = "".join(
        f'<g transform="translate({240 * (n % 3)} {132 * (n // 3)})">{tile}'
        f"{_number(70 + n, 18, 20, (18, 20))}</g>"
        for n, tile in enumerate(tiles)
    )
    lines = "M240 0V396M480 0V396M0 132H720M0 264H720"
    return _svg(720, 396, "Parts and tools, numbered as in the glossary",
                f'<path d="{lines}" stroke="#bbb" stroke-width="1"/>{drawn}')  # fmt: skip


def drawings() -> dict[str, str]:
    """File name -> SVG."""
    return {
        "conveyor.svg": _conveyor(), "joint.svg": _joint(), "belt-end.svg": _end(),
        "place-of-work.svg": _place(), "parts.svg": _parts(),
    }  # fmt: skip
