"""The Python functions as a page, read from their source: signature, words, what each takes."""

from __future__ import annotations

import ast
import re
from collections.abc import Sequence
from pathlib import Path

__all__ = ["python_page"]

_HEAD = """# The functions in Python

`import forerun` gives these. They take the same words as the [commands](commands.md); what they
return has `.to_json()`, the object that the command prints with `--json`, and shows itself
[in a notebook](../how-to/notebook.md). Names and units: [nomenclature](../nomenclature.md).
"""
_PART = re.compile(r"^(Args|Returns|Raises):$")
_ENTRY = re.compile(r"^    (\*?\w+(?:, \w+)*): (.*)$")


def python_page(root: Path) -> str:
    """Return the page as Markdown.

    Args:
        root: of the repository.
    """
    source = root / "src"
    homes = _homes((source / "forerun" / "__init__.py").read_text("utf-8"))
    parts = [_HEAD]
    for name, module in sorted(homes.items()):
        tree = ast.parse((source / f"{module.replace('.', '/')}.py").read_text("utf-8"))
        function = next(
            node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name
        )
        parts.append(_section(function))
    return "\n".join(parts)


def _homes(text: str) -> dict[str, str]:
    for node in ast.parse(text).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "_HOMES":
            return dict(ast.literal_eval(node.value))
    raise ValueError("forerun/__init__.py has no _HOMES")


def _section(function: ast.FunctionDef) -> str:
    lines = (ast.get_docstring(function) or "").splitlines()
    return f"## forerun.{function.name}\n\n```python\n{_signature(function)}\n```\n\n{_told(lines)}"


def _signature(function: ast.FunctionDef) -> str:
    words = function.args
    given = [_word(a, d) for a, d in zip(words.args, _defaults(words), strict=True)]
    if words.vararg is not None:
        given.append(f"*{_word(words.vararg, None)}")
    elif words.kwonlyargs:
        given.append("*")
    given += [_word(a, d) for a, d in zip(words.kwonlyargs, words.kw_defaults, strict=True)]
    inner = "".join(f"    {word},\n" for word in given)
    back = ast.unparse(function.returns) if function.returns else "None"
    return f"{function.name}(\n{inner}) -> {back}"


def _defaults(words: ast.arguments) -> list[ast.expr | None]:
    missing = len(words.args) - len(words.defaults)
    return [*([None] * missing), *words.defaults]


def _word(argument: ast.arg, default: ast.expr | None) -> str:
    kind = f": {ast.unparse(argument.annotation)}" if argument.annotation else ""
    return f"{argument.arg}{kind}" + (f" = {ast.unparse(default)}" if default else "")


def _told(lines: Sequence[str]) -> str:
    """Turn a docstring into Markdown: parts as words, entries as a list."""
    out: list[str] = []
    for line in lines:
        if _PART.match(line):
            out += ["", f"**{line.rstrip(':')}**", ""]
        elif entry := _ENTRY.match(line):
            out.append(f"- `{entry[1]}`: {_ticks(entry[2])}")
        else:
            out.append(
                _ticks(line.strip())
                if not line.startswith("        ")
                else f"  {_ticks(line.strip())}"
            )
    return "\n".join(out) + "\n"


def _ticks(text: str) -> str:
    return text.replace("``", "`")
