"""Commands for a class: `hide`, `try`, `mark`, `mark-runs`, `pool`, `erase`."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["erase", "hide", "mark", "mark_runs", "pool", "try_"]


@click.command()
@click.argument("sheet")
@click.option("--out", required=True, metavar="FOLDER", help="For the key and the students.")
@click.option(
    "--students",
    default="24",
    show_default=True,
    metavar="N",
    help='How many, or their numbers: "1-12,31".',
)
@click.option("--share", metavar="LOW-HIGH", help="mol% of the first in the flask; 30-70.")
@click.option("--faults", metavar="NAME,...", help='What may go wrong, "none" among it; all.')
@click.option("--unknowns", metavar="NAME,...", help="One of these stands in for the last.")
@click.option("--secret", metavar="WORDS", help="The same words deal the same runs.")
@as_json_option
def hide(
    sheet: str,
    out: str,
    students: str,
    share: str | None,
    faults: str | None,
    unknowns: str | None,
    secret: str | None,
    as_json: bool,
) -> None:
    """Something hidden in a run of SHEET, for each student another: what is in it, what is wrong.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.hide import hide as answer
    from forerun.app.sheet import sheet_from_words

    found = answer(
        sheet_from_words(sheet),
        out,
        students=students,
        share=share,
        faults=faults,
        unknowns=unknowns,
        secret=secret,
    )
    show_answer(found, as_json, ", ".join(found.written))


@click.command(name="try")
@click.argument("key")
@click.argument("student")
@click.option("--plan", metavar="SHEET", help="A sheet whose programme is driven instead.")
@click.option("--out", default="log.csv", show_default=True, metavar="FILE.csv", help="The log.")
@as_json_option
def try_(key: str, student: str, plan: str | None, out: str, as_json: bool) -> None:
    """The hidden run of a STUDENT, driven as they plan it; KEY is the instructor's file."""
    from forerun.app.hide import tried
    from forerun.app.sheet import sheet_from_words

    planned = None if plan is None else sheet_from_words(plan)
    found = tried(key, student, planned, out)
    show_answer(found, as_json, found.written)


@click.command()
@click.argument("key")
@click.argument("folder")
@click.option("--feedback", metavar="FOLDER", help="Also a text for each student.")
@click.option("--out", metavar="FILE.csv", help="Also the marks as a table.")
@as_json_option
def mark(key: str, folder: str, feedback: str | None, out: str | None, as_json: bool) -> None:
    """Marks with reasons for what students handed in, a folder for each in FOLDER."""
    from forerun.app.mark import mark as answer
    from forerun.app.output import check_table_name, write_table

    check_table_name(out)
    found = answer(key, folder, feedback)
    written = [feedback] if feedback is not None else []
    written += [write_table(out, found.csv())] if out is not None else []
    show_answer(found, as_json, ", ".join(written) or None)


@click.command(name="mark-runs")
@click.argument("sheet")
@click.argument("folder")
@click.option("--weights", metavar="FILE", help="Its [weights] count, such as the key's.")
@click.option("--feedback", metavar="FOLDER", help="Also a text for each bench.")
@click.option("--out", metavar="FILE.csv", help="Also the marks as a table.")
@as_json_option
def mark_runs(
    sheet: str,
    folder: str,
    weights: str | None,
    feedback: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Marks with reasons for real runs: log and assays of each bench, a folder for each in FOLDER.

    SHEET is what all of them ran: a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.mark_runs import mark_runs as answer
    from forerun.app.output import check_table_name, write_table
    from forerun.app.sheet import sheet_from_words

    check_table_name(out)
    found = answer(sheet_from_words(sheet), folder, weights=weights, feedback=feedback)
    written = [feedback] if feedback is not None else []
    written += [write_table(out, found.csv())] if out is not None else []
    show_answer(found, as_json, ", ".join(written) or None)


@click.command()
@click.argument("sheet")
@click.argument("folder")
@click.option("--without", metavar="CODE,...", help="Benches that are left out.")
@click.option("--quick", is_flag=True, help="Leave out plates, which take seconds for each bench.")
@click.option("--out", metavar="FOLDER", help="Write pooled.csv and pooled.svg there.")
@as_json_option
def pool(
    sheet: str, folder: str, without: str | None, quick: bool, out: str | None, as_json: bool
) -> None:
    """All benches of a class together: their logs lie in FOLDER, named by bench, B07.csv.

    SHEET is what all of them ran: a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.pool import pool as answer
    from forerun.app.pool import write_pooled
    from forerun.app.sheet import sheet_from_words

    found = answer(sheet_from_words(sheet), folder, without=without, fit=not quick)
    written = None if out is None else ", ".join(write_pooled(found, out))
    show_answer(found, as_json, written)


@click.command()
@click.argument("run")
@click.option("--yes", is_flag=True, help="Nothing is erased without.")
@click.option("--reason", default="", metavar="WORDS", help="Why; stays with its number.")
@as_json_option
def erase(run: str, yes: bool, reason: str, as_json: bool) -> None:
    """All that is kept of an ended run, taken away for good: RUN is its number or its code.

    Its number stays taken, and what it has shown of a column stays in that passport. Copies that
    were made before are out of reach.
    """
    from forerun.app.erase import erase as answer

    show_answer(answer(run, yes, reason), as_json)
