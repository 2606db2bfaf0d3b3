"""People are let in, change and leave; everybody sets their own units and password."""

from __future__ import annotations

import re
from collections.abc import Callable

from fastapi import FastAPI
from fastapi.testclient import TestClient

from splicewright.store import Account, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD, csrf_of, sign_in

SignedIn = Callable[[str], TestClient]


def post(client: TestClient, path: str, **fields: str) -> tuple[int, str]:
    answer = client.post(path, data=fields | {"csrf": csrf_of(client)})
    return answer.status_code, answer.text


def test_a_lead_invites_crew_and_they_join(
    signed_in: SignedIn, app: FastAPI, register: SqlRegister, accounts: SqlAccounts
) -> None:
    lead = signed_in("lead")
    status, page = post(lead, "/people/invite", name="Dora Example", role="crew", all_sites="true")
    assert status == 200
    link = re.search(r'value="http://testserver(/join/[^"]+)"', page)
    assert link is not None
    with TestClient(app, follow_redirects=False) as dora:
        form = re.search(r'name="form" value="([^"]+)"', dora.get(link[1]).text)
        assert form is not None
        weak = dora.post(link[1], data={"login": "dora", "password": "short", "form": form[1]})
        assert weak.status_code == 422
        assert "must have 10 to 200 characters" in weak.text
        done = dora.post(link[1], data={"login": "dora", "password": PASSWORD, "form": form[1]})
        assert done.status_code == 303
        assert "Dora Example, crew" in dora.get("/").text
        assert dora.get(link[1]).status_code == 404
    account = next(a for a in accounts.accounts() if a.login == "dora")
    person = next(p for p in register.people() if p.person == account.account)
    assert (person.name, person.role) == ("Dora Example", PersonRole.CREW)


def test_a_lead_does_nothing_to_leads_and_admins(
    signed_in: SignedIn, people: dict[str, Account], accounts: SqlAccounts
) -> None:
    lead = signed_in("lead")
    log = len(accounts.changes())
    for role in ("lead", "admin"):
        there = people[role].account
        assert post(lead, "/people/invite", name="Eve Example", role=role)[0] == 403
        assert post(lead, f"/people/{people['crew'].account}/role", role=role)[0] == 403
        for deed in ("password", "close", *(("sign-out",) if role == "admin" else ())):
            assert post(lead, f"/people/{there}/{deed}")[0] == 403
        assert post(lead, f"/people/{there}/role", role="viewer")[0] == 403
        assert post(lead, f"/people/{there}/name", name="X Example")[0] == 403
    assert len(accounts.changes()) == log


def test_role_and_name_changes_stand_in_the_facts(
    signed_in: SignedIn, people: dict[str, Account], register: SqlRegister
) -> None:
    admin, crew = signed_in("admin"), people["crew"].account
    assert post(admin, f"/people/{crew}/role", role="lead")[0] == 303
    assert post(admin, f"/people/{crew}/name", name="Crew Renamed")[0] == 303
    last = register.facts_about(crew)[-1]
    assert last.fact.by == "Admin Example"
    person = next(p for p in register.people() if p.person == crew)
    assert (person.name, person.role) == ("Crew Renamed", PersonRole.LEAD)
    page = admin.get("/people/log").text
    assert "from crew to lead" in page
    assert "from Crew Example to Crew Renamed" in page


def test_closing_and_opening_again(signed_in: SignedIn, people: dict[str, Account]) -> None:
    admin, viewer = signed_in("admin"), signed_in("viewer")
    there = people["viewer"].account
    assert post(admin, f"/people/{there}/close")[0] == 303
    assert viewer.get("/", headers={"accept": "application/json"}).status_code == 401
    assert sign_in(viewer, "viewer").status_code == 422
    assert "Open again" in admin.get("/people").text
    assert post(admin, f"/people/{there}/password")[0] == 422
    assert post(admin, f"/people/{there}/reopen")[0] == 303
    assert sign_in(viewer, "viewer").status_code == 303


def test_the_only_admin_is_told_so(signed_in: SignedIn, people: dict[str, Account]) -> None:
    admin = signed_in("admin")
    status, page = post(admin, f"/people/{people['admin'].account}/close")
    assert status == 422
    assert "Admin Example is the only admin" in page


def test_units_are_each_persons_own(signed_in: SignedIn, register: SqlRegister) -> None:
    crew, viewer = signed_in("crew"), signed_in("viewer")
    conveyor = next(c for c in register.conveyors() if c.name == "K2 incline")
    page = f"/conveyors/{conveyor.conveyor}"
    assert "497 m" in crew.get(page).text
    assert post(crew, "/me/units", units="inch")[0] == 303
    assert "1629 ft" in crew.get(page).text
    assert "497 m" in viewer.get(page).text
    assert post(crew, "/me/units", units="cubits")[0] == 422


