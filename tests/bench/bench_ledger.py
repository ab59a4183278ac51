"""The Ledger page's questions over half a year and two years of completed cycles, with --full over 1, 3.2 and 10
years: in all of these the weeks of a scope lie by years, which they do from the 17th week on.

They are the first screenful of one scope's cycles, and one case of the oldest week. What both cost once all weeks have
been looked through is held against one SQLite table of the same documents with an index for the question, read and
parsed as ours are. The first search ever, for that case, looks through every week, and is one of the whole record. All
lengths take turns. The newest week is a rehearsed one, journal and all; the ledgers before it repeat its cycles, and
are written as the app writes them.
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
from data.ledger_entries import FILE
from data.ledger_entry import Query
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.trace_store import discard
from screens.ledger.reader import BATCH, Reader
from tests.bench.rows import Row, ask_in_turns, beside_peer, growth, own_seconds, processor_seconds
from tests.send.cases import put

CYCLES_A_WEEK, WEEKS, ALL_WEEKS = 84, (26, 104), (52, 165, 520)
OLDEST = "2010-W01-1"
A_SCOPE, A_CASE = "first screenful of a scope", "a case of the oldest week"
FIRST_TURNS, TURNS, AT_MOST_EXPONENT = 10, 12, 0.1


class Rehearsed:
    """The files of a home with one real week, and the documents that the weeks before it repeat."""

    def __init__(self) -> None:
        disk = MemoryDisk()
        door, _ = rehearse(disk, Plan(24, 40, 1), lambda line: None)
        catch_up(Ledger(disk), door.journal)
        self.files = disk.files
        self.newest = Ledger(disk).week("2026-W48")
        self.documents = self.newest[:CYCLES_A_WEEK]


def filled(home: Path, weeks: int, rehearsed: Rehearsed) -> tuple[Reader, sqlite3.Connection]:
    """Promise a reader of so many weeks before the real one, and the peer with the same documents."""
    disk = RealDisk(put(rehearsed.files, home))
    ledger = Ledger(disk)
    peer = sqlite3.connect(home / "peer.sqlite")
    peer.execute("CREATE TABLE cycles (ended TEXT, tag TEXT, reference TEXT, document TEXT)")
    for number in range(weeks):
        week = f"{2010 + number // 52}-W{number % 52 + 1:02d}"
        documents = [
            {**d, "case": {**d["case"], "reference": f"{week}-{n}"}} for n, d in enumerate(rehearsed.documents)
        ]
        ledger.put(week, documents, 0)
        (home / "journal" / f"{week}.jsonl").write_bytes(b"its ledger is there, so it is not read")
        insert(peer, week, documents)
    insert(peer, "2026-W48", rehearsed.newest)
    peer.execute("CREATE INDEX by_tag ON cycles (tag, ended)")
    peer.execute("CREATE INDEX by_case ON cycles (reference)")
    peer.commit()
    journal = Journal(disk)
    journal.open()
    return Reader(disk, journal), peer


def insert(peer: sqlite3.Connection, week: str, documents: list[dict[str, Any]]) -> None:
    """Give the peer a week."""
    rows = [
        (f"{week}-{n:03d}", d["scope"]["tag"], d["case"]["reference"], json.dumps(d)) for n, d in enumerate(documents)
    ]
    peer.executemany("INSERT INTO cycles VALUES (?, ?, ?, ?)", rows)


def found(reader: Reader, query: Query) -> int:
    """Promise how many entries the first screenful has, however many weeks must be read for it."""
    batch = reader.find(query)
    while not batch.entries and batch.go_on is not None:
        batch = reader.find(query, batch.go_on)
    if not batch.entries:
        raise RuntimeError(f"{query} found nothing")
    return len(batch.entries)


def asked(peer: sqlite3.Connection, column: str, value: str) -> int:
    """Promise the same from the peer."""
    text = f"SELECT document FROM cycles WHERE {column} = ? ORDER BY ended DESC LIMIT ?"
    return len([json.loads(document) for (document,) in peer.execute(text, (value, BATCH))])


class Length:
    """One length of record: its reader, its peer, and what each question took of both on the processor, in s."""

    def __init__(self, folder: Path, weeks: int, rehearsed: Rehearsed) -> None:
        self.cycles = weeks * CYCLES_A_WEEK + len(rehearsed.newest)
        self._home = folder / str(weeks)
        self._reader, self.peer = filled(self._home, weeks, rehearsed)
        self.first: list[tuple[float, float]] = []
        tag = rehearsed.documents[0]["scope"]["tag"]
        self._questions = {A_SCOPE: (Query(tag=tag), "tag", tag), A_CASE: (Query(case=OLDEST), "reference", OLDEST)}
        self.took: dict[str, list[tuple[float, float]]] = {A_SCOPE: [], A_CASE: []}

    def look_through(self) -> None:
        """Search for a case of the oldest week when nothing is kept."""
        discard(self._home / FILE)
        self.first.append(own_seconds(partial(found, self._reader, Query(case=OLDEST))))

    def ask(self, what: str) -> None:
        """Ask both."""
        query, column, value = self._questions[what]
        ours = processor_seconds(partial(found, self._reader, query))
        self.took[what].append((ours, processor_seconds(partial(asked, self.peer, column, value))))


def rows(full: bool) -> Iterator[Row]:
    """Promise each question against its peer, and its growth."""
    rehearsed = Rehearsed()
    with tempfile.TemporaryDirectory() as name:
        lengths = [Length(Path(name), weeks, rehearsed) for weeks in (ALL_WEEKS if full else WEEKS)]
        for _ in range(FIRST_TURNS):
            for length in lengths:
                length.look_through()
        ask_in_turns(lengths, (A_SCOPE, A_CASE), TURNS)
        for length in lengths:
            yield from of_length(length)
            length.peer.close()
    firsts = [(length.cycles, own_s) for length in lengths for _, own_s in length.first]
    yield growth("Ledger, the first search ever", firsts, 1.05, "cycles", in_turns=True)
    for what in (A_SCOPE, A_CASE):
        pairs = [(length.cycles, ours) for length in lengths for ours, _ in length.took[what]]
        # Between half a year and two the machine's moods weigh more than the length does: told, not judged.
        yield growth(f"Ledger, {what}", pairs, AT_MOST_EXPONENT if full else None, "cycles", in_turns=True)


def of_length(length: Length) -> Iterator[Row]:
    """Promise what was measured at one length."""
    for what, took in length.took.items():
        yield beside_peer(f"Ledger, {what}, {length.cycles:,} cycles, against SQLite with an index", took, 1)
    first = median(took_s for took_s, _ in length.first)
    yield Row(f"Ledger, the first search ever, of all {length.cycles:,} cycles", round(first, 2), unit="s")
