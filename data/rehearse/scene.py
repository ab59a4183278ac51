"""The invented unit of a rehearsal: its people, scopes and baths. No person, hospital or maker in it is real."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from protocols.clock import FakeClock, local_date, parse_date, parse_wall
from protocols.errors import Defect
from protocols.event import Command, Event
from protocols.unit import Unit

START = "2026-11-25T07:30:00+01:00"
FIRST_DAY = parse_date(START[:10])
ZONE = "Europe/Berlin"
LEAD, TECHNICIAN = "mira", "joss"
CLAIM = "opa-055-20c"
# The bottle of strips in use, and what its strips show.
STRIPS, STRIP_TYPE = "STRIP-07", "OPA 0.3 %"

# Tag letter, protocol, procedure, weight. Numbers skip so that spoken tags stay apart.
KINDS = (
    ("B", "bronchoscope-1", "bronchoscopy"),
    ("G", "gastroscope", "gastroscopy"),
    ("C", "colonoscope-aux", "colonoscopy"),
    ("D", "duodenoscope", "ERCP"),
    ("U", "ultrasound-endoscope", "endoscopic ultrasound"),
    ("L", "laryngoscope", "laryngoscopy"),
)
ORDER = (0, 1, 2, 0, 3, 1, 2, 4, 0, 5, 1, 2)


@dataclass(frozen=True)
class Place:
    """One scope of the scene: its tag, protocol and the procedure it comes from."""

    tag: str
    protocol: str
    procedure: str


def places(count: int) -> list[Place]:
    """Promise that many scopes, the families mixed as in a general unit."""
    made: list[Place] = []
    for i in range(count):
        letter, protocol, procedure = KINDS[ORDER[i % len(ORDER)]]
        made.append(Place(f"{letter}{i + 2}", protocol, procedure))
    return made


def scene_clock() -> FakeClock:
    """Promise the clock of a rehearsal, at the start of its shift."""
    return FakeClock(parse_wall(START), boot="rehearsal-1")


def opening(unit: Unit, scopes: list[Place], today: date = FIRST_DAY) -> list[Command]:
    """Promise the commands that set an empty unit up: settings, people, protocols, scopes, a bottle of strips."""
    if unit.people:
        raise Defect("the scene opens only in an empty unit")
    used = dict.fromkeys(p.protocol for p in scopes)
    return [
        Command("set-unit", "unit", {"name": "Alder Row endoscopy bench", "zone": ZONE}, LEAD),
        Command("add-person", LEAD, {"name": "Mira", "role": "lead"}, LEAD),
        Command("add-person", TECHNICIAN, {"name": "Joss", "role": "technician"}, LEAD),
        *(Command("adopt-protocol", name, {}, LEAD) for name in used),
        *(
            Command(
                "add-scope", p.tag, {"protocol": p.protocol, "model": f"demo {p.tag[0]}", "serial": f"S-{i:04d}"}, LEAD
            )
            for i, p in enumerate(scopes, 101)
        ),
        *strip_bottle(STRIPS, today),
    ]


def strip_bottle(label: str, today: date, by: str = LEAD) -> list[Command]:
    """Promise the registration of an invented bottle of strips for the scene's baths, and the control of its lot."""
    values = {
        "type": STRIP_TYPE,
        "opened": today.isoformat(),
        "expires": (today + timedelta(days=730)).isoformat(),
        "opened_d": 365,
    }
    return [
        Command("register-strips", label, values, by),
        Command("strip-control", label, {"positive": 3, "negative": 3}, by),
    ]


def fresh_bath(kind: str, label: str, lot: int, now_wall_ms: int, by: str = TECHNICIAN) -> Command:
    """Promise the pouring of a bath from an invented lot, opened yesterday and good for a year."""
    today = local_date(now_wall_ms, ZONE)
    values = {
        "kind": kind,
        "lot": f"LOT-{lot:04d}",
        "expires": (today + timedelta(days=365)).isoformat(),
        "opened": (today - timedelta(days=1)).isoformat(),
    }
    if kind == "disinfectant":
        values["claim"] = CLAIM
    return Command("pour-bath", label, values, by)


def must(answer: object) -> Event:
    """Promise the event of a command that the scene relies on; Defect when it was refused."""
    if not isinstance(answer, Event):
        raise Defect(f"the scene was refused: {answer}")
    return answer
