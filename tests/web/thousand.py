"""A thousand inputs in bad faith to commands, pages and API: what each cost, and how it ended.

`python -m web.thousand FOLDER SEED COUNT` draws them from the seed, one after the other in one
process, and prints a line of JSON for each and one for all. It is a process of its own, so that its
memory is what they took. Of three inputs one goes to each door. A command gets files of the example
site, most of them spoilt, or something that is no file of ours at all, and words in its options;
some are as large as they may be. What waits for ever by design (servers, the listener) is left out.
"""

from __future__ import annotations

import contextlib
import faulthandler
import json
import os
import random
import socket
import sys
import time
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NoReturn
from uuid import uuid4

import click
from click.testing import CliRunner

from depth import PATIENCE
from planned import SITE
from splicewright.actions.example_site import open_example
from splicewright.cli import main
from splicewright.store.sql.register import open_register
from web.calling import API
from web.conftest import csrf_of, sign_in
from web.hostile import ALL, BODIES, IMAGES, NUMBERS, TABLES, TEXTS
from web.siege import (
    JSON,
    OPERATIONS,
    ROUTES,
    Besieged,
    all_of,
    as_json,
    fields_of,
    harmless,
    in_utf8,
    place_of,
    quoted,
    right_values,
    siege,
)

LEFT_OUT = {"serve", "background", "listen"}
"""They work until they are stopped."""
_SIZES = ("1e308 m", "1e-300 m", "-1e308 mm", "9" * 70 + " mm", "1e-300 in", "0 mm", "1e18 km")
_FILES = sorted(p for p in SITE.rglob("*") if p.suffix in {".toml", ".csv"})
_GOOD = {
    "conveyor": "conveyors/*.toml", "path": "conveyors/*.toml", "work": "jobs/incline-*.toml",
    "readings": "history/incline-wear.csv", "lives": "history/joint-lives.csv",
    "items": "history/stock-items.csv", "joints": "history/incline-renewals.csv",
    "tasks": "history/incline-shutdown.toml", "options": "history/flat-torn-place.toml",
    "prices": "prices/prices.toml", "inspection": "inspections/*.toml",
    "fasteners": "fasteners/*.toml",
}  # fmt: skip
"""Which files of the example site are right for a parameter of that name; always given."""
_FILES_OF = {
    ("square", "measured"): "squaring/*.toml", ("compare", "measured"): "measurements/*.csv",
    ("compare", "source"): "conveyors/incline.toml", ("quote", "source"): "conveyors/incline.toml",
    ("loads", "source"): "conveyors/incline.toml", ("explain", "source"): "conveyors/*.toml",
    ("at-rest", "conveyor"): "conveyors/incline.toml",
    ("plan", "conveyor"): "conveyors/incline.toml",
    ("import", "file"): "register/*.csv", ("add-conveyor", "file"): "conveyors/*.toml",
    ("stock", "lives"): "history/joint-lives.csv",
}  # fmt: skip
_WORDS = {
    "limit": "3 mm", "use": "time", "label": "J7", "by": "Ada Example", "today": "2026-11-01",
    "bar": "1000 mm", "url": "https://receiver.example.org/", "login": "ada", "width": "1000 mm",
    "site": "Karst Hollow (invented)", "authority": "file:///etc/passwd", "look": "100",
    "planned": "3000", "failure": "24000", "stop_cost": "900",
}  # fmt: skip
_DEEP = (
    "[" + "a." * 49_000 + "a]\n",
    "".join(f"[{'.'.join('a' * (n + 1))}]\n" for n in range(300)),
    "a = " + "[" * 20_000,
    "a = " + "{a=" * 20_000,
    "\n".join(f"k{n} = {n}" for n in range(60_000)),
    "[[value]]\n" * 90_000,
)


def leaves() -> list[tuple[list[str], click.Command]]:
    """Every command by its words, but those that work until they are stopped."""

    def walk(command: click.Command, words: list[str]) -> list[tuple[list[str], click.Command]]:
        if not isinstance(command, click.Group):
            return [(words, command)]
        found: list[tuple[list[str], click.Command]] = []
        for name in command.list_commands(click.Context(command)):
            one = command.get_command(click.Context(command), name)
            assert one is not None
            found += walk(one, [*words, name])
        return found

    return [(words, one) for words, one in walk(main, []) if words[0] not in LEFT_OUT]


