"""Practice: age groups, own exercises, plans, results of exercises, marks of reference takes."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add a column and four tables; what is there stays as it is."""
    # Not as a batch: that would make the table anew and forget which numbers were given already.
    op.add_column("students", sa.Column("age_group", sa.String(length=20), nullable=True))
    op.create_table(
        "marks",
        sa.Column("take_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["take_id"], ["takes.id"], name=op.f("fk_marks_take_id_takes"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("take_id", name=op.f("pk_marks")),
    )
    op.create_table(
        "exercises",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=100), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exercises")),
        sa.UniqueConstraint("key", name=op.f("uq_exercises_key")),
    )
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_plans_student_id_students"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plans_student_id"), ["student_id"], unique=False)

    op.create_table(
        "passes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("exercise", sa.String(length=100), nullable=False),
        sa.Column("take_id", sa.Integer(), nullable=True),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("passed_strokes", sa.Integer(), nullable=False),
        sa.Column("asked_strokes", sa.Integer(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name=op.f("fk_passes_student_id_students"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["take_id"], ["takes.id"], name=op.f("fk_passes_take_id_takes"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_passes")),
        sa.UniqueConstraint("take_id", "exercise", name=op.f("uq_passes_take_id_exercise")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("passes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_passes_student_id"), ["student_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_passes_take_id"), ["take_id"], unique=False)
