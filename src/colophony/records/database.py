"""The studio's SQLite file: opening, bringing up to date, reading, writing, leaving no traces.

Write-ahead log, full synchronisation, foreign keys on, deleted content overwritten, five seconds of
patience with another program that writes. See https://www.sqlite.org/pragma.html.
"""

from __future__ import annotations

import errno
import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from colophony.errors import StudioError
from colophony.language import _

#: The newest migration; a test compares it with the files.
HEAD = "0002"
BUSY_TIMEOUT_S = 5.0
_MIGRATIONS = Path(__file__).with_name("migrations")


class Database:
    """One SQLite file, up to date; safe to share between threads."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = _make_engine(path)

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one state of the database throughout."""
        with plain_errors(self.path.parent), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the only connection that writes; everything in the block is kept, or nothing."""
        with plain_errors(self.path.parent), _write(self._engine) as connection:
            yield connection

    def scrub(self) -> bool:
        """Rewrite the file without what was deleted; false while another program keeps the old one."""
        with plain_errors(self.path.parent):
            connection = self._engine.raw_connection()
            try:
                cursor = connection.cursor()
                cursor.execute("VACUUM")
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                row = cursor.fetchone()
                cursor.close()
                return row is not None and row[0] == 0
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
                    return False
                raise
            finally:
                connection.close()

    def copy_to(self, path: Path) -> None:
        """Write a consistent copy to a new file with SQLite's online backup."""
        with (
            plain_errors(self.path.parent),
            closing(sqlite3.connect(self.path, timeout=BUSY_TIMEOUT_S)) as source,
            closing(sqlite3.connect(path)) as target,
        ):
            source.backup(target)
            target.execute("PRAGMA journal_mode=DELETE")

    def faults(self) -> list[str]:
        """Return what SQLite's own checks find wrong; empty when the file is sound."""
        with plain_errors(self.path.parent), closing(sqlite3.connect(self.path)) as connection:
            found = [row[0] for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
            found += [
                _("row {row} of {table} belongs to nothing").format(row=row[1], table=row[0])
                for row in _loose_rows(connection)
            ]
            return found


def bring_up_to_date(path: Path) -> None:
    """Create or migrate the database; the caller holds the studio's opening lock.

    Either every migration is applied or none. Raises `StudioError`, leaving the file as it is, when it is
    damaged, is no studio, or was made by a newer version of the program.
    """
    with plain_errors(path.parent):
        if not path.exists():
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY | os.O_EXCL, 0o600))
        version = read_version(path)
        if version == HEAD:
            return
        if version is not None and version not in _known_versions():
            raise StudioError(
                _(
                    "the studio in {path} was last opened by a newer Colophony (database {version}, this "
                    "program knows {known}): update Colophony; nothing was changed"
                ).format(path=path.parent, version=version, known=HEAD)
            )
        _migrate(path)


def read_version(path: Path) -> str | None:
    """Return the database's migration, None for an empty file. Raises `StudioError` when it is no studio."""
    with plain_errors(path.parent), closing(sqlite3.connect(path, timeout=BUSY_TIMEOUT_S)) as connection:
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not names:
            return None
        rows = (
            connection.execute("SELECT version_num FROM alembic_version").fetchall()
            if "alembic_version" in names
            else []
        )
    if len(rows) != 1:
        raise StudioError(
            _("{path} is no studio's database: choose another folder; nothing was changed").format(path=path)
        )
    return str(rows[0][0])


@contextmanager
def plain_errors(folder: Path) -> Iterator[None]:
    """Turn what disk and database complain of into one line that says what to do."""
    try:
        yield
    except (OSError, sqlite3.Error) as error:
        raise StudioError(_in_words(error, folder)) from error
    except DBAPIError as error:
        raise StudioError(_in_words(error.orig or error, folder)) from error


def _in_words(error: BaseException, folder: Path) -> str:
    text = str(error)
    code = error.errno if isinstance(error, OSError) else None
    if code in (errno.ENOSPC, errno.EDQUOT) or "disk is full" in text:
        message = _("the disk that holds {path} is full: make room and do it again; nothing was lost")
    elif code in (errno.EACCES, errno.EROFS, errno.EPERM) or "readonly" in text or "unable to open" in text:
        message = _("{path} cannot be read or written: check its permissions, or choose another folder")
    elif "is locked" in text or "is busy" in text:
        message = _(
            "another program has been writing to the studio {path} for more than {seconds} s: wait a moment "
            "and do it again"
        )
    elif "malformed" in text or "not a database" in text:
        message = _("the database in {path} is damaged: restore a backup with colophony studio restore")
    else:
        message = _("{path} refuses: {reason}")
    return message.format(path=folder, seconds=f"{BUSY_TIMEOUT_S:.0f}", reason=" ".join(text.split()))


def _make_engine(path: Path, *, foreign_keys: bool = True) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={"timeout": BUSY_TIMEOUT_S, "check_same_thread": False},
        json_serializer=partial(json.dumps, ensure_ascii=True, separators=(",", ":")),
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, record: object) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself; `begin` below does
        for pragma in (
            "journal_mode=WAL",
            "synchronous=FULL",
            f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
            "secure_delete=ON",
            "temp_store=MEMORY",  # no copies of a child's data in a temporary folder
        ):
            connection.execute(f"PRAGMA {pragma}").close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer takes its turn at once: a reader that turns writer could not wait for another.
        writing = connection.get_execution_options().get("colophony_writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


@contextmanager
def _write(engine: Engine) -> Iterator[Connection]:
    with engine.connect() as connection:
        connection = connection.execution_options(colophony_writing=True)
        with connection.begin():
            yield connection


def _migrate(path: Path) -> None:
    from alembic import command

    # SQLite cannot change a column in place; a table is rebuilt, which foreign keys would take for deletion.
    engine = _make_engine(path, foreign_keys=False)
    try:
        with _write(engine) as connection:
            config = _alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, HEAD)
            if _loose_rows(connection.connection.driver_connection):
                raise StudioError(
                    _("the database in {path} is damaged: restore a backup").format(path=path.parent)
                )
    finally:
        engine.dispose()


def _alembic_config() -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    return config


def _known_versions() -> set[str]:
    from alembic.script import ScriptDirectory

    return {script.revision for script in ScriptDirectory.from_config(_alembic_config()).walk_revisions()}


def _loose_rows(connection: Any) -> list[Any]:
    return list(connection.execute("PRAGMA foreign_key_check").fetchall())