class Thousand:
    """What is drawn from a seed, and sent."""

    def __init__(self, seed: int, folder: Path, besieged: Besieged) -> None:
        self.draw = random.Random(seed)
        self.folder, self.besieged = folder, besieged
        every = leaves()
        # What works something out costs more than what keeps the register: it comes as often.
        self.commands = [
            [one for one in every if (one[0][0] == "register") is keeps] for keeps in (True, False)
        ]
        self.files = self.answer = 0

    def text(self) -> str:
        """A word that a system hands to a program."""
        size = self.draw.choice(_SIZES)
        word = self.draw.choice((size, self.draw.choice(NUMBERS), self.draw.choice(TEXTS)))
        return word.replace("\0", "") or "x"

    # Commands

    def command(self) -> tuple[str, Callable[[], str]]:
        """One command with its words: one of them in bad faith, sometimes all."""
        words, command = self.draw.choice(self.draw.choice(self.commands))
        said = list(words)
        wild = self.draw.random() < 0.2
        # What is repeated in good faith would go on for ever.
        free = [p for p in command.params if p.name not in {"where", "every", "as_json"}]
        hit = self.draw.choice(free) if free else None
        for param in command.params:
            spoilt = wild or param is hit
            right = isinstance(param.type, click.Path) and param.name in _GOOD
            given = spoilt or param.required or (right and param.name != "fasteners")
            if param.name == "where":
                said += [param.opts[0], str(self.folder / "console.sqlite")]
            elif given and param.name != "every":
                values = self.value(param, words, spoilt=spoilt)
                if isinstance(param, click.Argument):
                    said += values
                elif isinstance(param, click.Option):
                    # One word: a text that begins with a hyphen would be another option.
                    is_flag = param.is_flag
                    said += [param.opts[0]] if is_flag else [f"{param.opts[0]}={values[0]}"]

        def run() -> str:
            done = CliRunner().invoke(main, said)
            self.answer = done.exit_code
            if done.exception is not None and not isinstance(done.exception, SystemExit):
                return "".join(traceback.format_exception(done.exception))
            if done.exit_code not in {0, 1, 2} or "Traceback" in done.output:
                return f"ended with {done.exit_code}: {done.output[:2000]}"
            return f"{len(done.output)} letters" if len(done.output) > 400_000 else ""

        return " ".join(said)[:300], run

    def value(self, param: click.Parameter, words: list[str], *, spoilt: bool) -> list[str]:
        """Values of a parameter, in good faith or not."""
        kind, name = param.type, str(param.name)
        if isinstance(kind, click.Choice) and not (spoilt and self.draw.random() < 0.5):
            return [str(self.draw.choice(list(kind.choices)))]
        if name in {"out", "to", "folder"} and not (spoilt and self.draw.random() < 0.3):
            return [str(self.folder / "out" / f"{self.draw.randrange(9)}")]
        if isinstance(kind, click.Path):
            right = self.draw.choice(
                sorted(
                    SITE.glob(_FILES_OF.get((words[-1], name), "") or _GOOD.get(name, "*/*.toml"))
                )
            )
            return [self.file(right) if spoilt else str(right)]
        if kind.name == "uuid" and not (spoilt and self.draw.random() < 0.5):
            return [str(uuid4())]
        return [self.text() if spoilt else _WORDS.get(name, "1")]

    def file(self, like: Path) -> str:
        """A file on the disk: one that is right but spoilt, another one, or none of ours at all."""
        kind = self.draw.random()
        if kind < 0.1:
            return str(self.draw.choice(_FILES))
        self.files = (self.files + 1) % 20
        if kind < 0.85:
            return self.write(like.suffix, self.spoilt(like))
        if kind < 0.9:
            return self.write(".toml", self.draw.choice(_DEEP).encode())
        if kind < 0.95:
            return self.write(*self.blob())
        return self.text()[:200]

    def blob(self) -> tuple[str, bytes]:
        """What is no file of ours."""
        name = self.draw.choice(sorted(TABLES))
        made = TABLES[name]
        if self.draw.random() < 0.3:
            image = IMAGES[self.draw.choice(sorted(IMAGES))]
            return self.draw.choice((".jpeg", ".toml", ".csv", ".json")), image
        data = made() if callable(made) else made
        return Path(name).suffix, data

    def write(self, suffix: str, data: bytes) -> str:
        place = self.folder / f"hostile-{self.files}{suffix}"
        place.write_bytes(data)
        return str(place)

    def spoilt(self, like: Path) -> bytes:
        """A file of the site with a value that is none, cut off, with bits turned, or very long."""
        text, way = like.read_text("utf-8"), self.draw.random()
        lines = text.splitlines()
        at = self.draw.randrange(len(lines))
        if way < 0.6:
            if like.suffix == ".toml" and " = " in lines[at]:
                key, value = lines[at].partition(" = ")[0], self.text()
                plain = json.dumps(value, ensure_ascii=False)
                lines[at] = f"{key} = {self.draw.choice((value, plain))}"
            else:
                cells = lines[at].split(",")
                cells[self.draw.randrange(len(cells))] = self.text()
                lines[at] = ",".join(cells)
            return "\n".join(lines).encode("utf-8", "replace")
        raw = bytearray(text.encode())
        if way < 0.75:
            return bytes(raw[: self.draw.randrange(len(raw))])
        if way < 0.88:
            for _ in range(9):
                raw[self.draw.randrange(len(raw))] ^= 1 << self.draw.randrange(8)
            return bytes(raw)
        return "\n".join([*lines, *(lines[-1:] * self.draw.choice((2_000, 20_000)))]).encode()

    # Pages

    def page(self) -> tuple[str, Callable[[], str]]:
        """One request of a browser whose admin is signed in."""
        method, path, route = self.draw.choice(ROUTES)
        place = self.place(path)
        query = self.query([p.alias for p in all_of(route, "query_params")])
        fields = [p.alias for p in all_of(route, "body_params")]
        form = {n: in_utf8(self.draw.choice(ALL)) for n in fields if self.draw.random() < 0.9}
        form |= {"csrf": self.besieged.csrf, "id": str(uuid4())}
        files = None
        if "file" in form or "files" in form:
            name = "file" if form.pop("file", None) is not None else "files"
            form.pop("files", None)
            suffix, data = self.blob()
            files = {name: (f"{self.text()[:60]}{suffix}", data)}

        def run() -> str:
            there = self.besieged.page
            if method == "GET":
                answer = there.get(f"{place}{query}")
            else:
                answer = there.post(f"{place}{query}", data=form, files=files)
            if path == "/sign-out" or answer.headers.get("location") == "/sign-in":
                sign_in(there, "ada")
                self.besieged.csrf = csrf_of(there)
            return self.judged(answer)

        return f"{method} {place}{query} {form}"[:300], run

    # The API

    def api(self) -> tuple[str, Callable[[], str]]:
        """One call with a key that may do all."""
        method, path, route = self.draw.choice(OPERATIONS)
        asked = [p["name"] for p in route.get("parameters", []) if p["in"] == "query"]
        schema = route.get("requestBody", {}).get("content", {}).get("application/json", {})
        fields = fields_of(schema.get("schema", {}))
        right = right_values(self.besieged)
        body: dict[str, Any] = {n: right.get(n) for n in fields}
        for name in fields:
            if self.draw.random() < 1.5 / len(fields):
                body[name] = self.draw.choice((self.draw.choice(ALL), self.deep()))
        raw = as_json(body) if fields else None
        if self.draw.random() < 0.1:
            raw = self.draw.choice(BODIES)
        url = f"{API}{self.place(path)}{self.query(asked)}"

        def run() -> str:
            answer = self.besieged.program.request(method, url, content=raw, headers=JSON)
            return self.judged(answer)

        return f"{method} {url} {(raw or b'')[:150]!r}"[:300], run

    def deep(self) -> object:
        """A value that is large, or nested, or of another type."""
        return self.draw.choice((
            self.draw.choice(_DEEP), [["x"]] * 1000, {"a": {"a": {"a": 1}}}, 1e308, -1, 10**40,
            True, None, [], "x" * 900_000, "place,use,value\n" + "p,100 h,9 mm\n" * 20_000,
        ))  # fmt: skip

    def place(self, path: str) -> str:
        return place_of(path, in_utf8(self.text()), self.draw.randrange(23), self.besieged)

    def query(self, names: list[str]) -> str:
        some = [n for n in names if self.draw.random() < 0.7]
        values = "&".join(f"{n}={quoted(self.draw.choice(ALL))}" for n in some)
        return f"?{values}" if values else ""

    def judged(self, answer: Any) -> str:
        self.answer = answer.status_code
        try:
            harmless(answer, "")
        except AssertionError:
            return f"{traceback.format_exc(limit=3)}{answer.text[:1000]}"
        return ""


