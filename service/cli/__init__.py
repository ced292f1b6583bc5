"""The command `markeryarn`. One module a command; each is imported when it is asked for, so that none waits for another's."""

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
"""Where each command stands, in the order in which the help lists them."""


class Commands(click.Group):
    """The commands of the table, each imported when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All of them, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(COMMANDS[cmd_name]).command
        return command


@click.command(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, package_name="markeryarn", prog_name="markeryarn")
def main() -> None:
    """Judge lots of cordage against the grades they are sold as.

    Try `markeryarn demo` first: it starts the service on a temporary file and judges three lots over HTTP.

    A breaking force is not a working load, and a verdict is on the specimens tested.
    """
