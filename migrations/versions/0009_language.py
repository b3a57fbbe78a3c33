"""The garden's language: that of sheets which many read."""

import sqlalchemy as sa
from alembic import op

revision = "0009_language"
down_revision = "0008_batches"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; every garden so far has spoken English."""
    op.add_column("garden", sa.Column("language", sa.String(length=8), nullable=False, server_default="en"))


def downgrade() -> None:
    """Drop the column."""
    op.drop_column("garden", "language")
