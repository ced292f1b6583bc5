"""`python -m service.cli` is the command `markeryarn`, for where the command itself is not on the path."""

from service.cli import main

main(prog_name="markeryarn")
