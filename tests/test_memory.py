"""What the process does with memory that it has used."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
FAULTS_OF_LARGE_BLOCKS = """
import resource
from service.app import retain_memory

retain_memory()

def faults():
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt

def take():
    blocks = [bytearray(b"x") * 1_000_000 for _ in range(3)]

for _ in range(5):
    take()
before = faults()
for _ in range(20):
    take()
print(faults() - before)
"""


def test_memory_of_a_long_lot_is_there_for_the_next() -> None:
    """Three columns of a megabyte have 732 pages of 4 KiB; asked for anew, they would be a fourth of a lot's time.

    Counted by the system, so it is the same each time: 20 lots ask for less than one lot's pages.
    """
    program = [sys.executable, "-c", FAULTS_OF_LARGE_BLOCKS]
    asked = subprocess.run(program, env={"PYTHONPATH": str(ROOT)}, cwd=ROOT, capture_output=True, text=True, check=True)

    assert 732 > int(asked.stdout)
