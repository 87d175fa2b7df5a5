"""What somebody without the pass-phrase, or a page elsewhere, would try; each one a test."""

from __future__ import annotations

import csv
import io
import json
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from contract.lab import NAME, PHRASES, TOKEN, Lab, open_lab
from forerun.core.cells import harmless
from forerun.reporting.tables_csv import csv_text

LOOK = b'{"substance": "water"}'


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    with open_lab(tmp_path_factory.mktemp("lab")) as found:
        yield found


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """A server for this machine alone, asked by its owner."""
    folder = tmp_path_factory.mktemp("own")
    with open_lab(folder, neighbour=True, phrases=False) as found:
        yield found


@pytest.fixture
def closed(tmp_path: Path) -> Iterator[Lab]:
    """A server of its own, since a test spends its attempts."""
    with open_lab(tmp_path) as found:
        yield found


# --- from the network, without a pass-phrase

STRANGE_PATHS = [
    "/", "/index.html", "/parts/", "/api/", "/api/kept", "/api/openapi.json", "/login",
    "/start/", "/start/x", "/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2fetc%2fpasswd",
    "/....//....//etc/passwd", "/%c0%ae%c0%ae/etc/passwd", "/..\\..\\etc\\passwd",
    "//etc/passwd", "/api/../api/kept", "/API/kept", "/api//kept", "/api/kept/", "/api/kept%00",
    "/.git/config", "/access.json", "/http-token",
]  # fmt: skip


@pytest.mark.parametrize("path", STRANGE_PATHS)
def test_a_stranger_sees_the_login_page_or_a_refusal(lab: Lab, path: str) -> None:
    found = lab.ask("GET", path)
    assert found.status == 401
    assert found.is_login or set(json.loads(found.body)) == {"error"}


@pytest.mark.parametrize("path", STRANGE_PATHS)
def test_no_path_leads_out_of_the_page_even_for_those_who_are_in(lab: Lab, path: str) -> None:
    found = lab.ask("GET", path, Authorization=f"Bearer {TOKEN}")
    assert found.status in {200, 401, 404, 405}
    assert "root:" not in found.body
    assert "scrypt" not in found.body


@pytest.mark.parametrize(
    "method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "OPTIONS", "QUERY"]
)
def test_an_unknown_method_does_nothing(lab: Lab, method: str) -> None:
    assert lab.ask(method, "/api/kept").status == 401
    known = lab.ask(method, "/api/kept", Authorization=f"Bearer {TOKEN}")
    assert known.status in {403, 404, 405}


FORGED = [
    {"X_Forwarded_For": "127.0.0.1"},
    {"X_Real_IP": "127.0.0.1"},
    {"Forwarded": "for=127.0.0.1;proto=https"},
    {"X_Forwarded_Host": "127.0.0.1", "X_Forwarded_Proto": "https"},
    {"X_Original_URL": "/api/health"},
    {"X_HTTP_Method_Override": "GET"},
    {"Authorization": "Basic aW5zdHJ1Y3Rvcjo="},
    {"Authorization": "Bearer "},
    {"Authorization": "Bearer"},
    {"Cookie": "forerun-0=owner"},
]


@pytest.mark.parametrize("headers", FORGED, ids=str)
def test_a_forged_header_makes_nobody_known(lab: Lab, headers: dict[str, str]) -> None:
    assert lab.ask("GET", "/api/kept", **headers).status == 401
    assert lab.ask("POST", "/api/look", LOOK, **headers).status == 401


def test_a_made_up_cookie_lets_nobody_in(lab: Lab) -> None:
    for value in ("", "x", "owner", "a" * 43, "a" * 4000, "\xff"):
        assert lab.ask("GET", "/api/kept", Cookie=f"forerun-{lab.port}={value}").status == 401


def test_guessing_becomes_ever_slower(closed: Lab) -> None:
    waits = []
    for _ in range(8):
        found = closed.login("instructor", "a wrong pass-phrase")
        waits.append(int(found.headers.get("retry-after", "0")))
        if found.status == 429:
            closed.clock.now += waits[-1]
    assert waits[:5] == [0] * 5
    assert waits[5] >= 2
    # the right one does not come in either while there is a wait
    for _ in range(3):
        closed.login("bench", "a wrong pass-phrase")
    assert closed.login("instructor", PHRASES["instructor"]).status == 429
    closed.clock.now += 3600.0
    assert closed.login("instructor", PHRASES["instructor"]).status == 303


def test_many_addresses_are_no_way_round() -> None:
    from forerun.app.web.attempts import Attempts  # noqa: PLC0415 -- of this test alone

    clock = {"now": 0.0}
    attempts = Attempts(lambda: clock["now"])
    tried = 0
    for number in range(10_000):
        tried += attempts.wait(f"10.0.{number // 256}.{number % 256}") == 0.0
        clock["now"] += 0.001
    assert tried <= 60 + 10


def test_logging_in_from_another_page_is_refused(lab: Lab) -> None:
    evil = {"Origin": "http://evil.example"}
    assert lab.login("bench", PHRASES["bench"], **evil).status == 403
    assert lab.login("bench", PHRASES["bench"], Origin="null").status == 403


