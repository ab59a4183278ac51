"""The page for handing over: the bench to another handheld by codes or files, and the shift to another person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from data.disk import Disk
from protocols.chunks import ChunkFault, Gathering, is_chunk
from protocols.errors import BasinbellError
from protocols.unit import Person
from screens.asking import WhoPage
from screens.desk import Told
from screens.handover import files
from screens.handover.codes import CodesPage
from screens.heading import Head
from screens.page import Page
from screens.setup.choosing import ChoosePage, Option
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class HandoverPage(Page):
    """What can be handed over now, and what another handheld has sent so far."""

    key = "handover"
    tab = "setup"

    def __init__(self, shell: Shell, disk: Disk) -> None:
        super().__init__(shell)
        self._disk = disk
        self._gathering = Gathering()
        self._said = Words("", bold=True)
        self._fault = Words("", role="over_text")
        self._how = Words(say("hand.how"), role="quiet")
        self._head = Head(say("hand.title"), back=shell.back)
        self._leaves = Leaves()
        self._buttons: dict[str, BigButton] = {}
        for widget in (self._head, self._leaves):
            self.add_widget(widget)

    def entered(self, **what: Any) -> None:
        """Take a code that was scanned on another page."""
        if what.get("chunk"):
            self.scanned(what["chunk"])

    def left(self) -> None:
        """What was said belongs to one visit; codes read so far stay."""
        self._said.text = ""

    def refresh(self) -> None:
        """Show what can be done now."""
        unit, device = self.desk.unit, self.desk.door.device
        self._head.set_words(say("hand.title"), say("hand.here", device=device))
        live = [c.scope for c in unit.cycles.values() if c.offer is None]
        open_here = [c.scope for c in unit.cycles.values() if c.offer is not None]
        shown = []
        if open_here:
            tags = ", ".join(sorted(open_here))
            shown += [self._button("show", say("hand.show", tags=tags), "", self._show_offers, "act"),
                      self._button("file", say("hand.file"), say("hand.file_under"), self._write)]  # fmt: skip
        if live and unit.peers:
            words = say("hand.bench", count=len(live))
            shown.append(self._button("bench", words, say("hand.bench_under"), self._ask_peer))
        if self._come():
            shown.append(self._button("read", say("hand.read"), say("hand.read_under"), self._ask_file))
        if len(unit.people) > 1:
            shown.append(self._button("shift", say("hand.shift"), say("hand.shift_under"), self._ask_incoming))
        peers = ", ".join(unit.peers) or say("setup.none")
        shown.append(self._button("key", say("hand.key"), say("hand.paired", peers=peers), self._show_key))
        told = [words for words in (self._said, self._fault) if words.text]
        self._leaves.show([*told, self._how, *shown])

    def _come(self) -> list[str]:
        """Which files another handheld may have left; why not, where that can't be seen."""
        try:
            found, self._fault.text = files.come(self._disk, self.desk.door), ""
        except BasinbellError as error:
            found, self._fault.text = [], say("hand.fault", why=error)
        return found

    def _button(self, name: str, words: str, under: str, press: Any, look: str = "plain") -> BigButton:
        button = self._buttons.get(name)
        if button is None:
            button = self._buttons[name] = BigButton("", small=True, look=look)
            button.bind(on_command=lambda *_: press())
        button.set_words(words, under)
        return button

    # --- codes and files

    def scanned(self, text: str) -> bool:
        """A code of another handheld is gathered; when nothing is missing, its packet is taken."""
        if not is_chunk(text):
            return False
        try:
            self._gathering.take(text)
            if self._gathering.missing:
                left = ", ".join(map(str, self._gathering.missing[:8]))
                self._tell(say("hand.missing", read=len(self._gathering.parts), of=self._gathering.count, left=left))
                return True
            packet, self._gathering = self._gathering.packet(), Gathering()
        except ChunkFault as fault:
            self._tell(say("hand.fault", why=fault))
            return True
        self._take(packet, by_code=True)
        return True

    def _take(self, packet: bytes, by_code: bool) -> None:
        key = files.key_in(packet)
        if key is not None:
            self._ask_pair(*key)
            return
        if not self.desk.by:
            self.shell.tell(Told(False, say("hand.nobody"), rule="not-signed-in"))
            return
        try:
            taken, answers = files.take(self.desk.door, self._disk, packet, self.desk.by)
        except BasinbellError as error:
            self._tell(say("hand.fault", why=error))
            return
        self._tell("\n".join(files.said(taken, self.desk.unit.name_of)))
        if answers is None:
            return
        if by_code:
            self.shell.over(CodesPage(self.shell, say("hand.answer"), files.codes(answers)))
        else:
            self._keep(answers, "answer")

    def _tell(self, words: str) -> None:
        self._said.text = words
        self._leaves.to_top()
        self.shell.look()

    def _show_offers(self) -> None:
        try:
            texts = files.codes(files.offers(self.desk.door, self._disk, False))
        except (BasinbellError, ChunkFault) as error:
            self._tell(say("hand.fault", why=error))
            return
        self.shell.over(CodesPage(self.shell, say("hand.show_how"), texts))

    def _write(self) -> None:
        try:
            self._keep(files.offers(self.desk.door, self._disk, True), "offer")
        except BasinbellError as error:
            self._tell(say("hand.fault", why=error))

    def _keep(self, packet: bytes, kind: str) -> None:
        door = self.desk.door
        try:
            path = files.write(self._disk, f"{door.device}-{door.unit.seq}.{kind}", packet)
            self._tell(say("hand.written", path=path))
        except BasinbellError as error:
            self._tell(say("hand.fault", why=error))

    def _ask_file(self) -> None:
        options = [Option(name, name) for name in self._come()]
        self.shell.over(ChoosePage(self.shell, say("hand.read"), options, self._read))

    def _read(self, name: str) -> None:
        try:
            packet = self._disk.read(f"{files.FOLDER}/{name}")
        except BasinbellError as error:
            self._tell(say("hand.fault", why=error))
            return
        self._take(packet, by_code=False)

    # --- to whom

    def _ask_peer(self) -> None:
        peers = [Option(peer.device, peer.device) for peer in self.desk.unit.peers.values()]
        self.shell.over(ChoosePage(self.shell, say("hand.bench_to"), peers, self._sure_bench))

    def _sure_bench(self, device: str) -> None:
        tags = sorted(c.scope for c in self.desk.unit.cycles.values() if c.offer is None)
        words = say("hand.bench_sure", tags=", ".join(tags), device=device)
        self.shell.confirm(words, say("hand.bench_yes", device=device), lambda: self._offer(tags, device))

    def _offer(self, tags: list[str], device: str) -> None:
        for tag in tags:
            if not self.shell.give("hand-over", tag, {"device": device}).done:
                return

    def _ask_pair(self, device: str, key: str) -> None:
        def pair(person: Person) -> None:
            # Eight figures are compared by eye on both screens: a key must not come by the way it protects.
            words = say("hand.pair_sure", device=device, key=key[:8])
            values = {"public_key": key}
            self.shell.confirm(
                words, say("hand.pair_yes"), lambda: self.shell.give("pair-handheld", device, values, by=person.id)
            )

        self.shell.over(WhoPage(self.shell, pair, leads=True, words=say("hand.pair_who", device=device)))

    def _show_key(self) -> None:
        try:
            packet = files.own_key(self.desk.door, self._disk)
        except BasinbellError as error:
            self._tell(say("hand.fault", why=error))
            return
        key = (files.key_in(packet) or ("", ""))[1]
        self.shell.over(CodesPage(self.shell, say("hand.key_how", key=key[:8]), files.codes(packet)))

    # --- the shift

    def _ask_incoming(self) -> None:
        def hand(person: Person) -> None:
            if self.shell.give("hand-shift", person.id).done:
                self.shell.go("watch")

        self.shell.over(WhoPage(self.shell, hand, words=say("hand.shift_who"), proof=False))
