"""Live runs in the description of the interface."""

from __future__ import annotations

from typing import Any

from forerun.running.entries import KINDS

__all__ = ["live_paths"]

_JSON, _EVENTS, _CSV = "application/json", "text/event-stream", "text/csv"
_NUMBER = {"type": "integer", "minimum": 0}
_SENT = {
    "origin": {"type": "string", "maxLength": 64, "description": "who sends"},
    "sequence": {
        "type": ["integer", "string"],
        "description": "of this sending; sent again, it stores nothing twice",
    },
}


def live_paths(failures: dict[str, Any]) -> dict[str, Any]:
    """Return the paths of live runs.

    Args:
        failures: the answers to what cannot be used.
    """
    begin = {
        "sheet": {"description": "a run sheet, as a table or as TOML text"},
        "title": {"type": "string"},
        "pace": {"type": "number", "minimum": 1, "maximum": 60, "default": 1},
    }
    readings = {
        "readings": {"type": "array", "items": {"type": "object"}, "minItems": 1},
        **_SENT,
    }
    entries = {
        "kind": {"enum": list(KINDS)},
        "data": {"type": "object"},
        "corrects": {"type": "integer"},
        **_SENT,
    }
    which = (("class", "query", _NUMBER),)
    erased = {"code": {"type": "string"}, "sure": {"type": "boolean"}, "reason": {"type": "string"}}
    taken_out = {"code": {"type": "string"}, "out": {"type": "boolean", "default": True}}
    one, example = "/api/runs/{id}", {"readings": [{"head_C": 78.2, "distillate_mL": 12}]}
    after = (("after", "query", _NUMBER), ("entries", "query", _NUMBER))
    number = (("id", "path", {**_NUMBER, "minimum": 1}),)
    code = (("code", "path", {"type": "string"}),)
    said = {"kind": "drops", "data": {"count": 10, "over_s": 12}}
    return {
        "/api/runs": {
            "get": _get("runs", "Every live run, the oldest first."),
            "post": _post("begin_run", "Begin a run.", begin, ["sheet"], {"sheet": ""}, failures),
        },
        "/api/join/{code}": {"get": _get("join", "The run that has a code.", code)},
        one: {"get": _get("run", "A run with its readings and what was said.", number + after)},
        f"{one}/readings": {
            "post": _post(
                "readings", "Store readings; answered when they are on disk.", readings,
                ["readings"], example, failures, number,
            )
        },
        f"{one}/entries": {
            "post": _post(
                "entries", "Store what a bench says beside its readings.", entries,
                ["kind", "data"], said, failures, number,
            )
        },
        f"{one}/end": {"post": _post("end_run", "End a run.", {}, [], {}, failures, number)},
        f"{one}/live": {
            "get": _get("live", "A run as a stream of events.", number + after, _EVENTS)
        },
        f"{one}/qr.svg": {
            "get": _get("qr", "The address of a bench as a QR code.", number, "image/svg+xml")
        },
        "/api/wall": {"get": _get("wall", "One line for each bench.")},
        "/api/wall/live": {"get": _get("wall_live", "All benches as events.", (), _EVENTS)},
        "/api/pooled": {"get": _get("pooled", "The curves of all benches together.")},
        "/api/pooled.csv": {
            "get": _get("pooled_table", "One class as a table.", which, _CSV),
        },
        "/api/pooled/take-out": {
            "post": _post(
                "take_out", "Leave a bench out of the class, or have it back.", taken_out, ["code"],
                {"code": "K7M2QX", "out": True}, failures,
            )
        },
        "/api/pooled/erase": {
            "post": _post(
                "erase", "Take all that is kept of a bench away for good.", erased,
                ["code", "sure"], {"code": "K7M2QX", "sure": True}, failures,
            )
        },
    }  # fmt: skip


def _get(name: str, summary: str, words: tuple[Any, ...] = (), kind: str = _JSON) -> dict[str, Any]:
    content = {"type": "object"} if kind == _JSON else {"type": "string"}
    answer = {"description": summary, "content": {kind: {"schema": content}}}
    described = {"operationId": name, "summary": summary, "responses": {"200": answer}}
    return {**described, "parameters": _parameters(words)} if words else described


def _post(
    name: str,
    summary: str,
    keys: dict[str, Any],
    needs: list[str],
    example: dict[str, Any],
    failures: dict[str, Any],
    words: tuple[Any, ...] = (),
) -> dict[str, Any]:
    schema = {
        "type": "object", "properties": keys, "required": needs, "additionalProperties": False,
    }  # fmt: skip
    made = "201" if name == "begin_run" else "200"
    answer = {"description": summary, "content": {_JSON: {"schema": {"type": "object"}}}}
    full = {"description": "Nothing was stored; send it again.", **_only_content(failures)}
    return {
        "operationId": name,
        "summary": summary,
        **({"parameters": _parameters(words)} if words else {}),
        "requestBody": {
            "required": True,
            "content": {_JSON: {"schema": schema, "example": example}},
        },
        "responses": {made: answer, "503": full, **failures},
    }


def _only_content(failures: dict[str, Any]) -> dict[str, Any]:
    return {"content": failures["422"]["content"]}


def _parameters(words: tuple[Any, ...]) -> list[dict[str, Any]]:
    return [
        {"name": name, "in": place, "required": place == "path", "schema": schema}
        for name, place, schema in words
    ]
