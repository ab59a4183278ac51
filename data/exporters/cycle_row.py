"""One cycle's document flattened for a table: the last soak, its bath and strip, and lists as short text."""

from __future__ import annotations

from typing import Any

from data.exporters.csv_text import listed, number


class CycleRow:
    """A document of `data.cycles.summarise` with what the columns need picked out; parts that never were are {}."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.all = document
        way = document["disinfection"]
        soaks = way["soaks"]
        by_uid = {bath["uid"]: bath for bath in document["baths"]}
        # The last one: what stands at the end. Those before it show in `restarts`.
        self.soak: dict[str, Any] = soaks[-1] if soaks else {}
        self.bath: dict[str, Any] = by_uid.get(self.soak.get("bath_uid"), {})
        self.strip: dict[str, Any] = next((t for t in way["strip_tests"] if t["test"] == self.soak.get("test")), {})
        self.run: dict[str, Any] = way["runs"][-1] if way["runs"] else {}
        laid = document["detergent"]["baths"] or document["detergent"]["soaks"]
        self.laid: dict[str, Any] = laid[-1] if laid else {}
        self.detergent: dict[str, Any] = by_uid.get(self.laid.get("bath_uid"), {})
        self.leak: dict[str, Any] = document["leak_tests"][-1] if document["leak_tests"] else {}
        self.final_rinses = [r for r in document["rinses"] if r["stage"] == "final rinse"]

    def get(self, path: str) -> Any:
        """Promise the value at a path like "case.location"."""
        found: Any = self.all
        for name in path.split("."):
            found = found[name]
        return found


def flushes(row: CycleRow) -> str:
    return listed(
        f"{f['step']} {f['count']} of {f['of']}" + (f" x {number(f['volume_ml'])} mL" if f["volume_ml"] else "")
        for f in row.all["flushes"]
    )


def brushing(row: CycleRow) -> str:
    return listed(f"{b['step']} {b['passes']} ({b['with_debris']} with debris)" for b in row.all["brushing"])


def looks(row: CycleRow, name: str) -> str:
    return listed(f"{look['step']}: {', '.join(look['outcomes'])}" for look in row.all[name])


def leak_tests(row: CycleRow) -> str:
    return listed(
        f"{t['at']} {t['result']} ({t['outcome']}) by {t['by']}"
        + (f", corrected by {t['corrected_by']}: {t['corrected_why']}" if t["corrected_by"] else "")
        for t in row.all["leak_tests"]
    )


def readings(row: CycleRow) -> str:
    return listed(
        f"{r['method']} on {r['meter']}: {number(r['value'])} {r['unit']}, {r['verdict']} ({_limits(r['limit'])})"
        for r in row.all["verification"]
    )


def _limits(limit: dict[str, float]) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {number(value)}" for name, value in limit.items())


def detergent_soaks(row: CycleRow) -> str:
    return listed(
        f"{s['step']} in {s['bath']} (lot {s['bath_lot']}) at {_amount(s['temp_c'], '°C')}: "
        f"{_amount(s['contact_s'], 's')} of {number(s['required_s'])} s, {s['result'] or 'not ended'}"
        for s in row.all["detergent"]["soaks"]
    )


def _amount(value: float | None, unit: str) -> str:
    return "unknown" if value is None else f"{number(value)} {unit}"


def strip_tests(row: CycleRow) -> str:
    tests = row.all["disinfection"]["strip_tests"]
    return listed(f"{t['at']} {t['bath']}: {t['result']} (strip lot {t['strip_lot']}) by {t['by']}" for t in tests)


def lates(row: CycleRow) -> str:
    return listed(f"{x['what']} at {x['step']}: {number(x['over_s'])} s over" for x in row.all["lates"])


def restarts(row: CycleRow) -> str:
    return listed(
        f"{x['what']} at {x['step']} after {_amount(x['lasted_s'], 's')}" + (f": {x['reason']}" if x["reason"] else "")
        for x in row.all["restarts"]
    )


def holds(row: CycleRow) -> str:
    return listed(
        f"{h['why']}: " + (f"{h['decision']} by {h['decided_by']} ({h['reason']})" if h["decision"] else "not decided")
        for h in row.all["holds"]
    )


def notices(row: CycleRow) -> str:
    return listed(n["notice"] for n in row.all["notices"])


def skips(row: CycleRow) -> str:
    return listed(f"{s['step']} by {s['by']}: {s['reason']}" for s in row.all["skips"])


def notes(row: CycleRow) -> str:
    return listed(f"{n['what']} by {n['by']}: {n['text']}" for n in row.all["notes"])


def taken_back(row: CycleRow) -> str:
    return listed(f"{t['what']} at {t['step'] or 'receipt'} by {t['by']}" for t in row.all["taken_back"])


def water(row: CycleRow) -> str:
    grades = [grade for rinse in row.final_rinses for grade in rinse["water"]]
    return listed(dict.fromkeys(grades))


def alcohol_pct(row: CycleRow) -> float | None:
    strengths: list[float] = [a["alcohol_pct"] for a in row.all["alcohol"]]
    return strengths[-1] if strengths else None


def names(row: CycleRow) -> str:
    return listed(f"{person} = {name}" for person, name in row.all["people"]["names"].items())
