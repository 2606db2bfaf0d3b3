"""Writes the Python client of the API, examples/client/splicewright_client.py.

    .venv/bin/python tools/api_client.py

`make docs` does it too. The client needs the standard library only.
"""

from __future__ import annotations

import json
import keyword
import re
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
DESCRIPTION = ROOT / "docs" / "schema" / "api.json"
CLIENT = ROOT / "examples" / "client" / "splicewright_client.py"
_WIDE = 85
"""Letters of a line of what a method says."""
_HEAD = '''"""A client of Splicewright's API. Made by tools/api_client.py: change that, not this.

    from splicewright_client import Client
    api = Client("https://belts.example.org", token="sw_...")
    for joint in api.pages(api.register.joints, key="joints"):
        print(joint["label"], joint["state"])

Numbers are SI. Every method gives an `Answer`: its body, and its headers (ETag, RateLimit).
"""

from __future__ import annotations

import json
import re
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple


class Answer(NamedTuple):
    """What the API answered.

    body : decoded JSON, or bytes where it is a file; None where nothing changed (304)
    headers : by their names in small letters
    """

    status: int
    body: Any
    headers: Mapping[str, str]

    @property
    def etag(self) -> str:
        """For `if_match` when it is replaced; empty where there is none."""
        return self.headers.get("etag", "")

    @property
    def next(self) -> str:
        """`after` of the next page, from the header Link; empty at the end."""
        found = re.search(r"[?&]after=([^&>]*)[^>]*>; rel=\\"next\\"", self.headers.get("link", ""))
        return urllib.parse.unquote_plus(found[1]) if found else ""


class ApiError(Exception):
    """The API refused; `problem` is its problem document (RFC 9457), where it sent one."""

    def __init__(self, status: int, problem: Any, headers: Mapping[str, str]) -> None:
        self.status, self.problem, self.headers = status, problem, headers
        detail = problem.get("detail") if isinstance(problem, dict) else None
        super().__init__(f"{status}: {detail or 'no reason given'}")


class _NotElsewhere(urllib.request.HTTPRedirectHandler):
    """A token is sent to nobody but the server that was named."""

    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


class Client:
    """The API of one server.

    Parameters
    ----------
    server : its address, such as https://belts.example.org
    token : made on the page Tokens
    timeout : for one answer [s]
    tries : of a request that meets a busy server (429, 503), after the wait that it asks for;
        sending again is harmless where ids are made by the sender
    """

    def __init__(
        self, server: str, token: str, *, timeout: float = 60.0, tries: int = 5
    ) -> None:
        self._base = server.rstrip("/") + "/api/1"
        self._token, self._timeout, self._tries = token, timeout, max(1, tries)
        self._opener = urllib.request.build_opener(_NotElsewhere)
PARTS
    def pages(
        self, method: Callable[..., Answer], *args: Any, key: str = "", **asked: Any
    ) -> Iterator[Any]:
        """All items of a list, page by page.

        method : that gives the list, such as `api.register.conveyors`
        key : where the items stand in the body, for lists that are not the body itself
        asked : further arguments of the method; `limit` is the size of a page
        """
        asked.setdefault("limit", 500)
        while True:
            answer = method(*args, **asked)
            yield from answer.body[key] if key else answer.body
            after = answer.body.get("next") if key else answer.next
            if not after:
                return
            asked["after"] = after

    def request(
        self, method: str, path: str, query: Mapping[str, Any] | None = None, body: Any = None,
        headers: Mapping[str, str | None] | None = None, media_type: str = "application/json",
    ) -> Answer:
        """One request; see the methods for what there is."""
        pairs = [
            (name, _text(one))
            for name, value in (query or {}).items()
            if value is not None
            for one in (value if isinstance(value, list | tuple) else [value])
        ]
        url = self._base + path + ("?" + urllib.parse.urlencode(pairs) if pairs else "")
        sent = {"Authorization": f"Bearer {self._token}", "Accept": "application/json, */*"}
        sent |= {name: value for name, value in (headers or {}).items() if value is not None}
        data = body if isinstance(body, bytes) else None
        if body is not None:
            sent["Content-Type"] = media_type
            data = body if isinstance(body, bytes) else json.dumps(body).encode()
        for left in reversed(range(self._tries)):
            asked = urllib.request.Request(url, data, sent, method=method)
            try:
                with self._opener.open(asked, timeout=self._timeout) as answer:
                    return _answer(answer.status, answer.read(), answer.headers)
            except urllib.error.HTTPError as error:
                with error:
                    told = _answer(error.code, error.read(), error.headers)
            if told.status == 304:
                return told._replace(body=None)
            wait = told.headers.get("retry-after", "")
            if told.status not in {429, 503} or not left or not wait.isdigit():
                raise ApiError(told.status, told.body, told.headers)
            time.sleep(int(wait))
        raise AssertionError


class _Part:
    def __init__(self, client: Client) -> None:
        self._client = client


def _answer(status: int, data: bytes, headers: Any) -> Answer:
    told = {name.lower(): value for name, value in headers.items()}
    is_json = "json" in told.get("content-type", "")
    return Answer(status, json.loads(data) if is_json and data else data, told)


def _text(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _place(value: Any) -> str:
    return urllib.parse.quote(str(value), safe="")
'''


