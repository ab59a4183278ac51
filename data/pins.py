"""From a typed PIN to what the record may hold: a salt and the scrypt hash (RFC 7914), never the PIN.

A PIN keeps people at one bench apart. It does not stand against somebody who holds a copy of the record: so few digits
can be tried out, whatever the hash costs. The README says so.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable

from protocols.errors import CommandFault
from protocols.reasons import aside
from protocols.unit import Pin

SHORTEST, LONGEST = 4, 12
SALT_LENGTH, HASH_LENGTH = 16, 32
# Cost of a hash: 16 MiB of memory (128 N r), a fraction of a second on a handheld. Own choice. It is kept with each
# hash, so that it can rise without making anybody's PIN void.
COST_N, COST_R, COST_P = 2**14, 8, 1


def pin_values(pin: str, fresh: Callable[[int], bytes] = os.urandom) -> dict[str, str | int]:
    """Promise the values of `set-pin` for a new PIN, with a fresh salt.

    Raises CommandFault, which never repeats the PIN, unless it has 4 to 12 digits that are not all the same.
    """
    if not (SHORTEST <= len(pin) <= LONGEST and pin.isascii() and pin.isdigit()):
        raise CommandFault(aside("pin-digits", low=SHORTEST, high=LONGEST))
    if len(set(pin)) == 1:
        raise CommandFault(aside("pin-same"))
    salt = fresh(SALT_LENGTH)
    digest = scrypt(pin.encode("ascii"), salt, COST_N, COST_R, COST_P, HASH_LENGTH)
    return {"salt": salt.hex(), "hash": digest.hex(), "n": COST_N, "r": COST_R, "p": COST_P}


def proof(pin: str, kept: Pin) -> str:
    """Promise the hash (hex) of what was typed, with the salt and cost of the PIN that is kept."""
    salt, length = bytes.fromhex(kept.salt), len(kept.hash) // 2
    return scrypt(pin.encode("utf-8", "replace"), salt, kept.n, kept.r, kept.p, length).hex()


def scrypt(secret: bytes, salt: bytes, n: int, r: int, p: int, length: int) -> bytes:
    """Promise the scrypt hash of RFC 7914, of that many bytes."""
    # OpenSSL's own bound is below what these costs need; the few KiB beyond 128 N r are its working blocks.
    memory = 128 * n * r + 128 * r * (p + 4) + 65_536
    return hashlib.scrypt(secret, salt=salt, n=n, r=r, p=p, dklen=length, maxmem=memory)
