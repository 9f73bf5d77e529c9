"""The certificate of the second screen: made by this machine, known by its fingerprint.

It is kept, so that a browser that was told to trust it once need not be told again, and so that
its fingerprint stays the same.
"""

from __future__ import annotations

import ipaddress
import ssl
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from dictate.errors import DictateError
from dictate.report.private_file import write_private

_LASTS = timedelta(days=397)
_RENEWED_BEFORE = timedelta(days=30)


@dataclass(frozen=True)
class Certificate:
    """A file with a private key and its certificate (mode 0600), and the SHA-256 of the
    certificate, in groups of eight hexadecimal digits."""

    path: Path
    fingerprint: str

    def context(self) -> ssl.SSLContext:
        """Return what encrypts with it, by TLS 1.2 or newer."""
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(self.path)
        return context


def certificate_for(host: str, folder: Path, now: datetime) -> Certificate:
    """Return the certificate of an IP address that is kept in `folder`; a new one where there is
    none, it cannot be read, or it ends soon. Raises DictateError where it cannot be kept."""
    path = folder / f"{host.replace(':', '_')}.pem"
    kept = _kept(path, now)
    if kept is not None:
        return Certificate(path, _fingerprint(kept))
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise DictateError(f"{folder} cannot be made: check who may write there.") from error
    key = ec.generate_private_key(ec.SECP256R1())
    made = _made(key, host, now)
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    write_private(path, (secret + made.public_bytes(Encoding.PEM)).decode())
    return Certificate(path, _fingerprint(made))


def _kept(path: Path, now: datetime) -> x509.Certificate | None:
    try:
        certificate = x509.load_pem_x509_certificate(path.read_bytes())
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(path)
    except (OSError, ValueError, ssl.SSLError):
        return None
    return certificate if now < certificate.not_valid_after_utc - _RENEWED_BEFORE else None


def _made(key: ec.EllipticCurvePrivateKey, host: str, now: datetime) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "dictate second screen")])
    address = x509.IPAddress(ipaddress.ip_address(host))
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + _LASTS)
        .add_extension(x509.SubjectAlternativeName([address]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )


def _fingerprint(certificate: x509.Certificate) -> str:
    digits = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(digits[at : at + 8] for at in range(0, len(digits), 8))
