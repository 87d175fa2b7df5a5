"""Commands for while the flask drips: `watch` and `diagnose`."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["diagnose", "watch"]


@click.command()
@click.argument("sheet")
@click.option(
    "--from",
    "source",
    metavar="SOURCE",
    help="A CSV file that grows, serial:PORT?channel=head_C, modbus:HOST?head_C=0, "
    "mqtt:HOST?topic=NAME, or a device of your own.",
)
@click.option(
    "--pace",
    type=float,
    default=1.0,
    show_default=True,
    metavar="N",
    help="Seconds of the run in a second of the room, for a simulated one.",
)
@as_json_option
def watch(sheet: str, source: str | None, pace: float, as_json: bool) -> None:
    """Follow a run while it drips; readings come from SOURCE or are typed.

    SHEET is a file or the name of an example. Type, one line at a time:

    \b
      head 78.2, 12 mL       also pot, bath, g, mbar, mmHg
      drops 20 in 30         with  drops per mL 40  said once
      switched               the receiver was changed
      odd foams              or  note WORDS
      done | not now | no    to what you were told to do
      end
    """
    import sys

    from forerun.app.sheet import sheet_from_words
    from forerun.app.watch import watch as follow
    from forerun.reporting.paper import paper_for
    from forerun.reporting.plain import to_text
    from forerun.running.sources import source_of
    from forerun.sheets.writing import toml_of

    stream = sys.stderr if as_json else sys.stdout
    paper = paper_for(stream)

    def say(line: str) -> None:
        print(paper.spelled(line), file=stream, flush=True)

    read = sheet_from_words(sheet)
    given = None if source is None else source_of(source)
    found = follow(read, toml_of(read), say=say, source=given, pace=pace)
    if as_json:
        print(to_text(found.to_json()))
    else:
        say(f"Run {found.run} has ended. Readings kept: {found.readings}.")


@click.command()
@click.argument("sheet")
@click.option("--readings", metavar="CSV", required=True, help="The log of the run so far.")
@click.option("--assays", metavar="CSV", help="What was weighed of each cut and of the pot.")
@as_json_option
def diagnose(sheet: str, readings: str, assays: str | None, as_json: bool) -> None:
    """Something is odd: why, which test tells, what then.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.diagnose import diagnose as answer
    from forerun.app.sheet import sheet_from_words

    show_answer(answer(sheet_from_words(sheet), readings=readings, assays=assays), as_json)
