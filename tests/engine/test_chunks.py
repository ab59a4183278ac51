"""Packets as texts for QR codes: cut, mixed, repeated, altered and put together again.

Source of the code's capacity: the reference encoder segno, which puts a chunk into the version that is named.
"""

from __future__ import annotations

import base64
from hashlib import sha256
from random import Random

import pytest
import segno
from hypothesis import given
from hypothesis import strategies as st

from protocols.chunks import CHUNK_LONGEST, MARK, ChunkFault, Gathering, chunks, is_chunk


def put_together(texts: list[str]) -> bytes:
    gathering = Gathering()
    for text in texts:
        gathering.take(text)
    return gathering.packet()


@given(st.binary(max_size=3000), st.randoms(use_true_random=False), st.integers(60, 200))
def test_any_order_and_any_repetition_give_the_packet_back(packet: bytes, chance: Random, longest: int) -> None:
    texts = chunks(packet, longest)
    assert all(len(text) <= longest and text.isalnum() and text.upper() == text for text in texts)
    mixed = texts + texts[:2]
    chance.shuffle(mixed)
    assert put_together([text.lower() for text in mixed]) == packet


@given(st.binary(min_size=1, max_size=400), st.data())
def test_a_character_that_is_read_wrong_is_seen_at_once(packet: bytes, data: st.DataObject) -> None:
    texts = chunks(packet, 120)
    text = data.draw(st.sampled_from(texts))
    place = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.sampled_from([c for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567" if c != text[place]]))
    gathering = Gathering()
    with pytest.raises(ChunkFault):
        gathering.take(text[:place] + other + text[place + 1 :])
    assert gathering.count == 0


def test_what_is_missing_is_named_and_another_packet_starts_anew() -> None:
    first, second = chunks(Random(1).randbytes(900), 200), chunks(Random(2).randbytes(900), 200)
    gathering = Gathering()
    gathering.take(first[2])
    assert gathering.missing[:3] == [1, 2, 4] and gathering.count == len(first)
    with pytest.raises(ChunkFault, match="read all of them"):
        gathering.packet()
    for text in second:
        gathering.take(text)
    assert gathering.packet() == Random(2).randbytes(900)


@pytest.mark.parametrize("numbers", ["²²²²²²", "١١١١١١", "00000A", "000001", "002001"])
def test_a_chunk_whose_numbers_are_none_is_refused_by_name(numbers: str) -> None:
    head = f"ABCDEFGH{numbers}"
    check = base64.b32encode(sha256(f"{head}AAAA".encode()).digest()).decode()[:6]
    with pytest.raises(ChunkFault, match="none of a set"):
        Gathering().take(f"{MARK}{head}{check}AAAA")


def test_a_packet_that_unpacks_without_end_is_refused() -> None:
    with pytest.raises(ChunkFault, match="too long"):
        put_together(chunks(bytes(20_000_000)))


def test_a_chunk_is_told_from_a_tag_and_fits_the_code_that_is_meant() -> None:
    (text,) = chunks(b"x")
    assert is_chunk(text) and is_chunk(text.lower()) and not is_chunk("B2") and text.startswith(MARK)
    longest = max(chunks(Random(3).randbytes(3000)), key=len)
    assert len(longest) == CHUNK_LONGEST
    code = segno.make_qr(longest, error="m", boost_error=False)
    assert code.mode == "alphanumeric" and code.version == 18
