"""How much of what was sent over a connection has not arrived: what Linux tells of it, as granian tells nothing."""

import sys
from functools import lru_cache
from ipaddress import ip_address
from pathlib import Path

TABLES = {4: Path("/proc/self/net/tcp"), 6: Path("/proc/self/net/tcp6")}
OWN, PEER, QUEUES = 1, 2, 4
"""Columns of the table. Source: Linux, Documentation/networking/proc_net_tcp.rst."""
BYTES_OF_A_WORD = 4


def unsent(peer: str, port: int) -> int:
    """Bytes that wait in the system to be taken; 0 where it does not say, or knows no such connection.

    peer  `ADDRESS:PORT` of the other side
    port  ours
    """
    version, wanted = _as_listed(peer)
    try:
        lines = TABLES[version].read_text(encoding="ascii").splitlines()[1:]
    except OSError:
        return 0
    for fields in map(str.split, lines):
        if fields[PEER] == wanted and fields[OWN].endswith(f":{port:04X}"):
            return int(fields[QUEUES].partition(":")[0], 16)
    return 0


@lru_cache(64)
def _as_listed(peer: str) -> tuple[int, str]:
    """The version of its address, and how the table writes it: word by word, as numbers of this machine."""
    host, _, port = peer.rpartition(":")
    address = ip_address(host.strip("[]"))
    packed = address.packed
    words = [packed[start : start + BYTES_OF_A_WORD] for start in range(0, len(packed), BYTES_OF_A_WORD)]
    written = "".join(f"{int.from_bytes(word, sys.byteorder):08X}" for word in words)
    return address.version, f"{written}:{int(port):04X}"
