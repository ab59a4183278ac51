"""The Ledger page's questions over a quarter and a year of completed cycles, with --full over 1, 3.2 and 10 years.

They are the first screenful of one scope's cycles, and one case of the oldest week; a question's second asking counts,
the first is told (it reads the weeks once). Its peer is one SQLite table of the same documents with an index for the
question, read and parsed as ours are. Every week's ledger is written as the app writes it.
"""

from __future__ import annotations

import json
import sqlite3
import tempfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.ledger_entries import Query
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from screens.ledger.reader import BATCH, Reader
from tests.bench.rows import Row, growth, micro, processor_seconds, seconds

CYCLES_A_WEEK, WEEKS, ALL_WEEKS = 84, (13, 52), (52, 165, 520)
TURNS, AT_MOST_EXPONENT = 7, 0.1


def template() -> list[dict[str, Any]]:
    """Promise a week's documents, from a rehearsal."""
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(24, 40, 1), lambda line: None)
    catch_up(Ledger(disk), door.journal)
    return Ledger(disk).week("2026-W48")[:CYCLES_A_WEEK]


def filled(home: Path, weeks: int, documents: list[dict[str, Any]]) -> tuple[Reader, sqlite3.Connection]:
    """Promise a reader of so many weeks, and the peer with the same documents."""
    disk = RealDisk(home)
    journal = Journal(disk)
    journal.open()
    ledger = Ledger(disk)
    home.mkdir(exist_ok=True)
    peer = sqlite3.connect(home / "peer.sqlite")
    peer.execute("CREATE TABLE cycles (ended TEXT, tag TEXT, reference TEXT, document TEXT)")
    for number in range(weeks):
        week = f"{2010 + number // 52}-W{number % 52 + 1:02d}"
        dated = [{**d, "case": {**d["case"], "reference": f"{week}-{n}"}} for n, d in enumerate(documents)]
        ledger.put(week, dated, 0)
        rows = [
            (f"{week}-{n:03d}", d["scope"]["tag"], d["case"]["reference"], json.dumps(d)) for n, d in enumerate(dated)
        ]
        peer.executemany("INSERT INTO cycles VALUES (?, ?, ?, ?)", rows)
    peer.execute("CREATE INDEX by_tag ON cycles (tag, ended)")
    peer.execute("CREATE INDEX by_case ON cycles (reference)")
    peer.commit()
    return Reader(disk, journal), peer


def found(reader: Reader, query: Query) -> int:
    """Promise how many entries the first screenful has, however many weeks must be read for it."""
    batch, start = reader.find(query), (0, 0)
    while not batch.entries and batch.go_on is not None:
        start = batch.go_on
        batch = reader.find(query, start)
    if not batch.entries:
        raise RuntimeError(f"{query} found nothing")
    return len(batch.entries)


def asked(peer: sqlite3.Connection, column: str, value: str) -> int:
    """Promise the same from the peer."""
    text = f"SELECT document FROM cycles WHERE {column} = ? ORDER BY ended DESC LIMIT ?"
    return len([json.loads(document) for (document,) in peer.execute(text, (value, BATCH))])


def rows(full: bool) -> Iterator[Row]:
    """Promise each question against its peer, and its growth."""
    documents = template()
    tag = documents[0]["scope"]["tag"]
    points: dict[str, list[tuple[float, float]]] = {}
    with tempfile.TemporaryDirectory() as name:
        for weeks in ALL_WEEKS if full else WEEKS:
            reader, peer = filled(Path(name) / str(weeks), weeks, documents)
            questions = {
                "first screenful of a scope": (Query(tag=tag), "tag", tag),
                "a case of the oldest week": (Query(case="2010-W01-1"), "reference", "2010-W01-1"),
            }
            for what, (query, column, value) in questions.items():
                first = seconds(partial(found, reader, query))
                ask, ask_peer = partial(found, reader, query), partial(asked, peer, column, value)
                turns = [(processor_seconds(ask), processor_seconds(ask_peer)) for _ in range(TURNS)]
                ours, theirs = zip(*turns, strict=True)
                points.setdefault(what, []).extend((weeks * CYCLES_A_WEEK, one) for one in ours)
                label = f"Ledger, {what}, {weeks * CYCLES_A_WEEK:,} cycles, against SQLite with an index"
                a, b = median(ours), median(theirs)
                yield Row(label, round(a / b, 1), None, f"{micro(a)} (first {micro(first)})", micro(b))
            peer.close()
    for what, pairs in points.items():
        # A case may be in any week, so each week is asked whether it holds it: at most in proportion to their number.
        # Between a quarter and a year the machine's moods weigh more than the length does: told, not judged.
        limit = None if not full else 1.05 if "case" in what else AT_MOST_EXPONENT
        yield growth(f"Ledger, {what}", pairs, limit, "cycles")
