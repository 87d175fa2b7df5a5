"""A drawer of one's own: which pieces there are, with their passports, and what fits together."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.glassware.columns import column_holdup, column_plates
from forerun.glassware.drawer import Item, find_item

__all__ = [
    "Combination",
    "Inventory",
    "Piece",
    "all_kits",
    "combinations_of",
    "kit_names",
    "read_inventory",
]

_KINDS = ("flask", "column", "head", "condenser", "bath", "pump", "adapter", "receiver")
_KEYS = {
    "flask": {"volume", "joint"},
    "column": {"item", "joint", "plates", "holdup"},
    "head": {"joint", "reflux"},
    "condenser": {"item", "joint"},
    "bath": {"item"},
    "pump": {"item"},
    "adapter": {"joint", "to"},
    "receiver": {"volume", "count", "joint"},
}
_LARGEST = 200_000  # bytes
_MOST_PIECES = 60  # of one kind
_ANY_JOINT = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of glass or of kit.

    Args:
        kind: ``flask``, ``column``, ``head``, ``condenser``, ``bath``, ``pump``, ``adapter`` or
            ``receiver``.
        label: as a person writes it.
        joint: of the ground joint; empty where none is stated, it then fits all.
        volume_m3: of a flask or receiver [m3]; 0 for the rest.
        item: what the drawer's data say of it; None for flasks, heads, adapters and receivers.
        plates: theoretical plates of a column [-], measured or of the drawer; 0 for the rest.
        holdup_m3: its operating hold-up [m3], likewise.
        measured: whether plates or hold-up were measured on this very piece.
        reflux: whether a head can return a share of the condensate.
        to: the other joint of an adapter.
        count: how many there are.
    """

    kind: str
    label: str
    joint: str = _ANY_JOINT
    volume_m3: float = 0.0
    item: Item | None = None
    plates: float = 0.0
    holdup_m3: float = 0.0
    measured: bool = False
    reflux: bool = False
    to: str = _ANY_JOINT
    count: int = 1


@dataclass(frozen=True, slots=True)
class Inventory:
    """What a drawer holds.

    Args:
        title: its title.
        pieces: everything in it.
    """

    title: str
    pieces: tuple[Piece, ...]

    def of(self, kind: str) -> tuple[Piece, ...]:
        """Return the pieces of one kind."""
        return tuple(piece for piece in self.pieces if piece.kind == kind)

    def joined(self, other: Inventory) -> Inventory:
        """Return both drawers as one."""
        return Inventory(f"{self.title}; {other.title}", (*self.pieces, *other.pieces))

    def fits(self, first: str, second: str) -> bool:
        """Return whether two joints go together, with an adapter if there is one."""
        if _ANY_JOINT in (first, second) or first == second:
            return True
        return any({a.joint, a.to} == {first, second} for a in self.of("adapter"))


@dataclass(frozen=True, slots=True)
class Combination:
    """Pieces that can be put together.

    Args:
        flask: the pot.
        column: None for a simple still.
        head: None where no head is listed.
        condenser: the condenser.
        bath: the bath.
    """

    flask: Piece
    column: Piece | None
    head: Piece | None
    condenser: Piece
    bath: Piece

    @property
    def reflux(self) -> bool:
        """Whether a share of the condensate can be returned."""
        return self.head is not None and self.head.reflux and self.column is not None

    @property
    def plates(self) -> float:
        """Theoretical plates [-]."""
        return 0.0 if self.column is None else self.column.plates

    @property
    def holdup_m3(self) -> float:
        """Operating hold-up [m3]."""
        return 0.0 if self.column is None else self.column.holdup_m3


@cache
def _kits() -> dict[str, Any]:
    text = resources.files("forerun.glassware").joinpath("data/kits.toml").read_text("utf-8")
    return tomllib.loads(text)


def kit_names() -> tuple[str, ...]:
    """Return the names of the starter drawers."""
    return tuple(_kits())


