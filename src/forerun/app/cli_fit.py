"""The command `forerun fit`, apart from the others so that no file grows too long."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["fit"]


@click.command()
@click.argument("substances", nargs=-1, metavar="SUBSTANCE SUBSTANCE")
@click.option("--points", metavar="FILE.csv", help="Your table; headings such as x1,y1,T_C.")
@click.option("--pressure", metavar="QUANTITY", help="Of all points, without a column for it.")
@click.option("--temperature", metavar="QUANTITY", help="The same for the temperature.")
@click.option("--calibration", metavar="FILE.csv", help="x1 or w1 against n or rho_g_mL.")
@click.option("--label", default="own points", metavar="WORDS", help="What to call them later.")
@click.option("--out", metavar="FILE.svg", help="Draw points, curve and what is left over.")
@click.option("--share", metavar="FILE.json", help="Also write the fit into this file.")
@click.option("--thermoml", metavar="FILE.xml", help="Also write the points as ThermoML.")
@click.option("--trial", is_flag=True, help="Do not keep the fit.")
@click.option("--take", metavar="FILE.json", help="Take a fit that somebody shared.")
@click.option("--forget", is_flag=True, help="Remove your own fit of the two.")
@as_json_option
def fit(
    substances: tuple[str, ...],
    points: str | None,
    pressure: str | None,
    temperature: str | None,
    calibration: str | None,
    label: str,
    out: str | None,
    share: str | None,
    thermoml: str | None,
    trial: bool,
    take: str | None,
    forget: bool,
    as_json: bool,
) -> None:
    """Correct a pair by your own points; mix and foresee use the fit from then on."""
    from forerun.app.fit import fit as answer
    from forerun.app.fit import forget_pair, take_pair
    from forerun.app.output import check_drawing_name, check_new_name, write_drawing, write_new
    from forerun.core.errors import BadInput

    if take is not None:
        show_answer(take_pair(take), as_json)
        return
    if forget:
        show_answer(forget_pair(*substances), as_json)
        return
    if points is None:
        raise BadInput("--points", "nothing", "a table with headings such as x1,y1,T_C")
    check_drawing_name(out)
    check_new_name(share, "--share")
    check_new_name(thermoml, "--thermoml")
    found = answer(
        *substances,
        points=points,
        pressure=pressure,
        temperature=temperature,
        calibration=calibration,
        label=label,
        keep=not trial,
    )
    if share is not None:
        write_new(share, found.own.text(), "--share")
    if thermoml is not None:
        write_new(thermoml, found.thermoml(), "--thermoml")
    written = None if out is None else write_drawing(out, found.drawing())
    show_answer(found, as_json, written)