@pytest.mark.parametrize(
    "form",
    [b"", b"role=bench", b"%ff=%ff", b"role=bench&phrase=" + b"a" * 5000, b"&" * 500, b"\xff\xfe"],
    ids=range(6),
)
def test_a_strange_form_is_only_wrong(closed: Lab, form: bytes) -> None:
    kind = "application/x-www-form-urlencoded"
    found = closed.ask("POST", "/login", form, Content_Type=kind, Origin=closed.origin)
    assert found.status == 401
    assert found.is_login


def test_the_login_page_runs_nothing_and_sends_nowhere_else(lab: Lab) -> None:
    policy = lab.ask("GET", "/").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "form-action 'self'" in policy
    assert "script" not in policy
    assert "unsafe" not in policy


def test_what_was_typed_is_not_shown_again(closed: Lab) -> None:
    found = closed.login('"><script>alert(1)</script>', '"><script>alert(1)</script>')
    assert "alert" not in found.body


# --- from a page elsewhere, through the browser of somebody who is in


FOREIGN = [
    {"Host": "evil.example"},
    {"Host": "127.0.0.1.evil.example"},
    {"Host": f"{NAME}.evil.example"},
    {"Host": f"evil.example@{NAME}"},
    {"Host": ""},
    {"Host": "[::1"},
    {"Origin": "http://evil.example"},
    {"Origin": f"http://{NAME}:1"},
    {"Origin": f"https://{NAME}"},
    {"Origin": "null"},
    {"Origin": "file://"},
    {"Sec_Fetch_Site": "cross-site"},
    {"Sec_Fetch_Site": "same-site"},
]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_a_page_elsewhere_reaches_nothing(lab: Lab, own: Lab, headers: dict[str, str]) -> None:
    cookie = lab.cookie("instructor")
    known = {"Cookie": cookie, "Origin": lab.origin, **headers}
    assert lab.ask("POST", "/api/kept/delete", b'{"number": 1}', **known).status in {400, 403}
    assert lab.ask("GET", "/api/kept", **{"Cookie": cookie, **headers}).status in {400, 403}
    assert own.ask("POST", "/api/look", LOOK, **headers).status in {400, 403}


def test_two_hosts_are_refused(own: Lab) -> None:
    raw = f"GET / HTTP/1.1\r\nHost: {NAME}\r\nHost: evil.example\r\nConnection: close\r\n\r\n"
    assert own.send(raw.encode()).status in {400, 403}


def test_a_cookie_without_an_origin_changes_nothing(lab: Lab) -> None:
    cookie = lab.cookie("instructor")
    assert lab.ask("POST", "/api/kept/delete", b'{"number": 1}', Cookie=cookie).status == 403


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_a_form_elsewhere_cannot_send_a_table(own: Lab, kind: str) -> None:
    assert own.ask("POST", "/api/look", LOOK, Content_Type=kind).status == 415


@pytest.mark.parametrize("origin", ["http://evil.example", "null", None])
def test_a_socket_is_not_opened_for_a_page_elsewhere(lab: Lab, origin: str | None) -> None:
    headers = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec_WebSocket_Version": "13",
        "Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ==",
    } | ({"Origin": origin} if origin else {})
    rows = "".join(f"{k.replace('_', '-')}: {v}\r\n" for k, v in headers.items())
    raw = f"GET /api/wall/live HTTP/1.1\r\nHost: {NAME}:{lab.port}\r\n{rows}\r\n".encode()
    with socket.create_connection(("127.0.0.1", lab.port), timeout=10) as line:
        line.sendall(raw)
        status = line.recv(4096).split(b" ")[1]
    assert status in {b"400", b"401", b"403", b"404"}


# --- too much, too deep, too slow


@pytest.mark.parametrize("path", ["/api/look", "/api/health", "/nothing"])
def test_a_query_in_no_alphabet_is_refused(own: Lab, path: str) -> None:
    head = f"DELETE {path}?after=".encode() + b"\xb3u"
    raw = head + f" HTTP/1.1\r\nHost: {NAME}:{own.port}\r\nConnection: close\r\n\r\n".encode()
    assert own.send(raw).status == 400


def test_a_length_of_thousands_of_digits_is_refused(own: Lab) -> None:
    rows = f"Host: {NAME}:{own.port}\r\nContent-Type: application/json\r\nConnection: close\r\n"
    raw = f"POST /api/look HTTP/1.1\r\n{rows}Content-Length: {'9' * 5000}\r\n\r\n".encode()
    assert own.send(raw).status in {400, 413}


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 900_000,
        b'{"a":' * 150_000,
        b'{"substance": "' + b"C(" * 200_000 + b'"}',
        b'{"substance": ' + b"9" * 500_000 + b"}",
        b'{"substance": "water", "substance": ["toluene"]}',
        b"\x00" * 1000,
        b'{"substance": "\\ud800"}',
    ],
    ids=["brackets", "objects", "branches", "digits", "twice", "zeros", "half a letter"],
)
def test_a_body_that_is_meant_to_choke_is_refused_at_once(own: Lab, body: bytes) -> None:
    start = time.monotonic()
    assert own.ask("POST", "/api/look", body).status == 422
    assert time.monotonic() - start < 5


