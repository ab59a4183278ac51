"""By hand: python3 -m tests.bench.bench_send [WEEKS]

1. A week's two large tables against the csv module writing the same cells, in turn: at most three times its time.
2. So many weeks (52: about 4,500 cycles, a year) in all forms sent to a folder in one process: seconds, and peak
   memory (at most 200 MB). The week is one rehearsed week, exported anew each time.
"""

from __future__ import annotations

import csv
import io
import resource
import sys
import tempfile
import time

from data.destinations.folder import FolderDestination
from data.exporters.csv_text import table
from data.exporters.csv_week import EVENT_COLUMNS, _events
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.exporters.cycle_row import CycleRow
from data.gather import read_week
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.send import deliver, prepare
from data.signing import signer


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


def main() -> None:
    weeks = int(sys.argv[1]) if len(sys.argv) > 1 else 52
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(12, 40, 5), lambda line: None)
    week = door.journal.segments()[0]
    read = read_week(door.journal, week)
    documents = read.documents()
    ours_s, plain_s = best_of(7, *tables(read, documents))
    print(f"a week of {len(documents)} cycles as CSV {ours_s:.3f} s, by the csv module {plain_s:.3f} s")
    print(f"ratio {ours_s / plain_s:.2f} (at most 3)")
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        place = FolderDestination(folder)
        for number in range(1, weeks + 1):
            deliver(prepare(disk, door.journal, week, signer(bytes(32))), place)
            place.remove("rehearsal")
            print(f"\r{number} of {weeks} weeks", end="", flush=True)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    took_s = time.perf_counter() - start
    print(f"\n{weeks * len(documents)} cycles in all forms: {took_s:.1f} s, peak {peak_mb:.0f} MB (at most 200)")


if __name__ == "__main__":
    main()
