"""Commands for after the run, `review`, `record`; for your own glass, `passport`, `calibrate`."""

from __future__ import annotations

import click

from forerun.app.cli_parts import GATE_STOPS, as_json_option, show_answer

__all__ = ["calibrate", "passport", "record", "reproduce", "review"]

_DIFFERS = 1


@click.command()
@click.argument("sheet")
@click.option("--readings", metavar="CSV", required=True, help="The log of the run.")
@click.option("--assays", metavar="CSV", help="What was weighed and analysed of each cut.")
@click.option("--calibration", metavar="CSV", help="Of a pair: x1 or w1 against n or rho_g_mL.")
@click.option("--quick", is_flag=True, help="Leave out plates and losses, which take seconds.")
@click.option(
    "--members",
    type=click.IntRange(0, 4096),
    default=0,
    show_default=True,
    metavar="N",
    help="Runs of the forecast that is held against the record.",
)
@click.option("--keep", is_flag=True, help="Keep the run and the passport of its column.")
@click.option("--again", metavar="FILE.toml", help="Write the sheet of what would be run again.")
@as_json_option
def review(
    sheet: str,
    readings: str,
    assays: str | None,
    calibration: str | None,
    quick: bool,
    members: int,
    keep: bool,
    again: str | None,
    as_json: bool,
) -> None:
    """What did I get, where is the rest, shall I do it again: a run looked at afterwards.

    SHEET is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.output import check_new_name
    from forerun.app.review import review as answer
    from forerun.app.review import write_again
    from forerun.app.sheet import sheet_from_words, source_from_words

    check_new_name(again, "--again")
    read = source_from_words(sheet) if keep else sheet_from_words(sheet)
    found = answer(
        read,
        readings=readings,
        assays=assays,
        calibration=calibration,
        fit=not quick,
        members=members,
        keep=keep,
    )
    written = None if again is None else write_again(found, again)
    show_answer(found, as_json, written)


@click.command()
@click.argument("sheet", metavar="SHEET|RUN")
@click.option("--out", required=True, metavar="FILE.pdf", help="Where the record goes.")
@click.option("--readings", metavar="CSV", help="The log of the run; without it, of the plan.")
@click.option("--assays", metavar="CSV", help="What was weighed and analysed of each cut.")
@click.option("--notes", metavar="FILE.toml", help="Purpose, people, lots, waste and the like.")
@click.option("--paper", default="a4", show_default=True, metavar="a4|letter", help="Its size.")
@click.option("--labels", metavar="FILE.pdf", help="Also labels for the bottles.")
@click.option("--stock", default="a4-14", show_default=True, metavar="NAME", help="Their sheet.")
@click.option("--skip", default=0, show_default=True, help="Labels of it that are used up.")
@click.option("--archive", metavar="FILE.zip", help="Also everything in one open archive.")
@click.option("--quick", is_flag=True, help="Leave out plates and losses, which take seconds.")
@as_json_option
def record(
    sheet: str,
    out: str,
    readings: str | None,
    assays: str | None,
    notes: str | None,
    paper: str,
    labels: str | None,
    stock: str,
    skip: int,
    archive: str | None,
    quick: bool,
    as_json: bool,
) -> None:
    """The run on paper, with labels and archive: SHEET with its log, or a RUN that was kept."""
    from forerun.app.record import check_file_name, run_from_words, write_bytes
    from forerun.app.record import record as answer

    check_file_name(out)
    for name, option, ending in ((labels, "--labels", ".pdf"), (archive, "--archive", ".zip")):
        if name is not None:
            check_file_name(name, option, ending)
    source, log, results = run_from_words(sheet, readings, assays)
    found = answer(source, readings=log, assays=results, notes=notes, paper=paper, fit=not quick)
    written = [write_bytes(out, found.pdf, "--out")]
    if labels is not None:
        written.append(write_bytes(labels, found.labels(stock, skip + 1), "--labels"))
    if archive is not None:
        written.append(write_bytes(archive, found.archive(), "--archive"))
    show_answer(found, as_json, ", ".join(written))


@click.command()
@click.argument("name", required=False)
@click.option("--out", metavar="FILE.svg", help="Draw what its runs have shown into this file.")
@click.option("--anew", is_flag=True, help="Review the runs it rests on again, and keep that.")
@as_json_option
def passport(name: str | None, out: str | None, anew: bool, as_json: bool) -> None:
    """What your own glassware has shown: NAME as sheets have it, or the list of all."""
    from forerun.app.output import check_drawing_name, write_drawing
    from forerun.app.passport import passport as answer
    from forerun.app.passport import passport_anew, passports
    from forerun.core.errors import BadInput

    check_drawing_name(out)
    if name is None:
        if out is not None or anew:
            raise BadInput("NAME", "nothing", "the name of a passport, to draw or reckon it again")
        show_answer(passports(), as_json)
        return
    found = passport_anew(name) if anew else answer(name)
    written = None if out is None else write_drawing(out, found.drawing())
    show_answer(found, as_json, written)


@click.command()
@click.argument("file", type=click.Path())
@as_json_option
def reproduce(file: str, as_json: bool) -> int:
    """Whether a saved answer comes out again: same sheet, seed and options, to the last digit.

    FILE is what a command printed with --json, or the archive of a record. Exit code 1 when
    something differs.
    """
    from forerun.app.reproduce import reproduce as answer

    found = answer(file)
    show_answer(found, as_json)
    return 0 if found.same else _DIFFERS


@click.command()
@click.argument("sheet")
@click.option("--out", metavar="FILE.toml", help="Write the sheet of the calibration run.")
@as_json_option
def calibrate(sheet: str, out: str | None, as_json: bool) -> int:
    """How to measure your own column: pair, amounts, when to sample, what that tells.

    SHEET names the glass; it is a file, "-" for standard input, or the name of an example.
    """
    from forerun.app.calibrate import calibrate as answer
    from forerun.app.output import check_new_name, write_new
    from forerun.app.sheet import sheet_from_words

    check_new_name(out)
    found = answer(sheet_from_words(sheet))
    written = None if out is None else write_new(out, found.written())
    show_answer(found, as_json, written)
    return GATE_STOPS if found.stopped else 0
