"""Levellings: the searches for a plan that fits, and what each would change."""

import sqlalchemy as sa
from alembic import op

revision = "0005_levelling"
down_revision = "0004_printing"
branch_labels = None
depends_on = None

PLACES = "('heat', 'lamp', 'window', 'hardening')"


def upgrade() -> None:
    """Create the tables; one levelling at most is running."""
    op.create_table(
        "levelling",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("started_at", sa.Double(), nullable=False),
        sa.Column("ended_at", sa.Double(), nullable=True),
        sa.Column("beat_at", sa.Double(), nullable=False),
        sa.Column("stop_wanted", sa.Boolean(), nullable=False),
        sa.Column("mark", sa.String(length=32), nullable=False),
        sa.Column("today", sa.Date(), nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=False),
        sa.Column("extra_place", sa.String(length=20), nullable=True),
        sa.Column("extra_positions", sa.Integer(), nullable=True),
        sa.Column("phase", sa.String(length=20), nullable=False),
        sa.Column("reached", sa.JSON(), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=True),
        sa.Column("changes", sa.Integer(), nullable=False),
        sa.Column("accepted", sa.Integer(), nullable=False),
        sa.Column("good_until", sa.Date(), nullable=True),
        sa.Column("fault", sa.String(length=500), nullable=True),
        sa.CheckConstraint("seconds > 0", name=op.f("ck_levelling_seconds_positive")),
        sa.CheckConstraint("(extra_place IS NULL) = (extra_positions IS NULL)", name=op.f("ck_levelling_whole_extra")),
        sa.CheckConstraint("extra_positions > 0", name=op.f("ck_levelling_extra_positive")),
        sa.CheckConstraint("(state = 'running') = (ended_at IS NULL)", name=op.f("ck_levelling_running_until_it_ends")),
        sa.CheckConstraint(
            "state IN ('running', 'finished', 'stopped', 'failed', 'accepted', 'taken back', 'thrown away')",
            name=op.f("ck_levelling_state"),
        ),
        sa.CheckConstraint(f"extra_place IN {PLACES}", name=op.f("ck_levelling_extra_place")),
        sa.CheckConstraint(
            "phase IN ('dates', 'share', 'plants', 'days', 'trays', 'extra', 'check')",
            name=op.f("ck_levelling_phase"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_levelling")),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "uq_levelling_running",
        "levelling",
        ["state"],
        unique=True,
        sqlite_where=sa.text("state = 'running'"),
        postgresql_where=sa.text("state = 'running'"),
    )
    lights = "('lamp', 'window')"
    op.create_table(
        "levelling_change",
        sa.Column("levelling_id", sa.Integer(), nullable=False),
        sa.Column("sowing_id", sa.Integer(), nullable=False),
        sa.Column("is_accepted", sa.Boolean(), nullable=False),
        sa.Column("sow_on_before", sa.Date(), nullable=True),
        sa.Column("sow_on_after", sa.Date(), nullable=True),
        sa.Column("light_before", sa.String(length=20), nullable=True),
        sa.Column("light_after", sa.String(length=20), nullable=True),
        sa.Column("placed_before", sa.Integer(), nullable=True),
        sa.Column("placed_after", sa.Integer(), nullable=True),
        sa.Column("wanted", sa.Integer(), nullable=False),
        sa.Column("day_before", sa.Date(), nullable=True),
        sa.Column("day_after", sa.Date(), nullable=True),
        sa.Column("place_before", sa.String(length=20), nullable=True),
        sa.Column("place_after", sa.String(length=20), nullable=True),
        sa.CheckConstraint(f"light_before IN {lights}", name=op.f("ck_levelling_change_light_before")),
        sa.CheckConstraint(f"light_after IN {lights}", name=op.f("ck_levelling_change_light_after")),
        sa.CheckConstraint(f"place_before IN {PLACES}", name=op.f("ck_levelling_change_place_before")),
        sa.CheckConstraint(f"place_after IN {PLACES}", name=op.f("ck_levelling_change_place_after")),
        sa.ForeignKeyConstraint(
            ["levelling_id"],
            ["levelling.id"],
            name=op.f("fk_levelling_change_levelling_id_levelling"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["sowing_id"], ["sowing.id"], name=op.f("fk_levelling_change_sowing_id_sowing"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("levelling_id", "sowing_id", name=op.f("pk_levelling_change")),
        sqlite_with_rowid=False,
    )
    op.create_index(op.f("ix_levelling_change_sowing_id"), "levelling_change", ["sowing_id"])


def downgrade() -> None:
    """Drop the tables."""
    op.drop_table("levelling_change")
    op.drop_table("levelling")
