"""A migration that dies before its n-th statement as if by kill -9: `python -m tests.faults.dying URL N`."""

import os
import signal
import sys
from itertools import count

from sqlalchemy import Engine, event

from service.storage.database import migrate


def main(url: str, at: int) -> None:
    """Migrate; says how many statements it took where it lives to the end."""
    numbers = count(1)
    taken = 0

    def look(*_told: object) -> None:
        nonlocal taken
        taken = next(numbers)
        if taken == at:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(Engine, "before_cursor_execute", look)
    migrate(url)
    sys.stdout.write(str(taken))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
