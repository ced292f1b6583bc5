"""A coverage-guided fuzzer of all that bodies go through: `python -m tests.faults.fuzzing FOLDER [options of libFuzzer]`.

FOLDER takes the database and the corpus, which begins with the contract's vectors. It ends with a status other than 0 on an
answer of 500 or more, on an exception, on an input that takes too long, and on memory beyond -rss_limit_mb.
"""

import logging
import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["service"]):
    from tests.faults.bodies import PATHS, shown, within


def main(folder: Path, options: list[str]) -> None:
    """Fuzz until an option ends it; an input is a byte that picks the path, and the body."""
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, sent in enumerate(shown()):
        (corpus / f"shown-{number}").write_bytes(bytes([PATHS.index(sent.path)]) + sent.body)
    # Each refusal is a line, and there are millions.
    logging.getLogger("markeryarn").setLevel(logging.ERROR)
    with within(folder) as service:

        def one(data: bytes) -> None:
            status = service.status_of(PATHS[data[0] % len(PATHS)], data[1:]) if data else 0
            assert status < 500, (status, data)

        atheris.Setup([sys.argv[0], *options, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
