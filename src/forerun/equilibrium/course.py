"""What comes over from a charge, and in which order: by a column of many plates, by a bare still.

An endless column at total reflux gives the unstable node from which the residue curve through the
pot comes; the pot moves straight away from it, until a component is spent or the node behind it
changes.  Where the pot is driven back and forth across such a border it runs along it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.residue import ResidueCurve, Residues

__all__ = ["Course", "Product", "course_of"]

Floats = npt.NDArray[np.float64]

_SPENT = 1e-4  # mole fraction below which a component counts as gone from the pot
_AT_NODE = 0.012  # mole fraction within which the pot counts as being at a node
_LEAST = 1e-3  # share of the charge that still makes a product
_LOOKS = 12  # compositions of the pot that are looked at between two ends
_BORDER = 2e-3  # mole fraction to which a border is found
_ALONG = 0.02  # share of the pot that boils away in one step along a border
_CRUMB = 0.06  # share of the charge
_MOST_STEPS = 250
_MOST_PRODUCTS = 12
_NEAR_SADDLE = 0.05  # mole fraction within which a curve that creeps to a halt has met a saddle,
# a choice
_ON_BORDER = (
    "The charge lies on a distillation boundary: it runs along it from the saddle that comes over "
    "first to what stays, and any disturbance leaves it to one side or the other."
)


@dataclass(frozen=True, slots=True, eq=False)
class Product:
    """One thing that comes over, or stays.

    Args:
        point: the pure liquid or azeotrope that it is; None for a mixture along a border.
        mole_fraction: (C,) [-].
        share: of the moles of the charge [-].
        stays: whether it is what the pot holds in the end.
        along: whether it is the mean of what came over along a border.
    """

    point: SingularPoint | None
    mole_fraction: Floats
    share: float
    stays: bool = False
    along: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What a charge gives.

    Args:
        feed: (C,) mole fractions [-].
        products: by a column of many plates with much reflux and little hold-up, in order.
        pot: (n, C) corners of the way of the pot meanwhile [-].
        first_vapour: (C,) what a bare still gives first [-].
        still: the residue curve of the charge: the pot of a bare still.
        behind: the unstable node behind the charge.
        warnings: sentences that belong beside the order.
    """

    feed: Floats
    products: tuple[Product, ...]
    pot: Floats
    first_vapour: Floats
    still: ResidueCurve
    behind: SingularPoint | None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Pot:
    """Liquid and amount over that charged."""

    x: Floats
    left: float

    def without(self, distillate: Floats, share: float) -> _Pot:
        """The pot after a share of it went over with one composition."""
        x = (self.x - share * distillate) / (1.0 - share)
        x = np.maximum(x, 0.0)
        return _Pot(x / x.sum(), self.left * (1.0 - share))

    def purged(self) -> _Pot:
        x = np.where(self.x > _SPENT, self.x, 0.0)
        return _Pot(x / x.sum(), self.left)


def course_of(feed: npt.ArrayLike, residues: Residues) -> Course:
    """Return what comes over from a charge, in order, and what stays.

    Args:
        feed: (C,) mole fractions of the charge [-]; normalised.
        residues: the residue curves of its components at a pressure.

    Returns:
        The products with their shares of the charge; their mole fractions add up to the charge.

    Raises:
        BadInput: fractions that are none.
        CalculationFailed: the charge has no boiling point.

    Validity:
        Total reflux and plates without end, no hold-up, vapour condensed whole (no layer sent
        back): a real column comes near it and mixes neighbouring products.

    Source:
        Sequence of distillates and straight paths of the pot: Van Dongen & Doherty, Chem. Eng.
        Sci. 40 (1985) 2087, doi:10.1016/0009-2509(85)87026-3; batch regions: Bernot, Doherty &
        Malone, Chem. Eng. Sci. 45 (1990) 1207, doi:10.1016/0009-2509(90)87114-8 (both from
        memory).
    """
    x = np.array(feed, dtype=np.float64)
    count = residues.mixture.vapour_pressure.shape[0]
    if x.shape != (count,) or not np.isfinite(x).all() or (x < 0.0).any() or x.sum() <= 0.0:
        raise BadInput("charge", feed, f"{count} mole fractions, none negative")
    x = x / x.sum()
    still = residues.curve(x, 1)
    pot = _Pot(x, 1.0).purged()
    behind = residues.origin(pot.x)
    products: list[Product] = []
    way = [pot.x]
    warnings: list[str] = []
    while pot.left > _LEAST and len(products) < _MOST_PRODUCTS:
        settled = _standing(pot, residues)
        if settled is not None:
            products.append(Product(settled, pot.x, pot.left, True))
            break
        node = residues.origin(pot.x)
        if node is None:
            before = pot.left
            if _ON_BORDER not in warnings and _saddle_behind(pot, residues) is not None:
                pot, blend = _along_border(pot, residues, way)
                pot = pot.purged()
            if pot.left < before:
                warnings.append(_ON_BORDER)
                products += [] if blend is None else [blend]
                continue
            warnings.append("The order could not be followed to its end.")
            products.append(Product(None, pot.x, pot.left, True))
            break
        ahead, product, border = _leg(pot, node, residues)
        if product.share > _LEAST * 0.1:
            products.append(product)
        pot = ahead
        way.append(pot.x)
        if border:
            pot, blend = _along_border(pot, residues, way)
            products += [] if blend is None else [blend]
        pot = pot.purged()
    return Course(
        x, tuple(_joined(products)), np.array(way), _first_vapour(still), still, behind,
        tuple(warnings),
    )  # fmt: skip


