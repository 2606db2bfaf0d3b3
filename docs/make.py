"""Make the generated pages of docs/: methods, file reference, schemas.

Run by `make docs`; tests/test_docs.py fails when a page is not what this makes.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import inspect
import json
import pkgutil
import re
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

import splicewright
from splicewright.quantities import FORMULAS, SOURCES, Formula
from splicewright.quantities.units import POLICY

DOCS = Path(__file__).parent
sys.path.insert(0, str(DOCS.parent / "tools"))
_MADE = "<!-- made by docs/make.py from the code; do not edit -->\n"


def pages() -> dict[str, str]:
    """Every generated page: path below docs/ -> text."""
    for module in pkgutil.walk_packages(splicewright.__path__, "splicewright."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    made = {"files.md": _files(), "sources.md": _sources(), "questions.md": _questions()}
    from glossary_drawings import drawings

    made.update({f"drawings/{name}": text for name, text in drawings().items()})
    made["assumptions.md"] = _assumptions()
    made.update(_methods())
    for name, schema in _schemas().items():
        made[f"schema/{name}.json"] = json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
    made["schema/api.json"] = _api()
    made["rooms.svg"] = _rooms()
    made["at-rest-published.md"] = _stopped()
    return made


def _stopped() -> str:
    """Published conveyors at rest, by the arithmetic that the tests hold the tool against."""
    if (tests := str(DOCS.parent / "tests")) not in sys.path:
        sys.path.insert(0, tests)
    page: str = importlib.import_module("outside.stopped_by_hand").page()
    return page


_FLOORS = (
    ("cli",), ("web",), ("background",), ("actions",), ("sheets", "store"),
    ("job", "history", "photographs"), ("joint",), ("tension",), ("loop",), ("plant",),
    ("files",), ("quantities",),
)  # fmt: skip
"""Rooms from the roof down, as the contracts in pyproject.toml have them."""


def _rooms() -> str:
    """The rooms and who asks whom, from the imports: a room points at those it asks itself.

    What a room also reaches through another one is left out, so that the arrows can be followed.
    """
    import grimp

    graph = grimp.build_graph("splicewright", cache_dir=None)
    names = [room for floor in _FLOORS for room in floor]
    asks = {
        a: {
            b
            for b in names
            if a != b
            and graph.direct_import_exists(
                importer=f"splicewright.{a}", imported=f"splicewright.{b}", as_packages=True
            )
        }
        for a in names
    }

    def reached(room: str) -> set[str]:
        return set().union(*({b, *reached(b)} for b in asks[room]))

    wide, high, gap = 150, 44, 34
    place = {
        room: (
            360 + (k - (len(floor) - 1) / 2) * (330 if len(floor) < 3 else 235),
            20 + n * (high + gap),
        )
        for n, floor in enumerate(_FLOORS)
        for k, room in enumerate(floor)
    }
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 720 {h}" font-family="sans-serif">'
        .replace("{h}", str(40 + len(_FLOORS) * (high + gap) - gap)),
        '<defs><marker id="to" markerWidth="8" markerHeight="8" refX="7" refY="4" orient="auto">'
        '<path d="M0 1 L7 4 L0 7" fill="none" stroke="#333"/></marker></defs>',
    ]  # fmt: skip
    for a in names:
        far = set().union(*(reached(b) for b in asks[a]))
        for b in sorted(asks[a] - far):
            (x1, y1), (x2, y2) = place[a], place[b]
            lines.append(
                f'<line x1="{x1:g}" y1="{y1 + high:g}" x2="{x2:g}" y2="{y2 - 2:g}" stroke="#333" '
                'marker-end="url(#to)"/>'
            )
    for room in names:
        x, y = place[room]
        inside = sorted(
            name.rsplit(".", 1)[-1]
            for name in graph.find_children(f"splicewright.{room}")
            if graph.find_children(name)
        )
        lines.append(
            f'<g><title>{", ".join(inside) or "no sub-rooms"}</title><rect x="{x - wide / 2:g}" '
            f'y="{y:g}" width="{wide}" height="{high}" fill="#fff" stroke="#111" rx="4"/>'
            f'<text x="{x:g}" y="{y + 19:g}" text-anchor="middle" font-size="15" '
            f'font-weight="bold">{room}</text><text x="{x:g}" y="{y + 35:g}" text-anchor="middle" '
            f'font-size="10">{f"{len(inside)} sub-rooms" if inside else ""}</text></g>'
        )
    return "\n".join([*lines, "</svg>"]) + "\n"


def _api() -> str:
    from splicewright.web.api.routes import make_api

    return json.dumps(make_api().openapi(), indent=1, ensure_ascii=False) + "\n"


def _methods() -> dict[str, str]:
    by_room: dict[str, dict[str, list[Formula[Any, Any]]]] = defaultdict(lambda: defaultdict(list))
    for formula in FORMULAS.values():
        room, *inner, _ = formula.id.split(".")
        by_room[room][".".join(inner)].append(formula)
    made = {}
    for room, modules in sorted(by_room.items()):
        lines = [
            _MADE,
            f"# Methods: {room}\n",
            _first(f"splicewright.{room}"),
            "",
            *_symbols(modules),
        ]
        for module, formulas in sorted(modules.items()):
            lines += [f"\n## {module}\n", _first(f"splicewright.{room}.{module}"), ""]
            for formula in formulas:
                lines += _formula(formula)
        made[f"methods/{room}.md"] = "\n".join(lines).rstrip() + "\n"
    return made


def _symbols(modules: dict[str, list[Formula[Any, Any]]]) -> list[str]:
    """Nomenclature of a room: each symbol, what it means, its SI unit, and where."""
    found: dict[str, dict[tuple[str, str], set[str]]] = defaultdict(lambda: defaultdict(set))
    for module, formulas in modules.items():
        for formula in formulas:
            meanings = _parameters(inspect.cleandoc(formula.__doc__ or ""))
            for name, symbol in formula.symbols.items():
                unit = meanings.get(name, "").rpartition("[")[2].partition("]")[0]
                found[symbol][_spoken(name), "1" if unit == "-" else unit].add(module)
            name = formula.id.rpartition(".")[2]
            found[formula.symbol][_spoken(name), POLICY[formula.kind].si].add(module)
    lines = ["## Symbols\n", "| symbol | meaning | SI unit | in |", "| --- | --- | --- | --- |"]
    for symbol in sorted(found, key=lambda s: (s.lower(), s)):
        with_unit = {name for name, unit in found[symbol] if unit}
        for (name, unit), where in sorted(found[symbol].items()):
            if unit or name not in with_unit:
                shown = symbol.replace("|", "\\|")
                lines.append(f"| `{shown}` | {name} | {unit} | {', '.join(sorted(where))} |")
    return [*lines, ""]


def _spoken(name: str) -> str:
    return name.strip("_").replace("_", " ")


def _formula(formula: Formula[Any, Any]) -> list[str]:
    doc = inspect.cleandoc(formula.__doc__ or "")
    meanings = _parameters(doc)
    lines = [f"### {_spoken(formula.id.rpartition('.')[2])}\n"]
    lines += [doc.split("\n\n")[0].replace("\n", " ") + "\n", f"    {formula.text}\n"]
    for name, symbol in formula.symbols.items():
        said = meanings.get(name, "")
        lines.append(f"- `{symbol}` {_spoken(name)}" + (f": {said}" if said else ""))
    lines.append(f"- gives `{formula.symbol}`: {formula.kind}")
    if formula.limits:
        lines.append(f"- holds: {formula.limits}")
    lines += [f"- source: {source}" for source in formula.sources]
    lines.append("")
    return lines


def _parameters(doc: str) -> dict[str, str]:
    """Meaning of each parameter from a docstring's Parameters section."""
    if "Parameters\n" not in doc:
        return {}
    block = doc.split("Parameters\n", 1)[1].split("\n", 1)[1]
    found: dict[str, str] = {}
    names: list[str] = []
    for line in block.splitlines():
        if line.strip() in {"Returns", "Raises", "References", "Notes"}:
            break
        if line and not line.startswith(" ") and " : " in line:
            left, text = line.split(" : ", 1)
            names = [n.strip() for n in left.split(",")]
            found.update(dict.fromkeys(names, text.strip()))
        elif line.startswith(" ") and line.strip():
            for name in names:
                found[name] += " " + line.strip()
    return found


