"""What the server takes from phones, by its own rules and not by what the phone says."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from splicewright.actions.plan.record import RecordedPlan
from splicewright.quantities import Kind, read, show
from splicewright.store import Account
from splicewright.store.authority import MAY_RUN, WITHDRAWN
from splicewright.store.facts.facts import Correction, Fact
from splicewright.store.facts.job_facts import SIGN_OFFS, SignedOff, ValueRecorded
from splicewright.store.facts.kinds import Stream
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock
from web.working import in_good_faith

FROM_OUR_PAGE = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}

STEPS = (
    "park", "permit", "isolate", "place", "whole", "mark", "clamp", "release", "slack", "chains",
    "open", "cut", "measure", "turn", "punch", "tighten", "couple", "check", "ease", "tension",
    "inch", "run",
)  # fmt: skip
"""Steps with a hold point, in the order of the plan."""


class Phone:
    """Sends facts as the outbox does."""

    def __init__(self, client: TestClient, account: UUID, clock: Clock, device: str) -> None:
        self.client, self.account, self.clock, self.device = client, account, clock, device

    def fact(self, kind: str, /, **what: Any) -> dict[str, Any]:
        return {
            "format": 1, "id": str(uuid4()), "at": self.clock().isoformat(), "by": "phone",
            "person": str(self.account), "device": self.device, "kind": kind, "what": what,
        }  # fmt: skip

    def send(self, *facts: dict[str, Any], **headers: str) -> Any:
        body = {"account": str(self.account), "facts": list(facts)}
        return self.client.post("/sync", json=body, headers=FROM_OUR_PAGE | headers)

    def outcomes(self, *facts: dict[str, Any]) -> list[dict[str, Any]]:
        answer = self.send(*facts)
        assert answer.status_code == 200, answer.text
        found: list[dict[str, Any]] = answer.json()["outcomes"]
        return found

    def tick(self, job: UUID, line: int, done: bool = True) -> dict[str, Any]:
        return self.fact("step ticked", job=str(job), step="isolate", done=done, line=line)

    def value(self, job: UUID, millimetres: float, box: int = 1) -> dict[str, Any]:
        return self.fact(
            "value recorded", job=str(job), step="measure", what="Belt thickness, leading end",
            measure="length", value=millimetres / 1e3, typed=f"{millimetres} mm", box=box,
        )  # fmt: skip

    def steps(self, job: UUID) -> list[dict[str, Any]]:
        """The steps as the page of the job tells its script."""
        page = self.client.get(f"/jobs/{job}").text
        told = json.loads(page.partition('id="job-data">')[2].partition("</script>")[0])
        steps: list[dict[str, Any]] = told["steps"]
        return steps

    def fill(self, job: UUID) -> list[dict[str, Any]]:
        """A value for every box of every step, within its limits."""
        made = []
        for step in self.steps(job):
            for box in step["boxes"]:
                kind = Kind(box["kind"])
                typed = show(in_good_faith(box), kind)
                made.append(self.fact(
                    "value recorded", job=str(job), step=step["key"], what=box["what"],
                    box=box["box"], measure=box["kind"], value=read(typed, kind), typed=typed,
                ))  # fmt: skip
        return made

    def tick_lines(self, job: UUID) -> list[dict[str, Any]]:
        """Every line that a hold point speaks of, ticked."""
        return [
            self.fact("step ticked", job=str(job), step=step["key"], done=True, line=line)
            for step in self.steps(job)
            for line in range(1, step["lines"] + 1)
        ]

    def sign_hold(self, job: UUID, step: str, why: str = "", gaps: Any = None) -> dict[str, Any]:
        """A hold point signed; with a reason, over all its boxes unless told which."""
        (of,) = [s for s in self.steps(job) if s["key"] == step]
        every = [{"what": b["what"], "box": b["box"], "how": "missing"} for b in of["boxes"]]
        over = gaps if gaps is not None else every if why else []
        return self.fact("hold point signed", job=str(job), step=step, statement=of["hold"],
                         why=why, gaps=over)  # fmt: skip

    def sign_off(self, job: UUID, seen: int, closes: bool = False) -> dict[str, Any]:
        return self.fact(
            "signed off", job=str(job), role="I built it", statement=SIGN_OFFS["I built it"],
            seen=seen, closes=closes,
        )  # fmt: skip


BOX = ("Belt thickness, leading end", 1)
MakePhone = Callable[..., Phone]


@pytest.fixture
def make_phone(
    signed_in: Callable[[str], TestClient], people: dict[str, Account], clock: Clock
) -> MakePhone:
    def make(role: str = "crew", device: str = "phone 1") -> Phone:
        return Phone(signed_in(role), people[role].account, clock, device)

    return make


def test_who_says_it_is_decided_by_the_session(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, people: dict[str, Account]
) -> None:
    phone = make_phone()
    fact = phone.tick(job.job, 1) | {"by": "Somebody Else"}
    (first,) = phone.outcomes(fact)
    assert first["status"] == 200 and first["seq"] == register.head().seq
    stored = register.fact(UUID(fact["id"]))
    assert stored is not None
    assert stored.fact.by == "Crew Example" and stored.fact.person == people["crew"].account
    assert stored.fact.device == "phone 1"
    (again,) = phone.outcomes(fact)
    assert again == first
    (other,) = phone.outcomes(fact | {"what": fact["what"] | {"line": 2}})
    assert other["status"] == 409


def test_that_a_joint_may_run_is_for_a_lead(make_phone: MakePhone, job: RecordedPlan) -> None:
    for role, refused in (("crew", True), ("lead", False)):
        phone = make_phone(role)
        said = {"joint": str(job.joint), "inspection": str(uuid4()), "can_run": True}
        closed = phone.fact("inspection closed", **said)
        instead = {
            "of": "joint", "about": str(job.joint), "corrects": closed["id"],
            "kind": "inspection closed", "instead": said, "why": "looked again",
        }  # fmt: skip
        corrected = phone.fact("correction") | {"what": instead}
        for outcome in phone.outcomes(closed, corrected):
            told = [fault["sentence"] for fault in outcome["faults"]]
            assert (told == [MAY_RUN]) == refused, outcome


def test_an_account_renamed_meanwhile_may_send_again(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    phone = make_phone()
    fact = phone.tick(job.job, 1)
    phone.outcomes(fact)
    accounts = register.accounts(hash_memory=64)
    accounts.rename(phone.account, "Crew Married", None)
    (again,) = phone.outcomes(fact)
    assert again["status"] == 200
    stored = register.fact(UUID(fact["id"]))
    assert stored is not None and stored.fact.by == "Crew Example"


def test_facts_of_another_account_are_not_taken(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    crew, lead = make_phone(), make_phone("lead")
    theirs = crew.tick(job.job, 1)
    (outcome,) = lead.outcomes(theirs)
    assert outcome["status"] == 422
    assert "somebody else" in outcome["faults"][0]["sentence"]
    body = {"account": str(crew.account), "facts": [theirs]}
    answer = lead.client.post("/sync", json=body, headers=FROM_OUR_PAGE)
    assert answer.status_code == 403 and answer.json()["account"] == str(lead.account)
    assert len(register.facts_about(job.job)) == 1


def test_a_bad_fact_holds_up_no_other(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    phone = make_phone()
    wrong = phone.value(job.job, 12.5)
    wrong["what"]["value"] = 0.0152  # not what was typed
    facts: list[Any] = [
        phone.tick(job.job, 1), wrong, {"id": "?"}, 7, phone.tick(uuid4(), 1),
        phone.fact("person added", person=str(uuid4()), name="Eve", role="admin"),
        phone.value(job.job, 12.5),
    ]  # fmt: skip
    outcomes = phone.outcomes(*facts)
    assert [o["status"] for o in outcomes] == [200, 422, 422, 422, 422, 422, 200]
    assert "is not what was typed" in outcomes[1]["faults"][0]["sentence"]
    assert "recorded at the desk" in outcomes[5]["faults"][0]["sentence"]
    assert [o["id"] for o in outcomes[2:4]] == [None, None]
    assert len(register.facts_about(job.job)) == 3


def test_requests_that_are_not_from_our_page(
    make_phone: MakePhone, job: RecordedPlan, client: TestClient
) -> None:
    phone = make_phone()
    fact = phone.tick(job.job, 1)
    body = {"account": str(phone.account), "facts": [fact]}
    assert phone.client.post("/sync", json=body).status_code == 403  # says not where from
    for site in ("cross-site", "same-site"):
        assert phone.send(fact, **{"Sec-Fetch-Site": site}).status_code == 403
    elsewhere = {"Origin": "http://elsewhere.example"}
    assert phone.client.post("/sync", json=body, headers=elsewhere).status_code == 403
    own = {"Origin": "http://testserver"}
    assert phone.client.post("/sync", json=body, headers=own).status_code == 200
    viewer = make_phone("viewer")
    assert viewer.send(viewer.tick(job.job, 1)).status_code == 403
    nobody = client.post("/sync", json=body, headers=FROM_OUR_PAGE)
    assert nobody.status_code == 401
    many = [phone.tick(job.job, 1) for _ in range(201)]
    assert phone.send(*many).status_code == 422


def test_sign_off_waits_for_hold_points_conflicts_and_limits(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    one, two = make_phone("crew", "phone 1"), make_phone("lead", "phone 2")
    state = one.client.get(f"/jobs/{job.job}/state").json()
    holds = [s for s in state["keepsOpen"] if "hold point" in s]
    assert len(holds) == len(state["keepsOpen"]) == len(STEPS)
    (refused,) = one.outcomes(one.sign_off(job.job, state["version"], closes=True))
    assert refused["status"] == 422 and len(refused["faults"]) == len(STEPS)
    assert refused["faults"][0]["sentence"].startswith("the hold point of step 1, Run empty")
    holds = [one.sign_hold(job.job, s, "thick here" if s == "measure" else "") for s in STEPS]
    others = [v for v in one.fill(job.job) if (v["what"]["what"], v["what"]["box"]) != BOX]
    one.outcomes(*one.tick_lines(job.job), *others, one.value(job.job, 17.0), *holds)
    (refused,) = one.outcomes(one.sign_off(job.job, 0, closes=True))
    assert [f["sentence"] for f in refused["faults"]] == [
        '"Belt thickness, leading end" of step 16, Measure across the fresh cut, is too large'
    ]
    two.outcomes(two.value(job.job, 15.0))
    (refused,) = one.outcomes(one.sign_off(job.job, 0, closes=True))
    assert "has two answers" in refused["faults"][0]["sentence"]
    (wrong,) = [
        s for s in register.facts_about(job.job)
        if isinstance(s.what, ValueRecorded) and s.what.value == 0.017
    ]  # fmt: skip
    withdrawn = two.fact(
        "correction", of="job", about=str(job.job), corrects=str(wrong.fact.id), kind=None,
        instead=None, why="misread",
    )  # fmt: skip
    outcomes = two.outcomes(withdrawn, two.sign_off(job.job, 0, closes=True))
    assert [o["status"] for o in outcomes] == [200, 200]
    now = register.job(job.job)
    assert now is not None and now.closed is not None and now.signed_by == "Lead Example"


def test_a_signature_has_seen_what_its_own_phone_wrote(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    one, two = make_phone("crew", "phone 1"), make_phone("lead", "phone 2")
    heard = register.version(job.job)
    signature = one.sign_off(job.job, heard)
    first = one.outcomes(one.tick(job.job, 1), one.tick(job.job, 2), signature)
    stored = register.fact(UUID(signature["id"]))
    assert stored is not None and isinstance(stored.fact.what, SignedOff)
    assert stored.fact.what.seen == first[1]["seq"]
    now = register.job(job.job)
    assert now is not None and not now.changed
    assert one.outcomes(signature)[0] == first[2]  # sent again, it is the same
    # Of what another phone wrote meanwhile nobody can say that it was seen.
    heard = register.version(job.job)
    two.outcomes(two.tick(job.job, 3))
    one.outcomes(one.tick(job.job, 4), one.sign_off(job.job, heard))
    now = register.job(job.job)
    assert now is not None and now.changed


def test_state_tells_what_the_other_phone_did(
    make_phone: MakePhone, job: RecordedPlan, clock: Clock
) -> None:
    one, two = make_phone("crew", "phone 1"), make_phone("lead", "phone 2")
    one.outcomes(one.value(job.job, 12.5), one.value(job.job, 16.5, 2))
    before = one.client.get(f"/jobs/{job.job}/state").json()
    address = f"/jobs/{job.job}/state?since={before['version']}&plan={before['plan']}"
    assert one.client.get(address).status_code == 204
    clock.pass_(hours=1)
    two.outcomes(two.value(job.job, 13.5))
    after = one.client.get(address).json()
    (told,) = [a for a in after["values"] if a["conflict"]]
    assert [(e["typed"], e["by"], e["device"]) for e in told["entries"]] == [
        ("12.5 mm", "Crew Example", "phone 1"), ("13.5 mm", "Lead Example", "phone 2"),
    ]  # fmt: skip
    assert after["judged"] == [
        {"step": "measure", "what": "Belt thickness, leading end", "box": 2, "verdict": "too large"}
    ]
    assert one.client.get(f"/jobs/{uuid4()}").status_code == 404
    assert one.client.get(f"/jobs/{uuid4()}/state").status_code == 404


def _jpeg(size: tuple[int, int] = (400, 300)) -> bytes:
    """A photograph that says where and with what it was taken."""
    picture = Image.new("RGB", size, "white")
    picture.paste("black", (0, 0, size[0] // 2, size[1] // 2))
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "Camera of Ada"
    exif.get_ifd(0x8825).update({1: "N", 2: (50.0, 30.0, 0.0), 3: "E", 4: (8.0, 15.0, 0.0)})
    made = BytesIO()
    picture.save(made, "JPEG", exif=exif, comment=b"behind the workshop", quality=95)
    return made.getvalue()


def _send_photo(phone: Phone, data: bytes, kind: str = "image/jpeg") -> Any:
    headers = FROM_OUR_PAGE | {"Content-Type": kind, "X-Account": str(phone.account)}
    return phone.client.post("/photographs", content=data, headers=headers)


def test_a_photograph_keeps_its_pixels_and_nothing_else(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    phone = make_phone()
    sent = _jpeg()
    assert b"Camera of Ada" in sent
    digest = _send_photo(phone, sent).json()["digest"]
    assert _send_photo(phone, sent).json()["digest"] == digest
    kept = phone.client.get(f"/photographs/{digest}")
    assert kept.headers["content-type"] == "image/jpeg"
    with Image.open(BytesIO(kept.content)) as shown:
        assert shown.size == (300, 400)  # stands upright
        assert not shown.getexif() and "comment" not in shown.info and "exif" not in shown.info
        assert shown.convert("L").getpixel((250, 50)) == 0  # the black corner, turned right
    for word in (b"Ada", b"workshop", b"Exif"):
        assert word not in kept.content
    photo = phone.fact(
        "photograph added", of="job", about=str(job.job), photo=digest, caption="", step="isolate",
        damage=None,
    )  # fmt: skip
    assert phone.outcomes(photo)[0]["status"] == 200
    missing = phone.fact("photograph added", of="job", about=str(job.job), photo="0" * 64)
    assert "is not kept" in phone.outcomes(missing)[0]["faults"][0]["sentence"]


def test_a_large_photograph_is_made_smaller(make_phone: MakePhone) -> None:
    phone = make_phone()
    digest = _send_photo(phone, _jpeg((5000, 2000))).json()["digest"]
    with Image.open(BytesIO(phone.client.get(f"/photographs/{digest}").content)) as shown:
        assert shown.size == (1024, 2560)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty (0 bytes)"),
        (b"<svg onload='alert(1)'/>", "cannot be decoded"),
        (_jpeg()[:2000], "is cut short or damaged"),
        (b"\xff\xd8\xff" + bytes(100), "cannot be decoded"),
        (b"x" * 20_000_001, "accepted is up to 20 MB"),
    ],
)
def test_what_is_no_photograph_is_refused(
    make_phone: MakePhone, data: bytes, sentence: str
) -> None:
    answer = _send_photo(make_phone(), data)
    assert answer.status_code == 422
    assert sentence in answer.json()["error"][0]["sentence"]


def test_a_picture_of_too_many_pixels_is_refused(make_phone: MakePhone) -> None:
    made = BytesIO()
    Image.new("1", (9000, 9000)).save(made, "PNG")
    answer = _send_photo(make_phone(), made.getvalue(), "image/png")
    assert answer.status_code == 422 and "too many pixels" in answer.text


def test_a_plan_is_no_photograph(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    joint = register.joint(job.joint)
    assert joint is not None and joint.plan is not None
    phone = make_phone()
    assert phone.client.get(f"/photographs/{joint.plan}").status_code == 404
    assert phone.client.get(f"/photographs/{'0' * 64}").status_code == 404


def test_past_times_stand_at_the_steps(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    from splicewright.store import Fact
    from splicewright.store.facts.job_facts import JobOpened

    phone = make_phone()
    for minutes in (40, 50):
        earlier = uuid4()
        opened = JobOpened(earlier, register.jobs()[0].conveyor, "earlier", None)
        register.append(Fact(uuid4(), clock() - timedelta(days=9), "Ada Example", opened))
        timed = phone.fact(
            "step timed", job=str(earlier), step="isolate", took=minutes * 30.0, planned=900.0
        )
        more = phone.fact(
            "step timed", job=str(earlier), step="isolate", took=minutes * 30.0, planned=900.0
        )
        assert [o["status"] for o in phone.outcomes(timed, more)] == [200, 200]
    page = phone.client.get(f"/jobs/{job.job}").text
    # Took 40 and 50 min of 15 planned, which are 80 and 100 min of the 30 planned here; the plan
    # itself counts as two jobs, and the middle of lognormal times is their geometric mean.
    likely = (30 * 30 * 80 * 100) ** (1 / 4)
    assert f"from 2 past jobs: {likely:.0f} min likely" in page


def test_of_a_withdrawn_job_nothing_is_recorded_until_it_is_open_again(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    one = make_phone("crew", "phone 1")
    before = one.tick(job.job, 1)
    made_up = one.value(job.job, 12.5) | {"id": str(uuid4())}
    made_up["what"] = made_up["what"] | {"what": "in no plan"}
    late = [one.tick(job.job, 2), one.sign_off(job.job, 0, closes=True), made_up]
    assert [o["status"] for o in one.outcomes(before)] == [200]
    (opened,) = [s for s in register.facts_about(job.job) if s.fact.kind == "job opened"]

    def lead(instead: Any) -> None:
        said = Correction(Stream.JOB, job.job, opened.fact.id, instead, "whose job it is")
        register.append(Fact(uuid4(), clock(), "Lead Example", said))

    lead(None)
    assert register.job(job.job) is None
    told = one.outcomes(*late)
    assert [o["status"] for o in told] == [422] * 3
    assert {f["sentence"] for o in told for f in o["faults"]} == {WITHDRAWN}
    corrected = one.fact(
        "correction", of="job", about=str(job.job), corrects=before["id"], kind="step ticked",
        instead=before["what"] | {"line": 3}, why="another line",
    )  # fmt: skip
    assert [o["status"] for o in one.outcomes(corrected)] == [422]
    assert [o["status"] for o in one.outcomes(before)] == [200]  # known already
    lead(opened.fact.what)
    told = one.outcomes(*late)  # judged as every job is
    assert [o["status"] for o in told] == [200, 422, 422]
    assert WITHDRAWN not in {f["sentence"] for o in told for f in o["faults"]}


def test_what_a_register_set_back_lacks_comes_before_what_may_speak_of_it(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    one, phone = make_phone("crew", "phone 1"), str(uuid4())
    gone, late = one.tick(job.job, 1), one.tick(job.job, 2)

    def sent(fact: dict[str, Any], *ask: dict[str, Any]) -> dict[str, Any]:
        says = {"id": phone, "device": "phone 1", "made": 2, "waits": 1,
                "ask": [f["id"] for f in ask]}  # fmt: skip
        body = {"account": str(one.account), "facts": [fact], "phone": says}
        told: dict[str, Any] = one.client.post("/sync", json=body, headers=FROM_OUR_PAGE).json()
        return told

    told = sent(late, gone)
    assert (told["outcomes"], told["phone"]["lacks"]) == ([], [gone["id"]])
    assert [s.fact.kind for s in register.facts_about(job.job)] == ["job opened"]
    for fact in (gone, late):
        assert [o["status"] for o in sent(fact)["outcomes"]] == [200]
    assert [str(s.fact.id) for s in register.facts_about(job.job)][1:] == [gone["id"], late["id"]]


def test_a_store_is_known_again_before_it_has_kept_its_id(make_phone: MakePhone) -> None:
    """However often the answer is lost: of the same store nothing is lost, of another all is."""
    one, other = make_phone("crew", "phone 1"), make_phone("crew", "phone 2")

    def reported(phone: Phone, store: UUID, entries: int, waits: int) -> dict[str, Any]:
        says = {"id": None, "store": str(store), "device": phone.device, "made": entries,
                "waits": waits}  # fmt: skip
        body = {"account": str(phone.account), "facts": [], "phone": says}
        answer: dict[str, Any] = phone.client.post(
            "/sync", json=body, headers=FROM_OUR_PAGE
        ).json()["phone"]
        return answer

    reported(other, uuid4(), 3, 2)  # on another phone of the same person entries wait
    first, second = uuid4(), uuid4()
    for _ in range(3):
        heard = reported(one, first, 1, 1)
        assert heard["lost"] is None and [p["waits"] for p in heard["elsewhere"]] == [2]
    for made in (0, 1, 1):  # deleted, and as much is written anew meanwhile
        heard = reported(one, second, made, made)
        assert (heard["lost"]["made"], heard["lost"]["waits"]) == (1, 1)
