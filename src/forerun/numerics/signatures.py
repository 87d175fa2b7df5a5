"""What a compiled kernel takes and returns, said without importing the compiler.

The notation is the one that numba uses, so that a kernel reads as it would there::

    @kernel(float64(int64, float64[:, ::1], MIXTURE_TYPE))

Arrays lie in one piece, the last index fastest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

__all__ = [
    "Array",
    "Kind",
    "Record",
    "Scalar",
    "Signature",
    "boolean",
    "fixed_slots",
    "float64",
    "int64",
    "record",
    "void",
]


class Scalar:
    """A number; called it makes a signature, indexed it makes an array.

    Args:
        name: as numba calls it.
    """

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        self.name = name

    def __call__(self, *arguments: Kind) -> Signature:
        """Return the signature of a kernel that returns this."""
        return Signature(self, arguments)

    def __getitem__(self, index: slice | tuple[slice, ...]) -> Array:
        """Return the array that the index draws: ``[::1]``, ``[:, ::1]`` and so on."""
        places = index if isinstance(index, tuple) else (index,)
        drawn = [(place.start, place.stop, place.step) for place in places]
        if drawn != [(None, None, None)] * (len(drawn) - 1) + [(None, None, 1)]:
            raise TypeError(f"an array is drawn as [::1], [:, ::1] and so on, not {index}")
        return Array(self, len(drawn))

    def __str__(self) -> str:
        return self.name


class Array:
    """A writable array that lies in one piece.

    Args:
        element: what it holds.
        dimensions: how many indices it has [-].
        lengths: what each is called, or how long it always is; empty for those not told.
    """

    __slots__ = ("dimensions", "element", "lengths")

    def __init__(self, element: Scalar, dimensions: int, lengths: tuple[str, ...] = ()) -> None:
        self.element = element
        self.dimensions = dimensions
        self.lengths = lengths or ("*",) * dimensions

    def __str__(self) -> str:
        return f"{self.element}[{':, ' * (self.dimensions - 1)}::1]"


class Record:
    """A named tuple.

    Args:
        of: its class.
        fields: what each field is, in order.
    """

    __slots__ = ("fields", "of")

    def __init__(self, of: type[tuple[object, ...]], fields: tuple[Kind, ...]) -> None:
        self.of = of
        self.fields = fields

    def __str__(self) -> str:
        return self.of.__name__


Kind = Scalar | Array | Record


class Signature:
    """What a kernel takes and returns.

    Args:
        returns: one number, or nothing.
        arguments: what it takes, in order.
    """

    __slots__ = ("arguments", "returns")

    def __init__(self, returns: Scalar, arguments: tuple[Kind, ...]) -> None:
        self.returns = returns
        self.arguments = arguments

    def __str__(self) -> str:
        return f"({', '.join(map(str, self.arguments))})"


float64 = Scalar("float64")
int64 = Scalar("int64")
boolean = Scalar("boolean")
void = Scalar("void")


def record(of: type[tuple[object, ...]], *fields: Kind | int | str) -> Record:
    """Return what a named tuple is to a kernel.

    Args:
        of: its class.
        fields: what each field is, in order; a whole number stands for an array of float64 with
            so many dimensions, a text for one whose lengths it names: "S 4 *" is S by 4 by any.
    """
    kinds = tuple(_field(field) for field in fields)
    expected = len(getattr(of, "_fields", ()))
    if len(kinds) != expected:
        raise TypeError(f"{of.__name__} has {expected} fields, not {len(kinds)}")
    return Record(of, kinds)


def _field(field: Kind | int | str) -> Kind:
    if isinstance(field, int):
        return Array(float64, field)
    if isinstance(field, str):
        lengths = tuple(field.split())
        return Array(float64, len(lengths), lengths)
    return field


def fixed_slots(kinds: tuple[Kind, ...], known: Mapping[str, int]) -> dict[int, int]:
    """Return the lengths that are known, by their slots.

    An argument takes one slot for a number, and for an array one for its address and one for each
    length; a named tuple takes those of its fields.

    Args:
        kinds: arguments of a kernel.
        known: lengths by name [-].

    Returns:
        Length by number of the slot, from 0 [-]; what is always the same length counts as known.
    """
    return dict(_fixed(kinds, known, [0]))


def _fixed(
    kinds: tuple[Kind, ...], known: Mapping[str, int], slot: list[int]
) -> Iterator[tuple[int, int]]:
    for kind in kinds:
        if isinstance(kind, Record):
            yield from _fixed(kind.fields, known, slot)
            continue
        slot[0] += 1
        for length in kind.lengths if isinstance(kind, Array) else ():
            if length in known or length.isdigit():
                yield slot[0], known[length] if length in known else int(length)
            slot[0] += 1
