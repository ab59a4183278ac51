"""The handheld's signature and the key it is made with."""

from __future__ import annotations

import stat

import pytest

from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.signing import KEY_FILE, SigningUnavailable, home_signer, signer, verifies
from protocols.errors import RecordDamaged

# RFC 8032, 7.1, tests 1 to 3: secret, public, message, signature. Values from memory of the RFC, and reproduced by the
# library `cryptography`, which is what signs here; so this shows that it is used as the RFC means.
VECTORS = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24"
        "655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aee"
        "b00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28d"
        "c027beceea1ec40a",
    ),
)


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_signatures_are_those_of_rfc_8032(secret: str, public: str, message: str, signature: str) -> None:
    made = signer(bytes.fromhex(secret))
    assert made.public == public
    assert made.sign(bytes.fromhex(message)).hex() == signature
    assert verifies(public, bytes.fromhex(signature), bytes.fromhex(message))


def test_every_flipped_bit_of_signature_key_or_message_is_found() -> None:
    _, public, message, signature = VECTORS[2]
    parts = [bytes.fromhex(public), bytes.fromhex(signature), bytes.fromhex(message)]
    for part in range(3):
        for bit in range(len(parts[part]) * 8):
            changed = [bytearray(p) for p in parts]
            changed[part][bit // 8] ^= 1 << bit % 8
            assert not verifies(bytes(changed[0]).hex(), bytes(changed[1]), bytes(changed[2])), (part, bit)


@pytest.mark.parametrize(("public", "signature"), [("", b""), ("zz" * 32, b"x" * 64), ("00" * 31, b"x" * 64)])
def test_what_has_no_right_form_verifies_nothing(public: str, signature: bytes) -> None:
    assert verifies(public, signature, b"message") is False


def test_the_key_is_made_once_and_only_its_owner_can_read_it(tmp_path) -> None:
    disk = RealDisk(tmp_path / "home")
    first = home_signer(disk, used_before=False)
    assert home_signer(disk, used_before=True) == first
    assert stat.S_IMODE((tmp_path / "home" / KEY_FILE).stat().st_mode) == 0o600
    assert home_signer(RealDisk(tmp_path / "other"), used_before=False).public != first.public
    assert first.secret.hex() not in repr(first)


def test_a_lost_key_is_not_replaced_by_a_new_one() -> None:
    disk = MemoryDisk()
    with pytest.raises(SigningUnavailable, match="signing-key is missing though weeks were sent"):
        home_signer(disk, used_before=True)
    assert disk.files == {}


def test_a_changed_key_file_is_found_not_signed_with() -> None:
    disk = MemoryDisk()
    home_signer(disk, used_before=False, fresh=lambda length: bytes(range(length)))
    whole = bytes(disk.files[KEY_FILE])
    for place in range(len(whole) - 1):
        disk.files[KEY_FILE] = bytearray(whole)
        disk.files[KEY_FILE][place] ^= 1
        with pytest.raises(RecordDamaged):
            home_signer(disk, used_before=False)
    assert disk.files[KEY_FILE] != whole
