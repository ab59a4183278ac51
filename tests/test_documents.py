"""The documents say what the code does: their tables are written from it."""

import re
from pathlib import Path

import pytest

from tests.docs import BLOCKS, ROOT, written


@pytest.mark.parametrize("name", BLOCKS)
def test_the_tables_are_as_the_code_has_them(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert text == written(name), f"{name} is behind the code; run: python3 -m tests.docs"


def test_every_file_that_the_documents_name_is_there():
    for name in BLOCKS:
        text = (ROOT / name).read_text(encoding="utf-8")
        for path in re.findall(r"`((?:protocols|data|screens|tests)/[\w./*-]*)`", text):
            assert list(Path(ROOT).glob(path.rstrip("/"))), f"{name} names {path}, which is not there"
