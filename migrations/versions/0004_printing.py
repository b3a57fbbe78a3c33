"""Printers, label stock, the address on paper, and which labels were made."""

import sqlalchemy as sa
from alembic import op

revision = "0004_printing"
down_revision = "0003_trays"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "printer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("offset_x_mm", sa.Double(), nullable=False),
        sa.Column("offset_y_mm", sa.Double(), nullable=False),
        sa.Column("scale_percent", sa.Double(), nullable=False),
        sa.Column("turned", sa.Boolean(), nullable=False),
        sa.CheckConstraint("scale_percent > 0", name=op.f("ck_printer_scale_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_printer")),
        sa.UniqueConstraint("name", name=op.f("uq_printer_name")),
    )
    op.create_table(
        "label_stock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("paper", sa.String(length=20), nullable=False),
        sa.Column("columns", sa.Integer(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("label_width_mm", sa.Double(), nullable=False),
        sa.Column("label_height_mm", sa.Double(), nullable=False),
        sa.Column("left_mm", sa.Double(), nullable=False),
        sa.Column("top_mm", sa.Double(), nullable=False),
        sa.Column("pitch_across_mm", sa.Double(), nullable=False),
        sa.Column("pitch_down_mm", sa.Double(), nullable=False),
        sa.Column("cut", sa.Boolean(), nullable=False),
        sa.CheckConstraint("columns > 0 AND rows > 0", name=op.f("ck_label_stock_has_labels")),
        sa.CheckConstraint("label_width_mm > 0 AND label_height_mm > 0", name=op.f("ck_label_stock_labels_have_size")),
        sa.CheckConstraint("left_mm >= 0 AND top_mm >= 0", name=op.f("ck_label_stock_margins_not_negative")),
        sa.CheckConstraint(
            "(columns = 1 OR pitch_across_mm >= label_width_mm) AND (rows = 1 OR pitch_down_mm >= label_height_mm)",
            name=op.f("ck_label_stock_labels_apart"),
        ),
        sa.CheckConstraint("paper IN ('a4', 'letter', 'label')", name=op.f("ck_label_stock_paper")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_label_stock")),
        sa.UniqueConstraint("name", name=op.f("uq_label_stock_name")),
    )
    op.create_table(
        "public_address",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("address", sa.String(length=200), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_public_address_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_public_address")),
    )
    op.create_table(
        "label_print",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("address", sa.String(length=200), nullable=True),
        sa.Column("contents", sa.String(length=64), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.CheckConstraint("number > 0", name=op.f("ck_label_print_number_positive")),
        sa.CheckConstraint("kind IN ('tray', 'stake', 'tag')", name=op.f("ck_label_print_kind")),
        sa.PrimaryKeyConstraint("number", "kind", name=op.f("pk_label_print")),
    )


def downgrade() -> None:
    """Drop the tables."""
    for table in ("label_print", "public_address", "label_stock", "printer"):
        op.drop_table(table)