@pytest.mark.parametrize(
    "toml",
    ["a = " + "[" * 100_000, "a." * 50_000 + "b = 1", "[" + "a." * 50_000 + "b]", "a = 1\n" * 99],
    ids=["brackets", "dotted", "table", "twice"],
)
def test_a_sheet_that_is_meant_to_choke_is_refused_at_once(own: Lab, toml: str) -> None:
    start = time.monotonic()
    body = json.dumps({"toml": toml}).encode()
    assert own.ask("POST", "/api/sheet", body).status == 422
    assert own.ask("POST", "/api/foresee", json.dumps({"sheet": toml}).encode()).status == 422
    assert time.monotonic() - start < 5


def test_too_much_is_refused_however_it_is_sent(own: Lab) -> None:
    head = f"POST /api/look HTTP/1.1\r\nHost: {NAME}\r\nContent-Type: application/json\r\n"
    stated = own.send(f"{head}Connection: close\r\nContent-Length: 99999999\r\n\r\n".encode())
    assert stated.status == 413
    piece = b"10000\r\n" + b"a" * 0x10000 + b"\r\n"
    chunked = f"{head}Connection: close\r\nTransfer-Encoding: chunked\r\n\r\n".encode()
    assert own.send(chunked + piece * 20 + b"0\r\n\r\n").status in {0, 413, 422}


@pytest.mark.parametrize(
    "lines",
    [
        "Content-Length: 5\r\nTransfer-Encoding: chunked",
        "Content-Length: 5\r\nContent-Length: 6",
        "Content-Length: -5",
        "Content-Length: +5",
        "Transfer-Encoding: xchunked",
    ],
)
def test_a_smuggled_length_is_refused(own: Lab, lines: str) -> None:
    raw = f"POST /api/look HTTP/1.1\r\nHost: {NAME}\r\nConnection: close\r\n{lines}\r\n\r\nabcde"
    assert own.send(raw.encode()).status in {400, 413, 415, 501}


def test_a_sender_that_stops_midway_holds_up_nobody(own: Lab) -> None:
    head = f"POST /api/look HTTP/1.1\r\nHost: {NAME}\r\nContent-Type: application/json\r\n"
    lines = [socket.create_connection(("127.0.0.1", own.port), timeout=10) for _ in range(50)]
    try:
        for line in lines:
            line.sendall(f"{head}Content-Length: 100\r\n\r\n{{".encode())
        assert own.ask("POST", "/api/look", LOOK).status == 200
    finally:
        for line in lines:
            line.close()


# --- what must not be told


def test_no_secret_reaches_the_log(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; sys.path[:0] = sys.argv[2:]\n"
        "from contract.lab import PHRASES, TOKEN, open_lab\n"
        "with open_lab(Path(sys.argv[1])) as lab:\n"
        "    lab.login('bench', 'a wrong secret word'), lab.login('bench', PHRASES['bench'])\n"
        "    cookie = lab.cookie('reader')\n"
        "    lab.ask('GET', '/api/kept?token=secret-word', Authorization='Bearer ' + TOKEN)\n"
        "    lab.ask('GET', '/start/secret-word'), lab.ask('GET', '/api/kept', Cookie=cookie)\n"
    )
    root = Path(__file__).resolve().parents[2]
    command = [sys.executable, "-c", program, str(tmp_path), f"{root}/tests", f"{root}/src"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    said = done.stdout + done.stderr
    assert "bench came in" in said
    for secret in ("secret", "correct horse", TOKEN, "forerun-"):
        assert secret not in said


def test_a_failure_tells_the_asker_no_inner_things(own: Lab, monkeypatch: Any) -> None:
    from forerun.app.web import application  # noqa: PLC0415 -- of this test alone

    def broken() -> dict[str, Any]:
        raise RuntimeError("/secret/path")

    monkeypatch.setattr(application, "examples", broken)
    found = own.ask("GET", "/api/examples")
    assert found.status == 500
    assert "secret" not in found.body
    assert "Traceback" not in found.body


FORMULAS = [
    "=1+1",
    "+1",
    "-1+2",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    " =1",
    "＝1",
    "=cmd|' /C calc'!A0",
]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_cell_does_not_run_in_a_spreadsheet(text: str) -> None:
    for written in csv.reader(io.StringIO(csv_text([text], [[text]]), newline="")):
        assert written == [f"'{text}"]
    assert harmless(-1.5) == -1.5


def test_whatever_writes_csv_makes_its_cells_harmless() -> None:
    writers = [
        path
        for path in (Path(__file__).resolve().parents[2] / "src").rglob("*.py")
        if "csv.writer(" in (text := path.read_text("utf-8")) or "DictWriter" in text
    ]
    assert len(writers) >= 3
    for path in writers:
        assert "from forerun.core.cells import harmless" in path.read_text("utf-8"), path.name
