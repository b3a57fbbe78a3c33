"""Batches: changes that were made together and can be undone together; and what the first steps remember."""

import sqlalchemy as sa
from alembic import op

revision = "0008_batches"
down_revision = "0007_log"
branch_labels = None
depends_on = None

HOUSE = ("steps_hidden", "holds_demo")


def upgrade() -> None:
    """Create the table, and let each entry of the history say to which batch it belongs."""
    op.create_table(
        "batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.Double(), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("what", sa.String(length=80), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("undone_at", sa.Double(), nullable=True),
        sa.Column("undone_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_batch_account_id_account"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["undone_by_id"], ["account.id"], name=op.f("fk_batch_undone_by_id_account"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sqlite_autoincrement=True,
    )
    for column in ("account_id", "digest", "undone_by_id"):
        op.create_index(op.f(f"ix_batch_{column}"), "batch", [column])
    op.add_column("history", sa.Column("batch_id", sa.Integer(), nullable=True))
    op.create_index(op.f("ix_history_batch_id"), "history", ["batch_id"])
    for name in HOUSE:
        op.add_column("house", sa.Column(name, sa.Boolean(), nullable=False, server_default=sa.false()))


def downgrade() -> None:
    """Forget which changes were made together; the changes themselves stay."""
    for name in reversed(HOUSE):
        op.drop_column("house", name)
    op.drop_index(op.f("ix_history_batch_id"), "history")
    op.drop_column("history", "batch_id")
    op.drop_table("batch")
