"""People: accounts and what lets them in, the history of changes, sent forms, and what is set for the house."""

import sqlalchemy as sa
from alembic import op

revision = "0006_people"
down_revision = "0005_levelling"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "failed_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failed_try")),
    )
    op.create_index(op.f("ix_failed_try_subject"), "failed_try", ["subject"])
    op.create_table(
        "form_key",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("body", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.String(length=500), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_form_key")),
    )
    op.create_index(op.f("ix_form_key_made_at"), "form_key", ["made_at"])
    op.create_table(
        "house",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("open_to_visitors", sa.Boolean(), nullable=False),
        sa.Column("wifi_name", sa.String(length=80), nullable=True),
        sa.Column("wifi_passphrase", sa.String(length=80), nullable=True),
        sa.Column("keep_days", sa.Integer(), nullable=False),
        sa.Column("keep_weeks", sa.Integer(), nullable=False),
        sa.Column("keep_months", sa.Integer(), nullable=False),
        sa.Column("second_folder", sa.String(length=500), nullable=True),
        sa.Column("mail_host", sa.String(length=200), nullable=True),
        sa.Column("mail_port", sa.Integer(), nullable=True),
        sa.Column("mail_security", sa.String(length=20), nullable=True),
        sa.Column("mail_user", sa.String(length=200), nullable=True),
        sa.Column("mail_passphrase", sa.String(length=200), nullable=True),
        sa.Column("mail_from", sa.String(length=200), nullable=True),
        sa.CheckConstraint("mail_port BETWEEN 1 AND 65535", name=op.f("ck_house_mail_port_is_port")),
        sa.CheckConstraint("mail_security IN ('tls', 'starttls', 'none')", name=op.f("ck_house_mail_security")),
        sa.CheckConstraint("id = 1", name=op.f("ck_house_one_row")),
        sa.CheckConstraint("keep_days > 0 AND keep_weeks >= 0 AND keep_months >= 0", name=op.f("ck_house_keeps_some")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_house")),
    )
    op.create_table(
        "last_number",
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("kind", name=op.f("pk_last_number")),
    )
    op.create_table(
        "account",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("name_key", sa.String(length=160), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=True),
        sa.Column("passphrase", sa.String(length=200), nullable=True),
        sa.Column("pin", sa.String(length=200), nullable=True),
        sa.Column("language", sa.String(length=8), nullable=True),
        sa.Column("email", sa.String(length=200), nullable=True),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_account_grower_id_grower"), ondelete="SET NULL"
        ),
        sa.CheckConstraint("role IN ('coordinator', 'member')", name=op.f("ck_account_role")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("name_key", name=op.f("uq_account_name_key")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_account_grower_id"), "account", ["grower_id"])
    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.Double(), nullable=False),
        sa.Column("via", sa.String(length=20), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("noun", sa.String(length=40), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=True),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_history_account_id_account"), ondelete="SET NULL"
        ),
        sa.CheckConstraint("via IN ('page', 'bench', 'command', 'program')", name=op.f("ck_history_via")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_history_account_id"), "history", ["account_id"])
    op.create_index(op.f("ix_history_at"), "history", ["at"])
    op.create_index("ix_history_noun_subject", "history", ["noun", "subject_id"])
    op.create_table(
        "sign_in",
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("is_bench", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("seen_at", sa.Double(), nullable=False),
        sa.Column("expires_at", sa.Double(), nullable=False),
        sa.Column("acting_until", sa.Double(), nullable=True),
        sa.Column("device", sa.String(length=80), nullable=True),
        sa.CheckConstraint("is_bench OR account_id IS NOT NULL", name=op.f("ck_sign_in_of_somebody")),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_sign_in_account_id_account"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_sign_in")),
    )
    op.create_index(op.f("ix_sign_in_account_id"), "sign_in", ["account_id"])
    op.create_table(
        "slip",
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("expires_at", sa.Double(), nullable=False),
        sa.Column("used_at", sa.Double(), nullable=True),
        sa.CheckConstraint("(kind = 'first') = (account_id IS NULL)", name=op.f("ck_slip_first_is_nobodys")),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_slip_account_id_account"), ondelete="CASCADE"
        ),
        sa.CheckConstraint("kind IN ('first', 'invitation', 'reset')", name=op.f("ck_slip_kind")),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_slip")),
    )
    op.create_index(op.f("ix_slip_account_id"), "slip", ["account_id"])


def downgrade() -> None:
    """Drop the tables."""
    for table in ("slip", "sign_in", "history", "account", "last_number", "house", "form_key", "failed_try"):
        op.drop_table(table)
