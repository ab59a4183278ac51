"""A PostgreSQL server of the moment, from Debian's package `postgresql`, on loopback and never as root."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ACCOUNT = "postgres"


def programs() -> Path | None:
    """Promise the folder with initdb and pg_ctl, or None where there is no PostgreSQL."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    initdb = shutil.which("initdb")
    return Path(initdb).parent if initdb else None


@contextmanager
def server(bin_folder: Path) -> Iterator[str]:
    """Promise the address of an empty database on loopback, gone afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="basinbell-pg-"))
    as_root = os.geteuid() == 0
    if as_root:  # the server refuses to run as root
        account = pwd.getpwnam(ACCOUNT)
        os.chown(folder, account.pw_uid, account.pw_gid)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]

    def run(*command: str) -> None:
        who = {"user": ACCOUNT, "group": ACCOUNT, "extra_groups": []} if as_root else {}
        log = folder / "run.log"
        with log.open("ab") as out:
            done = subprocess.run(command, stdout=out, stderr=out, stdin=subprocess.DEVNULL, cwd=folder, **who)  # type: ignore[call-overload]
        if done.returncode:
            raise RuntimeError(f"{command[0]} failed: {log.read_text(errors='replace')[-2000:]}")

    data = str(folder / "data")
    try:
        run(
            str(bin_folder / "initdb"),
            "-D",
            data,
            "-A",
            "trust",
            "-U",
            ACCOUNT,
            "-E",
            "UTF8",
            "--no-locale",
            "--no-sync",
        )
        options = f"-p {port} -c listen_addresses=127.0.0.1 -k {folder} -c max_wal_size=4GB"
        run(str(bin_folder / "pg_ctl"), "-D", data, "-o", options, "-w", "-l", str(folder / "server.log"), "start")
        try:
            yield f"postgresql://{ACCOUNT}@127.0.0.1:{port}/postgres"
        finally:
            run(str(bin_folder / "pg_ctl"), "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
