"""The first door: parse, call, print. Commands are imported only when they are called."""

import importlib
import sys
from difflib import get_close_matches
from typing import Any, NoReturn

import click

from refuge.cli.ending import INTERRUPTED, OutputError, check_text, ended_without_output, naming_output
from refuge.errors import RefugeError

COMMANDS: dict[str, tuple[str, str]] = {
    "find": ("refuge.cli.find:find", "Airfields in reach of one position, and which will be visual."),
    "route": ("refuge.cli.route:route", "A whole flight: where to go for every minute, and the gaps."),
    "brief": ("refuge.cli.brief:brief", "A roster of flights, what wants a second look first."),
    "airfield": ("refuge.cli.airfield:airfield", "What is known of one airfield, and from where."),
    "heading": ("refuge.cli.heading:heading", "Heading, groundspeed and time for one leg."),
    "decode": ("refuge.cli.decode:decode", "What METAR and TAF reports say."),
    "expect": ("refuge.cli.expect:expect", "Conditions to expect at a station over a window."),
    "endurance": ("refuge.cli.endurance:endurance", "How long attitude, airspeed and altitude last."),
    "check": ("refuge.cli.check:check", "Check aircraft and minimums files."),
    "collect": ("refuge.cli.collect:collect", "Fetch reports, forecasts and winds into the store."),
    "coverage": ("refuge.cli.coverage:coverage", "For how many airfields there is which evidence."),
    "work": ("refuge.cli.work:work", "Collect by the clock, as a service."),
    "status": ("refuge.cli.status:status", "How old the data are, and how the last runs went."),
    "import": ("refuge.cli.imports:import_group", "Load airfields, stations and airspace into the store."),
    "serve": ("refuge.cli.serve:serve", "The answers over HTTP."),
    "store": ("refuge.cli.store:store", "Look after the store: upgrade, redecode, copy, info."),
    "demo": ("refuge.cli.demo:demo", "A guided answer in an invented country."),
}
"""Name -> (module:attribute, one line of help): the help of the whole needs no command's import."""


class LazyGroup(click.Group):
    """A group whose commands are imported when called, so that each starts fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names of the commands in the order of use."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Return the command, importing its module now; ``None`` if there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module, attribute = COMMANDS[cmd_name][0].split(":")
        command = getattr(importlib.import_module(module), attribute)
        if not isinstance(command, click.Command):
            raise TypeError(f"{module}:{attribute} is no command")
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that the first word names; where there is none, ask back with what is near."""
        near = get_close_matches(args[0], COMMANDS, n=2) if args and args[0] not in COMMANDS else []
        if near and not args[0].startswith("-"):
            ctx.fail(f"no such command {args[0]!r}; did you mean {' or '.join(near)}?")
        return super().resolve_command(ctx, args)

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        """Return the context, as ever; an answer that does not get out, as of ``--help``, is named as such."""
        with naming_output():
            return super().make_context(*args, **more)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, as ever; an answer that does not get out is named as such."""
        with naming_output():
            return super().invoke(ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the list of commands from the table above, importing none."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
    epilog="Example: refuge demo",
)
@click.version_option(package_name="refuge", message="refuge %(version)s")
def app() -> None:
    """Where to go in cloud when the electrical supply fails.

    Before a flight: how long the instruments last, which airfields can be reached in that time,
    and which of them will be visual on arrival. Planning aid; the flight manual, current
    regulations and the pilot in command come first.
    """


def main(args: list[str] | None = None) -> NoReturn:
    """Run the command line and exit: an error goes to stderr, and 1 is only ever an answer's code."""
    words = sys.argv[1:] if args is None else args
    try:
        check_text(words)
        code = app.main(args=words, standalone_mode=False)
    except RefugeError as exc:
        click.echo(f"refuge: {exc}", err=True)
        code = exc.exit_code
    except click.ClickException as exc:
        exc.show()
        code = exc.exit_code
    except (click.Abort, KeyboardInterrupt):
        code = INTERRUPTED
    except OutputError as exc:
        code = ended_without_output(exc)
    sys.exit(code if isinstance(code, int) else 0)


if __name__ == "__main__":
    main()
