"""What one accepted command costs until it is durable: decide, seal, write, fsync, witness, evolve.

With 0, 1,000, 20,000 and 200,000 events behind it, and with --full 2.6 million (ten years). Beside it, on the same
disk, each command's own line goes in turn to its peers:
1. a bare append and fsync of the same bytes;
2. SQLite (WAL, synchronous FULL), one transaction for each event, in a table with as many rows behind;
3. TinyDB's JSONStorage, and TinyDB's CachingMiddleware, which keeps up to 1,000 writes in memory and so is not durable:
   both with as many documents behind, for some of the events, since one insert writes or copies all there is.
Old segments are never read on a command's path, so the events behind are one rehearsed week under the names of the
weeks before. The growth of ours is fitted over the ratio of each command to its own bare append.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

from tinydb import TinyDB
from tinydb.middlewares import CachingMiddleware
from tinydb.storages import JSONStorage

from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.opening import shipped_shelf
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.scene import places, scene_clock
from data.rehearse.shift import Shift
from protocols.event import Command, Event
from protocols.refusals import Refusal
from tests.bench.rows import Row, growth, micro, seconds

SIZES, TEN_YEARS = (0, 1_000, 20_000, 200_000), 2_600_000
EVENTS_A_WEEK, AT_MOST, AT_MOST_EXPONENT = 5_000, 1.5, 0.05
# TinyDB writes (or copies) all its documents for each insert, so few are enough, and all there is time for.
TINY_INSERTS = {0: 100, 1_000: 50, 20_000: 10, 200_000: 1}
HOURS, SCOPES = 10, 6


class Peers:
    """A bare file and an SQLite table on the same disk, which take each of our lines after us."""

    def __init__(self, folder: Path, behind: list[bytes]) -> None:
        folder.mkdir()
        self.bare = os.open(folder / "bare", os.O_CREAT | os.O_APPEND | os.O_WRONLY)
        self.sql = sqlite3.connect(folder / "events.sqlite", isolation_level=None)
        self.sql.execute("PRAGMA journal_mode=WAL")
        self.sql.execute("PRAGMA synchronous=FULL")
        self.sql.execute("CREATE TABLE events (seq INTEGER PRIMARY KEY, line TEXT NOT NULL)")
        self.sql.execute("BEGIN")
        self.sql.executemany("INSERT INTO events (line) VALUES (?)", ((line.decode(),) for line in behind))
        self.sql.execute("COMMIT")

    def append(self, line: bytes) -> None:
        os.write(self.bare, line)
        os.fsync(self.bare)

    def insert(self, line: bytes) -> None:
        self.sql.execute("INSERT INTO events (line) VALUES (?)", (line.decode(),))

    def close(self) -> None:
        os.close(self.bare)
        self.sql.close()


class Timed(Door):
    """A door that measures each accepted command, then its peers with the line that it wrote."""

    def __init__(self, folder: Path, peers: Peers) -> None:
        self.took: dict[str, list[float]] = {"ours": [], "bare": [], "SQLite": []}
        self.lines: list[bytes] = []
        self._peers, self._path = peers, folder / "journal" / "2026-W48.jsonl"
        disk = RealDisk(folder)
        super().__init__(Journal(disk), Texts(disk), scene_clock(), shipped_shelf(), "bench")

    def give(self, command: Command) -> Event | Refusal:
        before = self._path.stat().st_size if self._path.exists() else 0
        answers: list[Event | Refusal] = []
        took = seconds(lambda: answers.append(super(Timed, self).give(command)))
        if isinstance(answers[0], Event) and before:
            with self._path.open("rb") as file:
                file.seek(before)
                written = file.read().splitlines(keepends=True)
            # A checkpoint is written with one line in 400; it counts for ours, its bytes do not for the peers.
            line = next(one for one in reversed(written) if b'"kind":"checkpoint"' not in one)
            self.took["ours"].append(took)
            self.took["bare"].append(seconds(lambda: self._peers.append(line)))
            self.took["SQLite"].append(seconds(lambda: self._peers.insert(line)))
            self.lines.append(line)
        return answers[0]


def rehearsed_week() -> list[bytes]:
    """Promise the lines of a rehearsed shift, repeated to a week's number of events."""
    disk = MemoryDisk()
    rehearse(disk, Plan(hours=8), lambda line: None)
    lines = disk.files["journal/2026-W48.jsonl"].splitlines(keepends=True)
    return (lines * (EVENTS_A_WEEK // len(lines) + 1))[:EVENTS_A_WEEK]


def put_behind(journal: Path, week: list[bytes], events: int) -> None:
    """Write so many events as the weeks before the record's own."""
    for number in range(-(-events // len(week))):
        years, weeks = divmod(number, 52)
        lines = week[: events - number * len(week)]
        (journal / f"{2016 + years}-W{weeks + 1:02d}.jsonl").write_bytes(b"".join(lines))


def commands(folder: Path, week: list[bytes], events: int) -> Timed:
    """Promise a door that has given one rehearsed shift's commands with so many events behind."""
    behind = (week * (events // len(week) + 1))[:events] if events < TEN_YEARS else []
    peers = Peers(folder.with_suffix(".peers"), behind)
    door = Timed(folder, peers)
    put_behind(folder / "journal", week, events)
    clock: Any = door.clock
    Shift(door, clock, places(SCOPES), HOURS, Random(1)).run()
    peers.close()
    return door


def tiny(folder: Path, lines: list[bytes], events: int, week: list[bytes], caching: bool) -> list[float]:
    """Promise the seconds of some inserts into a TinyDB that holds so many documents."""
    documents = [json.loads(line) for line in week]
    path = folder / f"tiny-{events}-{caching}.json"
    behind = {str(n + 1): documents[n % len(documents)] for n in range(events)}
    path.write_text(json.dumps({"_default": behind}))
    database = TinyDB(path, storage=CachingMiddleware(JSONStorage) if caching else JSONStorage)
    database.all()
    inserts = [json.loads(line) for line in lines[: TINY_INSERTS[events]]]
    took = [seconds(lambda document=document: database.insert(document)) for document in inserts]
    database.close()
    path.unlink()
    return took


def rows(full: bool) -> Iterator[Row]:
    """Promise a row for every size and peer, and the growth."""
    week, points = rehearsed_week(), []
    with tempfile.TemporaryDirectory() as name:
        for events in (*SIZES, TEN_YEARS) if full else SIZES:
            door = commands(Path(name) / f"home-{events}", week, events)
            ours = median(door.took["ours"])
            points += [(max(1, events), a / b) for a, b in zip(door.took["ours"], door.took["bare"], strict=True)]
            took = dict(door.took)
            if events < TEN_YEARS:
                for label, caching in (("TinyDB JSONStorage", False), ("TinyDB CachingMiddleware, not durable", True)):
                    took[label] = tiny(Path(name), door.lines, events, week, caching)
            else:
                del took["SQLite"]
            for label, peer in took.items():
                if label == "ours":
                    continue
                what = f"command to durable, {events:,} events behind, against {label}"
                limit = AT_MOST if label == "bare" else None
                yield Row(what, round(ours / median(peer), 3), limit, micro(ours), micro(median(peer)))
    yield growth("command to durable / bare append", points, AT_MOST_EXPONENT, "events")