def read_inventory(source: str | Path | Mapping[str, Any]) -> Inventory:
    """Read a drawer.

    Args:
        source: the name of a starter drawer, the path of a TOML file, or a table of its keys.

    Returns:
        The drawer.

    Raises:
        BadInput: no such file or kit, an unknown kind or key, an item that the data do not know.
    """
    if isinstance(source, Mapping):
        return _inventory(source, "drawer")
    if isinstance(source, str) and source in _kits():
        return _inventory(_kits()[source], source)
    path = Path(source)
    if not path.is_file():
        kits = ", ".join(kit_names())
        raise BadInput("drawer", str(source), f"the path of a drawer in TOML, or one of {kits}")
    raw = path.read_bytes()
    if len(raw) > _LARGEST:
        raise BadInput("drawer", path.name, "a file of at most 200 kB")
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInput("drawer", path.name, f"a drawer in TOML ({error})") from error
    return _inventory(data, path.name)


def _inventory(data: Mapping[str, Any], name: str) -> Inventory:
    unknown = set(data) - {*_KINDS, "title"}
    if unknown:
        raise BadInput(f"drawer.{min(unknown)}", min(unknown), f"one of title, {', '.join(_KINDS)}")
    pieces: list[Piece] = []
    for kind in _KINDS:
        rows = data.get(kind, [])
        if not isinstance(rows, list) or len(rows) > _MOST_PIECES:
            raise BadInput(f"drawer.{kind}", rows, f"a list of at most {_MOST_PIECES} tables")
        pieces += [_piece(kind, row, f"drawer.{kind}[{n}]") for n, row in enumerate(rows, 1)]
    return Inventory(str(data.get("title", name)), tuple(pieces))


def _piece(kind: str, row: object, field: str) -> Piece:
    if not isinstance(row, Mapping):
        raise BadInput(field, row, f"a table with {', '.join(sorted(_KEYS[kind]))}")
    unknown = set(row) - _KEYS[kind]
    if unknown:
        first = min(map(str, unknown))
        raise BadInput(f"{field}.{first}", first, f"one of {', '.join(sorted(_KEYS[kind]))}")
    joint = str(row.get("joint", _ANY_JOINT))
    if kind in ("flask", "receiver"):
        volume = parse_quantity(row.get("volume", ""), "volume", f"{field}.volume")
        count = row.get("count", 1)
        if not isinstance(count, int) or count < 1:
            raise BadInput(f"{field}.count", count, "a whole number from 1 on")
        return Piece(kind, volume.text, joint, volume.value, count=count)
    if kind == "adapter":
        return Piece(kind, f"{joint} to {row.get('to')}", joint, to=str(row.get("to", "")))
    if kind == "head":
        reflux = bool(row.get("reflux", False))
        return Piece(kind, "reflux head" if reflux else "head", joint, reflux=reflux)
    item = find_item(str(row.get("item", "")), kind, f"{field}.item")
    if kind != "column":
        return Piece(kind, item.label, joint, item=item)
    return _column(item, row, joint, field)


def _column(item: Item, row: Mapping[str, Any], joint: str, field: str) -> Piece:
    plates = column_plates(item).typical
    given = row.get("plates")
    if given is not None:
        if isinstance(given, bool) or not isinstance(given, int | float) or not 0 < given <= 100:
            raise BadInput(f"{field}.plates", given, "measured plates, a number up to 100")
        plates = float(given)
    holdup = column_holdup(item, plates).typical
    if "holdup" in row:
        holdup = parse_quantity(row["holdup"], "volume", f"{field}.holdup").value
    measured = given is not None or "holdup" in row
    return Piece("column", item.label, joint, 0.0, item, plates, holdup, measured)


def all_kits() -> Inventory:
    """Return all starter drawers as one."""
    found = [read_inventory(name) for name in kit_names()]
    whole = found[0]
    for kit in found[1:]:
        whole = whole.joined(kit)
    return whole


def combinations_of(drawer: Inventory) -> Iterator[Combination]:
    """Yield every way to put the pieces of a drawer together whose joints fit.

    Args:
        drawer: what there is.

    Yields:
        Flask, column or none, head, condenser, bath.
    """
    heads: Sequence[Piece | None] = drawer.of("head") or (None,)
    columns: Sequence[Piece | None] = (None, *drawer.of("column"))
    for flask in drawer.of("flask"):
        for column in columns:
            above = flask.joint if column is None else column.joint
            if column is not None and not drawer.fits(flask.joint, column.joint):
                continue
            for head in heads:
                if head is not None and not drawer.fits(above, head.joint):
                    continue
                top = above if head is None else head.joint
                for condenser in drawer.of("condenser"):
                    if not drawer.fits(top, condenser.joint):
                        continue
                    for bath in drawer.of("bath"):
                        yield Combination(flask, column, head, condenser, bath)
