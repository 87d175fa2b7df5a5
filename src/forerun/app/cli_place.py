"""The commands about the place itself: `serve`, `check`, `keep`."""

from __future__ import annotations

import click

from forerun.app.cli_parts import as_json_option, show_answer

__all__ = ["check", "serve"]

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
def serve(port: int | None, browser: bool) -> None:
    """The page: plan with your hands, in a browser on this machine.

    Nothing leaves the machine and no other can ask. Ctrl-C stops it.
    """
    from forerun.app.web.serving import serve as start

    start(port, browser=browser)


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
