"""Whoever is not known gets the login page and nothing else; each route has a least role."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.routing import Route, WebSocketRoute

from contract.lab import PHRASES, TOKEN, Lab, open_lab
from forerun.app.web.application import application
from forerun.app.web.passphrases import ROLES, PassPhrases
from forerun.app.web.rights import BENCH, RIGHTS, may
from forerun.core.errors import BadInput
from journeys.served import Server


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    with open_lab(tmp_path_factory.mktemp("lab")) as found:
        yield found


def _asked() -> list[tuple[str, str]]:
    """Return method and path of everything that can be asked, sockets too."""
    found = []
    for route in application().routes:
        assert isinstance(route, Route | WebSocketRoute), f"what is {route}?"
        methods = getattr(route, "methods", None) or {"WEBSOCKET"}
        found += [(method, route.path) for method in methods if method != "HEAD"]
    return sorted(found)


ROUTES = _asked()


def _filled(path: str) -> str:
    """Return a path of a route with something in the place of each parameter."""
    filled = path.replace("{path:path}", "parts/index.js").replace("{code}", "ABC234")
    return filled.replace("{id:int}", "1").replace("{name}", "close-together")


def test_every_route_has_a_least_role_and_every_least_role_a_route() -> None:
    assert {f"{method} {path}" for method, path in ROUTES} == set(RIGHTS)
    assert set(RIGHTS.values()) <= set(ROLES)


@pytest.mark.parametrize(("method", "path"), ROUTES, ids=[f"{m} {p}" for m, p in ROUTES])
def test_a_stranger_gets_nothing_from_any_route(lab: Lab, method: str, path: str) -> None:
    found = lab.ask(method, _filled(path), b"{}" if method == "POST" else b"")
    assert found.status == 401
    assert found.is_login or set(json.loads(found.body)) == {"error"}


def test_what_no_rule_names_is_denied() -> None:
    assert not any(may(role, "GET", "/api/new") for role in ROLES)
    assert not any(may(role, "DELETE", "/api/kept") for role in ROLES)
    assert not may("visitor", "GET", "/api/health")
    assert may("owner", "GET", "/api/new")


@pytest.mark.parametrize("role", ROLES)
def test_a_role_may_what_is_written_and_no_more(lab: Lab, role: str) -> None:
    cookie = lab.cookie(role)
    for method, path in ROUTES:
        if method != "POST":
            continue
        # a body that every path refuses once it is asked
        found = lab.ask(method, _filled(path), b"[]", Cookie=cookie, Origin=lab.origin)
        own = role != BENCH or "{id:int}" not in path  # a bench has to have joined a run
        allowed = may(role, method, path) and own
        assert found.status == (422 if allowed else 403), (path, found.body)


def test_the_page_is_there_after_the_pass_phrase(lab: Lab) -> None:
    assert lab.ask("GET", "/").is_login
    page = lab.ask("GET", "/", Cookie=lab.cookie("reader"))
    assert page.status == 200
    assert "<script" in page.body


def test_the_cookie_is_kept_from_scripts_and_from_other_pages(lab: Lab) -> None:
    given = lab.login("bench", PHRASES["bench"]).headers["set-cookie"]
    assert "httponly" in given.lower()
    assert "samesite=strict" in given.lower()


def test_going_out_ends_the_session(lab: Lab) -> None:
    cookie = lab.cookie("bench")
    assert lab.ask("POST", "/logout", b"{}", Cookie=cookie, Origin=lab.origin).status == 200
    assert lab.ask("GET", "/api/health", Cookie=cookie).status == 401


def test_a_script_asks_with_the_token(lab: Lab) -> None:
    good = {"Authorization": f"Bearer {TOKEN}"}
    assert lab.ask("POST", "/api/look", b'{"substance": "water"}', **good).status == 200
    assert lab.ask("GET", "/api/health", Authorization="Bearer wrong").status == 401


def test_the_start_token_is_good_once_and_gone_from_the_address(lab: Lab) -> None:
    token = lab.entry.sessions.start_token()
    first = lab.ask("GET", f"/start/{token}")
    assert (first.status, first.headers["location"]) == (303, "/")
    cookie = first.headers["set-cookie"].partition(";")[0]
    assert lab.ask("GET", "/api/health", Cookie=cookie).status == 200
    assert lab.ask("GET", f"/start/{token}").status == 401


def test_this_machine_needs_nothing(server: Server) -> None:
    assert server.get("/api/health").status == 200


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    assert "Traceback" not in found.close()


@pytest.mark.skipif(
    not hasattr(os, "getuid") or os.getuid() != 0 or sys.platform != "linux",
    reason="only root on Linux can be somebody else",
)
def test_another_user_of_this_machine_gets_nothing(server: Server) -> None:
    asked = (
        "import sys, urllib.request, urllib.error\n"
        "try: urllib.request.urlopen(sys.argv[1])\n"
        "except urllib.error.HTTPError as refused: print(refused.code)"
    )
    told = subprocess.run(
        ["/usr/bin/env", "python3", "-I", "-c", asked, f"{server.address}/api/kept"],
        user=65534,
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": "/usr/bin:/bin:/usr/local/bin"},
    )
    if "Permission" in told.stderr or "No such file" in told.stderr:
        pytest.skip("nobody may run Python here")
    assert told.stdout.strip() == "401", told


def test_only_hashes_are_kept_and_nobody_else_reads_them(tmp_path: Path) -> None:
    kept = PassPhrases(tmp_path)
    kept.put("bench", PHRASES["bench"])
    file = tmp_path / "access.json"
    assert PHRASES["bench"] not in file.read_text("utf-8")
    if os.name == "posix":
        assert file.stat().st_mode & 0o077 == 0
    assert kept.fits("bench", PHRASES["bench"])
    assert not kept.fits("bench", PHRASES["bench"] + " ")
    assert not kept.fits("instructor", PHRASES["bench"])
    kept.drop("bench")
    assert not kept.fits("bench", PHRASES["bench"])


@pytest.mark.parametrize(
    ("role", "phrase"), [("bench", "short"), ("bench", "a" * 20), ("boss", "a long enough one")]
)
def test_a_pass_phrase_that_is_none_is_refused(tmp_path: Path, role: str, phrase: str) -> None:
    with pytest.raises(BadInput) as refused:
        PassPhrases(tmp_path).put(role, phrase)
    assert phrase not in str(refused.value)


def test_two_roles_do_not_share_one(tmp_path: Path) -> None:
    kept = PassPhrases(tmp_path)
    kept.put("bench", PHRASES["bench"])
    with pytest.raises(BadInput):
        kept.put("instructor", PHRASES["bench"])


def test_a_spoilt_file_lets_nobody_in(tmp_path: Path) -> None:
    (tmp_path / "access.json").write_text('{"bench": {"salt": 1}}', "utf-8")
    with pytest.raises(BadInput):
        PassPhrases(tmp_path).fits("bench", "whatever it is")
