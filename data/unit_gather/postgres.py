"""Gathering into PostgreSQL, for a hospital or a group: needs psycopg 3 (the extra `unit`), loaded only here.

Everything lies in the schema `basinbell`, made and brought up to date by the files in `migrations/`. An export goes in
with one transaction or not at all. Its tables are handed to COPY as they were signed, a handheld's columns put before
every row, so a column here is named as in the CSV.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from data.exporters.bath_tests import BATH_COLUMNS, TEST_COLUMNS
from data.exporters.csv_text import Column
from data.exporters.csv_week import EVENT_COLUMNS
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.exporters.manifest import ExportRefused, Manifest
from data.unit_gather.conflicts import QUERY
from data.unit_gather.folder import rank
from data.unit_gather.follows import Told, fits, line_marks, told
from data.unit_gather.found import TABLES, Export
from data.unit_gather.tables import split_header, unguarded, with_columns
from protocols.errors import CommandFault, DeviceError

SCHEMA = "basinbell"
MIGRATIONS = Path(__file__).parent / "migrations"
# Columns that a handheld's export does not have, in this order before its own.
OWN_COLUMNS = {
    "cycles.csv": ("source", "unit"), "events.csv": ("source", "week"), "baths.csv": ("source", "unit", "week"),
    "tests.csv": ("source", "unit", "week"),
}  # fmt: skip
_CSV_COLUMNS: dict[str, tuple[Column[Any], ...]] = {
    "cycles.csv": CYCLE_COLUMNS, "events.csv": EVENT_COLUMNS, "baths.csv": BATH_COLUMNS, "tests.csv": TEST_COLUMNS,
}  # fmt: skip
_TYPES = {"text": "text", "number": "double precision", "yes/no": "boolean"}
# Any number of our own; whoever gathers holds it, so that two at once don't mix.
_LOCK = 0x62_61_73_69
_CHUNK = 1 << 20


class UnitDatabaseError(DeviceError):
    """The database did not do what was asked; what was taken before stays."""


class PostgresUnit:
    """A PostgreSQL database as the place where a unit's exports come together."""

    def __init__(self, address: str) -> None:
        """Promise a connection and the schema as this version needs it.

        Raises CommandFault for an address with a password in it, or without psycopg; UnitDatabaseError.
        """
        self._base = _connect(address)
        with self._failing("bringing the tables up to date"):
            self._migrate()
            self._known_columns = self._columns()
            self._base.rollback()

    def knows(self, export: Export) -> bool:
        """Promise whether this very export was taken before."""
        with self._failing("looking for a week"):
            known = {row[0] for row in self._of_week(export)}
            self._base.rollback()
        return export.manifest.digest in known

    def take(self, export: Export, checked: Mapping[str, bytes]) -> str:
        """Promise that the export is counted in; gives "taken", "known" or "superseded".

        `checked` is what `require_whole` gave of it. Raises ExportRefused for one that the database can't hold; then
        nothing of it went in.
        """
        manifest = export.manifest
        tables = {name: self._table(name, checked[name], export) for name in TABLES}
        with self._failing(f"taking {export.source} {manifest.week}"), self._base.transaction():
            self._base.execute("SELECT pg_advisory_xact_lock(%s)", (_LOCK,))
            rows = self._of_week(export)
            if manifest.digest in {row[0] for row in rows}:
                return "known"
            better = all(rank(manifest) > (row[1].closed, row[1].through, row[0]) for row in rows)
            if not better:
                _, shown, marks = next(row for row in rows if row[2] is not None)
                self._insert(export.source, manifest, False, fits(told(manifest), shown, marks or b""), None)
                return "superseded"
            marks = line_marks(checked)
            if rows:
                self._supersede(export, rows, marks)
            self._insert(export.source, manifest, True, True, marks)
            for name in TABLES:
                self._copy(name, *tables[name])
        return "taken"

    def finish(self) -> list[tuple[str | None, ...]]:
        """Promise the conflicts as the view of that name has them, in an order that depends on nothing else."""
        with self._failing("listing conflicts"):
            rows = self._base.execute("SELECT * FROM conflicts ORDER BY 1, 2, 7, 3, 4, 5, 6, 8").fetchall()
            self._base.rollback()
        return [tuple(None if cell is None else str(cell) for cell in row) for row in rows]

    def close(self) -> None:
        self._base.close()

    def _of_week(self, export: Export) -> list[tuple[str, Told, bytes | None]]:
        select = "SELECT manifest, closed, through, head, first_seq, line_marks FROM exports"
        rows = self._base.execute(
            f"{select} WHERE source = %s AND week = %s", (export.source, export.manifest.week)
        ).fetchall()
        return [(digest, Told(*said), marks) for digest, *said, marks in rows]

    def _table(self, name: str, content: bytes, export: Export) -> tuple[list[str], bytes]:
        columns, rows = split_header(content)
        unknown = [column for column in columns if column not in self._known_columns[name]]
        if unknown:
            raise ExportRefused(f"{name} has the column {unknown[0]}, which this version does not know; gather it with "
                                "the version that wrote it")  # fmt: skip
        own = {"source": export.source, "unit": export.manifest.unit, "week": export.manifest.week}
        before = [column for column in OWN_COLUMNS[name] if column not in columns]
        return [*before, *columns], with_columns(unguarded(rows), [own[column] for column in before])

    def _copy(self, name: str, columns: list[str], rows: bytes) -> None:
        from psycopg import sql

        statement = sql.SQL("COPY {} ({}) FROM STDIN (FORMAT csv)").format(
            sql.Identifier(name.removesuffix(".csv")), sql.SQL(", ").join(map(sql.Identifier, columns))
        )
        with self._base.cursor().copy(statement) as copy:
            for start in range(0, len(rows), _CHUNK):
                copy.write(rows[start : start + _CHUNK])

    def _supersede(self, export: Export, rows: list[tuple[str, Told, bytes | None]], marks: bytes) -> None:
        """Takes the rows of the export that was shown out, and says of each earlier one whether it fits to this."""
        key = (export.source, export.manifest.week)
        for name in ("cycles", "events", "baths", "tests"):
            self._base.execute(f"DELETE FROM {name} WHERE source = %s AND week = %s", key)
        for digest, said, _ in rows:
            self._base.execute(
                "UPDATE exports SET shown = false, line_marks = NULL, fits = %s"
                " WHERE source = %s AND week = %s AND manifest = %s",
                (fits(said, told(export.manifest), marks), *key, digest),
            )

    def _insert(self, source: str, said: Manifest, shown: bool, fits_: bool, marks: bytes | None) -> None:
        row = (
            source, said.week, said.digest, said.device, said.key, said.unit, said.closed, said.through, said.head,
            said.first_seq, said.before, said.at, said.counts.get("cycles", 0), shown, fits_, marks,
        )  # fmt: skip
        places = ", ".join(["%s"] * len(row))
        self._base.execute(f"INSERT INTO exports VALUES ({places})", row)

    def _migrate(self) -> None:
        with self._base.transaction():
            self._base.execute("SELECT pg_advisory_xact_lock(%s)", (_LOCK,))
            self._base.execute(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}")
            self._base.execute("CREATE TABLE IF NOT EXISTS migrations (name text PRIMARY KEY)")
            done = {name for (name,) in self._base.execute("SELECT name FROM migrations").fetchall()}
            ours = sorted(MIGRATIONS.glob("*.sql"))
            newer = sorted(done - {path.name for path in ours})
            if newer:
                raise CommandFault(f"the database has {newer[0]} of a newer Basinbell; gather with that version")
            for path in ours:
                if path.name not in done:
                    self._base.execute(path.read_bytes())
                    self._base.execute("INSERT INTO migrations VALUES (%s)", (path.name,))
            self._add_columns()
            self._base.execute(f"CREATE OR REPLACE VIEW conflicts AS {QUERY}".encode())

    def _add_columns(self) -> None:
        """Adds what this version's exports have and the tables do not: a new column needs no migration of its own."""
        from psycopg import sql

        known = self._columns()
        for name, columns in _CSV_COLUMNS.items():
            for column in columns:
                if column.name not in known[name]:
                    self._base.execute(sql.SQL("ALTER TABLE {} ADD COLUMN {} {}").format(
                        sql.Identifier(name.removesuffix(".csv")), sql.Identifier(column.name),
                        sql.SQL(_TYPES[column.kind]),
                    ))  # fmt: skip

    def _columns(self) -> dict[str, set[str]]:
        rows = self._base.execute(
            "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = %s", (SCHEMA,)
        ).fetchall()
        return {name: {column for table, column in rows if f"{table}.csv" == name} for name in TABLES}

    @contextmanager
    def _failing(self, doing: str) -> Iterator[None]:
        import psycopg

        try:
            yield
        except (psycopg.DataError, psycopg.IntegrityError) as error:
            raise ExportRefused(f"the database can't hold it ({_first_line(error)})") from error
        except psycopg.Error as error:
            raise UnitDatabaseError(
                f"{doing} failed: {_first_line(error)}; gather again when that is mended"
            ) from error


