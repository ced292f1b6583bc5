"""A coverage-guided fuzzer of all that bodies go through: `python -m tests.faults.fuzzing FOLDER RUNS [options of libFuzzer]`.

FOLDER takes the database, the corpus, which begins with the contract's vectors, and `held`: a line each tenth of the runs, with
the most MiB that were resident until then. It ends with a status other than 0 on an answer of 500 or more, on an exception, and
on an input that takes too long.
"""

import logging
import os
import sys
from itertools import count
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["service"]):
    from tests.faults.bodies import PATHS, shown, within

from tests.bench.resident import most_mebibytes

PARTS = 10


def main(folder: Path, runs: int, options: list[str]) -> None:
    """Fuzz so many times; an input is a byte that picks the path, and the body."""
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, sent in enumerate(shown()):
        (corpus / f"shown-{number}").write_bytes(bytes([PATHS.index(sent.path)]) + sent.body)
    # Each refusal is a line, and there are millions.
    logging.getLogger("markeryarn").setLevel(logging.ERROR)
    numbers = count(1)
    with within(folder) as service, (folder / "held").open("w", encoding="ascii", buffering=1) as held:

        def one(data: bytes) -> None:
            status = service.status_of(PATHS[data[0] % len(PATHS)], data[1:]) if data else 0
            assert status < 500, (status, data)
            if next(numbers) % (runs // PARTS) == 0:
                held.write(f"{most_mebibytes(os.getpid())}\n")

        atheris.Setup([sys.argv[0], f"-runs={runs}", *options, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3:])
