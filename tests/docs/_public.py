"""What the package offers, read from its source text, so that nothing has to be imported."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "forerun"
PHYSICS_ROOMS = (
    "numerics",
    "substances",
    "equilibrium",
    "glassware",
    "still",
    "forecast",
    "reviewing",
)
MODEL_ROOMS = ("numerics", "substances", "equilibrium", "glassware", "still")
PLUMBING = {  # files of a physics room that hold no physics
    "cache.py",
    "compiled.py",
    "compiling.py",
    "loading.py",
    "objects.py",
    "signatures.py",
}

_ARRAY = re.compile(r"\b(Floats|NDArray|ndarray|ArrayLike|FloatArray)\b")
_SCALAR = re.compile(r"\bfloat\b")
_SECTION = re.compile(r"^(Args|Returns|Raises|Yields|Source|Sources|Derivation|Validity):")
_ENTRY = re.compile(r"^ {4}(\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: \([^)]*\))?: ?(.*)$")


@dataclass(frozen=True)
class Parameter:
    """A parameter of a function or a field of a dataclass, with what its docstring says."""

    name: str
    annotation: str
    text: str | None

    @property
    def is_array(self) -> bool:
        return bool(_ARRAY.search(self.annotation))

    @property
    def is_number(self) -> bool:
        return self.is_array or bool(_SCALAR.search(self.annotation))


@dataclass(frozen=True)
class Item:
    """One public function, method or class."""

    place: str
    room: str
    name: str
    kind: str
    docstring: str | None
    file_docstring: str = ""
    parameters: tuple[Parameter, ...] = ()
    returns: str = "None"
    is_kernel: bool = False
    is_dataclass: bool = False
    sections: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.place

    @property
    def computes(self) -> bool:
        """Whether numbers go in or come out: what we call a physics function."""
        return bool(
            self.kind == "function"
            and (any(p.is_number for p in self.parameters) or self.returns_number)
        )

    @property
    def returns_number(self) -> bool:
        return bool(_ARRAY.search(self.returns) or _SCALAR.search(self.returns))


def module_paths() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def exported(path: Path) -> list[str] | None:
    """Return the names in `__all__` of a module, or None when it has none."""
    for node in tree_of(path).body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(isinstance(t, ast.Name) and t.id == "__all__" for t in targets):
                return None if node.value is None else list(ast.literal_eval(node.value))
    return None


def sections_of(docstring: str | None) -> dict[str, str]:
    """Split a docstring into its sections; the text before the first stands under ''."""
    found: dict[str, list[str]] = {"": []}
    current = ""
    for line in _cleaned(docstring).splitlines():
        match = _SECTION.match(line)
        if match:
            current = match.group(1)
            found[current] = [line[match.end() :]]
        elif current and line and not line.startswith(" "):
            current = ""
            found[""].append(line)
        else:
            found[current].append(line)
    return {name: "\n".join(lines).strip("\n") for name, lines in found.items()}


def entries_of(section: str) -> dict[str, str]:
    """Return what an Args section says of each name in it."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in section.splitlines():
        match = _ENTRY.match(line)
        if match:
            names = [name.lstrip("*") for name in match.group(1).split(", ")]
            for name in names:
                found[name] = match.group(2)
        else:
            for name in names:
                found[name] += " " + line.strip()
    return found


@cache
def public_items() -> tuple[Item, ...]:
    """Return every public function, class and method of the package."""
    return tuple(item for path in module_paths() for item in _items_in(path))


def physics_items() -> list[Item]:
    return [item for item in public_items() if _in_rooms(item, PHYSICS_ROOMS)]


def physics_functions() -> list[Item]:
    return [item for item in physics_items() if item.computes]


def free_functions() -> list[Item]:
    """Physics outside classes; a method is covered by the docstring of its class."""
    return [item for item in physics_functions() if "." not in item.name]


def model_functions() -> list[Item]:
    return [item for item in free_functions() if _in_rooms(item, MODEL_ROOMS)]


def _in_rooms(item: Item, rooms: tuple[str, ...]) -> bool:
    file = item.place.split(":")[0].split("/")[-1]
    return item.room in rooms and file not in PLUMBING


def _items_in(path: Path) -> Iterator[Item]:
    names = exported(path) or []
    for node in tree_of(path).body:
        if isinstance(node, ast.FunctionDef) and node.name in names:
            yield _function(path, node, node.name)
        elif isinstance(node, ast.ClassDef) and node.name in names:
            yield _class(path, node)
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield _function(path, inner, f"{node.name}.{inner.name}")


def _function(path: Path, node: ast.FunctionDef, name: str) -> Item:
    docstring = ast.get_docstring(node)
    sections = sections_of(docstring)
    texts = entries_of(sections.get("Args", ""))
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    extra = [a for a in (node.args.vararg, node.args.kwarg) if a]
    return Item(
        place=_place(path, name),
        room=path.relative_to(PACKAGE).parts[0],
        name=name,
        kind="function",
        docstring=docstring,
        file_docstring=ast.get_docstring(tree_of(path)) or "",
        parameters=tuple(
            Parameter(a.arg, _written(a.annotation), texts.get(a.arg))
            for a in [*arguments, *extra]
            if a.arg not in {"self", "cls"}
        ),
        returns=_written(node.returns),
        is_kernel=any(_written(d).startswith("kernel(") for d in node.decorator_list),
        sections=sections,
    )


def _class(path: Path, node: ast.ClassDef) -> Item:
    docstring = ast.get_docstring(node)
    sections = sections_of(docstring)
    section = sections.get("Args") or _cleaned(docstring).partition("Attributes:")[2]
    texts = entries_of(section)
    record = any("dataclass" in _written(d) for d in node.decorator_list) or any(
        _written(base) == "NamedTuple" for base in node.bases
    )
    fields = [
        n for n in node.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)
    ]
    return Item(
        place=_place(path, node.name),
        room=path.relative_to(PACKAGE).parts[0],
        name=node.name,
        kind="class",
        docstring=docstring,
        file_docstring=ast.get_docstring(tree_of(path)) or "",
        parameters=tuple(
            Parameter(_written(n.target), _written(n.annotation), texts.get(_written(n.target)))
            for n in fields
        ),
        is_dataclass=record,
        sections=sections,
    )


def _place(path: Path, name: str) -> str:
    return f"{path.relative_to(PACKAGE).as_posix()}:{name}"


def _written(node: ast.expr | None) -> str:
    return "None" if node is None else ast.unparse(node).strip("'\"")


def _cleaned(docstring: str | None) -> str:
    return docstring or ""
