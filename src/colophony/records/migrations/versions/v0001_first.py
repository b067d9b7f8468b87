"""The first form of the studio's database."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "students",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("name_key", sa.String(length=400), nullable=False),
        sa.Column("minor", sa.Boolean(), nullable=False),
        sa.Column("reader", sa.String(length=10), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_students")),
        sa.UniqueConstraint("name_key", name=op.f("uq_students_name_key")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "erasures",
        sa.Column("token", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_erasures")),
    )
    op.create_table(
        "consents",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("given_by", sa.String(length=200), nullable=False),
        sa.Column("relation", sa.String(length=200), nullable=False),
        sa.Column("given_on", sa.Date(), nullable=False),
        sa.Column("keep_sound", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("withdrawn_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_consents_student_id_students"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consents")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("consents", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_consents_student_id"), ["student_id"], unique=False)

    op.create_table(
        "instruments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("size", sa.String(length=10), nullable=False),
        sa.Column("strings", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["students.id"],
            name=op.f("fk_instruments_student_id_students"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instruments")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("instruments", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_instruments_student_id"), ["student_id"], unique=False)

    op.create_table(
        "takes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("original_name", sa.String(length=1000), nullable=False),
        sa.Column("sound_kept", sa.Boolean(), nullable=False),
        sa.Column("taken_at", sa.DateTime(), nullable=False),
        sa.Column("purpose", sa.String(length=10), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.CheckConstraint("purpose IN ('practice', 'reference')", name=op.f("ck_takes_purpose")),
        sa.ForeignKeyConstraint(
            ["instrument_id"],
            ["instruments.id"],
            name=op.f("fk_takes_instrument_id_instruments"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_takes_student_id_students"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_takes")),
        sa.UniqueConstraint("student_id", "sha256", name=op.f("uq_takes_student_id_sha256")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("takes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_takes_instrument_id"), ["instrument_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_takes_sha256"), ["sha256"], unique=False)

    op.create_table(
        "findings",
        sa.Column("take_id", sa.Integer(), nullable=False),
        sa.Column("heard_at", sa.DateTime(), nullable=False),
        sa.Column("program", sa.String(length=40), nullable=False),
        sa.Column("file", sa.String(length=1000), nullable=False),
        sa.Column("duration_s", sa.Float(), nullable=False),
        sa.Column("a4_hz", sa.Float(), nullable=False),
        sa.Column("instrument", sa.String(length=10), nullable=True),
        sa.Column("clean_share", sa.Float(), nullable=True),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("track", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(
            ["take_id"], ["takes.id"], name=op.f("fk_findings_take_id_takes"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("take_id", name=op.f("pk_findings")),
    )
    op.create_table(
        "strokes",
        sa.Column("take_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("start_s", sa.Float(), nullable=False),
        sa.Column("end_s", sa.Float(), nullable=False),
        sa.Column("note", sa.String(length=10), nullable=True),
        sa.Column("frequency_hz", sa.Float(), nullable=True),
        sa.Column("cents", sa.Float(), nullable=True),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("confidence", sa.Float(), nullable=False),
        sa.Column("bow", sa.String(length=10), nullable=True),
        sa.Column("reversal", sa.Boolean(), nullable=False),
        sa.Column("harmonicity_db", sa.Float(), nullable=True),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("advice", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["take_id"], ["findings.take_id"], name=op.f("fk_strokes_take_id_findings"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("take_id", "position", name=op.f("pk_strokes")),
    )
    with op.batch_alter_table("strokes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_strokes_state"), ["state"], unique=False)
