"""The handheld's own signature: Ed25519 (RFC 8032), by the library `cryptography`.

The key is made at first use and stays in the home folder, in a file that only its owner can read; no export holds it.
A signature shows that a file came from whoever holds that key, unchanged. It shows nothing about who that was: whoever
owns the handheld can sign whatever they write after its last export. The receiver must have got the public key
beforehand, by another way than the export itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from secrets import token_bytes

from data.disk import Disk
from data.receipts import Receipts
from protocols.errors import DeviceError, RecordDamaged

KEY_FILE = "signing-key"
# RFC 8032, 5.1.5 and 5.1.6: lengths of a secret key, a public key and a signature in bytes.
SECRET_LENGTH, PUBLIC_LENGTH, SIGNATURE_LENGTH = 32, 32, 64
# Signs rehearsals, so that their bytes repeat. It is public, and proves nothing.
REHEARSAL_SECRET = bytes(range(32))


class SigningUnavailable(DeviceError):
    """Nothing can be signed or checked here: the library is missing, or the key of earlier exports is."""


@dataclass(frozen=True, slots=True)
class Signer:
    """Signs with one secret key of 32 bytes. `public` is the public key as 64 hex digits."""

    secret: bytes
    public: str

    def sign(self, message: bytes) -> bytes:
        """Promise the signature (64 bytes) of a message; the same message gives the same signature."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return Ed25519PrivateKey.from_private_bytes(self.secret).sign(message)

    def __repr__(self) -> str:
        return f"Signer(public={self.public!r})"  # the secret must not get into a log


def signer(secret: bytes) -> Signer:
    """Promise a signer for a secret key of 32 bytes. Raises SigningUnavailable where the library is missing."""
    try:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
    except ImportError as error:
        raise SigningUnavailable(_NO_LIBRARY) from error
    public = Ed25519PrivateKey.from_private_bytes(secret).public_key()
    return Signer(secret, public.public_bytes(Encoding.Raw, PublicFormat.Raw).hex())


def verifies(public: str, signature: bytes, message: bytes) -> bool:
    """Promise whether a signature is that of the message under a public key (64 hex digits); False for odd lengths."""
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError as error:
        raise SigningUnavailable(_NO_LIBRARY) from error
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def home_signer(disk: Disk, used_before: bool, fresh: Callable[[int], bytes] = token_bytes) -> Signer:
    """Promise the signer of a home, its key made and durable first where there is none.

    `used_before` says that exports were signed already: then a missing key is not replaced, since receivers would
    refuse what another key signs. Raises SigningUnavailable, RecordDamaged for a key file that was changed, DiskError.
    """
    if disk.exists(KEY_FILE):
        return _kept(disk.read(KEY_FILE))
    if used_before:
        raise SigningUnavailable(
            f"{KEY_FILE} is missing though weeks were sent with it; bring it back from a copy of the home folder, or "
            "take away the folder receipts and give the receivers the new public key (main.py key)"
        )
    return keep_secret(disk, fresh(SECRET_LENGTH))


def signer_of(disk: Disk) -> Signer:
    """Promise the signer of a home as its receipts have it: made at first use, never replaced once weeks were sent.

    Raises as `home_signer`.
    """
    return home_signer(disk, used_before=Receipts(disk).any())


def keep_secret(disk: Disk, secret: bytes) -> Signer:
    """Promise that the home signs with this secret from now on. Raises SigningUnavailable or DiskError."""
    made = signer(secret)
    # `replace` makes files that only their owner can read. The public key stands beside the secret so that a bit that
    # changes later shows, and no new, unknown key is signed with.
    disk.replace(KEY_FILE, f"{secret.hex()} {made.public}\n".encode())
    return made


def _kept(content: bytes) -> Signer:
    try:
        secret, public = content.decode("ascii").split()
        found = signer(bytes.fromhex(secret))
    except ValueError:
        found, public = None, ""
    if found is None or found.public != public:
        raise RecordDamaged(f"{KEY_FILE} is not as it was written; bring it back from a copy of the home folder")
    return found


_NO_LIBRARY = "signing needs the Python package cryptography, which is not installed here; install it and do it again"
