"""The app's start: what is refused, which register is opened, who is let in first."""

from __future__ import annotations

import contextlib
import os
import platform
import re
import subprocess
import sys
import threading
from pathlib import Path

import httpx2
import pytest
from click.testing import CliRunner

from depth import PATIENCE, ended, next_line
from planned import SITE
from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.store import CONSOLE, PersonRole
from splicewright.store.sql.register import open_register
from splicewright.web.start import Reach, example_site, first_link, is_loopback, opened
from web.conftest import PASSWORD, sign_in


@pytest.mark.parametrize(
    ("host", "own"),
    [("127.0.0.1", True), ("127.9.9.9", True), ("::1", True), ("localhost", True),
     ("0.0.0.0", False), ("::", False), ("192.0.2.7", False), ("belts.example.org", False),
     ("", False)],
)  # fmt: skip
def test_only_loopback_is_served_in_the_clear(host: str, own: bool) -> None:
    assert is_loopback(host) is own
    reach = Reach(host)
    if own:
        reach.check()
        return
    with pytest.raises(InputError, match="passwords would cross the network in the clear"):
        reach.check()
    Reach(host, behind_proxy=True).check()


_HEAPS = """
import sys, threading
from splicewright.web.start import _share_heaps
if sys.argv[1] == "shared":
    _share_heaps()
all_ = threading.Barrier(20)
def hold():
    kept = [bytes(20_000 + n) for n in range(50)]  # too large for Python's own small blocks
    all_.wait()
    all_.wait()
for _ in range(19):
    threading.Thread(target=hold, daemon=True).start()
all_.wait()
with open("/proc/self/maps") as maps:  # a heap of glibc beside the first begins at a whole 64 MB
    begun = [line.split() for line in maps]
    print(sum(int(f[0].split("-")[0], 16) % (64 << 20) == 0 and f[1] == "rw-p" for f in begun))
all_.wait()
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="mallopt is of glibc")
def test_threads_share_the_heaps_of_the_server() -> None:
    """Up to sixteen heaps on two cores each held what was freed in it."""

    def heaps(how: str) -> int:
        words = [sys.executable, "-c", _HEAPS, how]
        return int(subprocess.run(words, check=True, capture_output=True, text=True).stdout)

    assert heaps("shared") <= 2 < heaps("own")


_SERVED = """
import gc, sys
from splicewright.web import start

class Told:
    def run(self, sockets):
        loaded = [name in sys.modules for name in start._LOADED]
        print(gc.get_freeze_count(), len(gc.get_objects()), *loaded)

