"""What a drawer can do: every way to put it together, screened, the best ones run.

The screen is a short-cut (plates at total reflux, thinned for the reflux that the head allows;
hold-up as a loss; time from the heat that passes the pot).  What is reported was run.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from forerun.glassware.columns import column_holdup, column_plates
from forerun.glassware.condensers import condenser_transfer
from forerun.glassware.drawer import find_item
from forerun.glassware.flasks import smallest_flask
from forerun.glassware.inventory import Combination, Inventory, Piece, combinations_of
from forerun.planning.aims import weights_for
from forerun.planning.analysis import Analysis
from forerun.planning.candidates import Candidate, planned, run_candidate, run_once
from forerun.planning.drawer_heat import DrawerHeat
from forerun.planning.drawer_ranking import front_of, promise, unsure, worth_an_ensemble
from forerun.planning.pot_end import boils_at, left_in_pot
from forerun.planning.shortcut import BatchPath, batch_path, best_product, top_of_column
from forerun.substances.correlations import boiling_temperature

__all__ = ["DrawerSearch", "OneMore", "Screened", "search_drawer"]

Progress = Callable[[int, int], None]

_HOLDUPS = 10.0  # charge over hold-up at the least
_FULL, _FULL_VACUUM, _EMPTY = 2.0 / 3.0, 0.5, 0.25  # share of the flask
_ABOVE_COOLANT = 20.0  # K
_LEAST_ABOVE_POT = 10.0  # K of the bath above the pot at the end
_REFLUX = 3.0
_KEPT_WITH_REFLUX, _KEPT_WITHOUT = 0.8, 0.3  # share of the plates that work, for the screen
_WARM_UP, _SLACK = 1200.0, 1.3  # s, -
_VACUUM = 5.0e4  # Pa
_SIMULATED, _ENSEMBLES = 8, 3
_STEPS = 50
_MORE = ("Vigreux 60 cm", "glass beads 30 cm", "steel sponge 40 cm", "wire helices 30 cm",
         "wire helices 60 cm", "spinning band 30 cm")  # fmt: skip
_MORE_BATHS = ("silicone oil", "metal block")
_WORTH = 0.02  # gain of recovery from which another piece is worth a word


@dataclass(frozen=True, slots=True)
class Screened:
    """A combination with what the short-cut says.

    Args:
        combination: the pieces.
        reflux: ratio [-].
        recovery: estimate at the purity asked for [-].
        purity: estimate at the recovery asked for [-].
        time_s: estimate [s].
    """

    combination: Combination
    reflux: float
    recovery: float
    purity: float
    time_s: float


@dataclass(frozen=True, slots=True)
class OneMore:
    """What one more piece would buy.

    Args:
        piece: what to add.
        recovery: estimate with it at the purity asked for [-].
        gain: over the best of the drawer [-].
        time_s: estimate [s].
    """

    piece: str
    recovery: float
    gain: float
    time_s: float


@dataclass(frozen=True, slots=True)
class DrawerSearch:
    """What was found in a drawer.

    Args:
        title: of the drawer.
        combinations: ways whose joints fit.
        feasible: of them those that suit charge, heat and condenser.
        refused: why the others do not, with how many.
        plans: those that were run, likeliest first.
        front: of them those that no other beats in purity, recovery and time together.
        one_more: what another piece would buy, best first.
    """

    title: str
    combinations: int
    feasible: int
    refused: dict[str, int]
    plans: tuple[Candidate, ...]
    front: tuple[Candidate, ...]
    one_more: tuple[OneMore, ...]


@dataclass(slots=True)
class _Screen:
    """Short-cuts and heats of one charge at one pressure, each computed once."""

    found: Analysis
    pressure: float
    drawer: Inventory
    paths: dict[int, BatchPath] = field(default_factory=dict)
    bests: dict[int, tuple[float, float]] = field(default_factory=dict)
    coldest_K: float = 0.0
    pot_end_K: float = 0.0
    heat: DrawerHeat = field(init=False)

    def __post_init__(self) -> None:
        """Look once at how cold the vapour and how hot the pot will be."""
        found = self.found
        substances = found.mixture.substances
        self.coldest_K = min(boiling_temperature(s, self.pressure).temperature for s in substances)
        self.pot_end_K = self._pot_at(found.goal.recovery)
        self.heat = DrawerHeat(found.sheet, self.coldest_K, self._pot_at(1.0))

    def _pot_at(self, recovery: float) -> float:
        found = self.found
        left = left_in_pot(found.charge, found.mixture, self.pressure, found.goal.wanted, recovery)
        return boils_at(left, found.mixture, self.pressure)

    def best(self, plates: int) -> tuple[float, float]:
        """Return recovery at the purity asked for, and purity at the recovery asked for."""
        if plates not in self.bests:
            top = top_of_column(self.found.mixture.arrays, self.pressure, plates)
            path = batch_path(self.found.charge, top, _STEPS)
            self.bests[plates] = self._of(path)
        return self.bests[plates]

    def _of(self, path: BatchPath) -> tuple[float, float]:
        goal = self.found.goal
        weights = weights_for(self.found.sheet, goal.basis)
        product = best_product(path, goal.wanted, goal.purity, weights)
        low, high = 0.0, 1.0
        for _ in range(10):
            middle = 0.5 * (low + high)
            other = best_product(path, goal.wanted, middle, weights)
            ok = other is not None and other[1].recovery >= goal.recovery
            low, high = (middle, high) if ok else (low, middle)
        return (0.0 if product is None else product[1].recovery), low


def search_drawer(
    found: Analysis,
    pressure: float,
    drawer: Inventory,
    *,
    members: int,
    seed: int,
    progress: Progress | None = None,
) -> DrawerSearch:
    """Return what a drawer can do with a charge.

    Args:
        found: the mixture, looked at for the aim.
        pressure: in the head [Pa].
        drawer: what there is.
        members: runs behind each probability.
        seed: repeats them.
        progress: called with how much is done and how much there is.
    """
    screen = _Screen(found, pressure, drawer)
    ways = list(combinations_of(drawer))
    screened, refused = _screened(screen, ways)
    chosen = _worth_running(screened, found)
    plans = []
    steps = len(chosen) + _ENSEMBLES
    for done, one in enumerate(chosen):
        if progress is not None:
            progress(done, steps)
        plans.append(run_once(_as_plan(screen, one), found.goal))
    plans = worth_an_ensemble(plans, _ENSEMBLES)
    for place, plan in enumerate(plans[:_ENSEMBLES]):
        if progress is not None:
            progress(len(chosen) + place, steps)
        plans[place] = run_candidate(plan, found.goal, members, seed)
    plans = [unsure(p) if k >= _ENSEMBLES else p for k, p in enumerate(plans)]
    plans.sort(key=promise, reverse=True)
    return DrawerSearch(
        drawer.title,
        len(ways),
        len(screened),
        dict(refused),
        tuple(plans),
        front_of(plans),
        _one_more(screen, screened),
    )


def _screened(screen: _Screen, ways: Iterable[Combination]) -> tuple[list[Screened], Counter[str]]:
    good, refused = [], Counter[str]()
    for way in ways:
        why = _refusal(screen, way)
        if why:
            refused[why] += 1
        else:
            good.append(_estimate(screen, way))
    return good, refused


def _refusal(screen: _Screen, way: Combination) -> str:
    """Return why a combination does not suit the charge, or nothing."""
    sheet = screen.found.sheet
    charge, vacuum = sheet.charge_volume_m3, screen.pressure < _VACUUM
    if charge > (_FULL_VACUUM if vacuum else _FULL) * way.flask.volume_m3 * (1.0 + 1e-9):
        return "flask too small"
    if charge < _EMPTY * way.flask.volume_m3:
        return "flask too large"
    if charge < _HOLDUPS * way.holdup_m3:
        return "charge below ten hold-ups"
    coldest, hottest = screen.coldest_K, screen.pot_end_K
    assert way.bath.item is not None
    if screen.heat.limit(way.bath.item) < hottest + _LEAST_ABOVE_POT:
        return "bath not hot enough"
    if screen.heat.boils(way) <= 0.0:
        return "bath not hot enough for what the glass loses"
    return _condenser_refusal(screen, way, coldest, hottest)


def _condenser_refusal(screen: _Screen, way: Combination, coldest: float, hottest: float) -> str:
    item, rig = way.condenser.item, screen.found.sheet.rig
    assert item is not None
    cold = rig.coolant_temperature_K.value if item.uses_coolant else rig.room_temperature_K.value
    if coldest < cold + _ABOVE_COOLANT:
        return "condenser not cold enough"
    if item.highest_C is not None and hottest > item.highest_C + 273.15 + _ABOVE_COOLANT:
        return "vapour too hot for the condenser"
    held = condenser_transfer(item).typical * (coldest - cold)
    if not item.uses_coolant and held < screen.heat.boils(way):
        return "condenser too small"
    if _needs_pump(screen) and not _pumps(screen):
        return "no pump reaches the pressure"
    return ""


def _estimate(screen: _Screen, way: Combination) -> Screened:
    found = screen.found
    reflux = _REFLUX if way.reflux else 0.0
    kept = _KEPT_WITH_REFLUX if way.reflux else _KEPT_WITHOUT
    recovery, purity = screen.best(round(kept * way.plates))
    lost = way.holdup_m3 / found.sheet.charge_volume_m3
    latent = sum(p.amount_mol.value * p.substance.latent_heat.value for p in found.sheet.charge)
    time = _WARM_UP + _SLACK * latent * (1.0 + reflux) / screen.heat.boils(way)
    return Screened(way, reflux, max(0.0, recovery - lost), purity, time)


def _worth_running(screened: list[Screened], found: Analysis) -> list[Screened]:
    """Return a few: the likeliest, the quickest and the simplest of those that may do."""
    goal = found.goal
    latest = goal.time_s if goal.time_s is not None else math.inf
    by_kind: dict[tuple[str, float], Screened] = {}
    for one in screened:  # of each column and reflux the quickest way to build it
        name = one.combination.column.label if one.combination.column else "none"
        key = (name, one.reflux)
        if key not in by_kind or one.time_s < by_kind[key].time_s:
            by_kind[key] = one
    kinds = list(by_kind.values())
    may = [one for one in kinds if one.recovery >= goal.recovery and one.time_s <= latest]
    order = sorted(may, key=lambda one: one.time_s)[: _SIMULATED // 2]
    order += sorted(kinds, key=lambda one: (-one.recovery, -one.purity))[: _SIMULATED // 2]
    order += sorted(may, key=lambda one: one.combination.plates)[:2]
    order += sorted(kinds, key=lambda one: one.combination.plates)[:1]
    return list({id(one): one for one in order}.values())[:_SIMULATED]


def _as_plan(screen: _Screen, one: Screened) -> Candidate:
    way, sheet = one.combination, screen.found.sheet
    rig: dict[str, object] = {
        "flask": f"{1e6 * way.flask.volume_m3:.6g} mL",
        "column": way.column.label if way.column else "none",
        "plates": None,
        "holdup": None,
        "condenser": way.condenser.label,
        "bath": way.bath.label,
    }
    if way.column is not None and way.column.measured:
        rig["plates"] = way.column.plates
        rig["holdup"] = f"{1e6 * way.column.holdup_m3:.6g} mL"
    if _needs_pump(screen) and not sheet.rig.pump:
        rig["pump"] = _weakest_pump(screen)
    method = "fractional" if way.column else "simple"
    return planned(sheet, method, pressure=screen.pressure, reflux=one.reflux, rig=rig)


def _needs_pump(screen: _Screen) -> bool:
    return screen.pressure < max(_VACUUM, 0.9 * screen.found.pressure_Pa)


def _pumps(screen: _Screen) -> list[tuple[float, str]]:
    """Return the pumps of a drawer that reach the pressure: their limit [Pa] and their name."""
    pumps = [
        (p.item.spans["lowest_Pa"].typical, p.label) for p in screen.drawer.of("pump") if p.item
    ]
    return [one for one in pumps if one[0] <= screen.pressure]


def _weakest_pump(screen: _Screen) -> str:
    """Return the pump that does and would do least: it is the one that others need least."""
    return max(_pumps(screen))[1]


def _one_more(screen: _Screen, screened: list[Screened]) -> tuple[OneMore, ...]:
    """Return what each piece that is not in the drawer would buy, by the screen."""
    now = max((one.recovery for one in screened), default=0.0)
    owned = {piece.label for piece in screen.drawer.pieces}
    charge = screen.found.sheet.charge_volume_m3
    extra = [_column_piece(text) for text in _MORE if text not in owned]
    extra += [
        Piece("bath", name, item=find_item(name, "bath", "bath"))
        for name in _MORE_BATHS
        if name not in owned
    ]
    size = smallest_flask(charge, 0.5)
    extra.append(Piece("flask", f"{1e6 * size:g} mL flask", volume_m3=size))
    if not any(head.reflux for head in screen.drawer.of("head")):
        extra.append(Piece("head", "reflux head", reflux=True))
    found = []
    for piece in extra:
        wider = Inventory(screen.drawer.title, (*screen.drawer.pieces, piece))
        ways = [w for w in combinations_of(wider) if _uses(w, piece)]
        better, _ = _screened(replace(screen, drawer=wider), ways)
        best = max(better, key=lambda one: (one.recovery, -one.time_s), default=None)
        if best is not None and best.recovery - now > _WORTH:
            found.append(OneMore(piece.label, best.recovery, best.recovery - now, best.time_s))
    return tuple(sorted(found, key=lambda m: (-round(m.gain, 2), m.time_s))[:4])


def _uses(way: Combination, piece: Piece) -> bool:
    return piece in (way.flask, way.column, way.head, way.bath)


def _column_piece(text: str) -> Piece:
    item = find_item(text, "column", "column")
    plates = column_plates(item).typical
    holdup = column_holdup(item, plates).typical
    return Piece("column", item.label, item=item, plates=plates, holdup_m3=holdup)
