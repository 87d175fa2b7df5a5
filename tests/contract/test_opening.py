"""`forerun serve --open`: nothing is open to more than its owner believes; encrypted end to end."""

from __future__ import annotations

import http.client
import os
import re
import ssl
import subprocess
import sys
from pathlib import Path

import pytest

from forerun.app.web.opening import Opening
from forerun.app.web.passphrases import PassPhrases
from forerun.app.web.sessions import Sessions, script_token
from forerun.core.errors import BadInput
from journeys.command import forerun

FILES = Path(__file__).parent / "files"
CERTIFICATE, KEY = (str(FILES / f"tests-only-{name}.pem") for name in ("certificate", "key"))
LAB = ("lab-pc.example",)


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    return tmp_path


REFUSED = [
    (Opening(LAB), "--open"),
    (Opening(LAB, CERTIFICATE, KEY), "--open"),  # no pass-phrase yet
    (Opening(LAB, CERTIFICATE), "--certificate"),
    (Opening(LAB, CERTIFICATE, CERTIFICATE), "--certificate"),
    (Opening(LAB, CERTIFICATE, "nowhere.pem"), "--key"),
    (Opening(LAB, CERTIFICATE, KEY, plain=True), "--plain"),
    (Opening(plain=True), "--plain"),
    (Opening(("lab pc",), plain=True), "--open"),
    (Opening(("http://lab-pc",), plain=True), "--open"),
    (Opening(("*",), plain=True), "--open"),
]


@pytest.mark.usefixtures("mine")
@pytest.mark.parametrize(("opening", "field"), REFUSED, ids=range(len(REFUSED)))
def test_what_is_half_open_is_refused(opening: Opening, field: str) -> None:
    with pytest.raises(BadInput) as refused:
        opening.check()
    assert refused.value.field == field


def test_with_a_pass_phrase_it_opens(mine: Path) -> None:
    PassPhrases(mine).put("bench", "correct horse bench")
    Opening(LAB, CERTIFICATE, KEY).check()
    Opening(LAB, plain=True).check()
    assert Opening().listens_at == "127.0.0.1"


def test_the_token_of_scripts_is_kept_for_its_owner(mine: Path) -> None:
    token = script_token()
    assert script_token() == token
    assert len(token) >= 40
    if os.name == "posix":
        assert (mine / "http-token").stat().st_mode & 0o077 == 0
    sessions = Sessions(token)
    assert sessions.role_of_token(token) == "owner"
    assert sessions.role_of_token("") is None
    assert Sessions("").role_of_token("") is None


def test_the_command_takes_a_pass_phrase_from_a_pipe(mine: Path) -> None:
    found = forerun("passphrase", "bench", given=b"correct horse bench\n")
    assert (found.code, found.err.strip()) == (0, "bench: kept")
    assert PassPhrases(mine).fits("bench", "correct horse bench")
    short = forerun("passphrase", "reader", given=b"tiny\n")
    assert short.code == 2
    assert "tiny" not in short.out + short.err


def test_encrypted_from_the_command_to_the_page(mine: Path) -> None:
    PassPhrases(mine).put("bench", "correct horse bench")
    words = ["--open", "localhost", "--certificate", CERTIFICATE, "--key", KEY]
    command = [sys.executable, "-m", "forerun.app.cli", "serve", "--port", "0", "--no-browser"]
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2] / "src")}
    pipe = subprocess.PIPE
    with subprocess.Popen([*command, *words], stdout=pipe, env=env, text=True) as server:
        try:
            assert server.stdout is not None
            address = re.search(r"https://localhost:(\d+)/ ", server.stdout.readline())
            assert address
            port = int(address[1])
            trusted = ssl.create_default_context(cafile=CERTIFICATE)
            line = http.client.HTTPSConnection("localhost", port, timeout=60, context=trusted)
            line.request("GET", "/")
            answer = line.getresponse()
            assert answer.status == (200 if sys.platform == "linux" else 401)
            assert "max-age" in str(answer.getheader("Strict-Transport-Security"))
            plain = http.client.HTTPConnection("localhost", port, timeout=60)
            plain.request("GET", "/")
            with pytest.raises((http.client.HTTPException, OSError)):
                plain.getresponse()
            line.close(), plain.close()
        finally:
            server.kill()
