"""The command line: words in, one answer out, nothing heavy imported before it is needed.

Exit codes: 0 done; 2 input that the user can put right; 3 a safety gate says stop; 1 our own
failure; 130 stopped by the user.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from forerun.app.cli_after import calibrate, passport, record, reproduce, review
from forerun.app.cli_class import erase, hide, mark, mark_runs, pool, try_
from forerun.app.cli_during import diagnose, watch
from forerun.app.cli_fit import fit
from forerun.app.cli_lesson import lesson
from forerun.app.cli_parts import GATE_STOPS, as_json_option, show_answer
from forerun.app.cli_place import backup, check, passphrase, restore, serve

__all__ = ["cli", "main"]

Command = TypeVar("Command", bound=Callable[..., Any])

_DEMO_MEMBERS = 32
_STOPPED = 130
_OBJECTS = 50_000  # new objects between looks for rubbish
_CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 96}


def _pressure(command: Command) -> Command:
    return click.option(
        "--pressure",
        default="760 mmHg",
        show_default=True,
        metavar="QUANTITY",
        help='Such as "12 mmHg", "0.8 bar" or "1 atm".',
    )(command)


def _ensemble(members: int) -> Callable[[Command], Command]:
    """Add the options of a forecast; so many members unless said otherwise."""

    def add(command: Command) -> Command:
        count = click.option(
            "--members",
            type=int,
            default=members,
            show_default=True,
            metavar="N",
            help="Draw bands from N runs, each with other guesses at what is not known; 0: none.",
        )
        seed = click.option(
            "--seed", type=int, default=1, show_default=True, help="Repeats the same guesses."
        )
        out = click.option("--out", metavar="FILE.svg", help="Draw the curve into this file.")
        return count(seed(out(command)))

    return add


@click.group(context_settings=_CONTEXT)
@click.version_option(package_name="forerun", message="%(prog)s %(version)s")
def cli() -> None:
    """A forecast for bench distillation: what boils when, where to switch, how sure that is.

    \b
    Try  forerun demo
         forerun look toluene --pressure "20 mmHg"
         forerun mix ethanol water
         forerun example

    Advisory only: your institution's stricter rule wins.
    """


@cli.command()
@click.argument("substance", nargs=-1, required=True)
@_pressure
@as_json_option
def look(substance: tuple[str, ...], pressure: str, as_json: bool) -> None:
    """What is known of a SUBSTANCE, and where it boils.

    A name, synonym, CAS number, InChIKey or SMILES.
    """
    from forerun.app.look import look as answer

    show_answer(answer(" ".join(substance), pressure=pressure), as_json)


@cli.command()
@click.argument("substances", nargs=-1, required=True, metavar="SUBSTANCE SUBSTANCE ...")
@_pressure
@click.option(
    "--at", metavar="X1,X2,...", help="Also the boiling point and vapour of these mole fractions."
)
@click.option("--dissolved", type=float, metavar="X", help="Of --at: what does not boil, per mole.")
@click.option(
    "--curve", type=int, metavar="N", help="Also the boiling diagram of two substances in N points."
)
@click.option(
    "--charge",
    metavar="AMOUNT,AMOUNT,...",
    help='Also in which order this charge gives what: "0.3,0.7", "30 wt%,70 wt%", "20 g,50 mL".',
)
@click.option("--settle", metavar="QUANTITY", help="Also the layers of the charge, at 25 °C, say.")
@click.option("--between", metavar="LOW,HIGH", help="Also how azeotropes move with pressure.")
@click.option("--out", metavar="FILE.svg", help="Draw two or three substances into this file.")
@as_json_option
def mix(
    substances: tuple[str, ...],
    pressure: str,
    at: str | None,
    dissolved: float | None,
    curve: int | None,
    charge: str | None,
    settle: str | None,
    between: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Whether boiling parts two to five substances.

    Azeotropes with their bands, relative volatilities. Put a name of several words in quotes.
    """
    from forerun.app.mix import fractions_from
    from forerun.app.mix import mix as answer
    from forerun.app.output import check_drawing_name, write_drawing

    check_drawing_name(out)
    found = answer(
        *substances,
        pressure=pressure,
        at=None if at is None else fractions_from(at),
        dissolved=dissolved or 0.0,
        curve=curve,
        charge=charge,
        settle=settle,
        between=between,
        drawn=out is not None,
    )
    written = None if out is None else write_drawing(out, found.drawing())
    show_answer(found, as_json, written)


@cli.command()
@click.argument("sheet")
@_ensemble(0)
@as_json_option
def foresee(sheet: str, members: int, seed: int, out: str | None, as_json: bool) -> int:
    """What comes over when: the forecast of a run SHEET.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.foresee import foresee as answer
    from forerun.app.output import check_drawing_name, write_drawing
    from forerun.app.sheet import sheet_from_words

    check_drawing_name(out)
    found = answer(sheet_from_words(sheet), members=members, seed=seed)
    written = None if out is None else write_drawing(out, found.drawing())
    show_answer(found, as_json, written)
    return GATE_STOPS if found.stopped else 0


@cli.command()
@click.argument("sheet")
@click.option(
    "--members",
    type=int,
    default=16,
    show_default=True,
    metavar="N",
    help="Runs behind each probability, each with other guesses at what is not known.",
)
@click.option("--seed", type=int, default=1, show_default=True, help="Repeats the same guesses.")
@click.option(
    "--drawer",
    metavar="FILE",
    help="Your own glass in TOML, or a starter drawer: teaching, research or small.",
)
@click.option("--out", metavar="FILE.svg", help="Draw the pressures that fit into this file.")
@click.option("--card", metavar="FILE", help="Write the bench card into this .txt, .svg or .pdf.")
@click.option("--paper", default="a4", show_default=True, metavar="a4|letter", help="Its size.")
@as_json_option
def advise(
    sheet: str,
    members: int,
    seed: int,
    drawer: str | None,
    out: str | None,
    card: str | None,
    paper: str,
    as_json: bool,
) -> int:
    """Which method, which pressure, which glass, or don't: before the flask is filled.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.advise import advise as answer
    from forerun.app.output import card_and_drawing, check_card_name, check_drawing_name
    from forerun.app.sheet import sheet_from_words

    check_card_name(card, paper)
    check_drawing_name(out)
    found = answer(sheet_from_words(sheet), members=members, seed=seed, drawer=drawer)
    show_answer(found, as_json, card_and_drawing(found, card, out, paper))
    return GATE_STOPS if found.stopped else 0


