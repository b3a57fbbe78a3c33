"""Dealt trays, their cells, and where they stand."""

import sqlalchemy as sa
from alembic import op

revision = "0003_trays"
down_revision = "0002_station_record"
branch_labels = None
depends_on = None

# Two stays clash when they share a day; for the two rules, what else they share and what is refused.
RULES = {
    "position": ("shelf_id = NEW.shelf_id AND level = NEW.level AND slot = NEW.slot", "the position is taken"),
    "tray": ("tray_id = NEW.tray_id", "the tray stands elsewhere"),
}


def upgrade() -> None:
    """Create the tables, and what keeps two trays off one position and one tray off two."""
    op.create_table(
        "tray",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("sow_on", sa.Date(), nullable=False),
        sa.Column("potted_on", sa.Boolean(), nullable=False),
        sa.Column("pinned", sa.Boolean(), nullable=False),
        sa.CheckConstraint("number > 0", name=op.f("ck_tray_number_positive")),
        sa.ForeignKeyConstraint(["container_id"], ["container.id"], name=op.f("fk_tray_container_id_container")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tray")),
        sa.UniqueConstraint("number", name=op.f("uq_tray_number")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_tray_container_id"), "tray", ["container_id"])
    op.create_table(
        "cell",
        sa.Column("tray_id", sa.Integer(), nullable=False),
        sa.Column("row_number", sa.Integer(), nullable=False),
        sa.Column("column_number", sa.Integer(), nullable=False),
        sa.Column("sowing_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.CheckConstraint("row_number > 0 AND column_number > 0", name=op.f("ck_cell_in_grid")),
        sa.CheckConstraint("state = 'empty' OR sowing_id IS NOT NULL", name=op.f("ck_cell_content_has_sowing")),
        sa.CheckConstraint("state IN ('empty', 'sown', 'up', 'potted on', 'out', 'lost')", name=op.f("ck_cell_state")),
        sa.ForeignKeyConstraint(["tray_id"], ["tray.id"], name=op.f("fk_cell_tray_id_tray"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["sowing_id"], ["sowing.id"], name=op.f("fk_cell_sowing_id_sowing")),
        sa.PrimaryKeyConstraint("tray_id", "row_number", "column_number", name=op.f("pk_cell")),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_cell_sowing_id", "cell", ["sowing_id", "tray_id", "state"])
    op.create_table(
        "stay",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tray_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(length=20), nullable=False),
        sa.Column("shelf_id", sa.Integer(), nullable=True),
        sa.Column("level", sa.Integer(), nullable=True),
        sa.Column("slot", sa.Integer(), nullable=True),
        sa.Column("begin_on", sa.Date(), nullable=False),
        sa.Column("end_on", sa.Date(), nullable=False),
        sa.Column("pinned", sa.Boolean(), nullable=False),
        sa.CheckConstraint("end_on > begin_on", name=op.f("ck_stay_lasts_a_day")),
        sa.CheckConstraint(
            "(shelf_id IS NULL) = (level IS NULL) AND (shelf_id IS NULL) = (slot IS NULL)",
            name=op.f("ck_stay_whole_position"),
        ),
        sa.CheckConstraint("level > 0 AND slot > 0", name=op.f("ck_stay_position_counts_from_1")),
        sa.CheckConstraint("NOT pinned OR shelf_id IS NOT NULL", name=op.f("ck_stay_pin_has_position")),
        sa.CheckConstraint("place IN ('heat', 'lamp', 'window', 'hardening')", name=op.f("ck_stay_place")),
        sa.ForeignKeyConstraint(["tray_id"], ["tray.id"], name=op.f("fk_stay_tray_id_tray"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["shelf_id"], ["shelf.id"], name=op.f("fk_stay_shelf_id_shelf")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stay")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_stay_tray_id"), "stay", ["tray_id"])
    op.create_index("ix_stay_position", "stay", ["shelf_id", "level", "slot"])
    if op.get_bind().dialect.name == "sqlite":
        _refuse_by_triggers()
    else:
        _refuse_by_exclusion()


def _refuse_by_triggers() -> None:
    """SQLite has one writer at a time, so that a look at the other rows is enough."""
    for rule, (shared, message) in RULES.items():
        for event in ("INSERT", "UPDATE"):
            op.execute(
                f"""
                CREATE TRIGGER stay_{rule}_once_{event.lower()} BEFORE {event} ON stay
                WHEN EXISTS (
                    SELECT 1 FROM stay
                    WHERE {shared} AND begin_on < NEW.end_on AND end_on > NEW.begin_on AND id IS NOT NEW.id
                )
                BEGIN SELECT RAISE(ABORT, '{message}'); END
                """  # noqa: S608 - nothing in it comes from outside this file
            )


def _refuse_by_exclusion() -> None:
    """Stretches of one long line of numbers, days within slots within levels within shelves: no extension is needed."""
    slot = "((shelf_id::numeric * 1000 + level) * 1000000 + slot)"
    for rule, owner, column in (("position", slot, "shelf_id"), ("tray", "tray_id::numeric", "tray_id")):
        begin, end = (f"{owner} * 10000000 + ({day} - DATE '0001-01-01')" for day in ("begin_on", "end_on"))
        op.execute(
            f"ALTER TABLE stay ADD CONSTRAINT ex_stay_{rule}_once "
            f"EXCLUDE USING gist (numrange({begin}, {end}) WITH &&) "
            f"WHERE ({column} IS NOT NULL)"  # a stretch from NULL to NULL would be the whole line
        )


def downgrade() -> None:
    """Drop the tables, with the triggers and constraints that are theirs."""
    for table in ("stay", "cell", "tray"):
        op.drop_table(table)
