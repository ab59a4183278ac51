"""Choosing where weeks go: a folder found or typed, or a WebDAV server; its certificate, name and password."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from data.destinations import Credentials
from data.send_found import certificate_files, folders
from data.send_place import Place
from protocols.errors import BasinbellError
from screens.background import Background
from screens.desk import Told
from screens.posting import on_screen
from screens.send.sending import Sending
from screens.send.typing import AnyTextPage
from screens.setup.choosing import ChoosePage, Option
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_PICK, _FOLDER, _SERVER, _TYPE, _SYSTEM = "\0pick", "\0folder", "\0server", "\0type", "\0system"


class Where:
    """Asks the questions one after the other and hands the answers to the sending; `done` follows each."""

    def __init__(
        self, shell: Shell, sending: Sending, done: Callable[[], None], find: Callable[[], list[str]] = folders
    ) -> None:
        self._shell, self._sending, self._done, self._find = shell, sending, done, find
        # Looking at mount points may hang where a share is gone: never on the screen's thread.
        self.background = Background("folders", on_screen)

    def place(self) -> None:
        """Ask where weeks are to go."""
        self.background.run(self._find, self._here(self._offer_places))

    def _here(self, then: Callable[[list[str]], None]) -> Callable[[Any], None]:
        """Go on with the paths found, unless the person has left the page meanwhile: looking may take long."""

        def found(answer: Any) -> None:
            page = self._shell.page
            if page is not None and page.key == "send":
                then(answer if isinstance(answer, list) else [])

        return found

    def _offer_places(self, found: list[str]) -> None:
        options = [Option(path, path) for path in found]
        if self._shell.pick_folder is not None:
            options.insert(0, Option(_PICK, say("send.pick_folder"), say("send.pick_folder.under")))
        options.append(Option(_FOLDER, say("send.type_folder")))
        options.append(Option(_SERVER, say("send.type_server"), say("send.type_server.under")))
        self._shell.over(ChoosePage(self._shell, say("send.found"), options, self._placed))

    def _placed(self, key: str) -> None:
        if key == _PICK and self._shell.pick_folder is not None:
            answer = self._shell.pick_folder(self._take)
            if not answer:
                self._shell.tell(Told(False, say(answer.why), rule="send-place"))
        elif key == _FOLDER:
            self._type(say("send.folder"), self._take, "/")
        elif key == _SERVER:
            self._type(say("send.server"), self._take, "https://")
        else:
            self._take(key)

    def _type(self, words: str, then: Callable[[str], None], start: str = "", secret: bool = False) -> None:
        self._shell.over(AnyTextPage(self._shell, words, then, start, secret))

    def _take(self, to: str) -> None:
        try:
            self._sending.go_to(Place(to))
        except BasinbellError as error:
            self._shell.tell(Told(False, say("send.not_kept", why=error), rule="send-place"))
        self._done()

    def certificate(self) -> None:
        """Ask which certificates are trusted for the server."""
        self.background.run(lambda: certificate_files(self._find()), self._here(self._offer_certificates))

    def _offer_certificates(self, found: list[str]) -> None:
        options = [Option(path, path) for path in found]
        options += [Option(_TYPE, say("send.type_certificate")), Option(_SYSTEM, say("send.system_certificates"))]
        self._shell.over(ChoosePage(self._shell, say("send.which_certificate"), options, self._certified))

    def _certified(self, key: str) -> None:
        if key == _TYPE:
            self._type(say("send.certificate_file"), self._trust, "/")
        else:
            self._trust("" if key == _SYSTEM else key)

    def _trust(self, file: str) -> None:
        try:
            self._sending.trust(file)
        except BasinbellError as error:
            self._shell.tell(Told(False, say("send.not_kept", why=error), rule="send-place"))
        self._done()

    def others(self) -> None:
        """Ask where the exports of the unit's other handhelds lie."""
        self.background.run(self._find, self._here(self._offer_others))

    def _offer_others(self, found: list[str]) -> None:
        options = [Option(_SYSTEM, say("others.choose.same"))]
        options += [Option(path, path) for path in found]
        options.append(Option(_TYPE, say("others.type")))
        self._shell.over(ChoosePage(self._shell, say("others.which"), options, self._seen_from))

    def _seen_from(self, key: str) -> None:
        if key == _TYPE:
            self._type(say("others.folder"), self._see, "/")
        else:
            self._see("" if key == _SYSTEM else key)

    def _see(self, folder: str) -> None:
        try:
            self._sending.way.see_others_from(folder)
        except BasinbellError as error:
            self._shell.tell(Told(False, say("send.not_kept", why=error), rule="send-place"))
        self._done()

    def sign_in(self) -> None:
        """Ask for name and password; they go to the sending's memory and nowhere else."""
        self._type(say("send.user", server=self._sending.way.place.to.removeprefix("https://")), self._named)

    def _named(self, user: str) -> None:
        def typed(password: str) -> None:
            self._sending.sign_in(Credentials(user, password))
            self._done()

        self._type(say("send.password", user=user), typed, secret=True)
