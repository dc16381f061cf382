"""A certificate of our own for HTTPS: made once, kept, and made anew only where it must be.

Nobody vouches for it, so each device asks once whether it is to be trusted. The terminal shows its
fingerprint to compare.
"""

from __future__ import annotations

import contextlib
import datetime
import ipaddress
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from introit.errors import IntroitError, StandError
from introit.export.atomic import write_all_atomically
from introit.stand.devices import private_folder

LIFE: Final = datetime.timedelta(days=820)
"""Browsers of one maker refuse one that is good for more than 825 days, a private one too; from memory."""
_SPARE: Final = datetime.timedelta(days=14)
"""One that ends so soon is made anew."""
_CERTIFICATE, _KEY = "certificate.pem", "key.pem"


@dataclass(frozen=True, slots=True)
class Certificate:
    """Where a certificate and its key lie.

    Attributes:
        certificate, key: files, PEM.
        fingerprint: SHA-256 of the certificate as browsers show it: pairs of hexadecimal digits.
    """

    certificate: Path
    key: Path
    fingerprint: str


def certificate(folder: Path, names: Sequence[str], now: datetime.datetime) -> Certificate:
    """The certificate that is kept, or a new one where there is none for all these names.

    A new one is good for the names of the one before as well, so that a tablet which is asked once at home
    and once at the venue is asked no third time.

    Args:
        folder: where it is kept; it is made.
        names: names and addresses by which we are asked for.
        now: with a time zone.

    Raises:
        StandError: if it cannot be made or kept.
    """
    try:
        from cryptography import x509
    except ImportError as error:
        raise StandError("HTTPS needs the cryptography package: pip install '.[stand]'") from error
    files = folder / _CERTIFICATE, folder / _KEY
    before: x509.Certificate | None = None
    with contextlib.suppress(OSError, ValueError):
        found = x509.load_pem_x509_certificate(files[0].read_bytes())
        if _is_private(files[1]) and _belong_together(found, files[1].read_bytes()):
            before = found
    kept = [] if before is None else _names(before)
    wanted = sorted(set(names))
    if before is None or not set(wanted) <= set(kept) or before.not_valid_after_utc < now + _SPARE:
        before, key = _made([*wanted, *(name for name in kept if name not in wanted)][:_MOST_NAMES], now)
        _keep(files, before, key)
    return Certificate(*files, _fingerprint(before))


_MOST_NAMES: Final = 24


def _names(found: Any) -> list[str]:
    from cryptography import x509

    try:
        extension = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return []
    addresses = [str(address) for address in extension.get_values_for_type(x509.IPAddress)]
    return [*extension.get_values_for_type(x509.DNSName), *addresses]


def _belong_together(found: Any, key: bytes) -> bool:
    from cryptography.hazmat.primitives import serialization

    loaded = serialization.load_pem_private_key(key, password=None)
    form = serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    return bool(loaded.public_key().public_bytes(*form) == found.public_key().public_bytes(*form))


def _made(names: Sequence[str], now: datetime.datetime) -> tuple[Any, bytes]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Introit on this machine")])
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    made = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))  # a tablet's clock may be slow
        .not_valid_after(now + LIFE)
        .add_extension(x509.SubjectAlternativeName([_general_name(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return made, pem


def _general_name(name: str) -> Any:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name.partition("%")[0]))
    except ValueError:
        return x509.DNSName(name)


def _keep(files: tuple[Path, Path], made: Any, key: bytes) -> None:
    from cryptography.hazmat.primitives import serialization

    try:
        private_folder(files[1].parent)
        with contextlib.suppress(FileNotFoundError):
            files[1].unlink()  # with whatever permissions it had
        os.close(os.open(files[1], os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        write_all_atomically({files[0]: made.public_bytes(serialization.Encoding.PEM), files[1]: key})
    except (OSError, IntroitError) as error:
        raise StandError(f"the certificate cannot be kept in {files[0].parent}: {error}") from error


def _is_private(key: Path) -> bool:
    """Whether nobody else may read the key; one that others could read is as good as known."""
    return os.name == "nt" or not key.stat().st_mode & 0o077


def _fingerprint(made: Any) -> str:
    from cryptography.hazmat.primitives import hashes

    return ":".join(f"{byte:02X}" for byte in made.fingerprint(hashes.SHA256()))
