"""One journal line and the chain of lines."""

import hashlib
import json

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st
from record_cases import event

from data.canonical import canonical
from data.line import NO_LINE_BEFORE, TAIL_LENGTH, follow_chain, open_line, seal
from protocols.errors import Defect, RecordDamaged

plain = st.none() | st.booleans() | st.integers(-1000, 1000) | st.text(st.characters(exclude_categories=["Cs"]))
data = st.dictionaries(st.text('prevhash",:\\é', max_size=6), plain | st.dictionaries(st.just("prev"), plain))


def chain(count, prev=NO_LINE_BEFORE):
    lines = []
    for seq in range(1, count + 1):
        line, prev = seal({**event(seq), "seq": seq, "prev": prev})
        lines.append(line)
    return lines


@given(data, st.text(st.characters(exclude_categories=["Cs"])))
def test_the_body_is_the_canonical_envelope_for_any_reader(data, subject):
    envelope = {**event(1, data=data, subject=subject), "seq": 7, "prev": "ab" * 32}
    line, digest = seal(envelope)
    # As another tool would check it: the reference package for the bytes, the standard library for SHA-256.
    held = json.loads(line)
    assert held.pop("hash") == digest == hashlib.sha256(rfc8785.dumps(held)).hexdigest()
    assert line[:-TAIL_LENGTH] + b"}" == canonical(envelope)
    assert open_line(line, "ab" * 32, 7) == {**held, "hash": digest}
    assert follow_chain(line, "ab" * 32) == (1, len(line), digest, None)


@pytest.mark.parametrize(
    "changes",
    [
        {"refs": {"lot": "L1", "prev": "ab" * 32}},
        {"refs": {"scope": {"a": 1, "prev": "ab" * 32}}},
        {"seq": True},
        {"elapsed": 1.5},
        {"v": None},
        {"by": 3},
        {"data": {"a": float("nan")}},
        {"subject": "\ud800"},
        {"more": 1},
    ],
)
def test_an_envelope_of_another_shape_is_refused(changes):
    with pytest.raises(Defect):
        seal({**event(1), "seq": 1, "prev": NO_LINE_BEFORE, **changes})


@pytest.mark.parametrize("name", [*event(1), "seq", "prev"])
def test_an_envelope_that_lacks_something_is_refused(name):
    envelope = {**event(1), "seq": 1, "prev": NO_LINE_BEFORE}
    del envelope[name]
    with pytest.raises(Defect, match="another shape"):
        seal(envelope)


def test_every_flipped_bit_of_a_line_is_found():
    line, _ = seal({**event(1), "seq": 1, "prev": NO_LINE_BEFORE})
    for place in range(len(line) * 8):
        flipped = bytearray(line)
        flipped[place // 8] ^= 1 << place % 8
        with pytest.raises(RecordDamaged):
            open_line(bytes(flipped), NO_LINE_BEFORE, 1)
        assert follow_chain(bytes(flipped), NO_LINE_BEFORE).fault


def test_every_shortened_line_is_found():
    line, _ = seal({**event(1), "seq": 1, "prev": NO_LINE_BEFORE})
    for length in range(len(line)):
        with pytest.raises(RecordDamaged):
            open_line(line[:length], NO_LINE_BEFORE, 1)


def test_a_line_out_of_place_says_what_differs():
    line, digest = seal({**event(1), "seq": 5, "prev": "ab" * 32})
    with pytest.raises(RecordDamaged, match="its seq is 5, the line before calls for 6"):
        open_line(line, "ab" * 32, 6)
    with pytest.raises(RecordDamaged, match=f"its prev is '{'ab' * 32}', the line before has the hash {'cd' * 32}"):
        open_line(line, "cd" * 32, 5)
    held = line.replace(digest.encode(), b"0" * 64)
    with pytest.raises(RecordDamaged, match=f"it holds the hash {'0' * 64}, its bytes have {digest}"):
        open_line(held, "ab" * 32, 5)
    with pytest.raises(RecordDamaged, match="no line end"):
        open_line(line[:-1], "ab" * 32, 5)
    assert open_line(line, None, None)["hash"] == digest


def reordered(lines):
    yield "removed", lines[:2] + lines[3:]
    yield "repeated", lines[:3] + lines[2:]
    yield "swapped", [*lines[:2], lines[3], lines[2], *lines[4:]]
    yield "inserted", [*lines[:2], seal({**event(9), "seq": 3, "prev": "ab" * 32})[0], *lines[2:]]
    yield "first one gone", lines[1:]


def test_the_chain_finds_lines_out_of_order():
    lines = chain(5)
    assert follow_chain(b"".join(lines), NO_LINE_BEFORE).lines == 5
    for what, changed in reordered(lines):
        fault = follow_chain(b"".join(changed), NO_LINE_BEFORE).fault
        assert fault and fault.startswith("its prev is"), what


def test_the_chain_counts_what_still_fits():
    lines = chain(4)
    broken = b"".join(lines[:3]) + lines[3][:-1]
    found = follow_chain(broken, None)
    assert (found.lines, found.size) == (3, len(b"".join(lines[:3])))
    assert found.hash == json.loads(lines[2])["hash"]
    assert found.fault.startswith("it has no line end")
    assert follow_chain(b"", "ab" * 32) == (0, 0, "ab" * 32, None)


def test_a_hash_over_something_else_than_an_envelope_is_damage():
    for body in (b"[1]", b'{"a":1}', b'{"seq":1,"prev":1}', b"{]}"):
        digest = hashlib.sha256(body[:-1] + b"}").hexdigest()
        line = body[:-1] + b',"hash":"' + digest.encode() + b'"}\n'
        with pytest.raises(RecordDamaged):
            open_line(line, None, None)