def peak() -> int:
    """The most memory this process had [byte].

    Not by `getrusage`: its peak is kept over fork and exec, and so begins with that of the tests.
    """
    status = Path("/proc/self/status").read_text("ascii")
    return int(status.partition("VmHWM:")[2].split()[0]) * 1024


def _nowhere(*_: object, **__: object) -> NoReturn:
    """Words in bad faith name addresses; none is called from here."""
    msg = "nothing is called from here"
    raise OSError(msg)


def run(folder: Path, seed: int, count: int) -> None:
    """Send them all, and print what came of each."""
    socket.create_connection = _nowhere
    with open_register(folder / "console.sqlite") as register:
        open_example(register, SITE, now=datetime.now(UTC))
    with siege(folder / "register.sqlite") as besieged, contextlib.chdir(folder):
        inputs = Thousand(seed, folder, besieged)
        (folder / "out").mkdir()
        for number in range(count):
            draw = (inputs.command, inputs.page, inputs.api)[number % 3]
            said, send = draw()
            # What hangs is told with the place where it does, and ends the run.
            faulthandler.dump_traceback_later(PATIENCE, exit=True)
            began, worked, before = time.monotonic(), time.process_time(), peak()
            try:
                fault = send()
            except Exception:
                fault = traceback.format_exc()
            faulthandler.cancel_dump_traceback_later()
            cost = {
                "took": time.monotonic() - began,
                "worked": time.process_time() - worked,
                "grew": peak() - before,
                "answer": inputs.answer,
            }
            print(json.dumps({"number": number, "said": said, "fault": fault} | cost), flush=True)
        faults = besieged.office.register.verify().faults
    print(json.dumps({"peak": peak(), "verify": [str(f) for f in faults]}), flush=True)


if __name__ == "__main__":
    os.environ["XDG_DATA_HOME"] = str(Path(sys.argv[1]) / "data")
    run(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
