"""A destination in memory, for tests that send and purge without files."""

from __future__ import annotations


class MemoryPlace:
    """Files by path, as a stick or a share would keep them."""

    def __init__(self, label: str = "the share") -> None:
        self.label = label
        self.files: dict[str, bytes] = {}

    def read(self, path: str, bytes_max: int) -> bytes | None:
        content = self.files.get(path)
        return None if content is None else content[: bytes_max + 1]

    def write(self, path: str, content: bytes) -> None:
        self.files[path] = content

    def make_folder(self, path: str) -> None:
        """A path is a name here."""

    def rename(self, path: str, new: str) -> None:
        for name in [name for name in self.files if name.startswith(f"{path}/")]:
            self.files[new + name[len(path) :]] = self.files.pop(name)

    def remove(self, path: str) -> None:
        for name in [name for name in self.files if name.startswith(f"{path}/")]:
            del self.files[name]

    def close(self) -> None:
        """Nothing is held open."""
