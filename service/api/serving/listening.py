"""Where the server listens and how: its address, and the files by which it encrypts."""

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
    """The server can't start; its text says why and what to do."""


class Listening(Struct, frozen=True):
    """Where and how, as it is asked for."""

    host: str
    port: int
    certificate: str = ""
    """A file in PEM with the server's certificate and those between it and its root; "" for no encryption."""
    key: str = ""
    """A file in PEM with the certificate's private key."""

    may_be_open: bool = False
    """True where others may reach it though no key is asked for."""
    names: Sequence[str] = ()
    """Those under which requests come, besides the address itself and the names of loopback."""

    @property
    def is_encrypted(self) -> bool:
        """True where TLS is spoken."""
        return bool(self.certificate)

    @property
    def address(self) -> str:
        """The address by number."""
        return LOCALHOST if self.host == "localhost" else self.host.strip("[]")

    @property
    def is_loopback(self) -> bool:
        """True where only this machine can reach it."""
        return ipaddress.ip_address(self.address).is_loopback

    @property
    def is_any(self) -> bool:
        """True where it stands for all addresses of this machine."""
        return ipaddress.ip_address(self.address).is_unspecified

    @property
    def name(self) -> str:
        """The address as it stands in a URL and in the header Host."""
        return f"[{self.address}]" if ":" in self.address else self.address

    @property
    def url(self) -> str:
        """What a caller's URLs begin with."""
        return f"{'https' if self.is_encrypted else 'http'}://{self.name}:{self.port}"


def check_address(listening: Listening) -> None:
    """Raise CannotServeError where the host is no address: a name might be another machine's tomorrow."""
    try:
        ipaddress.ip_address(listening.address)
    except ValueError:
        text = f"{quoted(listening.host)} is no address. Serve on 127.0.0.1, ::1, or another address of this machine."
        raise CannotServeError(text) from None


def check_reach(listening: Listening, *, asks_for_keys: bool | None) -> Sequence[str]:
    """What to warn of at a start on this address. Raises CannotServeError where others could do all without a key.

    asks_for_keys  None where it is not known, as the database is away: it might have none when it is back
    """
    if listening.is_loopback:
        return []
    warnings: list[str] = []
    if asks_for_keys is None and not listening.may_be_open:
        text = "The database is away, so it is not known whether a key is asked for. Start when it is back."
        raise CannotServeError(f"{quoted(listening.host)} can be reached from elsewhere. {text}")
    if not asks_for_keys and not listening.may_be_open:
        text = f"{quoted(listening.host)} can be reached from elsewhere, and no key is asked for:"
        text = f"{text} whoever reached it could release a grade."
        raise CannotServeError(
            f"{text} Make one by `markeryarn key add`; or set {OPEN}=true, which lets everybody do everything."
        )
    if not asks_for_keys:
        warnings.append(f"{OPEN} is set and there is no key: whoever reaches {listening.address} may do everything.")
    elif not listening.is_encrypted:
        warnings.append(f"Keys travel readable to {listening.address} unless something in front encrypts. Set {CERTIFICATE}.")
    if listening.is_any and not listening.names:
        text = f"{HOSTS} is not set, and {listening.address} tells no name: whoever comes from elsewhere gets 421."
        warnings.append(f"{text} Set it to the names and addresses under which this machine is reached.")
    return warnings


def check_free(listening: Listening) -> None:
    """Raise CannotServeError where the port is taken: two servers would share it, and each answer some of the requests."""
    address, port = listening.address, listening.port
    with socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError as error:
            why = "is in use already" if error.errno == errno.EADDRINUSE else f"can't be had ({error.strerror})"
            raise CannotServeError(f"Port {port} on {address} {why}. Give another one by --port.") from error


def check_files(listening: Listening) -> None:
    """Raise CannotServeError unless both files are there, can be read, and belong together; or neither is asked for."""
    given = {CERTIFICATE: listening.certificate, KEY: listening.key}
    missing = [name for name, file in given.items() if not file]
    if len(missing) == len(given):
        return
    if missing:
        raise CannotServeError(f"{missing[0]} is not set. TLS needs a certificate and its key: set both, or neither.")
    for name, file in given.items():
        _check_file(name, file)
    try:
        # A key with a password would be asked for on the terminal; nobody sits there.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(listening.certificate, listening.key, password="")
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            text = f"The key in {KEY} is not that of the certificate in {CERTIFICATE}. Give the two that were made together."
        else:
            text = f"{CERTIFICATE} and {KEY} can't be used. Give a certificate and its key without a password, both in PEM."
        raise CannotServeError(text) from error


def _check_file(name: str, file: str) -> None:
    """Raise CannotServeError unless the file can be read and holds what its name says."""
    try:
        content = Path(file).read_bytes()
    except OSError as error:
        raise CannotServeError(
            f"{name} names a file that can't be read ({error.strerror}). Correct it, or its rights."
        ) from error
    what = "certificate" if name == CERTIFICATE else "private key"
    if what.upper().encode() + b"-----" not in content:
        raise CannotServeError(f"{name} names a file without a {what} in PEM. Name one that has it.")
