"""The lines of one segment on their way into the look-back index (`data.trace_index`): which keys each touches."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from data.gather import BEGINNINGS
from data.trace_lines import opened
from data.trace_store import Store, row_key
from protocols.event import event_id, seq_of

_OF_PEOPLE = ("add-person", "record-competency", "hand-shift")
_OF_STRIPS = ("register-strips", "strip-control", "close-strips")


class Batch:
    """The lines of one segment on their way into the rows."""

    def __init__(self, store: Store, week: str) -> None:
        self._store = store
        self._week = week
        self._cycles: dict[int, list[int]] = {}
        self._ids: dict[int, str] = {}
        self._touched: dict[tuple[str, str], tuple[set[int], list[int]]] = {}
        self._baths: dict[str, dict[str, Any]] = {}
        self._changed: set[str] = set()
        self._alike: dict[tuple[bytes, bytes], list[int]] = {}
        self._refs: dict[bytes, dict[str, str]] = {}
        self._received: set[int] = set()

    def take_checkpoint(self, start: int) -> None:
        """Keep where reading may start next time."""
        self._store.meta["checkpoint"] = start

    def take_tap(self, start: int, by: bytes, refs: bytes) -> None:
        """Count in a line that differs from others of its cycle in nothing that is a key."""
        self._alike.setdefault((by, refs), []).append(start)

    def take_in_bath(self, start: int, by: bytes, refs: bytes, text: bytes) -> None:
        """Count in a tap that names a bath: what the bath holds now counts, not what is added to it later."""
        named = self._named_in(refs)
        bath = self._known(named["bath"])
        if not bath["poured"]:
            self.take(start, opened(text, self._week, start))
            return
        self.take_tap(start, by, refs)
        cycle = self._cycle_seq(named["cycle"]) if named.get("cycle") else 0
        keys = [("bath", named["bath"]), ("bath", bath["label"]), *(("lot", lot) for lot in bath["lots"])]
        self._touch_all(keys, cycle, (start,))

    def take(self, start: int, line: dict[str, Any]) -> None:
        """Count in any line."""
        cycle = self._cycle(line)
        # A failing strip is part of the story of every cycle that it holds.
        held = {self._cycle_seq(one["cycle"]): one["scope"] for one in line["data"].get("holds", ())}
        for one in {cycle, *held} - {0}:
            self._cycles.setdefault(one, []).append(start)
        for one, scope in held.items():
            self._touched.setdefault(("scope", scope), (set(), []))[0].add(one)
        self._touch_all(set(self._keys(line)), cycle, (start,))

    def _named_in(self, refs: bytes) -> dict[str, str]:
        named = self._refs.get(refs)
        if named is None:
            named = self._refs[refs] = json.loads(refs)
        return named

    def _take_alike(self, by: str, refs: dict[str, str], starts: list[int]) -> None:
        """Count in lines by who gave them, their cycle with its scope and case, and a lot."""
        cycle = self._cycle_seq(refs["cycle"]) if refs.get("cycle") else 0
        if cycle:
            self._cycles.setdefault(cycle, []).extend(starts)
        named = [("person", by), *((kind, refs.get(kind, "")) for kind in ("scope", "case", "lot"))]
        self._touch_all(named, cycle, starts)

    def _touch_all(self, named: Iterable[tuple[str, str]], cycle: int, starts: Sequence[int]) -> None:
        for kind, key in named:
            if key:
                cycles, lines = self._touched.setdefault((kind, key), (set(), []))
                if cycle:
                    cycles.add(cycle)
                else:
                    lines.extend(starts)

    def _cycle(self, line: dict[str, Any]) -> int:
        name = line["refs"].get("cycle", "")
        if line["kind"] in BEGINNINGS:
            name = event_id(line["device"], line["seq"])
            self._received.add(line["seq"])
        return self._cycle_seq(name) if name else 0

    def _cycle_seq(self, cycle: str) -> int:
        seq = seq_of(cycle)
        self._ids[seq] = cycle
        return seq

    def _keys(self, line: dict[str, Any]) -> Iterator[tuple[str, str]]:
        refs, data = line["refs"], line["data"]
        if line["by"] and line["kind"] != "boot":
            yield "person", line["by"]
        if line["kind"] in _OF_PEOPLE:
            yield "person", line["subject"]
        for kind in ("scope", "case"):
            if refs.get(kind):
                yield kind, refs[kind]
        lots = [refs.get("lot"), data.get("bath_lot"), data.get("strip_lot"), data.get("strips")]
        if line["kind"] in _OF_STRIPS:
            lots.append(line["subject"])
        yield from (("lot", lot) for lot in lots if lot and isinstance(lot, str))
        uid = refs.get("bath", "")
        if line["kind"] == "pour-bath":
            uid = event_id(line["device"], line["seq"])
        if uid:
            bath = self._bath(uid, line)
            yield "bath", uid
            yield from (("lot", lot) for lot in bath["lots"])
            if bath["label"]:
                yield "bath", bath["label"]

    def _known(self, uid: str) -> dict[str, Any]:
        bath = self._baths.get(uid)
        if bath is None:
            found = self._store.get(row_key("b", uid))
            bath = self._baths[uid] = found or {"label": "", "lots": [], "poured": False}
        return bath

    def _bath(self, uid: str, line: dict[str, Any]) -> dict[str, Any]:
        bath = self._known(uid)
        if line["kind"] == "pour-bath":
            bath["poured"] = True
        lot = line["refs"].get("lot")
        poured = line["kind"] in ("pour-bath", "top-up")
        label = line["subject"] if poured else line["data"].get("bath") or bath["label"]
        if isinstance(label, str) and label != bath["label"]:
            bath["label"] = label
            self._changed.add(uid)
        if poured and lot and lot not in bath["lots"]:
            bath["lots"].append(lot)
            self._changed.add(uid)
        return bath

    def flush(self) -> None:
        """Promise that all that was taken is in the rows."""
        for (by, refs), starts in self._alike.items():
            self._take_alike(json.loads(by), self._named_in(refs), starts)
        store, week = self._store, self._week
        for seq, offsets in self._cycles.items():
            key = row_key("c", seq)
            row = None if seq in self._received else store.get(key)
            fresh = row is None
            row = row or {"id": self._ids[seq], "at": {}}
            row["at"].setdefault(week, []).extend(sorted(offsets))
            store.put(key, row, fresh)
        for (kind, name), (cycles, lines) in self._touched.items():
            self._touch(row_key("k", kind, name), cycles, sorted(lines))
        for uid in self._changed:
            key = row_key("b", uid)
            store.put(key, self._baths[uid], store.get(key) is None)

    def _touch(self, key: str, cycles: set[int], lines: list[int]) -> None:
        store, week = self._store, self._week
        row = store.get(key)
        if row is not None and row["week"] == week:
            known = sorted(cycles.union(row["cycles"]))
            store.put(key, {**row, "cycles": known, "lines": row["lines"] + lines}, False)
            return
        if row is None:
            store.note(key)
        else:
            store.put(row_key(key, row["week"]), row, True)
        before = row["week"] if row is not None else ""
        store.put(key, {"week": week, "before": before, "cycles": sorted(cycles), "lines": lines}, row is None)