def _connect(address: str) -> Any:
    try:
        import psycopg
        from psycopg.conninfo import conninfo_to_dict, make_conninfo
    except ImportError as error:
        raise CommandFault("gathering into PostgreSQL needs psycopg 3: install the extra `unit`") from error
    try:
        said: dict[str, Any] = dict(conninfo_to_dict(address))
    except psycopg.Error as error:
        raise CommandFault("the database's address can't be read; write it like postgresql://user@host/name") from error
    if said.get("password"):
        raise CommandFault("the address holds a password; leave it out, and give it in PGPASSWORD or in ~/.pgpass")
    host = str(said.get("host") or os.environ.get("PGHOST") or "")
    if host and not host.startswith("/") and host not in ("localhost", "127.0.0.1", "::1"):
        # Over a network the server must prove who it is, unless the address says otherwise.
        said.setdefault("sslmode", os.environ.get("PGSSLMODE") or "verify-full")
    try:
        said["options"] = f"-c search_path={SCHEMA} -c client_encoding=UTF8"
        return psycopg.connect(make_conninfo(**said))
    except psycopg.Error as error:
        raise UnitDatabaseError(f"the database can't be reached: {_first_line(error)}") from error


def _first_line(error: Exception) -> str:
    return next(iter(str(error).strip().splitlines()), type(error).__name__)
