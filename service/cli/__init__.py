"""The command `markeryarn`: one module for each subcommand, imported when it is run."""

from collections.abc import Mapping
from importlib import import_module

import click

from service import __version__

COMMANDS: Mapping[str, str] = {
    "serve": "service.cli.serve",
    "demo": "service.cli.demo",
    "judge": "service.cli.judge",
    "review": "service.cli.review",
    "plan": "service.cli.plan",
    "migrate": "service.cli.migrate",
    "key": "service.cli.key",
    "journal": "service.cli.journal",
    "verify": "service.cli.verify",
    "backup": "service.cli.backup",
    "restore": "service.cli.restore",
    "openapi": "service.cli.openapi",
}
"""Module of each subcommand, in the order of the help."""


class Commands(click.Group):
    """The group of subcommands in COMMANDS."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all subcommands, in the order of COMMANDS."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a subcommand; None for an unknown name."""
        if cmd_name not in COMMANDS:
            return None
        # Imported here, so that `judge` does not wait for the imports of `serve`.
        command: click.Command = import_module(COMMANDS[cmd_name]).command
        return command


@click.command(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, package_name="markeryarn", prog_name="markeryarn")
def main() -> None:
    """Judge lots of cordage against the grades they are sold as.

    Try `markeryarn demo` first: it starts the service on a temporary database and judges three lots over HTTP.

    A breaking force is not a working load, and a verdict is on the specimens tested.
    """
