"""The server's address, TLS files and port, with the checks before a start."""

import errno
import ipaddress
import socket
import ssl
from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from service.engine.documents import quoted

LOCALHOST = "127.0.0.1"
CERTIFICATE, KEY = "MARKERYARN_TLS_CERTIFICATE", "MARKERYARN_TLS_KEY"
OPEN, HOSTS = "MARKERYARN_OPEN_WITHOUT_KEYS", "MARKERYARN_HOSTS"


class CannotServeError(Exception):
    """The server can't start; the text says why and what to do."""


class Listening(Struct, frozen=True):
    """The address, port and TLS files that were requested."""

    host: str
    port: int
    certificate: str = ""
    """Path of a PEM file with the server's certificate and the intermediate ones; "" for no TLS."""
    key: str = ""
    """Path of a PEM file with the certificate's private key."""

    may_be_open: bool = False
    """True where other machines may reach the service although no key is needed."""
    names: Sequence[str] = ()
    """Host names of requests, besides the address itself and the names of loopback."""

    @property
    def is_encrypted(self) -> bool:
        """True where the server uses TLS."""
        return bool(self.certificate)

    @property
    def address(self) -> str:
        """The IP address without brackets; 127.0.0.1 for `localhost`."""
        return LOCALHOST if self.host == "localhost" else self.host.strip("[]")

    @property
    def is_loopback(self) -> bool:
        """True where only this machine can reach the address."""
        return ipaddress.ip_address(self.address).is_loopback

    @property
    def is_any(self) -> bool:
        """True for 0.0.0.0 and ::, which are all addresses of this machine."""
        return ipaddress.ip_address(self.address).is_unspecified

    @property
    def name(self) -> str:
        """The address as written in a URL and in the header Host."""
        return f"[{self.address}]" if ":" in self.address else self.address

    @property
    def url(self) -> str:
        """The base URL of the service."""
        return f"{'https' if self.is_encrypted else 'http'}://{self.name}:{self.port}"


def check_address(listening: Listening) -> None:
    """Raise CannotServeError where the host is no IP address: a name may resolve to another machine later."""
    try:
        ipaddress.ip_address(listening.address)
    except ValueError:
        text = f"{quoted(listening.host)} is not an address. Give --host 127.0.0.1, ::1 or another address of this machine."
        raise CannotServeError(text) from None


def check_reach(listening: Listening, *, asks_for_keys: bool | None) -> Sequence[str]:
    """The warnings for a start on this address.

    asks_for_keys  whether the database has keys; None where it is away, as it may have none when it is back

    Raises CannotServeError where other machines could do everything without a key.
    """
    if listening.is_loopback:
        return []
    warnings: list[str] = []
    # Unknown is refused too: a database that comes back without a key would leave an open service on the network.
    if asks_for_keys is None and not listening.may_be_open:
        text = "the database does not answer, so nobody knows whether there are keys. Start again when it answers."
        raise CannotServeError(f"{quoted(listening.host)} can be reached from other machines, and {text}")
    if not asks_for_keys and not listening.may_be_open:
        text = f"{quoted(listening.host)} can be reached from other machines, and no key is needed:"
        text = f"{text} anybody could release a grade."
        raise CannotServeError(
            f"{text} Make a key with `markeryarn key add`, or set {OPEN}=true to let everybody do everything."
        )
    if not asks_for_keys:
        warnings.append(f"{OPEN} is set and there is no key: anybody who reaches {listening.address} can do everything.")
    elif not listening.is_encrypted:
        text = f"Keys are sent to {listening.address} unencrypted, unless a proxy in front uses TLS."
        warnings.append(f"{text} Set {CERTIFICATE} and {KEY}.")
    if listening.is_any and not listening.names:
        text = f"{HOSTS} is not set, and {listening.address} gives no name: requests from other machines get 421."
        warnings.append(f"{text} Set it to the names and addresses of this machine.")
    return warnings


def check_free(listening: Listening) -> None:
    """Raise CannotServeError where the port is in use: two servers would share it, and each answer some of the requests."""
    address, port = listening.address, listening.port
    with socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET) as probe:
        # As servers do: without it, connections of the server before that are in TIME_WAIT would make the port look taken.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError as error:
            why = "is already in use" if error.errno == errno.EADDRINUSE else f"can't be opened ({error.strerror})"
            raise CannotServeError(f"Port {port} on {address} {why}. Give another one with --port.") from error


def check_files(listening: Listening) -> None:
    """Raise CannotServeError unless certificate and key exist, can be read and match, or neither is set."""
    given = {CERTIFICATE: listening.certificate, KEY: listening.key}
    missing = [name for name, file in given.items() if not file]
    if len(missing) == len(given):
        return
    if missing:
        raise CannotServeError(f"{missing[0]} is not set. TLS needs a certificate and its key: set both, or neither.")
    for name, file in given.items():
        _check_file(name, file)
    try:
        # Without a password here, OpenSSL would prompt for one on the terminal and block the start.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(listening.certificate, listening.key, password="")
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            text = (
                f"The key in {KEY} does not belong to the certificate in {CERTIFICATE}. Give the two that were made together."
            )
        else:
            text = f"{CERTIFICATE} and {KEY} can't be used. Give a certificate and its key without a password, both in PEM."
        raise CannotServeError(text) from error


def _check_file(name: str, file: str) -> None:
    """Raise CannotServeError unless the file can be read and contains PEM of the kind that its setting needs."""
    try:
        content = Path(file).read_bytes()
    except OSError as error:
        raise CannotServeError(
            f"The file in {name} can't be read ({error.strerror}). Correct the path, or the rights of the file."
        ) from error
    what = "certificate" if name == CERTIFICATE else "private key"
    if what.upper().encode() + b"-----" not in content:
        raise CannotServeError(f"The file in {name} has no {what} in PEM. Name one that has it.")
