"""Certificates for tests, made anew for each run: for the loopback interface, signed by their own key."""

import subprocess
from pathlib import Path
from typing import NamedTuple


class Certified(NamedTuple):
    """A certificate and its key, as files."""

    certificate: Path
    key: Path

    @property
    def settings(self) -> dict[str, str]:
        """By which a server uses them, without their prefix."""
        return {"TLS_CERTIFICATE": str(self.certificate), "TLS_KEY": str(self.key)}


def certified(folder: Path, name: str = "server", password: str = "") -> Certified:
    """A new certificate for 127.0.0.1, good for a day; its key has this password, or none."""
    made = Certified(folder / f"{name}.pem", folder / f"{name}.key")
    wanted = ["-subj", "/CN=loopback", "-addext", "subjectAltName=IP:127.0.0.1", "-days", "1"]
    protected = ["-passout", f"pass:{password}"] if password else ["-nodes"]
    new = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", *wanted, *protected]
    subprocess.run([*new, "-keyout", made.key, "-out", made.certificate], check=True, capture_output=True)
    return made
