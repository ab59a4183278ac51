"""The look-back over records of a quarter and of a year; with --full of 1, 3.2 and 10 years (2.6 million events).

Each is a real chained journal, made from one rehearsed stretch whose lines are numbered, dated and chained anew for
every week. The questions have answers of the same size whatever the length of the record, and go by turns to the
look-back and to its peer: one SQLite table of the same lines with an index for each question, read and parsed as ours
are (ours also holds every line against its hash). Then a whole process of the command line from a cold start, and what
making the index from nothing costs against inserting the same lines into the peer. All lengths take turns. The growth
is fitted over seconds on the processor within one process, where no start of Python hides it; that of the index over
those of our own code.
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from data.journal import Journal
from data.line import NO_LINE_BEFORE, seal
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.trace import trace
from data.trace_index import rebuilt
from tests.bench.rows import Row, ask_in_turns, beside_peer, growth, micro, own_seconds, seconds

ROOT = Path(__file__).parent.parent.parent
FIRST_DAY = date(2016, 12, 5)  # a Monday
WEEKS, ALL_WEEKS = (13, 52), (52, 165, 522)
CYCLES_A_WEEK = 97
SCOPES = 24
BUILDS, TURNS, PROCESSES = 10, 12, 5
AT_MOST_S, AT_MOST_MB, AT_MOST_EXPONENT = 0.5, 150, 0.1

ASK = """
import resource, sys
import main
code = main.main(sys.argv[1:])
print(code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)
"""


def template() -> list[dict[str, Any]]:
    """Promise the lines of as many whole cycles as a week has, in order, without checkpoints and boots."""
    disk = MemoryDisk()
    rehearse(disk, Plan(SCOPES, 48, 1), lambda line: None)
    lines = [line for line in Journal(disk).lines() if line["kind"] not in ("boot", "checkpoint")]
    ended = [line["refs"]["cycle"] for line in lines if line["data"].get("ends")][:CYCLES_A_WEEK]
    kept = set(ended)
    return [line for line in lines if _cycle(line) in kept or not _cycle(line)]


def _cycle(line: dict[str, Any]) -> str:
    own = f"{line['device']}-{line['seq']:06d}"
    return own if line["kind"] == "receive" else line["refs"].get("cycle", "")


class Peer:
    """The same lines in one SQLite table, with an index for every question."""

    def __init__(self, path: Path) -> None:
        self._file = sqlite3.connect(path)
        self._file.execute(
            "CREATE TABLE line (seq INTEGER PRIMARY KEY, day TEXT, cycle TEXT, scope TEXT, bath TEXT, person TEXT,"
            ' "case" TEXT, text TEXT)'
        )
        for name in ("scope", "bath", "person", "case"):
            self._file.execute(f'CREATE INDEX by_{name} ON line ("{name}", day)')
        self._file.execute("CREATE INDEX by_cycle ON line (cycle)")
        self.took_s = 0.0

    def take(self, events: list[dict[str, Any]], lines: list[bytes]) -> None:
        """Insert a week in one transaction."""
        rows = [
            (e["seq"], e["wall"][:10], _cycle(e), *(e["refs"].get(n, "") for n in ("scope", "bath_label")), e["by"],
             e["refs"].get("case", ""), line.decode()) for e, line in zip(events, lines, strict=True)
        ]  # fmt: skip

        def insert() -> None:
            with self._file:
                self._file.executemany("INSERT INTO line VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)

        self.took_s += seconds(insert)

    def ask(self, kind: str, key: str, since: date | None) -> int:
        """Promise how many lines belong to the cycles that a key touched since a day, each read and parsed."""
        day = "" if since is None else since.isoformat()
        text = (
            f'SELECT text FROM line WHERE cycle IN (SELECT cycle FROM line WHERE "{kind}" = ? AND day >= ? '
            "AND cycle <> '') ORDER BY seq"
        )
        return len([json.loads(line) for (line,) in self._file.execute(text, (key, day))])

    def close(self) -> None:
        self._file.close()


def write_record(home: Path, weeks: int, lines: list[dict[str, Any]], peer: Peer) -> tuple[int, int]:
    """Promise a record of so many weeks; gives its cycles and lines. Each week repeats the work on its own days."""
    folder = home / "journal"
    folder.mkdir(parents=True)
    seq, prev, cycles = 0, NO_LINE_BEFORE, 0
    base = date.fromisoformat(lines[0]["wall"][:10])
    for number in range(weeks):
        monday = FIRST_DAY + timedelta(weeks=number)
        shift = monday - (base - timedelta(days=base.weekday()))
        week = "{}-W{:02d}".format(*monday.isocalendar()[:2])
        seq += 1
        checkpoint = {**_bare(lines[0]), "kind": "checkpoint", "subject": "", "refs": {}, "by": "", "data": {}}
        out = [seal({**checkpoint, "seq": seq, "prev": prev})]
        events = []
        ids = {f"{line['device']}-{line['seq']:06d}": seq + 1 + place for place, line in enumerate(lines)}
        for line in lines:
            seq += 1
            refs = {name: f"rehearsal-{ids[text]:06d}" if text in ids else text for name, text in line["refs"].items()}
            if "case" in refs:
                refs["case"] = f"{week}-{refs['case']}"
            day = date.fromisoformat(line["wall"][:10]) + shift
            event = {**_bare(line), "refs": refs, "wall": day.isoformat() + line["wall"][10:]}
            out.append(seal({**event, "seq": seq, "prev": out[-1][1]}))
            events.append({**event, "seq": seq, "refs": {**refs, "bath_label": str(line["data"].get("bath", ""))}})
            cycles += bool(line["data"].get("ends"))
        prev = out[-1][1]
        peer.take(events, [line for line, _ in out[1:]])
        (folder / f"{week}.jsonl").write_bytes(b"".join(line for line, _ in out))
    return cycles, seq


def _bare(line: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in line.items() if name not in ("hash", "seq", "prev")}


def questions(weeks: int, case: str) -> dict[str, tuple[str, str, date | None]]:
    """Promise questions whose answers are of the same size whatever the length of the record."""
    last = FIRST_DAY + timedelta(weeks=weeks - 1)
    week = "{}-W{:02d}".format(*last.isocalendar()[:2])
    return {
        "one case": ("case", f"{week}-{case}", None),
        "a scope, 8 weeks": ("scope", "B2", last - timedelta(weeks=7)),
        "a person, 1 week": ("person", "joss", last),
        "a bath, 1 week": ("bath", "H1", last),
    }


def whole_process(home: Path, case: str) -> tuple[list[float], float]:
    """Promise the seconds on the wall of whole processes that ask for a case, and their peak memory (MB)."""
    took, memory = [], []
    for _ in range(PROCESSES):
        start = time.perf_counter()
        command = [sys.executable, "-c", ASK, "--home", str(home), "trace", "--case", case]
        done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
        took.append(time.perf_counter() - start)
        code, peak = done.stderr.split()
        if code != "0":
            raise RuntimeError(f"case {case} found nothing")
        memory.append(float(peak))
    return took, max(memory)


class Record:
    """A record of so many weeks in a folder of its own, and the peer with the same lines."""

    def __init__(self, folder: Path, weeks: int, lines: list[dict[str, Any]], case: str) -> None:
        self.home = folder / str(weeks)
        self.peer = Peer(folder / f"{weeks}.sqlite")
        self.cycles, self.events = write_record(self.home, weeks, lines, self.peer)
        self.questions = questions(weeks, case)
        # Of each making of the index, seconds on the wall and those of our own code on the processor.
        self.built: list[tuple[float, float]] = []
        self.took: dict[str, list[tuple[float, float]]] = {what: [] for what in self.questions}

    def build(self) -> None:
        """Make the index from nothing, and measure it."""
        self.built.append(own_seconds(lambda: rebuilt(RealDisk(self.home), self.home).close()))

    def ask(self, what: str) -> None:
        """Ask both, and measure each on the processor."""
        question = self.questions[what]
        marks = [time.process_time()]
        found = trace(self.home, *question)
        marks.append(time.process_time())
        lines = self.peer.ask(*question)
        marks.append(time.process_time())
        if not found.cycles or not lines:
            raise RuntimeError(f"{question} found nothing")
        self.took[what].append((marks[1] - marks[0], marks[2] - marks[1]))


def measured(records: list[Record]) -> None:
    """Builds and asks in turns over all lengths."""
    for _ in range(BUILDS):
        for record in records:
            record.build()
    ask_in_turns(records, records[0].questions, TURNS)


def rows(full: bool) -> Iterator[Row]:
    """Promise for each length the making of the index, the questions and a whole process; then the growth of each."""
    lines = template()
    case = next(line["refs"]["case"] for line in lines if line["data"].get("ends"))
    with tempfile.TemporaryDirectory() as name:
        records = [Record(Path(name), weeks, lines, case) for weeks in (ALL_WEEKS if full else WEEKS)]
        measured(records)
        for record in records:
            yield from of_length(record)
        yield growth(
            "look-back, index made from nothing",
            [(record.events, own_s) for record in records for _, own_s in record.built],
            1.05, "events", in_turns=True,
        )  # fmt: skip
        for what in records[0].questions:
            pairs = [(record.events, ours) for record in records for ours, _ in record.took[what]]
            # Between a quarter and a year the caches of the machine weigh more than the length does: told, not judged.
            yield growth(f"look-back, {what}", pairs, AT_MOST_EXPONENT if full else None, "events", in_turns=True)
        for record in records:
            record.peer.close()


def of_length(record: Record) -> Iterator[Row]:
    """Promise what was measured at one length, against the peer."""
    of = f"{record.events:,} events"
    built, inserted = median(took_s for took_s, _ in record.built), record.peer.took_s
    yield Row(f"look-back's index made from nothing, {of}, against inserts into SQLite",
              round(built / inserted, 2), None, micro(built), micro(inserted))  # fmt: skip
    for what, took in record.took.items():
        yield beside_peer(f"look-back, {what}, {of}, against SQLite with an index", took, 2)
    took_s, peak_mb = whole_process(record.home, record.questions["one case"][1])
    what = f"look-back of a case, a whole process, {of} ({record.cycles:,} cycles)"
    yield Row(what, round(median(took_s), 3), AT_MOST_S, unit="s")
    yield Row(f"{what}: peak memory", round(peak_mb), AT_MOST_MB, unit="MB")