def client_text(description: dict[str, Any]) -> str:
    """The client as Python; the same description always gives the same text."""
    parts: dict[str, list[str]] = {}
    for path, routes in description["paths"].items():
        for method, route in routes.items():
            parts.setdefault(route["tags"][0], []).append(_method(path, method, route))
    about = {tag["name"]: tag["description"] for tag in description["tags"]}
    wired = "".join(f"        self.{tag} = {_class(tag)}(self)\n" for tag in parts)
    text = _HEAD.replace("PARTS\n", wired + "\n", 1)
    for tag, methods in parts.items():
        text += f'\n\nclass {_class(tag)}(_Part):\n    """{about[tag]}"""\n\n' + "\n".join(methods)
    formatted = subprocess.run(
        [sys.executable, "-m", "ruff", "format", "--stdin-filename", str(CLIENT), "-"],
        input=text.encode(), stdout=subprocess.PIPE, check=True,
    )  # fmt: skip
    return formatted.stdout.decode()


def _class(tag: str) -> str:
    return tag.title().replace(" ", "")


def _method(path: str, method: str, route: dict[str, Any]) -> str:
    """One operation as a method: places in its address first, everything else by name."""
    mark = f"_{method}"
    name = route["operationId"].removesuffix(mark).removesuffix(re.sub(r"\W", "_", path))
    told = route.get("parameters", [])
    places = [p["name"] for p in told if p["in"] == "path"]
    query = [p for p in told if p["in"] == "query"]
    headers = [p for p in told if p["in"] == "header"]
    content = route.get("requestBody", {}).get("content", {})
    files = [kind for kind in content if kind != "application/json"]
    arguments = ["self", *places]
    if files:
        arguments += ["body: bytes", "media_type: str"]
    elif content:
        arguments.append("body: Mapping[str, Any]")
    named = [p for p in query if p.get("required")] + [p for p in query if not p.get("required")]
    if named or headers:
        arguments.append("*")
    arguments += [
        f"{_name(p['name'])}: Any" + ("" if p.get("required") else " = None") for p in named
    ]
    arguments += [f"{_name(p['name'])}: str | None = None" for p in headers]
    typed = ", ".join(a if ":" in a or a in {"self", "*"} else f"{a}: Any" for a in arguments)
    said = textwrap.dedent(route.get("description") or route["summary"]).strip()
    where = re.sub(r"\{(\w+)\}", lambda m: f"{{_place({m[1]})}}", path)
    prefix = "f" if places else ""
    sent = [f'"{method.upper()}"', f'{prefix}"{where}"']
    if query:
        pairs = ", ".join(f'"{p["name"]}": {_name(p["name"])}' for p in query)
        sent.append(f"query={{{pairs}}}")
    if content:
        sent.append("body=body")
    if files:
        sent.append("media_type=media_type")
    if headers:
        pairs = ", ".join(f'"{p["name"]}": {_name(p["name"])}' for p in headers)
        sent.append(f"headers={{{pairs}}}")
    lines = [f"def {name}({typed}) -> Answer:"]
    about = [line for part in said.split("\n") for line in textwrap.wrap(part, _WIDE) or [""]]
    lines.append(f'    """{about[0]}' + ('"""' if len(about) == 1 else ""))
    if len(about) > 1:
        lines += [f"    {line}".rstrip() for line in about[1:]] + ['    """']
    lines += [f"    return self._client.request({', '.join(sent)})", ""]
    return "\n".join(f"    {line}".rstrip() for line in lines)


def _name(name: str) -> str:
    plain = re.sub(r"\W", "_", name).lower()
    return plain + "_" if keyword.iskeyword(plain) else plain


def main() -> None:
    """Write the client."""
    CLIENT.parent.mkdir(exist_ok=True)
    CLIENT.write_text(client_text(json.loads(DESCRIPTION.read_text("utf-8"))), "utf-8")


if __name__ == "__main__":
    main()