@cli.command()
@click.argument("sheet")
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="KEY=LO:HI:N",
    help='A key of the sheet and its values: "rig.plates=2:8:4", "rig.bath=water,silicone oil".',
)
@click.option(
    "--out", default="sweep", show_default=True, metavar="FOLDER", help="Results; resumed if there."
)
@click.option("--cluster", metavar="ADDRESS", help="A Dask scheduler, tcp://host:8786.")
@click.option("--workers", type=int, metavar="N", help="Processes here; one on each processor.")
@as_json_option
def sweep(
    sheet: str,
    vary: tuple[str, ...],
    out: str,
    cluster: str | None,
    workers: int | None,
    as_json: bool,
) -> None:
    """One SHEET, many settings: every combination run, the best ones named.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.sweep import sweep as answer

    show_answer(answer(sheet, vary, out=out, cluster=cluster, workers=workers), as_json)


@cli.command()
@click.argument("name", required=False)
@click.option("--out", metavar="FILE", help="Write the sheet into this file.")
@as_json_option
def example(name: str | None, out: str | None, as_json: bool) -> None:
    """A ready run sheet by its NAME, or the list of them."""
    from forerun.app.example import example as answer
    from forerun.app.example import listed_examples
    from forerun.app.output import write_new

    if name is None:
        show_answer(listed_examples(), as_json)
        return
    found = answer(name)
    if out is None:
        show_answer(found, as_json)
        return
    written = write_new(out, found.sheet)
    if as_json:
        show_answer(found, as_json)
    click.echo(f"written: {written}", err=True)


@cli.command()
@_ensemble(_DEMO_MEMBERS)
@click.option("--live", is_flag=True, help="A simulated bench that drips, on the page.")
@click.option("--fault", metavar="NAME", help="With --live: what goes wrong, such as leak.")
@click.option(
    "--speed",
    type=float,
    metavar="1..60",
    help="With --live: times as fast as a bench; 20 if left out.",
)
@click.option("--port", type=int, metavar="P", help="With --live: where to listen.")
@as_json_option
def demo(
    members: int,
    seed: int,
    out: str | None,
    live: bool,
    fault: str | None,
    speed: float | None,
    port: int | None,
    as_json: bool,
) -> None:
    """The built-in example, from charge to cuts; with --live as a bench that drips."""
    if live:
        from forerun.app.demo_live import demo_live

        demo_live(fault=fault, speed=20.0 if speed is None else speed, seed=seed, port=port)
        return
    from forerun.core.errors import BadInput

    for name, value in (("--fault", fault), ("--speed", speed), ("--port", port)):
        if value is not None:
            raise BadInput(name, value, "this only together with --live")
    from forerun.app.demo import demo as answer
    from forerun.app.output import check_drawing_name, write_drawing

    check_drawing_name(out)
    found = answer(members=members, seed=seed)
    written = None if out is None else write_drawing(out, found.drawing())
    show_answer(found, as_json, written)


for _command in (
    fit,
    watch,
    diagnose,
    review,
    record,
    reproduce,
    passport,
    calibrate,
    lesson,
    hide,
    try_,
    mark,
    mark_runs,
    pool,
    erase,
    serve,
    passphrase,
    check,
    backup,
    restore,
):
    cli.add_command(_command)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: words after ``forerun``; those of the process when left out.

    Returns:
        The exit code; nothing is raised, whatever went wrong.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    if arguments is None:
        _stop_at_once_on_ctrl_c()
        # a short process: what imports leave is not worth looking through, nor are plug-ins
        gc.set_threshold(_OBJECTS)
        os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        code = cli.main(args=words, prog_name="forerun", standalone_mode=False)
    except BaseException as problem:
        if os.environ.get("FORERUN_DEBUG") and not isinstance(problem, KeyboardInterrupt):
            raise
        from forerun.app.failures import reported

        return reported(problem, words)
    return code if isinstance(code, int) else 0


def _stop_at_once_on_ctrl_c() -> None:
    """End the process on Ctrl-C: an exception would wait for threads, or get lost in a callback.

    Nothing is left half done by it: files are written aside and then renamed.
    """

    def stop(_signal: int, _frame: object) -> None:
        cursor = b"\x1b[?25h" if os.isatty(2) else b""  # a progress bar hides it
        os.write(2, cursor + b"stopped\n")
        os._exit(_STOPPED)

    signal.signal(signal.SIGINT, stop)


if __name__ == "__main__":
    sys.exit(main())
