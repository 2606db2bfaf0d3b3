"""A client of Splicewright's API. Made by tools/api_client.py: change that, not this.

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
        found = re.search(r"[?&]after=([^&>]*)[^>]*>; rel=\"next\"", self.headers.get("link", ""))
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

    def __init__(self, server: str, token: str, *, timeout: float = 60.0, tries: int = 5) -> None:
        self._base = server.rstrip("/") + "/api/1"
        self._token, self._timeout, self._tries = token, timeout, max(1, tries)
        self._opener = urllib.request.build_opener(_NotElsewhere)
        self.register = Register(self)
        self.planning = Planning(self)
        self.facts = Facts(self)
        self.questions = Questions(self)
        self.background = Background(self)
        self.hooks = Hooks(self)
        self.incoming = Incoming(self)

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
        self,
        method: str,
        path: str,
        query: Mapping[str, Any] | None = None,
        body: Any = None,
        headers: Mapping[str, str | None] | None = None,
        media_type: str = "application/json",
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


class Register(_Part):
    """What the register knows."""

    def sites(self, *, limit: Any = None, after: Any = None) -> Answer:
        """All sites, by name."""
        return self._client.request("GET", "/sites", query={"limit": limit, "after": after})

    def site(self, site: Any) -> Answer:
        """One site."""
        return self._client.request("GET", f"/sites/{_place(site)}")

    def stock(self, site: Any, *, limit: Any = None, after: Any = None) -> Answer:
        """What lies in a site's store, by item."""
        return self._client.request(
            "GET", f"/sites/{_place(site)}/stock", query={"limit": limit, "after": after}
        )

    def conveyors(self, *, site: Any = None, limit: Any = None, after: Any = None) -> Answer:
        """All conveyors, or those of a site, by name."""
        return self._client.request(
            "GET", "/conveyors", query={"site": site, "limit": limit, "after": after}
        )

    def conveyor(self, conveyor: Any) -> Answer:
        """One conveyor."""
        return self._client.request("GET", f"/conveyors/{_place(conveyor)}")

    def belts(self, conveyor: Any, *, limit: Any = None, after: Any = None) -> Answer:
        """Belts placed on a conveyor, the newest first."""
        return self._client.request(
            "GET", f"/conveyors/{_place(conveyor)}/belts", query={"limit": limit, "after": after}
        )

    def pieces(self, belt: Any, *, limit: Any = None, after: Any = None) -> Answer:
        """Pieces of a belt, removed ones too, by their start."""
        return self._client.request(
            "GET", f"/belts/{_place(belt)}/pieces", query={"limit": limit, "after": after}
        )

    def damage(self, belt: Any, *, limit: Any = None, after: Any = None) -> Answer:
        """Damage of a belt, mended too, by its place."""
        return self._client.request(
            "GET", f"/belts/{_place(belt)}/damage", query={"limit": limit, "after": after}
        )

    def joints(
        self,
        *,
        conveyor: Any = None,
        state: Any = None,
        label: Any = None,
        after: Any = None,
        limit: Any = None,
    ) -> Answer:
        """Joints by label: of a conveyor, in some states, with one label; a page at a time."""
        return self._client.request(
            "GET",
            "/joints",
            query={
                "conveyor": conveyor,
                "state": state,
                "label": label,
                "after": after,
                "limit": limit,
            },
        )

    def joint(self, joint: Any) -> Answer:
        """One joint."""
        return self._client.request("GET", f"/joints/{_place(joint)}")

    def jobs(
        self, *, conveyor: Any = None, open_only: Any = None, limit: Any = None, after: Any = None
    ) -> Answer:
        """Jobs of a conveyor or all, the newest first; up to 500 where no limit is sent."""
        return self._client.request(
            "GET",
            "/jobs",
            query={"conveyor": conveyor, "open_only": open_only, "limit": limit, "after": after},
        )

    def job(self, job: Any) -> Answer:
        """One job."""
        return self._client.request("GET", f"/jobs/{_place(job)}")

    def readings(
        self, *, about: Any, since: Any = None, limit: Any = None, after: Any = None
    ) -> Answer:
        """Readings of one thing in the order of arrival, corrections applied."""
        return self._client.request(
            "GET",
            "/readings",
            query={"about": about, "since": since, "limit": limit, "after": after},
        )

    def people(self, *, limit: Any = None, after: Any = None) -> Answer:
        """All people, by name."""
        return self._client.request("GET", "/people", query={"limit": limit, "after": after})

    def due(
        self,
        *,
        before: Any = None,
        days: Any = None,
        site: Any = None,
        conveyor: Any = None,
        joint: Any = None,
        limit: Any = None,
        after: Any = None,
    ) -> Answer:
        """What is due, values left outside their limits until a day too, the longest due first.

        Up to 200 lines where no limit is sent.
        """
        return self._client.request(
            "GET",
            "/due",
            query={
                "before": before,
                "days": days,
                "site": site,
                "conveyor": conveyor,
                "joint": joint,
                "limit": limit,
                "after": after,
            },
        )

    def joints_table(self, *, since: Any = None, format: Any = None, limit: Any = None) -> Answer:
        """Joints changed after a fact number, as they are now; columns are in docs/joint-
        table.md.
        """
        return self._client.request(
            "GET", "/tables/joints", query={"since": since, "format": format, "limit": limit}
        )


