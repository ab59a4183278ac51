"""The pages of Watch, Ledger, Send and Setup, as the shell makes them. Each is imported when it is first shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any

from data.disk import Disk
from screens.setup.preferences import Preferences

if TYPE_CHECKING:
    from screens.page import Page
    from screens.send.sending import Sending
    from screens.shell import Shell

_PAGES = {
    "watch": ("screens.watch.watch", "WatchPage"),
    "watch-week": ("screens.watch.week", "WeekPage"),
    "ledger": ("screens.ledger.ledger", "LedgerPage"),
    "cycle": ("screens.ledger.cycle", "CyclePage"),
    "send": ("screens.send.send", "SendPage"),
    "look-back": ("screens.ledger.lookback", "LookBackPage"),
    "setup": ("screens.setup.setup", "SetupPage"),
    "setup-people": ("screens.setup.lists", "PeoplePage"),
    "setup-person": ("screens.setup.people", "PersonPage"),
    "setup-scopes": ("screens.setup.lists", "ScopesPage"),
    "setup-scope": ("screens.setup.scopes", "ScopePage"),
    "setup-baths": ("screens.setup.lists", "BathsPage"),
    "setup-bath": ("screens.setup.baths", "BathPage"),
    "setup-strips": ("screens.setup.strips", "StripsPage"),
    "setup-strip": ("screens.setup.strips", "StripPage"),
    "setup-containers": ("screens.setup.containers", "ContainersPage"),
    "setup-container": ("screens.setup.containers", "ContainerPage"),
    "setup-chemistries": ("screens.setup.chemistries", "ChemistriesPage"),
    "setup-claim": ("screens.setup.chemistries", "ClaimPage"),
    "setup-confirm": ("screens.setup.confirming", "ConfirmPage"),
    "setup-limits": ("screens.setup.limits", "LimitsPage"),
    "setup-limit": ("screens.setup.limits", "LimitPage"),
    "setup-dilute": ("screens.setup.dilute", "DilutePage"),
    "setup-unit": ("screens.setup.unit", "UnitPage"),
    "scope": ("screens.scope.scope", "ScopePage"),
    "scope-ended": ("screens.scope.forms", "EndedPage"),
    "scope-fault": ("screens.scope.forms", "FaultPage"),
    "scope-return": ("screens.scope.forms", "ReturnPage"),
    "handover": ("screens.handover.handover", "HandoverPage"),
    "upkeep": ("screens.setup.upkeep", "UpkeepPage"),
    "upkeep-competency": ("screens.setup.upkeep", "CompetencyPage"),
    "upkeep-filter": ("screens.setup.upkeep", "FilterPage"),
    "upkeep-culture": ("screens.setup.upkeep", "CulturePage"),
    "setup-weeks": ("screens.setup.weeks", "WeeksPage"),
    "setup-handheld": ("screens.setup.handheld", "HandheldPage"),
    "setup-sounds": ("screens.setup.sounds", "SoundsPage"),
    "setup-practice": ("screens.practice.pages", "PracticeStart"),
}


def lead_pages(
    disk: Disk, apply: Callable[[Preferences], None], sending: Sending
) -> Mapping[str, Callable[[Shell], Page]]:
    """Promise the maker of each page by its key.

    `disk` is the home, for the ledger's files and this handheld's preferences; `apply` follows a change of those, and
    may build the shell anew. `sending` outlives the shell: it holds what goes on, and passwords.
    """
    needs: dict[str, tuple[Any, ...]] = {
        "ledger": (disk,), "cycle": (disk,), "look-back": (disk,), "setup-handheld": (disk, apply),
        "send": (sending,), "watch": (sending,), "watch-week": (disk,), "handover": (disk,), "setup-weeks": (sending,),
    }  # fmt: skip
    return {key: _maker(*where, *needs.get(key, ())) for key, where in _PAGES.items()}


def _maker(module: str, name: str, *more: Any) -> Callable[[Shell], Page]:
    def make(shell: Shell) -> Page:
        page: Page = getattr(import_module(module), name)(shell, *more)
        return page

    return make
