"""The commands about the place itself: `serve`, `passphrase`, `check`, `backup`, `restore`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["backup", "check", "passphrase", "restore", "serve"]

_NOT_READY = 2


@click.command()
@click.option(
    "--port", type=int, metavar="P", help="Where to listen; 8017 or the next free one if left out."
)
@click.option(
    "--browser/--no-browser",
    default=True,
    help="Open the page where there is a screen (the default), or only say where it is.",
)
@click.option(
    "--open",
    "names",
    multiple=True,
    metavar="NAME",
    help="Also to others: NAME is how they call this machine. Needs a pass-phrase.",
)
@click.option("--certificate", metavar="FILE.pem", help="Of the lab, for NAME; with --open.")
@click.option("--key", metavar="FILE.pem", help="That belongs to the certificate.")
@click.option("--plain", is_flag=True, help="With --open, without encryption: all may listen in.")
def serve(
    port: int | None,
    browser: bool,
    names: tuple[str, ...],
    certificate: str | None,
    key: str | None,
    plain: bool,
) -> None:
    """The page: plan with your hands, in a browser on this machine.

    Nothing leaves the machine and no other can ask, unless --open says so. Ctrl-C stops it.
    """
    from forerun.app.web.opening import Opening
    from forerun.app.web.serving import serve as start

    start(port, browser=browser, opening=Opening(names, certificate, key, plain))


@click.command()
@click.argument("role", metavar="reader|bench|instructor")
@click.option("--remove", is_flag=True, help="Nobody comes in as this role any more.")
def passphrase(role: str, remove: bool) -> None:
    """Set the pass-phrase by which others come in as a ROLE when the page is open to them.

    Asked for twice; from a pipe, the first line is taken.
    """
    from forerun.app.web.passphrases import PassPhrases

    if remove:
        PassPhrases().drop(role)
    else:
        PassPhrases().put(role, _asked_twice())
    click.echo(f"{role}: {'removed' if remove else 'kept'}", err=True)


def _asked_twice() -> str:
    if sys.stdin.isatty():
        return str(click.prompt("pass-phrase", hide_input=True, confirmation_prompt=True))
    return sys.stdin.readline().rstrip("\r\n")


@click.command()
@click.option("--prepare", is_flag=True, help="Compile the kernels now, if they are not.")
@as_json_option
def check(prepare: bool, as_json: bool) -> int:
    """Whether this machine has what forerun needs: kernels, folders, disk, browser, ports.

    Exit code 2 when something is missing without which it does not work.
    """
    from forerun.app.check import check as answer

    found = answer(prepare=prepare)
    show_answer(found, as_json)
    return 0 if found.ready else _NOT_READY


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def backup(folder: Path) -> None:
    """Copy your runs, kept sheets and hidden classes into a FOLDER, while others may write.

    Each copy is read through. Nothing in the folder is written over.
    """
    from forerun.records.library import DATABASE_VARIABLE, database, library_folder
    from forerun.records.safekeeping import back_up

    if database() is not None:
        click.echo(
            f"look out: {DATABASE_VARIABLE} is set: runs are in that database, which pg_dump "
            "copies; only what stands in files is copied here",
            err=True,
        )
    for copy in back_up(library_folder(), folder):
        held = [copy] if copy.is_file() else [p for p in copy.rglob("*") if p.is_file()]
        size = sum(path.stat().st_size for path in held) / 1e6
        many = "" if copy.is_file() else f" in {len(held)} files"
        click.echo(f"{copy}: {size:.1f} MB{many}, read through")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def restore(folder: Path) -> None:
    """Bring back what `backup` copied into a FOLDER; stop the page first.

    What you have now is set aside under another name, not written over.
    """
    from forerun.records.library import library_folder
    from forerun.records.safekeeping import bring_back

    aside = bring_back(folder, library_folder())
    click.echo(f"brought back from {folder}")
    for path in aside:
        click.echo(f"set aside: {path}")