class Planning(_Part):
    """Conveyor files, plans, assessments."""

    def post_conveyor(self, body: Mapping[str, Any]) -> Answer:
        """Record a conveyor file: a new conveyor, or the next version of the one it names."""
        return self._client.request("POST", "/conveyors", body=body)

    def versions(self, conveyor: Any, *, limit: Any = None, after: Any = None) -> Answer:
        """Versions of a conveyor's file, the oldest first."""
        return self._client.request(
            "GET", f"/conveyors/{_place(conveyor)}/versions", query={"limit": limit, "after": after}
        )

    def file(self, conveyor: Any, *, version: Any = None) -> Answer:
        """A conveyor's file as it was recorded: the newest version, or the one asked for."""
        return self._client.request(
            "GET", f"/conveyors/{_place(conveyor)}/file", query={"version": version}
        )

    def put_file(
        self, conveyor: Any, body: Mapping[str, Any], *, if_match: str | None = None
    ) -> Answer:
        """Record the next version of a conveyor's file; the newest again records nothing."""
        return self._client.request(
            "PUT", f"/conveyors/{_place(conveyor)}/file", body=body, headers={"if-match": if_match}
        )

    def plan(self, body: Mapping[str, Any]) -> Answer:
        """Plan a joint. The answer is a plan as `plan.json` holds it, every number with its
        origin.

        Steps that enough past jobs in the register timed have their times.
        """
        return self._client.request("POST", "/plan", body=body)


class Facts(_Part):
    """Facts in and out, and what they name by digest."""

    def facts(self, *, since: Any = None, limit: Any = None, kind: Any = None) -> Answer:
        """Facts as recorded, in the order of arrival; ask again with `next` to follow the
        register.
        """
        return self._client.request(
            "GET", "/facts", query={"since": since, "limit": limit, "kind": kind}
        )

    def record(self, body: Mapping[str, Any]) -> Answer:
        """Record facts. Each has its own answer, so that one bad fact holds up no other.

        A program signs nothing: hold points and hand-overs are signed by a person at a page.
        Of an
        inspection that is closed the verdict is worked after the answer, and recorded beside
        it.
        """
        return self._client.request("POST", "/facts", body=body)

    def content(self, digest: Any) -> Answer:
        """A kept plan, conveyor file or photograph, by its digest."""
        return self._client.request("GET", f"/contents/{_place(digest)}")

    def keep(self, digest: Any, body: bytes, media_type: str) -> Answer:
        """Keep a plan, conveyor file or photograph before the fact that names it; again is
        harmless.

        A photograph is decoded and written anew without place and camera: the answer's
        digest is that
        of what is kept, and the one that a fact must name.
        """
        return self._client.request(
            "PUT", f"/contents/{_place(digest)}", body=body, media_type=media_type
        )


