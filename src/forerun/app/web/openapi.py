"""The description of the interface, OpenAPI 3.1, written from our own table of questions."""

from __future__ import annotations

import json
from typing import Any

from forerun.app.web.asking import QUESTIONS
from forerun.app.web.hidden import HIDDEN
from forerun.app.web.keeping import ACTS
from forerun.app.web.live_described import live_paths
from forerun.app.web.question import Question
from forerun.sheets.reading import json_schema
from forerun.sheets.topics import topics

__all__ = ["description"]

_JSON = "application/json"
_HERE = "#/components/schemas/"


def description(version: str) -> dict[str, Any]:
    """Return the OpenAPI document.

    Args:
        version: of the program.
    """
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "forerun",
            "version": version,
            "description": "A forecast for bench distillation. Quantities in answers are SI, the "
            "unit in the key. Advisory only: your institution's stricter rule wins.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "paths": {
            **{
                f"/api/{q.name}": {"post": _post(q)}
                for q in (*QUESTIONS.values(), *HIDDEN.values())
            },
            "/api/hidden": {"get": _get("Classes with hidden runs, the newest first.", "hidden")},
            "/api/sheet": {"post": _sheet_path()},
            "/api/passports": {"get": _get("What is known of one's own glass.", "passports")},
            "/api/passports/open": {"post": _passport_path()},
            "/api/kept": {"get": _get("This user's sheets, the newest first.", "kept")},
            **{f"/api/kept/{act}": {"post": _keeping(act)} for act in ACTS},
            "/api/lessons": {"get": _get("The ready topics for a class.", "lessons")},
            "/api/lesson": {"post": _lesson_path()},
            **live_paths(_failures()),
            "/api/health": {"get": _get("Whether the server is there.", "health")},
            "/api/openapi.json": {"get": _get("This description.", "openapi")},
            "/api/examples": {"get": _get("Ready run sheets as tables.", "examples")},
            "/api/offered": {"get": _get("Names of liquids; the drawer.", "offered")},
        },
        "components": {"schemas": {**_sheet_schemas(), "Error": _error()}},
    }


def _sheet_schemas() -> dict[str, Any]:
    text = json.dumps(json_schema()).replace('"#/$defs/', f'"{_HERE}')
    schema = json.loads(text)
    parts: dict[str, Any] = schema.pop("$defs", {})
    return {**parts, "SheetForm": schema}


def _error() -> dict[str, Any]:
    parts = ("field", "value", "accepted", "message")
    inner = {
        "type": "object",
        "properties": {part: {"type": "string"} for part in parts},
        "required": list(parts),
    }
    return {"type": "object", "properties": {"error": inner}, "required": ["error"]}


def _post(question: Question) -> dict[str, Any]:
    schema = {
        "type": "object",
        "properties": dict(question.takes),
        "required": list(question.needs),
        "additionalProperties": False,
    }
    answer: dict[str, Any] = {_JSON: {"schema": {"type": "object"}}}
    if question.long or "members" in question.takes or "fit" in question.takes:
        answer |= _events()
    return {
        "operationId": question.name.replace("/", "_"),
        "summary": question.summary,
        "requestBody": _body(schema, question.example),
        "responses": {
            "200": {
                "description": question.says
                or f"As `forerun {question.command or question.name} --json` prints.",
                "content": answer,
            },
            **_failures(),
        },
    }


def _events() -> dict[str, Any]:
    told = "events `progress` {done, total}, then `result` or `error`; closing stops the work"
    return {"text/event-stream": {"schema": {"type": "string", "description": told}}}


def _lesson_path() -> dict[str, Any]:
    keys = {
        "topic": {"type": "string", "enum": list(topics())},
        "sheet": QUESTIONS["foresee"].takes["sheet"],
    }
    schema = {"type": "object", "properties": keys, "minProperties": 1, "maxProperties": 1}
    said = "As `forerun lesson --json` prints, and the addresses of its page and papers."
    answer = {_JSON: {"schema": {"type": "object"}}, **_events()}
    return {
        "operationId": "lesson",
        "summary": "One charge distilled in several ways, for a class.",
        "requestBody": _body(schema, {"topic": "close-together"}),
        "responses": {"200": {"description": said, "content": answer}, **_failures()},
    }


def _passport_path() -> dict[str, Any]:
    keys = {"passport": {"type": "string", "description": "the name under which it is kept"}}
    schema = {"type": "object", "properties": keys, "required": list(keys)}
    said = "As `forerun passport NAME --json` prints, with its drawing and table as `shown`."
    return {
        "operationId": "passports_open",
        "summary": "What the runs of one item have shown.",
        "requestBody": _body(schema, {"passport": "my Vigreux"}),
        "responses": {"200": _described(said), **_failures()},
    }


def _sheet_path() -> dict[str, Any]:
    schema = {"type": "object", "properties": {"toml": {"type": "string"}}, "required": ["toml"]}
    return {
        "operationId": "sheet",
        "summary": "A run sheet's text as a table, with its first complaint.",
        "requestBody": _body(
            schema, {"toml": '[[charge]]\nsubstance = "water"\namount = "9 mL"\n'}
        ),
        "responses": {"200": _described("The table."), **_failures()},
    }


def _keeping(act: str) -> dict[str, Any]:
    number = {"type": "integer", "minimum": 1, "description": "of a sheet in the list"}
    keys: dict[str, Any] = {"number": number}
    needs: list[str] = ["number"]
    example: dict[str, Any] = {"number": 1}
    if act == "save":
        keys |= {"name": {"type": "string", "maxLength": 200}, "sheet": {"type": "object"}}
        needs, example = ["name", "sheet"], {"name": "first try", "sheet": {"charge": []}}
    schema = {"type": "object", "properties": keys, "required": needs}
    return {
        "operationId": f"kept_{act}",
        "summary": f"{act.capitalize()} one of this user's sheets.",
        "requestBody": _body(schema, example),
        "responses": {"200": _described("Its number, and what was asked for."), **_failures()},
    }


def _body(schema: dict[str, Any], example: Any) -> dict[str, Any]:
    return {"required": True, "content": {_JSON: {"schema": schema, "example": example}}}


def _get(summary: str, name: str) -> dict[str, Any]:
    return {"operationId": name, "summary": summary, "responses": {"200": _described(summary)}}


def _described(text: str) -> dict[str, Any]:
    return {"description": text, "content": {_JSON: {"schema": {"type": "object"}}}}


def _failures() -> dict[str, Any]:
    error = {_JSON: {"schema": {"$ref": f"{_HERE}Error"}}}
    return {
        "422": {"description": "Input that you can put right.", "content": error},
        "500": {"description": "Our own failure.", "content": error},
    }
