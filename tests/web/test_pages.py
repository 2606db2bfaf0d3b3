"""What pages show and take, without a browser."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient

from planned import SITE
from splicewright.store import State
from splicewright.store.present.present import ConveyorNow, JointNow
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, csrf_of
from web.test_appearance import pages

SignedIn = Callable[[str], TestClient]
INCLINE = SITE / "conveyors" / "incline.toml"


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


@pytest.fixture
def incline(register: SqlRegister) -> ConveyorNow:
    return next(c for c in register.conveyors() if c.name == "K2 incline")


def joint_called(register: SqlRegister, label: str) -> JointNow:
    (found,) = register.joints(label=label)
    return found


def post(client: TestClient, path: str, **fields: str) -> tuple[int, str]:
    answer = client.post(path, data=fields | {"csrf": csrf_of(client)})
    return answer.status_code, answer.text


def send(client: TestClient, path: str, data: bytes, name: str = "c.toml") -> tuple[int, str, str]:
    answer = client.post(
        path, data={"csrf": csrf_of(client)}, files={"file": (name, data, "application/toml")}
    )
    return answer.status_code, answer.text, answer.headers.get("location", "")


@pytest.mark.parametrize("role", ["viewer", "admin"])
def test_every_page_opens(signed_in: SignedIn, register: SqlRegister, role: str) -> None:
    client = signed_in(role)
    for name, path in pages(register).items():
        answer = client.get(path)
        if role == "admin":
            assert answer.status_code == (404 if name == "not-here" else 200), name
        else:
            assert answer.status_code in {200, 403, 404}, name
        assert "Invented site and data: not for real work" in answer.text
        assert "Local law, site rules and the maker's instructions take precedence" in answer.text


def test_finding_needs_every_word_and_no_script(signed_in: SignedIn) -> None:
    client = signed_in("viewer")
    assert "K2 incline" in client.get("/conveyors?q=karst+INCL").text
    none = client.get("/conveyors?q=incline+shuttle").text
    assert "No conveyor has “incline shuttle”" in none
    part = client.get("/conveyors?q=incl", headers={"hx-request": "true"}).text
    assert "<html" not in part
    assert "K2 incline" in part
    assert "&lt;b&gt;" in client.get("/conveyors?q=<b>").text


def test_a_conveyor_tells_belt_joints_due_and_jobs(
    signed_in: SignedIn, register: SqlRegister, incline: ConveyorNow
) -> None:
    text = signed_in("viewer").get(f"/conveyors/{incline.conveyor}").text
    for label in ("K2-2", "K2-3", "K2-4", "K2-5"):
        joint = joint_called(register, label)
        assert f"/joints/{joint.joint}" in text
    for said in ("insert piece", "edge frayed", "136 days overdue", "K2: worn joint, long return",
                 "pin worn", "1 year 5 months", "480 mm right of the centreline"):  # fmt: skip
        assert said in text, said
    assert "/next" not in text


def test_where_a_joint_is_now_is_worked_from_speed_and_time(
    signed_in: SignedIn, register: SqlRegister, clock: Clock
) -> None:
    joint = joint_called(register, "K2-4")
    client = signed_in("crew")
    path = f"/joints/{joint.joint}"
    # Seen at 100 m, 50 s ago, 2 m/s: 200 m now, give or take 2 % of 100 m.
    assert post(client, f"{path}/seen", station="100 m", ago="50 s")[0] == 303
    assert "<b>200 m ± 2 m</b>" in client.get(path).text
    clock.pass_(hours=6)
    assert "too long ago to tell where it is now" in client.get(path).text
    refused = (("", "", "station"), ("10 kN", "", "station"), ("10 m", "-5 min", "ago"))
    for station, ago, said in refused:
        status, page = post(client, f"{path}/seen", station=station, ago=ago)
        assert status == 422
        assert f'<a href="#{said}">' in page


def test_what_happens_to_a_joint_is_recorded_once_and_not_over_others(
    signed_in: SignedIn, register: SqlRegister
) -> None:
    joint = joint_called(register, "K5-1").joint
    crew, lead = signed_in("crew"), signed_in("lead")
    path = f"/joints/{joint}"
    seen = re.search(r'name="version" value="(\d+)"', crew.get(path).text)
    assert seen is not None
    what = {"what": "put to work", "version": seen[1]}
    assert post(crew, f"{path}/happened", **what)[0] == 303
    assert joint_called(register, "K5-1").state is State.RUNNING
    late = post(lead, f"{path}/happened", what="suspended", version=seen[1])
    assert late[0] == 409
    assert "look at it again" in late[1]
    new = str(register.version(joint))
    assert "choose why" in post(lead, f"{path}/happened", what="removed", version=new)[1]
    assert post(lead, f"{path}/happened", what="nothing", version=new)[0] == 422
    assert post(lead, f"{path}/happened", what="built", version="x")[0] == 422
    cut = {"what": "removed", "version": new, "mode": "pin worn", "note": "n"}
    asked = post(lead, f"{path}/happened", **cut)
    assert asked[0] == 200 and "Nothing is recorded yet" in asked[1]
    assert joint_called(register, "K5-1").state is State.RUNNING
    assert post(lead, f"{path}/happened", **cut, sure="yes")[0] == 303
    assert joint_called(register, "K5-1").state is State.REMOVED
    last = register.facts_about(joint)[-1].fact
    assert (last.by, last.device) == ("Lead Example", "page")


def test_leads_set_what_is_due(signed_in: SignedIn, register: SqlRegister) -> None:
    joint = joint_called(register, "K2-3").joint
    crew, lead = signed_in("crew"), signed_in("lead")
    path = f"/joints/{joint}/due"
    assert post(crew, path, task="renew", due="2026-06-01")[0] == 403
    for due in ("2026-06-01", ""):
        asked = post(lead, path, task="renew", due=due, why="old")
        assert asked[0] == 200 and "Nothing is recorded yet" in asked[1]
    assert "2026-06-01" not in lead.get("/due").text
    assert post(lead, path, task="renew", due="2026-06-01", why="old", sure="yes")[0] == 303
    assert "2026-06-01" in lead.get("/due").text
    assert post(lead, path, task="renew", due="", sure="yes")[0] == 303
    assert "2026-06-01" not in lead.get("/due").text
    for task, due in (("dance", ""), ("renew", "soon")):
        assert post(lead, path, task=task, due=due)[0] == 422


def test_the_longest_overdue_stands_first(
    signed_in: SignedIn, register: SqlRegister, clock: Clock
) -> None:
    client = signed_in("viewer")
    text = client.get("/due?ahead=month").text
    items = register.due(clock.now + timedelta(days=30))
    places = [text.index(f"/joints/{i.joint}", text.index("<tbody>")) for i in items[:3]]
    assert places == sorted(places)
    assert items[0].label == "K2-3"
    assert client.get("/due?ahead=now").text.count("<tr>") < text.count("<tr>")
    other = client.get(f"/due?site={items[0].site}").text
    assert "at Karst Hollow quarry (invented)" in other


def test_a_conveyor_is_added_whole_or_not_at_all(
    signed_in: SignedIn, register: SqlRegister
) -> None:
    lead = signed_in("lead")
    good = INCLINE.read_bytes()
    head = register.head()
    broken = good.replace(b'speed = "2.0 m/s"', b'speed = "2.0 kN"').replace(
        b'width = "1000 mm"', b"widht = 3"
    )
    status, page, _ = send(lead, "/conveyors/add", broken, "my <b>K2</b>.toml")
    assert status == 422
    assert "Nothing was recorded" in page
    assert "<b>line 8</b> <code>conveyor.speed</code>" in page
    assert "<code>belt.width</code> is missing" in page
    assert "<b>K2</b>" not in page
    for data in (b"", b"\xff\xfe", b"[[[", b"x" * 1_000_001):
        assert send(lead, "/conveyors/add", data)[0] == 422
    assert post(lead, "/conveyors/add")[0] == 422
    status, page, _ = send(lead, "/conveyors/add", good)
    assert status == 422
    assert "is recorded at" in page
    assert register.head() == head
    renamed = good.replace(b'name = "K2 incline"', b'name = "K7 incline"')
    status, _, where = send(lead, "/conveyors/add", renamed, "../../etc/passwd")
    assert status == 303
    added = register.conveyor(UUID(where.rpartition("/")[2]))
    assert added is not None
    assert (added.name, added.file_version) == ("K7 incline", 1)
    last = register.facts_about(added.conveyor)[-1].fact
    assert (last.by, last.person is not None) == ("Lead Example", True)


def test_the_next_version_is_of_the_same_conveyor(
    signed_in: SignedIn, register: SqlRegister, incline: ConveyorNow
) -> None:
    lead = signed_in("lead")
    path = f"/conveyors/{incline.conveyor}/next"
    good = INCLINE.read_bytes()
    assert "nothing was recorded" in send(lead, path, good)[1]
    other = (SITE / "conveyors" / "flat.toml").read_bytes()
    status, page, _ = send(lead, path, other)
    assert status == 422
    assert "accepted is a file of" in page
    assert send(lead, path, good.replace(b"2.0 m/s", b"2.2 m/s"))[0] == 303
    now = register.conveyor(incline.conveyor)
    assert now is not None
    assert (now.file_version, now.speed) == (2, 2.2)
    kept = lead.get(f"/conveyors/{incline.conveyor}/file")
    assert b"2.2 m/s" in kept.content
    assert "attachment" in kept.headers["content-disposition"]


def test_belt_pieces_and_damage_are_recorded(
    signed_in: SignedIn, register: SqlRegister, incline: ConveyorNow
) -> None:
    client = signed_in("crew")
    path = f"/conveyors/{incline.conveyor}/belt"
    (belt,) = register.belts(incline.conveyor)
    # The form gives the length back to the centimetre, not as rounded for reading.
    assert f'value="{belt.length:.2f} m"' in client.get(path).text
    found = {"place": "120 ft", "length": "8 in", "grade": "repair soon", "note": "cut"}
    assert post(client, f"{path}/damage", across="10 in", side="right", **found)[0] == 303
    damage = next(d for d in register.damage(belt.belt) if d.note == "cut" and d.mended is None)
    assert damage.place == pytest.approx(120 * 0.3048)
    assert damage.across == pytest.approx(-0.254)
    assert post(client, f"{path}/damage", across="10 in", **found)[0] == 422
    status, page = post(client, f"{path}/damage", **(found | {"grade": "bad", "place": "-2 m"}))
    assert status == 422
    # What was typed stays, and each fault stands at its field by its label.
    assert 'value="8 in"' in page and 'value="cut"' in page
    assert '<a href="#damage-grade">How bad</a>' in page
    assert '<a href="#damage-place">Damage found at</a>: &#34;-2 m&#34; is before the mark' in page
    assert post(client, f"{path}/damage/{damage.damage}/mend", how="patch")[0] == 303
    piece = {"name": "new piece", "start": "10 m", "length": "12 m", "made": "2026-01-02"}
    assert post(client, f"{path}/piece", **piece)[0] == 303
    assert post(client, f"{path}/piece", **(piece | {"made": "long ago"}))[0] == 422
    assert post(client, f"{path}/piece", **(piece | {"length": "0 m"}))[0] == 422
    assert post(client, f"{path}/piece", **(piece | {"start": "-1 m"}))[0] == 422
    placed = next(p for p in register.pieces(belt.belt) if p.name == "new piece")
    assert post(client, f"{path}/piece/{placed.piece}/remove", why="worn")[0] == 303
    assert post(client, f"{path}/place", name="main belt", length="490 m")[0] == 303
    assert [b.length for b in register.belts(incline.conveyor)] == [490.0]
    assert post(client, f"{path}/place", name="next belt", length="495 m", new="yes")[0] == 303
    assert len(register.belts(incline.conveyor)) == 2


def test_drawings_and_the_sheet_follow_the_readers_units(
    signed_in: SignedIn, incline: ConveyorNow
) -> None:
    client = signed_in("viewer")
    here = f"/conveyors/{incline.conveyor}"
    for name in ("drawings/loop.svg", "drawings/tension.svg", "belt-map.svg"):
        answer = client.get(f"{here}/{name}?v=1")
        assert answer.headers["content-type"].startswith("image/svg+xml"), name
        assert answer.text.startswith("<svg")
    assert "K2-4" in client.get(f"{here}/belt-map.svg").text
    assert client.get(f"{here}/drawings/tension-reverse.svg").status_code == 422
    assert client.get(f"{here}/drawings/other.svg").status_code == 404
    assert client.get(f"{here}/sheet.pdf").content.startswith(b"%PDF")
    post(client, "/me/units", units="inch")
    assert "from the mark, ft" in client.get(f"{here}/belt-map.svg").text


def test_history_tells_who_recorded_what_and_the_end_of_the_chain(
    signed_in: SignedIn, register: SqlRegister
) -> None:
    client = signed_in("viewer")
    seen: set[int] = set()
    path, asked = "/history", set[str]()
    while path:
        assert path not in asked, "the pages go in a ring"
        asked.add(path)
        text = client.get(path).text
        seen |= {int(n) for n in re.findall(r"no\. (\d+)\b", text)}
        older = re.search(r'href="(/history\?before=\d+)"', text)
        path = older[1] if older else ""
    head = register.head()
    assert seen == set(range(1, head.seq + 1))
    first = client.get("/history").text
    assert str(head) in first
    assert "Viewer Example" in first
    assert client.get("/history?before=0").status_code == 200
    assert client.get("/history?before=x").status_code == 422


def test_what_is_not_there_is_said(signed_in: SignedIn) -> None:
    client = signed_in("admin")
    for path in (f"/conveyors/{uuid4()}", "/conveyors/x", f"/joints/{uuid4()}", "/joints/x",
                 f"/conveyors/{uuid4()}/belt-map.svg", "/nowhere"):  # fmt: skip
        answer = client.get(path, headers={"accept": "text/html"})
        assert answer.status_code == 404, path
        assert "Not here" in answer.text
        assert 'href="/due"' in answer.text
    script = client.get("/nowhere", headers={"accept": "application/json"})
    assert script.json()["error"][0]["sentence"].startswith("There is nothing")


def test_phones_can_install_it(signed_in: SignedIn) -> None:
    client = signed_in("viewer")
    told = json.loads(client.get("/manifest.webmanifest").text)
    assert told["start_url"] == "/"
    for icon in told["icons"]:
        answer = client.get(icon["src"])
        assert answer.headers["content-type"] == icon["type"]
        assert "immutable" in answer.headers["cache-control"]


def test_head_is_answered_as_get_without_its_body(
    signed_in: SignedIn, client: TestClient, register: SqlRegister
) -> None:
    """RFC 9110, 9.3.2: HEAD is identical to GET but for the content."""
    admin = signed_in("admin")
    for path in ("/", "/due", "/nowhere", "/service-worker.js", "/static/splicewright.css"):
        got, head = admin.get(path), admin.head(path)
        assert head.status_code == got.status_code, path
        assert head.content == b""
        for name in ("content-type", "content-security-policy", "x-content-type-options"):
            assert head.headers.get(name) == got.headers.get(name), (path, name)
    assert client.head("/due").status_code == 303
    assert admin.head("/sign-out").status_code == 405