def _first(module: str) -> str:
    return inspect.getdoc(importlib.import_module(module)) or ""


def _sources() -> str:
    lines = [_MADE, "# Sources\n"]
    lines.append("Where every formula and fact was read, and how far to trust it.\n")
    lines += [f"- `{s.id}`: {s.title} ({s.mark})" for s in SOURCES.values()]
    return "\n".join(lines) + "\n"


def _assumptions() -> str:
    """Every named assumption about a machine, with both ends."""
    from splicewright.plant import assumptions
    from splicewright.plant.assumptions import Assumption
    from splicewright.quantities import show

    lines = [
        _MADE,
        "# Assumptions\n",
        "What is taken where nobody stated a value: the value, the span that is tried, and why. "
        "Each is shown wherever it is used (`splicewright check`, `explain`, page one of a pack), "
        "and is there to be replaced by what you measured. Where safety hangs on it the bad end is "
        "taken. What the tool cannot do at all: [known-limits.md](known-limits.md).\n",
        "| assumption | taken | least | most | why, and how far to trust it |",
        "| --- | --- | --- | --- | --- |",
    ]
    for name, held in vars(assumptions).items():
        table = held if isinstance(held, dict) else {"": held}
        for of, one in table.items():
            if isinstance(one, Assumption):
                label = f"{name} {of}".replace("_", " ").strip().lower()
                values = [show(v, one.kind) for v in (one.value, one.low, one.high)]
                lines.append(f"| {label} | {' | '.join(values)} | {one.reason} |")
    lines += [
        "\n## Of joint, job and forecast\n",
        'What a room takes by itself; "by the case" where it follows from other numbers.\n',
        "| room | assumption | taken | least | most | why, and how far to trust it |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    rooms = Path(splicewright.__file__).parent
    for file in sorted(rooms.rglob("*.py")):
        if " assumed(" in file.read_text(encoding="utf-8"):
            lines += _assumed_in(file, ".".join(file.relative_to(rooms).with_suffix("").parts))
    return "\n".join(lines) + "\n"


def _assumed_in(file: Path, module: str) -> list[str]:
    """A row for every assumption with a number that code names where it takes it."""
    from splicewright.quantities import show

    known = vars(importlib.import_module(f"splicewright.{module}"))

    def read(part: ast.expr, local: dict[str, Any]) -> Any:
        try:
            return eval(compile(ast.Expression(part), "docs", "eval"), {**known, **local})
        except (NameError, AttributeError):
            return None

    rows = []
    for function in ast.parse(file.read_text(encoding="utf-8")).body:
        local: dict[str, Any] = {}
        for step in ast.walk(function):
            if isinstance(step, ast.Assign):
                with contextlib.suppress(ValueError):
                    value = ast.literal_eval(step.value)
                    to = step.targets[0]
                    names = to.elts if isinstance(to, ast.Tuple) else [to]
                    values = value if isinstance(to, ast.Tuple) else [value]
                    local |= zip(map(ast.unparse, names), values, strict=True)
        for call in ast.walk(function):
            if not isinstance(call, ast.Call) or len(call.args) != 6:
                continue
            if getattr(call.func, "id", "") != "assumed":
                continue
            _, label, value, kind, reason, span = call.args
            ends = span.elts if isinstance(span, ast.Tuple) else (span, span)
            sort, words = read(kind, local), (read(label, local), read(reason, local))
            taken = [read(part, local) for part in (value, *ends)]
            if sort is None or None in words or not (any(taken) or re.search(r"\d", words[1])):
                continue
            shown = ["by the case" if v is None else show(v, sort) for v in taken]
            row = (module.partition(".")[0], words[0], *shown, words[1])
            rows.append(f"| {' | '.join(row)} |")
    return rows


def _schemas() -> dict[str, dict[str, Any]]:
    from splicewright.actions.files.schemas import file_schemas

    return file_schemas()


def _files() -> str:
    lines = [
        _MADE,
        "# Files\n",
        "TOML files: conveyor, work, fastener range, inspection of a joint, squaring of a belt "
        "end, shutdown, decision; tables of readings, lives and stock are CSV: "
        "[history-files.md](history-files.md). `splicewright new` writes one to fill in, "
        "`splicewright check` says what it lacks. JSON Schemas lie in `schema/`.\n",
        'A number is written with its unit, metric or inch, fractions too: "900 mm", "1-3/8 in", '
        '"6 ft 3 in", "80 N/mm", "450 lbf/in". A range is written "10 to 12 mm"; the middle is '
        'taken as likely. A measured value is { value = "11 mm", measured = true, note = "..." }. '
        "Numbers larger or smaller than anything of their kind (1e308 m, 1e-300 m) are refused, "
        "here and wherever one is typed. A key has up to 32 parts, a file up to 1 MB."
        "\n",
    ]
    for name, schema in _schemas().items():
        lines.append(f"\n## {name} file\n")
        lines += _tables(schema)
    return "\n".join(lines).rstrip() + "\n"


def _tables(schema: dict[str, Any]) -> list[str]:
    lines: list[str] = []
    definitions = schema.get("$defs", {})
    tables = {"": schema, **definitions}
    for name, table in tables.items():
        if "properties" not in table:
            continue
        title = table.get("description", name).split("\n")[0]
        lines += [f"\n### {title}\n", "| key | must | what |", "| --- | --- | --- |"]
        must = set(table.get("required", []))
        for key, field in table["properties"].items():
            said = _what(field, definitions).replace("|", "\\|").replace("\n", " ")
            lines.append(f"| `{key}` | {'yes' if key in must else ''} | {said} |")
    return lines


def _what(field: dict[str, Any], definitions: dict[str, Any]) -> str:
    """What a field may hold, in words."""
    if "$ref" in field:
        target = definitions[str(field["$ref"]).rsplit("/", 1)[-1]]
        if "enum" in target:
            return "one of " + ", ".join(f"`{v}`" for v in target["enum"])
        return "table: " + str(target.get("description", "")).split("\n")[0].rstrip(".")
    if "description" in field:
        return str(field["description"])
    for part in field.get("anyOf", []):
        if part.get("type") != "null":
            return _what(part, definitions)
    if "enum" in field:
        return "one of " + ", ".join(f"`{v}`" for v in field["enum"])
    if "const" in field:
        return f"`{field['const']}`"
    if field.get("type") == "array":
        return "list of: " + _what(field.get("items", {}), definitions)
    if "oneOf" in field:
        return "; ".join(_what(part, definitions) for part in field["oneOf"])
    return {"string": "text", "integer": "whole number", "boolean": "true or false"}.get(
        str(field.get("type", "")), str(field.get("type", ""))
    )


def _questions() -> str:
    """Every question as declared: its fields, their names at each door, what is accepted."""
    from splicewright.cli.questions import QUESTIONS, inquiry_of, question_command
    from splicewright.files.question import asked_by

    lines = [
        _MADE,
        "# Questions\n",
        "What each question asks, once for the command line, the forms of the app and the API. "
        "What the answers mean: [cli.md](cli.md). Columns of tables: "
        "[history-files.md](history-files.md).\n",
    ]
    for name in sorted(QUESTIONS):
        model = inquiry_of(name).asked
        asked = asked_by(model)
        lines += [f"\n## splicewright {name}\n", inspect.cleandoc(model.__doc__ or ""), ""]
        lines += [
            "| option | in the API | in forms | what | accepted |",
            "| --- | --- | --- | --- | --- |",
        ]
        for field in asked:
            cells = [
                f"`{field.label('command')}`",
                f"`{field.name}`" if "program" in field.ask.doors else "",
                field.ask.label if "page" in field.ask.doors else "",
                field.ask.says
                + (f" {field.default_shown} without it." if field.default_shown else ""),
                field.answer.accepted + (f", such as {field.ask.example}" if field.ask.example and
                                         not field.answer.accepted else ""),
            ]  # fmt: skip
            lines.append("| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |")
        own = {field.name for field in asked}
        for option in question_command(name).params:
            if option.name not in own:
                what = getattr(option, "help", "") or ""
                lines.append(f"| `{option.opts[0]}` | | | {what} | |")
    return "\n".join(lines).rstrip() + "\n"


def main() -> None:
    """Write the pages."""
    for name, text in pages().items():
        path = DOCS / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    import api_client

    api_client.main()


if __name__ == "__main__":
    main()
