"""Every command and every option stands in docs/reference/commands.md, and nothing else does."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from forerun.app.cli import cli

_PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "commands.md"
_SECTIONS = dict(
    re.findall(r"^## forerun ([\w-]+)\n(.*?)(?=^## |\Z)", _PAGE.read_text("utf-8"), re.M | re.S)
)


def test_every_command_has_a_section_and_every_section_a_command() -> None:
    assert set(_SECTIONS) == set(cli.commands)


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_every_option_is_in_its_section(name: str) -> None:
    options = {
        option
        for parameter in cli.commands[name].params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
    }
    documented = set(re.findall(r"^\| `(--[a-z]+)", _SECTIONS[name], re.M))
    assert documented == options


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_help_is_written(name: str) -> None:
    command = cli.commands[name]
    assert command.help
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts[0]}"
