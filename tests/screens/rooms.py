"""Every page of the app in its telling states, for tests that walk all of them. A page added later is walked by itself.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import gallery
import harness
import lead_scene
import stage
from kivy.core.window import Window
from reading import walk
from test_app_pictures import MADE, VISITS
from test_practice import Practising

from data.memory_disk import MemoryDisk
from protocols.errors import RecordDamaged
from screens.asking import WhoPage
from screens.bench.flow import Flow
from screens.handover.codes import CodesPage
from screens.offer import Pick
from screens.page import Page
from screens.practice.pages import PracticePage
from screens.send.typing import AnyTextPage
from screens.setup.choosing import ChoosePage, DatePage, Option
from screens.shell import Shell
from screens.steps.choosing import PickPage
from screens.trouble.app import trouble_shell
from screens.widgets.leaves import Leaves
from screens.wipe import WipePage
from screens.words import say

# Pages that the visits below show with what they need to be told.
_SHOWN_ELSEWHERE = ("bench", "steps", "receive", "cycle", "watch", "ledger")
_LEAVES_MOST = 12


def asking(kind: str) -> Callable[[stage.Stage], None]:
    """Give a visit to the typing page for a kind of value."""

    def show(app: stage.Stage) -> None:
        app.go("bench")
        app.shell.ask_text("Bath H1: which lot is on the label", kind, lambda value: None, "min")
        app.settle()

    return show


def over(make: Callable[[stage.Stage], Page]) -> Callable[[stage.Stage], None]:
    """Give a visit to a page that is put over the Bench."""

    def show(app: stage.Stage) -> None:
        app.go("bench")
        app.shell.over(make(app))
        app.settle()

    return show


def _places() -> list[Option]:
    server = Option("b", say("send.type_server"), say("send.type_server.under"))
    return [Option("a", "/media/memory-stick"), server]


_PICKS = (Pick("bath", "H1", "H1", True), Pick("bath", "H2", "H2", False, "its strip failed"))
KEYS = {f"type-{kind}": asking(kind) for kind in ("number", "tag", "text", "name", "pin")}
OVER = {
    "who": over(lambda app: WhoPage(app.shell, lambda who: None, words=say("bench.who"))),
    "who-leads": over(lambda app: WhoPage(app.shell, lambda who: None, leads=True)),
    "date": over(lambda app: DatePage(app.shell, say("lookback.ask.since"), lambda day: None, recent=True)),
    "choose": over(lambda app: ChoosePage(app.shell, say("send.found"), _places(), lambda key: None)),
    "address": over(lambda app: AnyTextPage(app.shell, say("send.server"), lambda text: None, "https://")),
    "password": over(lambda app: AnyTextPage(app.shell, say("send.password", user="U"), print, secret=True)),
    "wipe": over(lambda app: WipePage(app.shell)),
    "codes": over(lambda app: CodesPage(app.shell, say("hand.show_how"), ["BASINBELL " * 30, "2"])),
    "baths": over(lambda app: PickPage(app.shell, _PICKS, lambda *_: None)),
}


def bench_states(screen: harness.Screen) -> Iterator[str]:
    """Put each state of the demonstration's bench on the screen, every leaf of it, and give its name."""
    app = stage.bench(screen)
    for name, visit in {**VISITS, **KEYS, **OVER}.items():
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        visit(app)
        yield from _leaves(screen, name)
    keys = [key for key in app.shell._makers if key not in _SHOWN_ELSEWHERE]
    for key in keys:
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        app.go(key)
        yield from _leaves(screen, key)
    for name, make in MADE.items():
        make(screen)
        yield from _leaves(screen, name)


def lead_states(screen: harness.Screen) -> Iterator[str]:
    """Put each state of the lead's pages on the screen, every leaf of it, and give its name."""
    lead_scene.Shown(screen, lead_scene.busy(), "watch")
    yield from _leaves(screen, "watch-busy")
    shown = lead_scene.Shown(screen, lead_scene.two_cycles(late=True), "ledger")
    yield from _leaves(screen, "ledger-two")
    for _ in range(_LEAVES_MOST):
        if "C4" not in screen.texts():
            shown.page._leaves.turn()
            shown.settle()
    shown.tap("C4")
    yield from _leaves(screen, "cycle")
    shown = lead_scene.Shown(screen, lead_scene.Scene(empty=True), "setup")
    for key in (
        "setup", "watch", "ledger", "setup-people", "setup-scopes", "setup-baths", "setup-strips", "setup-containers",
        "setup-container", "setup-chemistries", "setup-limits", "setup-limit", "setup-dilute",
    ):  # fmt: skip
        shown.go(key)
        yield from _leaves(screen, f"{key}-first")
    for key in ("setup-claim", "setup-confirm"):
        shown.go(key, claim="glut-24-25c")
        yield from _leaves(screen, key)


def other_shells(screen: harness.Screen) -> Iterator[str]:
    """Put what has a shell of its own on the screen: practice with its bar, and a record that can't go on."""
    practice = Practising(screen)
    yield from _leaves(screen, "practice")
    practice.shell.over(PracticePage(practice.shell, practice.trainer))
    practice.settle()
    yield from _leaves(screen, "practice-pace")
    practice.go("receive")
    yield from _leaves(screen, "practice-receive")
    files = stage.bench(screen).disk.files
    shell = trouble_shell(MemoryDisk(dict(files)), RecordDamaged("journal/2026-W48.jsonl, line 7: it is bent"), "home")
    screen.show(shell)
    shell.go("bench")
    shell.page.background.finish()
    screen.frames(4)
    yield from _leaves(screen, "trouble")


def widget_states(screen: harness.Screen) -> Iterator[str]:
    """Put each page of the gallery on the screen."""
    for name, make in gallery.PAGES.items():
        screen.show(make())
        yield f"gallery-{name}"


def _leaves(screen: harness.Screen, name: str) -> Iterator[str]:
    """Lay the page out for every size that is walked, and turn every column that has leaves through all of them."""
    screen.first_look = True
    for size in screen.walked or (None,):
        if size is not None:
            _lay_out(screen, size)
        yield name
        screen.first_look = False
        for number in range(1, _LEAVES_MOST):
            if not any(_turn(widget) for widget in list(walk(screen.root))):
                break
            screen.frames(3)
            yield f"{name}, leaf {number + 1}"


def _lay_out(screen: harness.Screen, size: tuple[int, int]) -> None:
    if tuple(Window.size) != size:
        Window.size = size
        screen.frames(2)
        if isinstance(screen.root, Shell):
            screen.root.look()  # as the app does within a second of being turned
    for widget in list(walk(screen.root)):
        if isinstance(widget, Leaves | Flow):
            widget.to_top()
    screen.frames(3)


def _turn(widget: Any) -> bool:
    if isinstance(widget, Leaves) and widget.at + 1 < widget.count:
        widget.turn()
        return True
    if isinstance(widget, Flow) and widget.more > 0:
        widget.turn()
        return True
    return False