def _members(pot: _Pot) -> tuple[int, ...]:
    return tuple(int(i) for i in np.flatnonzero(pot.x > 0.0))


def _standing(pot: _Pot, residues: Residues) -> SingularPoint | None:
    """The point at which the pot has arrived: it boils over as it is."""
    members = _members(pot)
    ends = residues.nodes(members, "stable node")
    near = [p for p in ends if np.abs(p.mole_fraction - pot.x).max() < _AT_NODE]
    return near[0] if near else None


def _leg(pot: _Pot, node: SingularPoint, residues: Residues) -> tuple[_Pot, Product, bool]:
    """Boil off one node until a component is spent, or something else comes over.

    Returns the pot, what came over, and whether the pot met a border that drives it back.
    """
    distillate = node.mole_fraction
    if np.abs(distillate - pot.x).max() < _AT_NODE * 0.5:  # the charge is this azeotrope
        return replace(pot, left=0.0), Product(node, pot.x, pot.left), False
    held = (pot.x > 0.0) & (distillate > 0.0)
    most = float(np.min(pot.x[held] / distillate[held]))  # share at which a component is spent
    most = min(most, 1.0 - 1e-9)

    def same(share: float) -> bool:
        return residues.origin(pot.without(distillate, share).purged().x) is node

    low, high = 0.0, most
    if len(residues.nodes(_members(pot), "unstable node")) > 1:
        for share in most * np.linspace(0.0, 0.995, _LOOKS + 1)[1:]:
            if not same(float(share)):
                high = float(share)
                break
            low = float(share)
        else:
            high = most
    if high == most:
        product = Product(node, distillate, pot.left * most)
        return pot.without(distillate, most).purged(), product, False
    while (high - low) * float(np.abs(pot.x - distillate).max()) > _BORDER * (1.0 - high):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if same(middle) else (low, middle)
    beyond = pot.without(distillate, high).purged()
    product = Product(node, distillate, pot.left * high)
    other = residues.origin(beyond.x)
    if other is None:
        return beyond, product, False
    back = beyond.without(other.mole_fraction, min(_ALONG, 0.5 * _room(beyond, other)))
    return beyond, product, residues.origin(back.purged().x) is node


def _room(pot: _Pot, node: SingularPoint) -> float:
    """Share of the pot that can go over with the composition of a node."""
    held = (pot.x > 0.0) & (node.mole_fraction > 0.0)
    return float(np.min(pot.x[held] / node.mole_fraction[held]))


def _saddle_behind(pot: _Pot, residues: Residues) -> SingularPoint | None:
    """The saddle that a pot runs back to which lies on a border, as far as can be told."""
    last = residues.curve(pot.x, -1).mole_fraction[-1]
    saddles = residues.nodes(_members(pot), "saddle")
    near = [p for p in saddles if np.abs(p.mole_fraction - last).max() < _NEAR_SADDLE]
    return min(near, key=lambda p: float(np.abs(p.mole_fraction - last).max()), default=None)


def _along_border(pot: _Pot, residues: Residues, way: list[Floats]) -> tuple[_Pot, Product | None]:
    """Boil on along a border, whatever node is behind the pot at each step."""
    over, total = np.zeros(pot.x.size), 0.0
    saddles = residues.nodes(_members(pot), "saddle")  # a pot that ends pure has none
    for step in range(_MOST_STEPS):
        if pot.left < _LEAST or _standing(pot, residues) is not None:
            break
        node = residues.origin(pot.x) or _saddle_behind(pot, residues)
        if node is None:
            break
        room = _room(pot, node)
        share = min(_ALONG, room, 1.0 - 1e-9)
        over += pot.left * share * node.mole_fraction
        total += pot.left * share
        pot = pot.without(node.mole_fraction, share)
        if step % 5 == 0:
            way.append(pot.x)
        if share == room:
            break
    way.append(pot.x)
    if total < _LEAST * 0.1:
        return pot, None
    mean = over / total
    near = [p for p in saddles if np.abs(p.mole_fraction - mean).max() < 0.03]
    return pot, Product(near[0] if near else None, mean, total, along=True)


def _joined(products: list[Product]) -> list[Product]:
    """Put products of one point that follow each other together."""
    joined: list[Product] = []
    for product in products:
        last = joined[-1] if joined else None
        same = last is not None and last.point is product.point
        # what one step along a border left over belongs to the border
        crumb = last is not None and last.along and product.share < _CRUMB
        if last is not None and (same or (crumb and not product.stays)):
            share = last.share + product.share
            mean = (last.share * last.mole_fraction + product.share * product.mole_fraction) / share
            joined[-1] = Product(last.point, mean, share, product.stays, last.along)
        else:
            joined.append(product)
    return joined


def _first_vapour(still: ResidueCurve) -> Floats:
    """Vapour over the charge: x - y is the slope of the curve against -ln(amount)."""
    if len(still.left) < 2:
        first: Floats = still.mole_fraction[0]
        return first
    run = -np.log(still.left[1])
    slope = (still.mole_fraction[1] - still.mole_fraction[0]) / run
    vapour: Floats = np.clip(still.mole_fraction[0] - slope, 0.0, 1.0)
    return vapour
