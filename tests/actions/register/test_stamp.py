"""Time stamps by RFC 3161: an authority made with OpenSSL answers here and checks what we kept.

OpenSSL's `ts` is the independent reader: it verifies the very files that the command wrote.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner

from depth import PATIENCE
from splicewright.actions.register.stamp import check_stamp, stamp_head
from splicewright.cli import main
from splicewright.errors import InputError, OutputError
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

pytestmark = pytest.mark.skipif(shutil.which("openssl") is None, reason="needs openssl")
_SETTINGS = """
[tsa]
serial = serial
crypto_device = builtin
signer_cert = tsa.pem
signer_key = tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha512
ess_cert_id_alg = sha256
"""


def openssl(folder: Path, *words: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        ["openssl", *words], cwd=folder, capture_output=True, check=True, timeout=PATIENCE
    )


@dataclass
class Authority:
    """Stamps what it is asked to; answers with something else where it is told to."""

    folder: Path
    url: str = ""
    instead: list[bytes] = field(default_factory=list)
    given: list[bytes] = field(default_factory=list)

    def answer(self, asked: bytes) -> bytes:
        if self.instead:
            return self.instead.pop()
        (self.folder / "asked.tsq").write_bytes(asked)
        openssl(self.folder, "ts", "-reply", "-config", "tsa.cnf", "-section", "tsa",
                "-queryfile", "asked.tsq", "-out", "given.tsr")  # fmt: skip
        self.given.append((self.folder / "given.tsr").read_bytes())
        return self.given[-1]


def certificates(folder: Path) -> None:
    """A root, and an authority that it vouches for."""
    (folder / "tsa.cnf").write_text(_SETTINGS)
    (folder / "serial").write_text("01\n")
    (folder / "use.cnf").write_text(
        "extendedKeyUsage = critical,timeStamping\nbasicConstraints = CA:FALSE\n"
        "keyUsage = critical,digitalSignature\n"
    )
    openssl(folder, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", "ca.key",
            "-out", "ca.pem", "-days", "9", "-subj", "/CN=Invented root")  # fmt: skip
    openssl(folder, "req", "-newkey", "rsa:2048", "-nodes", "-keyout", "tsa.key",
            "-out", "tsa.csr", "-subj", "/CN=Invented authority")  # fmt: skip
    openssl(folder, "x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key",
            "-CAcreateserial", "-out", "tsa.pem", "-days", "9", "-extfile", "use.cnf")  # fmt: skip


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Authority]:
    kept = Authority(tmp_path_factory.mktemp("authority"))
    certificates(kept.folder)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            assert self.headers["Content-Type"] == "application/timestamp-query"
            body = kept.answer(self.rfile.read(int(self.headers["Content-Length"])))
            self.send_response(200 if body else 503)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    kept.url = f"http://127.0.0.1:{server.server_address[1]}/"
    yield kept
    server.shutdown()
    thread.join(PATIENCE)
    assert not thread.is_alive(), "the authority's server never ended"
    server.server_close()


@pytest.fixture
def register(tmp_path: Path) -> Iterator[SqlRegister]:
    clock = Clock()
    with open_register(tmp_path / "register.sqlite", clock=clock) as opened:
        Plant(clock).begin(opened)
        yield opened


def test_a_stamp_is_one_for_openssl_too(
    register: SqlRegister, authority: Authority, tmp_path: Path
) -> None:
    to, root = tmp_path / "head.txt", authority.folder / "ca.pem"
    done = stamp_head(register, to, authority.url)
    assert to.read_text() == f"{register.head()}\n" and done.head == str(register.head())
    said = openssl(tmp_path, "ts", "-verify", "-data", "head.txt", "-in", "head.txt.tsr",
                   "-CAfile", str(root))  # fmt: skip
    assert b"Verification: OK" in said.stdout + said.stderr
    Plant(register._clock).begin(register)  # type: ignore[arg-type]
    stamp, found = check_stamp(register, to, root)
    assert stamp == done and (found.stands, found.since) == (True, 3)
    with pytest.raises(OutputError, match="is already there; it was not touched"):
        stamp_head(register, to, authority.url)


def test_a_stamp_by_another_or_of_another_line_is_none(
    register: SqlRegister, authority: Authority, tmp_path: Path
) -> None:
    to, root = tmp_path / "head.txt", authority.folder / "ca.pem"
    stamp_head(register, to, authority.url)
    other = tmp_path / "other"
    other.mkdir()
    certificates(other)
    with pytest.raises(InputError, match=r"is no stamp of head\.txt by one that is trusted"):
        check_stamp(register, to, other / "ca.pem")
    line = to.read_text()
    to.write_text(f"3:{'0' * 64}\n")
    with pytest.raises(InputError, match=r"is no stamp of head\.txt by one that is trusted"):
        check_stamp(register, to, root)
    to.write_text(line)
    raw = bytearray((tmp_path / "head.txt.tsr").read_bytes())
    raw[len(raw) // 2] ^= 1
    (tmp_path / "head.txt.tsr").write_bytes(raw)
    with pytest.raises(InputError, match="by one that is trusted"):
        check_stamp(register, to, root)
    for wrong in (root.with_name("ca.key"), tmp_path / "nowhere"):
        with pytest.raises(InputError, match=r"holds no certificate|cannot be read"):
            check_stamp(register, to, wrong)


def test_answers_that_are_no_stamp_of_this_write_nothing(
    register: SqlRegister, authority: Authority, tmp_path: Path
) -> None:
    to = tmp_path / "head.txt"
    stamp_head(register, tmp_path / "first.txt", authority.url)
    for instead, said in (
        (b"", "Service Unavailable"), (b"<html>no</html>", "none of RFC 3161"),
        (authority.given[-1], "something else, or an earlier one"),
    ):  # fmt: skip
        authority.instead.append(instead)
        with pytest.raises(OutputError, match=said):
            stamp_head(register, to, authority.url)
    settings = authority.folder / "tsa.cnf"
    settings.write_text(_SETTINGS.replace("sha256, sha512", "sha256"))
    with pytest.raises(OutputError, match=r"refused to give a stamp: .*not supported"):
        stamp_head(register, to, authority.url)
    settings.write_text(_SETTINGS)
    for address in ("file:///etc/passwd", "here", "ftp://x/", "http://"):
        with pytest.raises(InputError, match="is no address; accepted is such as"):
            stamp_head(register, to, address)
    assert not to.exists() and not (tmp_path / "head.txt.tsr").exists()


def test_the_commands(register: SqlRegister, authority: Authority, tmp_path: Path) -> None:
    on = ["--register", str(tmp_path / "register.sqlite")]
    to, root = str(tmp_path / "head.txt"), str(authority.folder / "ca.pem")
    done = CliRunner().invoke(main, ["register", "stamp", to, "--authority", authority.url, *on])
    assert done.exit_code == 0 and str(register.head()) in done.output, done.output
    words = ["register", "check-stamp", to, "--trusted", root]
    done = CliRunner().invoke(main, [*words, *on, "--json"])
    assert done.exit_code == 0 and json.loads(done.output)["stands"] is True
    other = tmp_path / "other.sqlite"
    with open_register(other) as fresh:
        Plant(Clock()).begin(fresh)
    done = CliRunner().invoke(main, [*words, "--register", str(other)])
    assert done.exit_code == 1 and "does NOT stand" in done.output