start._server = lambda app, reach: Told()
start.serve(sys.argv[1], None, start.Reach(port=0), lambda said: None, workers=0)
"""


def test_full_collections_pass_by_what_the_server_began_with(tmp_path: Path) -> None:
    """Every page waited for them: each looked at 200,000 objects that never go."""
    words = [sys.executable, "-c", _SERVED, str(tmp_path / "register.sqlite")]
    told = subprocess.run(words, check=True, capture_output=True, text=True).stdout.split()
    frozen, looked_at = map(int, told[:2])
    assert frozen > 100_000
    assert looked_at < 10_000
    assert told[2:] == ["True", "True"]  # what the first fit takes is there before anybody waits


def test_what_cannot_be_used_for_https_is_named(tmp_path: Path) -> None:
    empty = tmp_path / "empty.pem"
    empty.write_text("")
    with pytest.raises(InputError, match=r"go together: the certificate's file and its key's"):
        Reach(certificate=empty).check()
    with pytest.raises(InputError, match="cannot be used together"):
        Reach(certificate=empty, key=empty).check()
    with pytest.raises(InputError, match="cannot be read: No such file"):
        Reach(certificate=tmp_path / "none.pem", key=empty).check()
    for address in ("belts.example.org", "ftp://belts.example.org", "https://a.example/path"):
        with pytest.raises(InputError, match="accepted is like https://belts"):
            Reach(address=address).check()


def test_where_people_reach_it() -> None:
    assert Reach().url(8750) == "http://127.0.0.1:8750"
    assert Reach("::1").url(1) == "http://[::1]:1"
    assert Reach(address="https://belts.example.org/").url(1) == "https://belts.example.org"
    assert "127.0.0.1" in Reach().hosts
    assert "belts.example.org" in Reach(address="https://belts.example.org").hosts
    assert Reach(behind_proxy=True).hosts == frozenset()


def test_the_example_is_made_once_and_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    said: list[str] = []
    with opened("", None, Reach(), said.append) as room:
        assert room.invented
        assert not room.secure
        head = room.register.head()
        assert head.seq > 100
        link = first_link(room, "http://here", again=False)
        assert link is not None
        secret = link.removeprefix("http://here/join/")
        assert room.accounts.accept(secret, "ada", PASSWORD).role is PersonRole.ADMIN
        assert first_link(room, "http://here", again=False) is None
        assert first_link(room, "http://here", again=True) is not None
    assert "Example site, invented: karst-hollow" in said[0]
    with opened("", SITE, Reach(), said.append) as room:
        assert room.register.head() == head
    with (
        pytest.raises(InputError, match="cannot go together"),
        opened("x.sqlite", SITE, Reach(), said.append),
    ):
        pass
    with (
        pytest.raises(InputError, match=r"holds no conveyors"),
        opened("", tmp_path, Reach(), said.append),
    ):
        pass
    assert example_site().name == "karst-hollow"


def test_the_users_own_register_comes_before_the_example(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    run = CliRunner()
    file = str(SITE / "conveyors" / "flat.toml")
    made = run.invoke(main, ["register", "add-conveyor", file, "--by", "Ada Example"])
    assert made.exit_code == 0, made.output
    said: list[str] = []
    with opened("", None, Reach(), said.append) as room:
        assert room.register.conveyors() == ()  # nobody is signed in
        found = room.register.said_by(CONSOLE).conveyors()
        assert [c.name for c in found] == ["K1 crusher discharge"]
        assert room.invented
    assert said == [f"Register: {tmp_path / 'splicewright' / 'register.sqlite'}"]


def test_the_command_refuses_in_one_sentence() -> None:
    done = CliRunner().invoke(main, ["serve", "--host", "192.0.2.7"])
    assert done.exit_code == 2
    assert done.output.startswith("error: --host: 192.0.2.7 can be reached from other machines")


def test_a_first_start_as_somebody_does_it(tmp_path: Path) -> None:
    """The command, its link, an account, the first page: over a real socket."""
    words = [sys.executable, "-m", "splicewright", "serve", "--port", "0"]
    environment = os.environ | {"XDG_DATA_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    environment.pop("SPLICEWRIGHT_REGISTER", None)
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    ) as served:
        try:
            assert served.stdout is not None
            told: list[str] = []
            for line in served.stdout:
                told.append(line.strip())
                if line.startswith("Open "):
                    break
            address = told[-1].split()[1]
            link = next(line for line in told if "/join/" in line)
            assert link.startswith(address)
            with httpx2.Client(base_url=address, timeout=PATIENCE) as client:
                form = re.search(r'name="form" value="([^"]+)"', client.get(link).text)
                assert form is not None
                data = {"login": "ada", "password": PASSWORD, "form": form[1]}
                assert client.post(link, data=data).status_code == 303
                assert "K2 incline" in client.get("/").text
                assert client.get(link).status_code == 404
                with httpx2.Client(base_url=address, timeout=PATIENCE) as second:
                    assert sign_in(second, "ada").status_code == 303
                assert "server" not in client.get("/").headers
        finally:
            served.terminate()
    assert served.returncode in {0, -15}


_SLOW = """
import sys, time
from splicewright.web.people import sign_in
from splicewright.web.start import Reach, serve
sign_in.form_page = lambda *a, **k: (print("asked", flush=True), time.sleep(1e6))
serve(sys.argv[1], None, Reach(port=0), lambda line: print(line, flush=True))
"""


def test_a_page_that_takes_long_does_not_hold_the_end(tmp_path: Path) -> None:
    """A question of 89 s held the end of the server; here one of eleven days does not."""
    words = [sys.executable, "-c", _SLOW, str(tmp_path / "register.sqlite")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as served:
        while not (line := next_line(served)).startswith("Open "):
            pass
        address = line.split()[1]

        def ask() -> None:
            with contextlib.suppress(httpx2.TransportError):
                httpx2.get(f"{address}/sign-in", timeout=None)

        asking = threading.Thread(target=ask)
        asking.start()
        assert next_line(served) == "asked\n"
        served.terminate()
        assert served.wait(timeout=PATIENCE) in {0, -15}
        ended(asking)
    with open_register(tmp_path / "register.sqlite") as register:
        assert register.verify().faults == ()
