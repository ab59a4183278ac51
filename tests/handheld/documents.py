"""The documents of a picked folder as Android tells of them, kept in a real folder.

Rules are those of the reference of DocumentsContract and DocumentsProvider: a document is known by an id, never by its
name; making one whose name is there already gives it another name; renaming works within its folder; deleting a
folder takes all in it; without the person's leave everything raises SecurityException.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

from tests.handheld.fake_android import SecurityException

TREE = "content://com.android.externalstorage.documents/tree/1A2B-3C4D%3ABasin"
FOLDER = "vnd.android.document/directory"


class FileNotFound(Exception):
    """What Java throws for a document that is gone."""


class Address(str):
    """An android.net.Uri."""

    def toString(self) -> str:
        return str(self)


class Documents:
    """The content resolver of one device with one picked folder, `root`. Ids are numbers, kept for good."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.allowed, self.full, self.renames, self.plain_names = True, False, True, True
        self.kept: list[tuple[str, int]] = []
        self.calls = 0
        self._ids: dict[str, Path] = {"root": root}

    def id_of(self, path: Path) -> str:
        known = next((one for one, kept in self._ids.items() if kept == path), None)
        if known is None:
            known = f"doc-{len(self._ids)}"
            self._ids[known] = path
        return known

    def path_of(self, document: str) -> Path:
        self.calls += 1
        if not self.allowed:
            raise SecurityException("Permission Denial: reading com.android.externalstorage")
        if not self.root.is_dir():
            raise FileNotFound("Missing root for 1A2B-3C4D")
        path = self._ids[document]
        if not path.exists():
            raise FileNotFound(f"Missing file for {document}")
        return path

    def moved(self, path: Path, new: Path) -> None:
        for one, kept in self._ids.items():
            if kept == path or path in kept.parents:
                self._ids[one] = new / kept.relative_to(path)

    # --- what the app calls

    def takePersistableUriPermission(self, address: str, flags: int) -> None:
        self.kept.append((str(address), flags))

    def query(self, children: str, columns: list[str], *rest: None) -> Rows:
        assert columns == ["document_id", "_display_name", "mime_type"]
        folder = self.path_of(children.removeprefix("children:"))
        return Rows([(self.id_of(x), x.name, FOLDER if x.is_dir() else "application/x") for x in folder.iterdir()])

    def openFileDescriptor(self, address: str, mode: str) -> Any:
        path = self.path_of(address.removeprefix("document:"))
        if "w" in mode and self.full:
            raise OSError(28, "No space left on device")
        flags = os.O_RDONLY if mode == "r" else os.O_WRONLY | (os.O_TRUNC if "t" in mode else 0)
        handle = os.open(path, flags)
        return type("ParcelFileDescriptor", (), {"detachFd": lambda self: handle})()


class Rows:
    """An android.database.Cursor."""

    def __init__(self, rows: list[tuple[str, str, str]]) -> None:
        self._rows, self._at = rows, -1

    def moveToNext(self) -> bool:
        self._at += 1
        return self._at < len(self._rows)

    def getString(self, column: int) -> str:
        return self._rows[self._at][column]

    def close(self) -> None:
        """Nothing is open."""


class DocumentsContract:
    """The static calls of android.provider.DocumentsContract."""

    @staticmethod
    def getTreeDocumentId(tree: str) -> str:
        assert str(tree) == TREE
        return "root"

    @staticmethod
    def buildDocumentUriUsingTree(tree: str, document: str) -> str:
        return f"document:{document}"

    @staticmethod
    def buildChildDocumentsUriUsingTree(tree: str, document: str) -> str:
        return f"children:{document}"

    @staticmethod
    def createDocument(documents: Documents, parent: str, kind: str, name: str) -> str:
        path = documents.path_of(parent.removeprefix("document:")) / name
        if documents.full:
            raise OSError(28, "No space left on device")
        if not documents.plain_names and kind != FOLDER:
            path = path.with_name(name + ".bin")
        while path.exists():
            path = path.with_name(path.name + " (1)")
        path.mkdir() if kind == FOLDER else path.touch()
        return f"document:{documents.id_of(path)}"

    @staticmethod
    def renameDocument(documents: Documents, document: str, name: str) -> str | None:
        path = documents.path_of(document.removeprefix("document:"))
        if documents.renames:
            path.rename(path.with_name(name))
            documents.moved(path, path.with_name(name))
        return None

    @staticmethod
    def deleteDocument(documents: Documents, document: str) -> bool:
        path = documents.path_of(document.removeprefix("document:"))
        shutil.rmtree(path) if path.is_dir() else path.unlink()
        return True