class Questions(_Part):
    """Wear, life, stock, shutdowns, by tables or register."""

    def wear(self, body: Mapping[str, Any]) -> Answer:
        """Say when each place in READINGS (CSV) is worn out, and which goes first."""
        return self._client.request("POST", "/wear", body=body)

    def life(self, body: Mapping[str, Any]) -> Answer:
        """Say how long the joints in LIVES (CSV) last, by kind and conveyor, and which fails
        next.
        """
        return self._client.request("POST", "/life", body=body)

    def when(self, body: Mapping[str, Any]) -> Answer:
        """Say at what age to renew a joint, and how often to inspect it, by what things cost."""
        return self._client.request("POST", "/when", body=body)

    def stock(self, body: Mapping[str, Any]) -> Answer:
        """Say how many of each item in ITEMS (CSV) to hold, and how many to order now."""
        return self._client.request("POST", "/stock", body=body)

    def shutdown(self, body: Mapping[str, Any]) -> Answer:
        """Say whether the work in TASKS (TOML) fits the window, what holds it up, what more
        buys.
        """
        return self._client.request("POST", "/shutdown", body=body)

    def choose(self, body: Mapping[str, Any]) -> Answer:
        """Choose which of JOINTS (CSV) to renew in a shutdown, for the least expected cost."""
        return self._client.request("POST", "/choose", body=body)

    def decide(self, body: Mapping[str, Any]) -> Answer:
        """Set the ways in OPTIONS (TOML) to put a place right beside each other, best first."""
        return self._client.request("POST", "/decide", body=body)

    def fleet(self, body: Mapping[str, Any]) -> Answer:
        """List what is due at all joints and belts of the register, worst first, and why."""
        return self._client.request("POST", "/fleet", body=body)

    def planner(self, body: Mapping[str, Any]) -> Answer:
        """Say what to do now, at the next stop and at the one after, what to order, where to
        look.
        """
        return self._client.request("POST", "/planner", body=body)

    def at_rest(self, body: Mapping[str, Any]) -> Answer:
        """Say what the stopped belt of CONVEYOR pulls at each stage of WORK, and what must
        hold.
        """
        return self._client.request("POST", "/at-rest", body=body)

    def square(self, body: Mapping[str, Any]) -> Answer:
        """Square a belt end from the points in MEASURED, and judge the cut."""
        return self._client.request("POST", "/square", body=body)

    def tension(self, body: Mapping[str, Any]) -> Answer:
        """Study the tension in CONVEYOR: every load case, second methods, what is not known."""
        return self._client.request("POST", "/tension", body=body)

    def assess(self, body: Mapping[str, Any]) -> Answer:
        """Say what the damaged joint in INSPECTION can still carry, and who must decide."""
        return self._client.request("POST", "/assess", body=body)


