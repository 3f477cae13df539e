"""Every command explains itself: help, an example that could be typed, a place in README."""

import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from refuge.cli import COMMANDS, app


def walk(name: str, command: click.Command) -> Iterator[tuple[str, click.Command]]:
    """Yield each command with its full name, groups before what they hold."""
    yield name, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for child in command.list_commands(context):
            found = command.get_command(context, child)
            assert found is not None
            yield from walk(f"{name} {child}", found)


def commands_under(name: str) -> list[tuple[str, click.Command]]:
    command = app.get_command(click.Context(app), name)
    assert command is not None
    return list(walk(f"refuge {name}", command))


def example_of(command: click.Command) -> list[str]:
    """Return the words of the first example line of the epilog."""
    lines = (command.epilog or "").splitlines()
    for line in lines:
        if "refuge " in line:
            return shlex.split(line[line.index("refuge ") :])
    return []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_every_option_too(name: str) -> None:
    for full_name, command in commands_under(name):
        assert command.help, full_name
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not parameter.hidden:
                assert parameter.help, f"{full_name} {parameter.opts[0]}"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_an_example_that_parses(name: str) -> None:
    for full_name, command in commands_under(name):
        words = example_of(command)
        assert words[: len(full_name.split())] == full_name.split(), f"{full_name}: epilog has no example"
        if not isinstance(command, click.Group):
            arguments = words[len(full_name.split()) :]
            options = {option for parameter in command.params for option in parameter.opts}
            used = {word.split("=")[0] for word in arguments if word.startswith("--")}
            assert used <= options, f"{full_name}: the example uses {used - options}"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_readme(name: str, root: Path) -> None:
    readme = (root / "README.md").read_text(encoding="utf-8")
    for full_name, command in commands_under(name):
        if not isinstance(command, click.Group):
            assert full_name in readme, full_name
