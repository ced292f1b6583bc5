"""`python -m service.cli`, the command `markeryarn` where that is not on the path."""

from service.cli import main

main(prog_name="markeryarn")
