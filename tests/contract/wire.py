"""Every name that others rely on: callers, operators, scripts and the database. No prose.

`python -m tests.contract.wire` writes them to `wire.json`; the difference it makes there is what a change does to callers.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from service import cli
from service.api.problems import KINDS
from service.api.watching.metrics import Gauges, metrics_of
from service.settings import PREFIX, Settings
from service.storage.database import Connections, metadata
from service.usecases.grades import CacheSizes
from tests.engine.test_codes import codes_of, reasons
from tests.support.pages import TOP

WIRE = Path(__file__).with_name("wire.json")
Json = Any


def _operations(document: Json) -> Mapping[str, list[str]]:
    """Of each operation its name, its parameters and the statuses of its answers."""
    return {
        f"{method.upper()} {path}": [
            operation["operationId"],
            *(each.get("$ref") or f"{each['in']} {each['name']}" for each in operation.get("parameters", [])),
            *operation["responses"],
        ]
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    }


def _schemas(document: Json) -> Mapping[str, list[str]]:
    """Of each schema its fields, those that have to be there with a mark, and the words that it lists."""
    return {
        name: [
            *(f"{field}*" if field in schema.get("required", []) else field for field in schema.get("properties", {})),
            *map(repr, schema.get("enum", [])),
        ]
        for name, schema in document["components"]["schemas"].items()
    }


def tables() -> Mapping[str, list[str]]:
    """The columns of each table, with the type of each."""
    return {table.name: [f"{column.name} {column.type!r}" for column in table.columns] for table in metadata.sorted_tables}


def settings() -> Mapping[str, str]:
    """The default of each variable of the environment."""
    made = Settings()
    return {f"{PREFIX}{name.upper()}": repr(getattr(made, name)) for name in Settings.__struct_fields__}


def metrics() -> list[str]:
    """Names and kinds of the figures at `/metrics`, with their labels."""
    stock = Gauges(CacheSizes(0, 0, 0, 0, is_stale=False), Connections(0, 0))
    registry = metrics_of(lambda: stock).registry
    return sorted(f"{each.name} {each.type}" for each in registry.collect())


def commands() -> Mapping[str, list[str]]:
    """Each command and subcommand with its arguments and options."""
    return dict(_commands("markeryarn", cli.main, click.Context(cli.main)))


def _commands(name: str, command: click.Command, context: click.Context) -> list[tuple[str, list[str]]]:
    taken = [" ".join((*option.opts, *option.secondary_opts)) for option in command.params]
    below = [] if not isinstance(command, click.Group) else command.list_commands(context)
    found = [(name, taken)]
    for each in below:
        found += _commands(f"{name} {each}", _member(command, context, each), context)
    return found


def _member(command: click.Command, context: click.Context, name: str) -> click.Command:
    assert isinstance(command, click.Group)
    member = command.get_command(context, name)
    assert member is not None
    return member


def wire() -> Mapping[str, Json]:
    """All of it, as this source has it."""
    document = json.loads((TOP / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    return {
        "operations": _operations(document),
        "schemas": _schemas(document),
        "components": {kind: list(members) for kind, members in document["components"].items() if kind != "schemas"},
        "problems": {kind: status for kind, (status, _) in KINDS.items()},
        "flaws": sorted(set(codes_of("Flaw"))),
        "reasons": sorted(reasons()),
        "tables": tables(),
        "settings": settings(),
        "metrics": metrics(),
        "commands": commands(),
    }


def written(names: Mapping[str, Json]) -> str:
    """As the file has it."""
    return json.dumps(names, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    WIRE.write_text(written(wire()), encoding="utf-8")
