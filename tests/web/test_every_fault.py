"""Every form that links lead to, sent with nonsense: what is wrong is told, and the page with its
faults can be read and hit as well as the page without."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page

from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import cut_off, faint_words, fits, picture, small_targets, words_over_words
from web.test_every_page import LIGHTS, every_page, turn_on

_CHOSEN = ("hidden", "checkbox", "radio", "file", "date", "number")
_TYPED = f"input:not({', '.join(f'[type={kind}]' for kind in _CHOSEN)})"
_FORMS = f"main form:has({_TYPED}, textarea)"
_OWN = re.compile(r"/(password|second-person|second-factor|sign-out)|/jobs/[^/]*$|photograph")
"""Forms that are not sent here: of one's own account, and those that only scripts send."""
_SEND = f"""form => {{
  form.noValidate = true;
  for (const box of form.querySelectorAll("{_TYPED}, textarea")) {{
    box.type = box.type === "textarea" ? box.type : "text";
    box.value = "§ nonsense";
  }}
  form.querySelector("button:not([type=button])").click();
}}"""


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def test_faults_of_every_form(phone: Page, signed_in: Callable[[str], TestClient]) -> None:
    enter(phone, "admin")
    wrong, told = [], 0
    seen: set[str] = set()
    reader = signed_in("admin")
    for name, path in every_page(reader).items():
        if not _new_forms(reader, path, seen):
            continue
        phone.goto(path)
        for at in range(phone.locator(_FORMS).count()):
            if at >= phone.locator(_FORMS).count():
                break  # what it was for is done: a note of nonsense is a note
            form = phone.locator(_FORMS).nth(at)
            action = form.evaluate("form => new URL(form.action).pathname")
            kind = _kind(action)
            if kind in seen or _OWN.search(action):
                continue
            seen.add(kind)
            with phone.expect_navigation(timeout=60_000) as gone:
                form.evaluate(_SEND)
            answer = gone.value
            where = f"{name}, form {at + 1} ({kind})"
            if answer is not None and answer.status == 422:
                told += 1
                faults = phone.locator(".faults:visible, .fault:not(:empty):visible")
                wrong += [] if faults.count() else [f"{where}: does not say what is wrong"]
                machine = phone.locator(".faults code:visible").all_inner_texts()
                wrong += [f"{where}: a box is called {key}" for key in machine]
                wrong += [f"{where}: {each}" for each in _looked_at(phone, f"{name}-{at + 1}")]
            elif answer is None or answer.status >= 400:
                wrong.append(f"{where}: {answer and answer.status}")
            phone.goto(path)
    assert not wrong, "\n".join(wrong)
    assert told > 12, told


def _kind(action: str) -> str:
    return re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "one", action)


def _new_forms(reader: TestClient, path: str, seen: set[str]) -> bool:
    """Whether a page may have forms to send that were not sent: the others need no browser."""
    text = reader.get(path, follow_redirects=True).text
    for form in re.findall(r"<form\b.*?</form>", text, re.S):
        boxes = re.findall(r"<(?:input|textarea)\b[^>]*>", form)
        if all(re.search(rf'type="({"|".join(_CHOSEN)})"', box) for box in boxes):
            continue
        action = re.search(r'^<form\b[^>]*action="([^"]*)"', form)
        there = urlsplit(urljoin(path, action[1] if action else "")).path
        if _kind(there) not in seen and not _OWN.search(there):
            return True
    return False


def _looked_at(phone: Page, name: str) -> list[str]:
    wrong = small_targets(phone) + words_over_words(phone) + cut_off(phone)
    try:
        fits(phone)
    except AssertionError as error:
        wrong.append(str(error))
    for light in LIGHTS:
        turn_on(phone, light)
        picture(phone, f"faults/phone-{light}/{name}")
        wrong += [f"{light}: {each}" for each in faint_words(phone)]
    turn_on(phone, "light")
    return wrong
