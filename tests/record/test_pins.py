"""PINs: the hash of RFC 7914, nothing of the PIN anywhere on the disk, the delay across a restart."""

from __future__ import annotations

import pytest

from data.door import Door
from data.memory_disk import MemoryDisk
from data.opening import open_door
from data.pins import COST_N, COST_P, COST_R, pin_values, proof, scrypt
from protocols.clock import FakeClock, parse_wall
from protocols.errors import CommandFault
from protocols.event import Command, Event
from protocols.refusals import Refusal
from protocols.unconfirmed import UNCONFIRMED
from tests.engine.driver import START, shelf

PIN = "740912"

# RFC 7914, section 12: test vectors for scrypt (the second and third; the last one takes 1 GiB).
VECTORS = [
    (b"password", b"NaCl", 1024, 8, 16,
     "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b3731622eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640"),
    (b"pleaseletmein", b"SodiumChloride", 16384, 8, 1,
     "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887"),
]  # fmt: skip


@pytest.mark.parametrize(("secret", "salt", "n", "r", "p", "digest"), VECTORS)
def test_the_hash_is_that_of_rfc_7914(secret: bytes, salt: bytes, n: int, r: int, p: int, digest: str) -> None:
    assert scrypt(secret, salt, n, r, p, 64).hex() == digest


def test_the_highest_cost_that_a_command_may_name_can_be_computed() -> None:
    assert len(scrypt(b"x", b"y" * 16, 131_072, 8, 1, 32)) == 32
    assert len(scrypt(b"x", b"y" * 16, 16_384, 16, 4, 32)) == 32


@pytest.mark.parametrize("pin", ["", "123", "1" * 13, "12a4", "12 4", "0000", "777777", "\u0661\u0662\u0663\u0664"])
def test_a_pin_that_is_none_is_refused_without_repeating_it(pin: str) -> None:
    with pytest.raises(CommandFault) as caught:
        pin_values(pin)
    assert not pin or pin not in str(caught.value)


def test_the_same_pin_twice_has_two_salts_and_two_hashes() -> None:
    first, second = pin_values(PIN), pin_values(PIN)
    assert first["salt"] != second["salt"] and first["hash"] != second["hash"]
    assert (first["n"], first["r"], first["p"]) == (COST_N, COST_R, COST_P)


def _door(disk: MemoryDisk, clock: FakeClock) -> Door:
    return open_door(disk, clock, shelf(), device="hh1")


def _sign_in(door: Door, pin: str) -> Event | Refusal:
    kept = door.unit.people["ann"].pin
    assert kept is not None
    return door.give(Command("sign-in", "ann", {"hash": proof(pin, kept)}, UNCONFIRMED))


def test_the_delay_survives_a_restart_and_no_pin_is_on_the_disk() -> None:
    disk, clock = MemoryDisk(), FakeClock(parse_wall(START))
    door = _door(disk, clock)
    door.give(Command("add-person", "ann", {"name": "Ann", "role": "administrator"}, "ann"))
    assert isinstance(door.give(Command("set-pin", "ann", dict(pin_values(PIN)), "ann")), Event)
    for wrong in ("740913", "740914", "1"):
        answer = _sign_in(door, wrong)
        assert isinstance(answer, Event) and answer.kind == "pin-wrong"
    before = door.unit
    clock.reboot(7200)
    clock.step(7200)
    door = _door(disk, clock)
    assert door.unit.people == before.people
    answer = _sign_in(door, PIN)
    assert isinstance(answer, Refusal) and answer.key == "pin-wait"
    clock.advance(30)
    answer = _sign_in(door, PIN)
    assert isinstance(answer, Event) and answer.kind == "sign-in"
    kept = b"".join(disk.read(f"journal/{name}") for name in disk.names("journal"))
    assert kept and PIN.encode() not in kept
    pin = door.unit.people["ann"].pin
    assert pin is not None and kept.count(pin.hash.encode()) == 1  # the set-pin line; no sign-in repeats it