def test_a_new_password_keeps_this_device_and_ends_the_others(signed_in: SignedIn) -> None:
    here, there = signed_in("crew"), signed_in("crew")
    wrong = post(here, "/me/password", old="not it at all", password="seven dry bricks")
    assert wrong[0] == 422
    assert "is not your password" in wrong[1]
    assert post(here, "/me/password", old=PASSWORD, password="seven dry bricks")[0] == 303
    assert here.get("/").status_code == 200
    assert there.get("/", headers={"accept": "application/json"}).status_code == 401
    assert sign_in(there, "crew", "seven dry bricks").status_code == 303
    assert post(there, "/me/sign-out-everywhere")[0] == 303
    assert here.get("/", headers={"accept": "application/json"}).status_code == 401


def test_links_are_listed_and_taken_back(
    signed_in: SignedIn, app: FastAPI, people: dict[str, Account], accounts: SqlAccounts
) -> None:
    lead, admin = signed_in("lead"), signed_in("admin")
    page = post(lead, "/people/invite", name="Dora Example", role="crew", all_sites="true")[1]
    link = re.search(r'value="http://testserver(/join/[^"]+)"', page)
    assert link is not None
    assert (
        post(admin, "/people/invite", name="Lena Example", role="lead", all_sites="true")[0] == 200
    )
    shown = lead.get("/people").text
    assert "Dora Example" in shown and "made by Lead Example" in shown and "Lena Example" in shown
    ids = {i.name: i.id for i in accounts.invitations()}
    assert shown.count("Take back") == 1  # what an admin gives is not a lead's to take
    for client, name, status in ((lead, "Lena", 403), (lead, "Dora", 303), (admin, "Lena", 303)):
        path = f"/people/invitations/{ids[f'{name} Example']}/revoke"
        assert post(client, path)[0] == status
        assert status == 403 or post(client, path)[0] == 422  # it opens nothing any more
    with TestClient(app) as dora:
        assert dora.get(link[1]).status_code == 404
    assert "invitation revoked" in admin.get("/people/log").text


def test_a_lead_sets_no_password_of_somebody_since_made_admin(
    signed_in: SignedIn, app: FastAPI, people: dict[str, Account]
) -> None:
    lead, admin = signed_in("lead"), signed_in("admin")
    page = post(lead, f"/people/{people['crew'].account}/password")[1]
    link = re.search(r'value="http://testserver(/join/[^"]+)"', page)
    assert link is not None
    assert post(admin, f"/people/{people['crew'].account}/role", role="admin")[0] == 303
    with TestClient(app) as anybody:
        opened = anybody.get(link[1])
        assert opened.status_code == 404
        form = re.search(r'name="form" value="([^"]+)"', anybody.get("/sign-in").text)
        assert form is not None
        said = {"password": "seven dry bricks", "form": form[1]}
        assert anybody.post(link[1], data=said).status_code == 422


def test_wrong_passwords_of_others_lock_nobody_out(
    app: FastAPI, signed_in: SignedIn, people: dict[str, Account]
) -> None:
    crew = signed_in("crew")
    assert post(crew, "/sign-out")[0] == 303
    assert sign_in(crew, "crew").status_code == 303
    with TestClient(app, follow_redirects=False) as stranger:
        statuses = [sign_in(stranger, "crew", "not the password").status_code for _ in range(30)]
        assert statuses[-1] == 429
        assert sign_in(stranger, "crew").status_code == 429
    # Here somebody signed in before; that device is let through, even after signing out.
    assert post(crew, "/sign-out")[0] == 303
    assert sign_in(crew, "crew").status_code == 303
    device = [c for c in crew.cookies.jar if c.name.endswith("-device")]
    assert len(device) == 1 and device[0].has_nonstandard_attr("HttpOnly")
    assert post(crew, "/me/password", old=PASSWORD, password="seven dry bricks")[0] == 303
    assert post(crew, "/sign-out")[0] == 303
    assert sign_in(crew, "crew", "seven dry bricks").status_code == 303


def test_a_phone_signed_out_from_elsewhere_is_told_to_forget(
    signed_in: SignedIn, people: dict[str, Account], accounts: SqlAccounts
) -> None:
    crew = signed_in("crew")
    assert "x-forget" not in crew.get("/").headers
    accounts.sign_out_everywhere(people["crew"].account, None)
    for path in ("/", "/sign-in"):
        assert crew.get(path).headers["x-forget"] == "copies"
    assert sign_in(crew, "crew").status_code == 303
    assert "x-forget" not in crew.get("/").headers
