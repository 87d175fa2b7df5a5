"""From a file, a text or a table to a checked form, with one sentence for whatever is wrong."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from forerun.core.errors import BadInput
from forerun.sheets.form import SheetForm

__all__ = ["LARGEST_SHEET", "json_schema", "read_bytes", "read_file", "read_form", "read_text"]

LARGEST_SHEET = 1_000_000  # bytes
_LONGEST_LINE = 5_000  # characters; keeps a hostile nesting of keys from costing time
_DEEPEST = 12  # brackets open at once; a sheet needs four
_A_SHEET = "a run sheet in TOML, as written by `forerun example`"


def read_file(path: Path) -> SheetForm:
    """Read a run sheet from a file.

    Args:
        path: of a TOML file of at most 1 MB, UTF-8.

    Returns:
        The checked form.

    Raises:
        BadInput: no such file, too large, not text, or anything that `read_text` refuses.
    """
    if not path.is_file():
        raise BadInput("sheet", str(path), f"the path of {_A_SHEET}")
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_SHEET + 1)
    except OSError as error:
        raise BadInput("sheet", str(path), f"a file that can be read ({error.strerror})") from error
    return read_bytes(raw, path.name)


def read_bytes(raw: bytes, name: str) -> SheetForm:
    """Read a run sheet from bytes, e.g. of standard input.

    Args:
        raw: at most 1 MB of UTF-8.
        name: shown in errors.

    Returns:
        The checked form.

    Raises:
        BadInput: too large, not text, or anything that `read_text` refuses.
    """
    if len(raw) > LARGEST_SHEET:
        raise BadInput("sheet", name, "a run sheet of at most 1 MB")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput("sheet", name, f"{_A_SHEET}, saved as UTF-8 text") from error
    return read_text(text, name)


def read_text(text: str, name: str = "sheet") -> SheetForm:
    """Read a run sheet from TOML text.

    Args:
        text: the sheet.
        name: shown in errors.

    Returns:
        The checked form.

    Raises:
        BadInput: empty, binary, too long, not TOML, or anything that `read_form` refuses.
    """
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST_SHEET:
        raise BadInput("sheet", name, "a run sheet of at most 1 MB")
    if not text.strip():
        raise BadInput("sheet", name, f"{_A_SHEET}; this one is empty")
    if "\0" in text:
        raise BadInput("sheet", name, f"{_A_SHEET}; this looks like a binary file")
    _check_shape(text, name)
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise BadInput("sheet", name, f"{_A_SHEET}; {_toml_advice(error)}") from error
    return read_form(data)


def _check_shape(text: str, name: str) -> None:
    depth = 0
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > _LONGEST_LINE:
            raise BadInput("sheet", name, f"lines of at most {_LONGEST_LINE} characters")
        bare = re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*', "", line)
        depth += sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")
        if depth > _DEEPEST or bare.count("[") + bare.count("{") > 40 * _DEEPEST:
            raise BadInput(
                "sheet", name, f"{_A_SHEET}; brackets are nested too deep, line {number}"
            )


def _toml_advice(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "brackets are nested too deep"
    text = str(error).rstrip(".")
    return f"the text breaks off or is not TOML: {text[:1].lower()}{text[1:]}"


def read_form(data: Mapping[str, Any]) -> SheetForm:
    """Check a sheet that came as a table, e.g. JSON with the keys of the TOML.

    Args:
        data: the tables and keys.

    Returns:
        The checked form.

    Raises:
        BadInput: an unknown key, a value of the wrong kind, a missing charge.
    """
    if not isinstance(data, Mapping):
        raise BadInput("sheet", data, "a table with the keys of a run sheet")
    _check_keys(data, SheetForm, "")
    try:
        return SheetForm.model_validate(dict(data))
    except ValidationError as error:
        raise _as_bad_input(error) from error


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of a run sheet."""
    return SheetForm.model_json_schema()


def _check_keys(data: Mapping[str, Any], form: type[BaseModel], path: str) -> None:
    """Refuse a key that no table has, before anything else: it is the commonest slip."""
    fields = form.model_fields
    for key, value in data.items():
        shown = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in str(key))
        place = f"{path}.{shown}" if path else shown
        if key not in fields:
            raise BadInput(place, key, _key_advice(str(key), list(fields), path))
        inner = _inner_form(fields[key].annotation)
        if inner is None:
            continue
        if isinstance(value, Mapping):
            _check_keys(value, inner, place)
        elif isinstance(value, list):
            for n, entry in enumerate(value, start=1):
                if isinstance(entry, Mapping):
                    _check_keys(entry, inner, f"{place}[{n}]")


def _key_advice(key: str, known: list[str], path: str) -> str:
    near = difflib.get_close_matches(key.casefold(), known, n=1, cutoff=0.6)
    start = f'did you mean "{near[0]}"? ' if near else ""
    return f"{start}keys {f'of {path}' if path else 'of a sheet'}: {', '.join(known)}"


def _inner_form(annotation: Any) -> type[BaseModel] | None:
    candidates = (annotation, *get_args(annotation))
    return next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)


_KINDS = {
    "string_type": "text in quotes",
    "list_type": 'a list of tables, one "[[{key}]]" for each',
    "model_type": 'a table, "[{key}]"',
    "model_attributes_type": 'a table, "[{key}]"',
    "string_too_long": "a text of at most 200 characters",
}


def _as_bad_input(error: ValidationError) -> BadInput:
    """Turn pydantic's first complaint into our sentence."""
    first = error.errors(include_url=False)[0]
    field = _place(first["loc"])
    key = str(first["loc"][0]) if first["loc"] else "sheet"
    context = first.get("ctx", {})
    if first["type"] == "forerun":
        inner = context.get("inner") or ""
        return BadInput(field + inner, context["shown"], context["accepted"])
    if first["type"] == "missing":
        return BadInput(field, "nothing", _missing_advice(field))
    if first["type"] in ("too_short", "too_long"):
        limit = context.get("min_length") or context.get("max_length")
        word = "at least" if first["type"] == "too_short" else "at most"
        return BadInput(field, f"{context.get('actual_length')} entries", f"{word} {limit}")
    template = _KINDS.get(first["type"], first["msg"])
    return BadInput(field, first["input"], template.replace("{key}", key))


def _missing_advice(field: str) -> str:
    if field == "charge":
        return 'at least one [[charge]] with substance = "…" and amount = "60 mL"'
    if field.endswith("amount"):
        return 'an amount with its unit, such as "60 mL"'
    if field.endswith("substance"):
        return "a name, synonym, CAS number, InChIKey or SMILES"
    return "a value"


def _place(location: tuple[int | str, ...]) -> str:
    """Write a place as people count: charge[1] is the first."""
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f"{'.' if text else ''}{part}"
    return text or "sheet"
