"""What a week costs as it leaves the handheld.

1. Its two large tables against the csv module writing the same cells, in turn.
2. Weeks in all forms sent to a folder in one process (--full: 52, about 4,500 cycles, a year), and the peak memory. The
   week is one rehearsed week with eight like it before, exported anew each time.
3. How late the screen's thread gets its turn while a week is made and sent on another: the longest of many short naps,
   against the longest while nothing else runs.
4. With one and ten years behind it, by turns: making a week in all forms, and asking which weeks wait, the first time
   (every receipt is read) and again (as the app asks whenever it looks for the destination).
"""

from __future__ import annotations

import csv
import io
import resource
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median

from data.destinations.folder import FolderDestination
from data.exporters.csv_text import table
from data.exporters.csv_week import EVENT_COLUMNS, _events
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.exporters.cycle_row import CycleRow
from data.gather import read_week
from data.journal import Journal
from data.ledger import Ledger
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.receipts import Receipt, Receipts, Remembered
from data.rehearse.run import Plan, rehearse
from data.send import deliver, prepare, waiting
from data.signing import signer
from data.week import WEEKS_BACK
from tests.bench.rows import Row, growth, micro, processor_seconds, seconds
from tests.send.cases import put

NAP_S = 0.005
YEARS, TURNS, PLACE = (52, 520), 6, "a folder"
FIRST, AGAIN = "which weeks wait, asked the first time", "which weeks wait, asked again"


def best_of(times: int, *runs):
    """The least seconds of each of the runs, taken in turn."""
    least = [float("inf")] * len(runs)
    for _ in range(times):
        for number, run in enumerate(runs):
            start = time.perf_counter()
            run()
            least[number] = min(least[number], time.perf_counter() - start)
    return least


def tables(read, documents):
    """Ours, and the csv module with the same values: both take what the columns give."""
    events = sorted(_events(read, documents), key=lambda row: row.event["seq"])
    sides = ((CYCLE_COLUMNS, [CycleRow(document) for document in documents]), (EVENT_COLUMNS, events))

    def ours():
        return [table(columns, rows) for columns, rows in sides]

    def plain():
        for columns, rows in sides:
            out = io.StringIO(newline="")
            writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
            writer.writerow([column.name for column in columns])
            writer.writerows([column.value(row) for column in columns] for row in rows)
            out.getvalue().encode("utf-8-sig")

    return ours, plain


def with_weeks_before(disk: MemoryDisk, week: str, documents: list) -> None:
    """Puts eight ended weeks of the same cycles before this one, as the charts of its PDF look back on."""
    year, number = week.split("-W")
    for before in range(int(number) - WEEKS_BACK, int(number)):
        name = f"{year}-W{before:02}"
        Ledger(disk).put(name, [{**document, "week": name} for document in documents], 1)
        disk.files[f"journal/{name}.jsonl"] = bytearray(b"not read")


class Behind:
    """A home on files with the week and so many before it, all of them sent, and what was measured there, in s."""

    def __init__(self, home: Path, weeks: int, files: dict[str, bytearray]) -> None:
        self.weeks, self.home = weeks, home
        self.disk = RealDisk(put(files, home))
        receipts = Receipts(self.disk)
        receipt = Receipt(PLACE, 1, "0" * 64, True, "0" * 64, "2026-11-25T08:00:00.000+01:00")
        for number in range(weeks):
            week = f"{2010 + number // 52}-W{number % 52 + 1:02d}"
            (home / "journal" / f"{week}.jsonl").write_bytes(b"not read")
            receipts.keep(week, receipt)
        self.journal = Journal(self.disk)
        self.journal.open()
        self.took: dict[str, list[float]] = {"making a week": [], FIRST: [], AGAIN: []}

    def turn(self) -> None:
        """Make the newest week, and ask twice which weeks wait."""
        remembered, newest = Remembered(self.disk), self.journal.segments()[-1]

        def ask() -> None:
            remembered.begin()
            if waiting(self.disk, self.journal, PLACE, remembered)[-1:] != [newest]:
                raise RuntimeError("the newest week should wait")

        made = processor_seconds(lambda: prepare(self.disk, self.journal, newest, signer(bytes(32))))
        for what, took in (("making a week", made), (FIRST, processor_seconds(ask)), (AGAIN, processor_seconds(ask))):
            self.took[what].append(took)


def by_length(folder: Path, files: dict[str, bytearray]) -> Iterator[Row]:
    """Promise how what is asked of one week grows with the weeks behind it."""
    lengths = [Behind(folder / str(weeks), weeks, files) for weeks in YEARS]
    for _ in range(TURNS):
        for length in lengths:
            length.turn()
    for what, limit in (("making a week", 0.1), (FIRST, 1.05), (AGAIN, None)):
        pairs = [(length.weeks, took) for length in lengths for took in length.took[what]]
        one, ten = (micro(median(length.took[what])) for length in lengths)
        row = growth(f"send, {what}", pairs, limit, "weeks behind", in_turns=True)
        yield row._replace(ours=f"{one} and {ten}, {row.ours}")


def longest_nap_s(meanwhile: Callable[[], None]) -> float:
    """The longest that naps of 5 ms took while something went on in another thread."""
    thread = threading.Thread(target=meanwhile)
    thread.start()
    longest = 0.0
    while thread.is_alive():
        start = time.perf_counter()
        time.sleep(NAP_S)
        longest = max(longest, time.perf_counter() - start - NAP_S)
    return longest


def once(disk: MemoryDisk, journal: Journal, week: str, place: FolderDestination) -> None:
    """Makes and sends the week, and takes it away again."""
    deliver(prepare(disk, journal, week, signer(bytes(32))), place)
    place.remove("rehearsal")


def rows(full: bool) -> Iterator[Row]:
    """Promise the tables against csv, the weeks' time and memory, and the delay of another thread."""
    weeks = 52 if full else 2
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(12, 40, 5), lambda line: None)
    week = door.journal.segments()[0]
    read = read_week(door.journal, week)
    documents = read.documents()
    Ledger(disk).put(week, documents, read.through)
    with_weeks_before(disk, week, documents)
    ours_s, plain_s = best_of(7, *tables(read, documents))
    yield Row(f"a week's CSV ({len(documents)} cycles) against the csv module", round(ours_s / plain_s, 2), 3.0,
              micro(ours_s), micro(plain_s))  # fmt: skip
    del read
    with tempfile.TemporaryDirectory() as folder:
        yield from by_length(Path(folder), disk.files)
    with tempfile.TemporaryDirectory() as folder:
        place = FolderDestination(folder)
        took_s = seconds(lambda: [once(disk, door.journal, week, place) for _ in range(weeks)])
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        idle_s = longest_nap_s(lambda: time.sleep(took_s / weeks))
        busy_s = longest_nap_s(lambda: once(disk, door.journal, week, place))
    yield Row(f"a week of {len(documents)} cycles in all forms, made and sent to a folder, of {weeks}",
              round(took_s / weeks, 2), unit="s")  # fmt: skip
    yield Row(f"{weeks} weeks in all forms, one process: peak memory", round(peak_mb), 200, unit="MB")
    yield Row("the screen's thread is late while a week is sent, at most", round(1000 * busy_s), None,
              peer=f"{1000 * idle_s:.0f} ms while nothing runs", unit="ms")  # fmt: skip
