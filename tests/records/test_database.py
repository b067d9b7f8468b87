"""The database is what the migrations make of it, and only this program's."""

from __future__ import annotations

import re
import sqlite3
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from colophony.errors import StudioError
from colophony.records import database, tables
from colophony.records.domain import Student
from colophony.records.studio import DATABASE_NAME, Studio
from studio_samples import NAME, NOON, add_consented, make_findings


def run(path: Path, statement: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection, connection:
        return connection.execute(statement).fetchall()


def test_the_migrations_build_exactly_the_tables(studio: Studio) -> None:
    """Alembic's autogenerate finds nothing to add, drop or change, constraints' names included."""
    engine = create_engine(f"sqlite:///{studio.folder / DATABASE_NAME}")
    try:
        with engine.connect() as connection:
            context = MigrationContext.configure(
                connection, opts={"compare_type": True, "compare_server_default": True}
            )
            assert compare_metadata(context, tables.metadata) == []
            fresh = create_engine("sqlite://")
            tables.metadata.create_all(fresh)
            with fresh.connect() as model:
                assert _statements(connection.connection) == _statements(model.connection)
            fresh.dispose()
    finally:
        engine.dispose()


def _statements(connection: object) -> dict[str, list[str]]:
    rows = connection.cursor().execute(  # type: ignore[attr-defined]
        "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name != 'alembic_version'"
    )
    return {
        name: sorted(part.strip() for part in _parts(sql) if part.strip())
        for name, sql in rows
        if not name.startswith("sqlite_")
    }


def _parts(sql: str) -> list[str]:
    """Return columns and constraints; SQLite writes an added column on the last line, behind a comma."""
    return re.split(r"\n|,(?![^(]*\))", sql[: sql.rindex(")")])


def test_the_newest_migration_is_the_one_the_program_knows() -> None:
    scripts = ScriptDirectory.from_config(database._alembic_config())
    assert scripts.get_current_head() == database.HEAD


def test_every_connection_is_set_for_safety(studio: Studio) -> None:
    """https://www.sqlite.org/pragma.html: synchronous 2 is FULL, secure_delete 1 is ON."""
    with studio._database.reading() as connection:
        values = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "secure_delete", "busy_timeout")
        }
    assert values == {
        "journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "secure_delete": 1, "busy_timeout": 5000,
    }  # fmt: skip


def test_a_studio_of_a_newer_program_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    folder = tmp_path / "studio"
    with Studio.open(folder) as studio:
        add_consented(studio)
    run(folder / DATABASE_NAME, "UPDATE alembic_version SET version_num = '9999'")
    before = (folder / DATABASE_NAME).read_bytes()
    with pytest.raises(StudioError, match=r"newer Colophony .database 9999.*update Colophony"):
        Studio.open(folder)
    assert (folder / DATABASE_NAME).read_bytes() == before


@pytest.mark.parametrize("content", [b"this is no database at all, only text" * 300, None])
def test_what_is_no_studio_is_refused_and_left_as_it_is(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / DATABASE_NAME
    if content is None:
        run(path, "CREATE TABLE recipes (name TEXT)")
    else:
        path.write_bytes(content)
    before = path.read_bytes()
    with pytest.raises(StudioError, match=r"damaged|no studio") as caught:
        Studio.open(tmp_path)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == before


def test_a_folder_that_holds_other_things_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear")
    with pytest.raises(StudioError, match=r"letter.txt.*choose an empty folder"):
        Studio.open(tmp_path)
    with pytest.raises(StudioError, match="is a file"):
        Studio.open(tmp_path / "letter.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_folder_name_with_odd_characters_works(tmp_path: Path) -> None:
    for name in ("100% Übung", "a?b#c", "file:x", "it's"):
        with Studio.open(tmp_path / name) as studio:
            add_consented(studio)
        with Studio.open(tmp_path / name) as studio:
            assert studio.find_student(NAME).minor


def test_a_migration_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "_loose_rows", lambda connection: ["a row that belongs to nothing"])
    with pytest.raises(StudioError, match="damaged"):
        Studio.open(tmp_path / "studio")
    assert run(tmp_path / "studio" / DATABASE_NAME, "SELECT name FROM sqlite_master") == []
    monkeypatch.undo()
    with Studio.open(tmp_path / "studio") as studio:
        assert studio.students() == []


def test_a_writer_waits_for_another_that_is_done_soon(
    studio: Studio, student: Student, recording: Path
) -> None:
    held = threading.Event()

    def hold() -> None:
        with closing(sqlite3.connect(studio.folder / DATABASE_NAME, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            held.set()
            time.sleep(0.5)
            other.execute("COMMIT")

    thread = threading.Thread(target=hold)
    thread.start()
    held.wait()
    assert studio.file_take(student.id, recording, make_findings(), taken_at=NOON).status == "heard"
    thread.join()


def test_a_writer_that_never_ends_is_named_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_S", 0.1)
    with Studio.open(tmp_path / "studio") as studio:
        with closing(sqlite3.connect(studio.folder / DATABASE_NAME, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(StudioError, match="another program has been writing"):
                studio.add_student("Anna", instrument="violin", minor=True)
            assert studio.students() == []  # reading goes on
            other.execute("ROLLBACK")
        studio.add_student("Anna", instrument="violin", minor=True)
