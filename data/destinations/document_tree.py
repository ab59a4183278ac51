"""A folder that a person has picked on Android: on a stick, a card, or wherever another app offers one.

Apps see no such folder as files; they ask the system for each document in it (DocumentsContract, over pyjnius). The
address is the one that picking gave, content://..., and stays allowed until the person takes that back or the app is
removed. Not run on a device yet; tested against a stand-in.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import unquote

from data.destinations.errors import DeliveryError, DestinationAway
from data.disk import checked_path

SCHEME = "content://"
_FOLDER = "vnd.android.document/directory"  # DocumentsContract.Document.MIME_TYPE_DIR
_FILE = "application/octet-stream"  # for this kind a provider adds no ending to the name
_COLUMNS = ["document_id", "_display_name", "mime_type"]  # Document.COLUMN_DOCUMENT_ID and so on
Answer = TypeVar("Answer")


def shown(to: str) -> str:
    """Promise an address as a person may know it: the end of the picked folder's own address; others as they are."""
    return unquote(to.rsplit("/", 1)[-1]) if to.startswith(SCHEME) else to


class DocumentTreeDestination:
    """The documents under a picked folder, found by their names, one folder after the other."""

    def __init__(self, to: str) -> None:
        """Touch nothing yet: the bridge to Java is asked at the first need."""
        self._to = to

    @property
    def label(self) -> str:
        return self._to

    def names(self, path: str) -> list[str]:
        found = self._asked(f"looking into {path or 'it'}", lambda: self._listed(path))
        return sorted(name for name, _, _ in found)

    def read(self, path: str, bytes_max: int) -> bytes | None:
        def reading() -> bytes | None:
            document = self._found(path)
            if document is None or document[1]:
                return None
            with os.fdopen(self._opened(document[0], "r"), "rb") as file:
                return file.read(bytes_max + 1)

        return self._asked(f"reading {path}", reading)

    def write(self, path: str, content: bytes) -> None:
        def writing() -> None:
            document = self._found(path)
            made = document[0] if document is not None else self._made(path, _FILE)
            with os.fdopen(self._opened(made, "wt"), "wb") as file:  # t: what is there is cut off first
                file.write(content)
                file.flush()
                os.fsync(file.fileno())

        self._asked(f"writing {path}", writing)

    def make_folder(self, path: str) -> None:
        def making() -> None:
            parts = path.split("/")
            for length in range(1, len(parts) + 1):
                one = "/".join(parts[:length])
                if self._found(one) is None:
                    self._made(one, _FOLDER)

        self._asked(f"making {path}", making)

    def rename(self, path: str, new: str) -> None:
        def renaming() -> None:
            document = self._found(path)
            if document is None or self._found(new) is not None or _parent(path) != _parent(new):
                raise DeliveryError(f"{path} can't become {new}: it is missing, or something is there; send again")
            _contract().renameDocument(self._resolver(), self._address(document[0]), _name(new))
            if self._found(new) is None:
                raise DeliveryError(f"{shown(self._to)} can't rename folders; pick another, such as one on a stick")

        self._asked(f"renaming {path}", renaming)

    def remove(self, path: str) -> None:
        def removing() -> None:
            document = self._found(path)
            # A folder goes with all that is in it.
            if document is not None:
                _contract().deleteDocument(self._resolver(), self._address(document[0]))
                if self._found(path) is not None:
                    raise DeliveryError(f"{shown(self._to)} did not remove {path}; remove it there, then send again")

        self._asked(f"removing {path}", removing)

    def close(self) -> None:
        """Nothing is held open."""

    # --- the system's documents

    def _found(self, path: str) -> tuple[str, bool] | None:
        """Give the id of a document and whether it is a folder; None where there is none."""
        wanted = _name(checked_path(path))
        return next(((one, folder) for name, one, folder in self._listed(_parent(path)) if name == wanted), None)

    def _listed(self, path: str) -> list[tuple[str, str, bool]]:
        """Give name, id and whether it is a folder for everything directly in a folder; [] where that is missing."""
        folder = (_contract().getTreeDocumentId(self._tree()), True) if not path else self._found(path)
        if folder is None or not folder[1]:
            return []
        children = _contract().buildChildDocumentsUriUsingTree(self._tree(), folder[0])
        rows = self._resolver().query(children, _COLUMNS, None, None, None)
        if rows is None:
            raise DeliveryError("the folder's app does not answer")
        try:
            found = []
            while rows.moveToNext():
                found.append((str(rows.getString(1)), str(rows.getString(0)), rows.getString(2) == _FOLDER))
            return found
        finally:
            rows.close()

    def _made(self, path: str, kind: str) -> str:
        parent = _parent(path)
        above = self._found(parent) if parent else (_contract().getTreeDocumentId(self._tree()), True)
        if above is None:
            raise DeliveryError(f"{parent} is missing there; send again")
        made = _contract().createDocument(self._resolver(), self._address(above[0]), kind, _name(path))
        document = self._found(path)
        if made is None or document is None:
            raise DeliveryError(f"{shown(self._to)} did not keep the name {_name(path)}; pick another folder")
        return document[0]

    def _opened(self, document: str, mode: str) -> int:
        return int(self._resolver().openFileDescriptor(self._address(document), mode).detachFd())

    def _tree(self) -> Any:
        return _java("android.net.Uri").parse(self._to)

    def _address(self, document: str) -> Any:
        return _contract().buildDocumentUriUsingTree(self._tree(), document)

    @staticmethod
    def _resolver() -> Any:
        return _java("org.kivy.android.PythonActivity").mActivity.getContentResolver()

    def _asked(self, doing: str, action: Callable[[], Answer]) -> Answer:
        """Give what `action` gives; whatever the system or the folder's app raises becomes a DeliveryError."""
        try:
            return action()
        except DeliveryError:
            raise
        except Exception as error:
            what = " ".join(str(error).split())[:120]
            said = f"{doing} in {shown(self._to)} failed ({type(error).__name__}: {what})"
            if self._gone():
                raise DestinationAway(f"{said}; it is away or not allowed: plug it in, or pick it again") from error
            raise DeliveryError(f"{said}; free space there, send again, or pick another folder") from error

    def _gone(self) -> bool:
        try:
            self._listed("")
        except Exception:
            return True
        return False


def _java(name: str) -> Any:
    from jnius import autoclass

    return autoclass(name)


def _contract() -> Any:
    return _java("android.provider.DocumentsContract")


def _parent(path: str) -> str:
    return path.rpartition("/")[0]


def _name(path: str) -> str:
    return path.rpartition("/")[2]
