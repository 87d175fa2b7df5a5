"""One comparison of a published value with ours; docs/validation.md is made of these."""

from __future__ import annotations

from dataclasses import dataclass

Value = float | int | str | bool | None


@dataclass(frozen=True, slots=True)
class ValidationRow:
    """A published value, ours, and whether the miss stays within the tolerance.

    Args:
        id: of the row in its data file, with a suffix where a row holds several values.
        system: the substances, in the order of the source.
        quantity: what is compared, e.g. ``azeotropic temperature``.
        source: where the value was published.
        provenance: how the digits came here, e.g. ``copy of the source seen``.
        published: the published value.
        ours: the computed value, None where there is none.
        unit: of both.
        tolerance: of the row, None for yes-or-no quantities.
        miss: ours minus published, None where either is no number.
        met: whether the row is met; None when it is not covered and not judged.
    """

    id: str
    system: str
    quantity: str
    source: str
    provenance: str
    published: Value
    ours: Value
    unit: str
    tolerance: float | None
    miss: float | None
    met: bool | None