class Background(_Part):
    """Long work: imports, bundles of job folders, forecasts."""

    def tasks(self, *, limit: Any = None, after: Any = None) -> Answer:
        """Background tasks of one's own, the newest first; with the scope admin those of all.

        Up to 50 where no limit is sent.
        """
        return self._client.request("GET", "/background", query={"limit": limit, "after": after})

    def task(self, task: Any) -> Answer:
        """One task."""
        return self._client.request("GET", f"/background/{_place(task)}")

    def result(self, task: Any) -> Answer:
        """The file a background task made."""
        return self._client.request("GET", f"/background/{_place(task)}/result")

    def post_import(self, body: Mapping[str, Any]) -> Answer:
        """Check a table of joints, readings or stock: which rows would be refused, and why."""
        return self._client.request("POST", "/background/import", body=body)

    def apply(self, task: Any, body: Mapping[str, Any]) -> Answer:
        """Record what a background task checked; rows it refused are left out."""
        return self._client.request("POST", f"/background/{_place(task)}/apply", body=body)

    def post_bundle(self, body: Mapping[str, Any]) -> Answer:
        """Make the job folders of some jobs, in one zip file."""
        return self._client.request("POST", "/background/bundle", body=body)

    def post_fleet(self, body: Mapping[str, Any]) -> Answer:
        """Forecast all joints: how long they last, and which fails next."""
        return self._client.request("POST", "/background/fleet", body=body)

    def post_question(self, body: Mapping[str, Any]) -> Answer:
        """Ask what reads the whole of a large register: its answer in words, report and
        numbers.
        """
        return self._client.request("POST", "/background/question", body=body)

    def post_measure(self, body: Mapping[str, Any]) -> Answer:
        """Measure photographs in the background."""
        return self._client.request("POST", "/background/measure", body=body)

    def cancel(self, task: Any) -> Answer:
        """Cancel a background task; over already it stays as it is."""
        return self._client.request("POST", f"/background/{_place(task)}/cancel")


class Hooks(_Part):
    """Other systems told of facts as they are recorded."""

    def hooks(self, *, limit: Any = None, after: Any = None) -> Answer:
        """All hooks of the caller's sites, those that work first, by label."""
        return self._client.request("GET", "/hooks", query={"limit": limit, "after": after})

    def make_hook(self, body: Mapping[str, Any]) -> Answer:
        """Make a hook: a CloudEvent is sent for each fact from then on."""
        return self._client.request("POST", "/hooks", body=body)

    def hook(self, hook: Any) -> Answer:
        """One hook."""
        return self._client.request("GET", f"/hooks/{_place(hook)}")

    def end_hook(self, hook: Any) -> Answer:
        """End a hook: nothing more is sent."""
        return self._client.request("DELETE", f"/hooks/{_place(hook)}")

    def new_secret(self, hook: Any) -> Answer:
        """Make another secret; the former signs too for a day."""
        return self._client.request("POST", f"/hooks/{_place(hook)}/secret")

    def replay(self, hook: Any, body: Mapping[str, Any]) -> Answer:
        """Tell again of all facts after a number."""
        return self._client.request("POST", f"/hooks/{_place(hook)}/replay", body=body)

    def letters(self, hook: Any, *, after: Any = None, limit: Any = None) -> Answer:
        """Facts that the address did not take, by number."""
        return self._client.request(
            "GET", f"/hooks/{_place(hook)}/letters", query={"after": after, "limit": limit}
        )

    def send_again(self, hook: Any) -> Answer:
        """Send all dead letters again, before anything else."""
        return self._client.request("POST", f"/hooks/{_place(hook)}/letters/again")


class Incoming(_Part):
    """Readings of other systems, by the mapping of a site."""

    def send(self, site: Any, body: Mapping[str, Any]) -> Answer:
        """Record readings by the mapping of a site. Each has its own answer."""
        return self._client.request("POST", f"/incoming/{_place(site)}", body=body)

    def came_in(self, site: Any) -> Answer:
        """The mapping of a site, the last message of each topic, and what was wrong."""
        return self._client.request("GET", f"/incoming/{_place(site)}")

    def mapping(self, site: Any) -> Answer:
        """The mapping of a site, as it was given."""
        return self._client.request("GET", f"/incoming/{_place(site)}/mapping")

    def put_mapping(
        self, site: Any, body: Mapping[str, Any], *, if_match: str | None = None
    ) -> Answer:
        """Keep a mapping in the place of the one before."""
        return self._client.request(
            "PUT", f"/incoming/{_place(site)}/mapping", body=body, headers={"if-match": if_match}
        )

    def forget(self, site: Any) -> Answer:
        """Clear the list of what was wrong."""
        return self._client.request("DELETE", f"/incoming/{_place(site)}/wrong")
