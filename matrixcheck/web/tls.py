"""Certificates for https: one that is brought along, or one of our own, which is kept beside the book."""

from __future__ import annotations

import ipaddress
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.toml_file import bytes_of
from matrixcheck.whole_files import write_private

try:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
except ImportError:
    raise UsageError("https needs a part that isn't installed", "install matrixcheck[tls]") from None

# Phones refuse a certificate that is good for longer than 398 days. One that ends within a week is made anew.
_DAYS = 397
_LAST_DAYS = 7
_LARGEST = 1_000_000


@dataclass(frozen=True)
class Certificate:
    """A certificate and its private key, as files; the names in it, and the SHA-256 of it to compare with a phone's."""

    file: Path
    key: Path
    names: tuple[str, ...]
    fingerprint: str

    def context(self) -> ssl.SSLContext:
        """Return the context to answer with. Raises InputError where the two files don't go together."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        try:
            # Without a password given, one would be asked for on the terminal.
            context.load_cert_chain(self.file, self.key, password="")
        except (OSError, ValueError):
            raise InputError(
                f"{self.key} is no private key of the certificate {self.file}", "name the key that goes with it, in PEM"
            ) from None
        return context


def brought(file: Path, key: Path) -> Certificate:
    """Return a certificate that somebody else made. Raises InputError for files that can't be taken."""
    data = bytes_of(file, "certificate", _LARGEST)
    private = bytes_of(key, "key", _LARGEST)
    if b"ENCRYPTED" in private:
        raise InputError(f"{key} asks for a password", "name a key without one")
    certificate = _read(file, data)
    if certificate.not_valid_after_utc < datetime.now(UTC):
        raise InputError(f"the certificate {file} ended on {certificate.not_valid_after_utc:%Y-%m-%d}", "renew it")
    return Certificate(file, key, _names(certificate), _fingerprint(certificate))


def own(book: Path, address: str) -> Certificate:
    """Return our own certificate for an address, which is made where there is none or it has nearly ended.

    It is kept beside the book, for its owner alone: a phone that trusts it once needs no second look after a restart.
    Raises InputError or UsageError where it can't be read or written.
    """
    file = book.with_name(f"{book.name}.tls.pem")
    if file.exists():
        kept = _read(file, bytes_of(file, "certificate", _LARGEST))
        lasts = kept.not_valid_after_utc > datetime.now(UTC) + timedelta(days=_LAST_DAYS)
        if lasts and address in _names(kept):
            return Certificate(file, file, _names(kept), _fingerprint(kept))
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = _signed(key, address)
    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ) + certificate.public_bytes(serialization.Encoding.PEM)
    write_private(file, pem.decode())
    return Certificate(file, file, _names(certificate), _fingerprint(certificate))


def _signed(key: ec.EllipticCurvePrivateKey, address: str) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"matrixcheck at {address}")])
    began = datetime.now(UTC) - timedelta(hours=1)
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(began)
        .not_valid_after(began + timedelta(days=_DAYS))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )


def _read(file: Path, data: bytes) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(data)
    except ValueError:
        raise InputError(f"{file} is no certificate", "name one in PEM") from None


def _names(certificate: x509.Certificate) -> tuple[str, ...]:
    """Return the names that a certificate is for: of computers, without a placeholder, then addresses."""
    try:
        found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (x509.ExtensionNotFound, ValueError):
        return ()
    computers = [name.lower() for name in found.get_values_for_type(x509.DNSName) if "*" not in name]
    return (*computers, *map(str, found.get_values_for_type(x509.IPAddress)))


def _fingerprint(certificate: x509.Certificate) -> str:
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()
