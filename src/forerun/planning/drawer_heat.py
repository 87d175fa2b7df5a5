"""What the heat of a bath does in each way of putting a drawer together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from forerun.glassware.baths import bath_limit
from forerun.glassware.columns import column_loss, neck_loss
from forerun.glassware.drawer import Item, Span, item
from forerun.glassware.flasks import flask_loss, pot_transfer
from forerun.glassware.inventory import Combination
from forerun.planning.setpoints import LOSSY
from forerun.sheets.heating import bath_above, bath_ceiling, boils_up, load_difference
from forerun.sheets.model import Rig, RunSheet, Setting

__all__ = ["DrawerHeat"]

_HALFWAY = 0.65  # of the wall is wetted when half of a half full flask has come over, geometry


@dataclass(slots=True)
class DrawerHeat:
    """Heats of one charge, each computed once.

    Args:
        sheet: with the charge.
        coldest_K: lowest boiling point of a component [K].
        pot_K: of the pot with hardly anything of the wanted component left [K].
    """

    sheet: RunSheet
    coldest_K: float
    pot_K: float
    known: dict[tuple[float, str, str], float] = field(default_factory=dict)

    def limit(self, bath: Item) -> float:
        """Return the hottest that a bath may be over this charge [K].

        Args:
            bath: from the drawer.
        """
        rig = replace(self.sheet.rig, bath_limit_K=bath_limit(bath))
        return bath_ceiling(self.sheet.charge, rig)

    def boils(self, way: Combination) -> float:
        """Return the heat that takes liquid over near the end, below flooding [W].

        Args:
            way: the pieces.

        Returns:
            Mean of what it is with all of the wall wetted and with half of the charge over;
            negative where the losses take everything.

        Derivation: the bath stands as far above the pot as is customary, losses on top, or at
            its limit; glass is lagged where the plan would lag it.
        """
        assert way.bath.item is not None
        column = way.column.item if way.column is not None else None
        key = (way.flask.volume_m3, way.column.label if way.column else "none", way.bath.label)
        if key not in self.known:
            rig = self._rig(way.flask.volume_m3, column, way.bath.item)
            above = load_difference(self.sheet.charge, rig, self.coldest_K)
            bath = min(bath_above(rig, self.pot_K, above, 1.0), self.limit(way.bath.item))
            both = [boils_up(rig, self.pot_K, bath, wetted) for wetted in (1.0, _HALFWAY)]
            self.known[key] = 0.5 * sum(both)
        return self.known[key]

    def _rig(self, flask: float, column: Item | None, bath: Item) -> Rig:
        charge = self.sheet.charge_volume_m3
        loss = _glass_loss(column, "bare")
        if loss * (self.pot_K - self.sheet.rig.room_temperature_K.value) > LOSSY:
            loss = _glass_loss(column, "lagged")
        return replace(
            self.sheet.rig,
            flask_volume_m3=_plain(flask),
            column=column.label if column else "none",
            heat_transfer_W_K=_of(pot_transfer(flask, charge, bath)),
            heat_loss_W_K=_plain(loss),
            flask_loss_W_K=_of(flask_loss(flask, charge)),
        )


def _glass_loss(column: Item | None, how: str) -> float:
    lagging = item("lagging", how)
    loss = neck_loss(lagging).typical
    return loss if column is None else loss + column_loss(column, lagging).typical


def _plain(value: float) -> Setting:
    return Setting(value, 0.0, False, "", "")


def _of(value: Span) -> Setting:
    return _plain(value.typical)
