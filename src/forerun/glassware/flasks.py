"""Round flasks: what glass they bring, how much of it is wetted, how heat gets in and out.

A flask is a sphere of its nominal volume with a wall of even thickness; neck and joint are a
share of the sphere's glass.
"""

from __future__ import annotations

import math

from forerun.glassware.drawer import Item, Span, flask_volumes, span

__all__ = [
    "boiled_again",
    "flask_heat_capacity",
    "flask_loss",
    "overall_transfer",
    "pot_transfer",
    "smallest_flask",
    "sphere_area",
    "wetted_area",
    "wetting_exponent",
]

_FIFTH = 0.2


def sphere_area(volume: float) -> float:
    """Return the surface of a sphere.

    Args:
        volume: [m3], not negative.

    Returns:
        Surface [m2].

    Derivation: (36 pi V^2)^(1/3), geometry.
    """
    return float((36.0 * math.pi * volume**2) ** (1.0 / 3.0))


def wetted_area(volume: float, fill: float) -> float:
    """Return the wall of a spherical flask that its liquid touches.

    Args:
        volume: of the flask [m3], > 0.
        fill: of the liquid [m3], 0 to the volume.

    Returns:
        Area of the cap 2 pi r h [m2].

    Derivation: the depth h solves V = pi h^2 (3 r - h)/3; with u = h/(2 r), 3 u^2 - 2 u^3 is the
    share filled, whose root is u = 1/2 - sin(asin(1 - 2 share)/3).
    """
    share = min(max(fill / volume, 0.0), 1.0)
    depth = 0.5 - math.sin(math.asin(1.0 - 2.0 * share) / 3.0)
    return sphere_area(volume) * depth


def wetting_exponent(volume: float, fill: float) -> float:
    """Return the power of the liquid's volume that its wetted wall goes with as a flask empties.

    Args:
        volume: of the flask [m3], > 0.
        fill: of the liquid at first [m3], above 0 and below the volume.

    Returns:
        Exponent [-], 0.5 for a drop in a large flask, more for a fuller one.

    Derivation: `wetted_area` at a fifth of the fill over that at the fill. The power is within
    0.03 of the sphere's share from there to a twentieth, for flasks up to two thirds full.
    """
    ratio = wetted_area(volume, _FIFTH * fill) / wetted_area(volume, fill)
    return math.log(ratio) / math.log(_FIFTH)


def boiled_again(through_wall: float, loss: float) -> float:
    """Return what the wall above the liquid, still in the bath, boils of the condensate on it.

    Args:
        through_wall: heat that this wall would pass [W].
        loss: by the part of the flask above the bath, whose condensate runs down [W].

    Returns:
        Heat taken from the bath [W], below both; 0 where one of them is not above 0.

    Derivation: as in `forerun.still.pot_heat`, valid while the bath stays level with the charge
    as filled; own reasoning, not measured.
    """
    if through_wall <= 0.0 or loss <= 0.0:
        return 0.0
    return loss * through_wall**2 / (through_wall**2 + loss**2)


def flask_heat_capacity(volume: float) -> Span:
    """Return the heat capacity of an empty flask.

    Args:
        volume: nominal [m3].

    Returns:
        Heat capacity [J/K], low, typical, high.

    Derivation: area x wall x density x (1 + neck) x specific heat; values of the drawer, valid for
    round borosilicate flasks.
    """
    glass = span("glass", "density_kg_m3").typical * span("glass", "heat_capacity_J_kg_K").typical
    neck = 1.0 + span("flask", "neck_share").typical
    return span("flask", "wall_m").times(sphere_area(volume) * glass * neck)


def overall_transfer(outer_film: float, wall: float, inner_film: float) -> float:
    """Return the heat-transfer coefficient of two films and a glass wall in series.

    Args:
        outer_film: coefficient outside [W/m2/K], > 0.
        wall: thickness of the glass [m].
        inner_film: coefficient inside [W/m2/K], > 0.

    Returns:
        Overall coefficient [W/m2/K].

    Derivation: resistances in series, 1/U = 1/h_o + wall/conductivity + 1/h_i; a wall that is
    thin against the flask's radius counts as flat.
    """
    conductivity = span("glass", "conductivity_W_m_K").typical
    return 1.0 / (1.0 / outer_film + wall / conductivity + 1.0 / inner_film)


def pot_transfer(volume: float, fill: float, bath: Item) -> Span:
    """Return the heat transfer from a bath, level with the liquid, into the pot.

    Args:
        volume: of the flask [m3].
        fill: of the liquid [m3].
        bath: from the drawer.

    Returns:
        Coefficient times wetted area [W/K], low, typical, high.

    Derivation: `overall_transfer` over `wetted_area`; low takes the bad end of both films and
    of the wall, high the good end; valid while the bath reaches up to the liquid.
    """
    outside = bath.spans["film_W_m2_K"]
    inside = span("flask", "inner_film_W_m2_K")
    wall = span("flask", "wall_m")
    area = wetted_area(volume, fill)
    return Span(
        area * overall_transfer(outside.low, wall.high, inside.low),
        area * overall_transfer(outside.typical, wall.typical, inside.typical),
        area * overall_transfer(outside.high, wall.low, inside.high),
        outside.source,
    )


def flask_loss(volume: float, fill: float) -> Span:
    """Return the heat transfer from the flask's bare upper part to the room.

    Args:
        volume: of the flask [m3].
        fill: of the liquid [m3], the bath being level with it.

    Returns:
        Coefficient times dry area [W/K], low, typical, high.

    Derivation: free convection and radiation over the part that the liquid does not touch.
    """
    dry = sphere_area(volume) - wetted_area(volume, fill)
    return span("flask", "room_film_W_m2_K").times(dry)


def smallest_flask(fill: float, share: float) -> float:
    """Return the smallest usual flask that a charge fills at most to a share.

    Args:
        fill: of the liquid [m3].
        share: highest filled share [-].

    Returns:
        Nominal volume [m3]; the largest of the drawer when none is large enough.

    Not a published model: a choice among the drawer's volumes.
    """
    volumes = flask_volumes()
    return next((v for v in volumes if fill <= share * v * (1.0 + 1e-9)), volumes[-1])
