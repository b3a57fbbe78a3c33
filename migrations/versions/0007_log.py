"""The log, ticks, tests of seed, care rounds, spare plants, feeds of dates, and letters."""

import sqlalchemy as sa
from alembic import op

revision = "0007_log"
down_revision = "0006_people"
branch_labels = None
depends_on = None


MAIL = ("mail_host", "mail_port", "mail_security", "mail_user", "mail_passphrase", "mail_from")


def upgrade() -> None:
    """Create the tables, and room for the mail server and for people's addresses."""
    with op.batch_alter_table("house") as house:
        for name, kind in zip(
            MAIL,
            (sa.String(200), sa.Integer(), sa.String(20), sa.String(200), sa.String(200), sa.String(200)),
            strict=True,
        ):
            house.add_column(sa.Column(name, kind, nullable=True))
        house.create_check_constraint(op.f("ck_house_mail_port_is_port"), "mail_port BETWEEN 1 AND 65535")
        house.create_check_constraint(op.f("ck_house_mail_security"), "mail_security IN ('tls', 'starttls', 'none')")
    op.add_column("account", sa.Column("email", sa.String(200), nullable=True))
    op.add_column("sowing", sa.Column("brings_seed", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.create_table(
        "draft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=False),
        sa.Column("crop_id", sa.Integer(), nullable=False),
        sa.Column("seed_lot_id", sa.Integer(), nullable=True),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("variety", sa.String(), nullable=True),
        sa.Column("days_to_maturity", sa.Integer(), nullable=True),
        sa.Column("priority", sa.Integer(), nullable=True),
        sa.Column("brings_seed", sa.Boolean(), nullable=False),
        sa.Column("got", sa.Integer(), nullable=True),
        sa.CheckConstraint("days_to_maturity > 0", name=op.f("ck_draft_days_to_maturity_positive")),
        sa.CheckConstraint("got >= 0", name=op.f("ck_draft_got_not_negative")),
        sa.CheckConstraint("plants > 0", name=op.f("ck_draft_plants_positive")),
        sa.CheckConstraint("priority BETWEEN 1 AND 3", name=op.f("ck_draft_priority_1_to_3")),
        sa.ForeignKeyConstraint(["crop_id"], ["crop.id"], name=op.f("fk_draft_crop_id_crop"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_draft_grower_id_grower"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["seed_lot_id"], ["seed_lot.id"], name=op.f("fk_draft_seed_lot_id_seed_lot"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_draft")),
        sqlite_autoincrement=True,
    )
    for column in ("crop_id", "grower_id", "seed_lot_id"):
        op.create_index(op.f(f"ix_draft_{column}"), "draft", [column])
    op.create_table(
        "feed_event",
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("uid", sa.String(length=36), nullable=False),
        sa.Column("scope", sa.String(length=40), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("summary", sa.String(length=300), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.Double(), nullable=False),
        sa.Column("is_cancelled", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_feed_event")),
        sa.UniqueConstraint("uid", name=op.f("uq_feed_event_uid")),
    )
    op.create_index(op.f("ix_feed_event_scope"), "feed_event", ["scope"])
    op.create_table(
        "care_round",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=True),
        sa.Column("is_offered", sa.Boolean(), nullable=False),
        sa.Column("is_swapped", sa.Boolean(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=True),
        sa.Column("done_by_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(length=500), nullable=True),
        sa.ForeignKeyConstraint(
            ["done_by_id"], ["grower.id"], name=op.f("fk_care_round_done_by_id_grower"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_care_round_grower_id_grower"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_care_round")),
        sa.UniqueConstraint("date", name=op.f("uq_care_round_date")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_care_round_done_by_id"), "care_round", ["done_by_id"])
    op.create_index(op.f("ix_care_round_grower_id"), "care_round", ["grower_id"])
    op.create_table(
        "feed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=False),
        sa.Column("whole_garden", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("fetched_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_feed_account_id_account"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_feed")),
        sa.UniqueConstraint("token", name=op.f("uq_feed_token")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_feed_account_id"), "feed", ["account_id"])
    op.create_table(
        "reminder",
        sa.Column("account_id", sa.Integer(), nullable=False),
        sa.Column("week", sa.String(length=8), nullable=False),
        sa.Column("sent_at", sa.Double(), nullable=True),
        sa.Column("fault", sa.String(length=500), nullable=True),
        sa.Column("retry_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_reminder_account_id_account"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("account_id", "week", name=op.f("pk_reminder")),
    )
    op.create_table(
        "spare_request",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=False),
        sa.Column("crop_id", sa.Integer(), nullable=False),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=True),
        sa.CheckConstraint("plants > 0", name=op.f("ck_spare_request_plants_positive")),
        sa.ForeignKeyConstraint(
            ["crop_id"], ["crop.id"], name=op.f("fk_spare_request_crop_id_crop"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_spare_request_grower_id_grower"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spare_request")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_spare_request_crop_id"), "spare_request", ["crop_id"])
    op.create_index(op.f("ix_spare_request_grower_id"), "spare_request", ["grower_id"])
    op.create_table(
        "seed_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("seed_lot_id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("tried", sa.Integer(), nullable=False),
        sa.Column("seeds_per_cell", sa.Double(), nullable=False),
        sa.Column("up", sa.Integer(), nullable=False),
        sa.Column("days", sa.Integer(), nullable=True),
        sa.CheckConstraint("days > 0", name=op.f("ck_seed_test_days_positive")),
        sa.CheckConstraint("tried > 0", name=op.f("ck_seed_test_tried_positive")),
        sa.CheckConstraint("seeds_per_cell > 0", name=op.f("ck_seed_test_seeds_per_cell_positive")),
        sa.CheckConstraint("up >= 0 AND up <= tried", name=op.f("ck_seed_test_up_within_tried")),
        sa.ForeignKeyConstraint(
            ["seed_lot_id"], ["seed_lot.id"], name=op.f("fk_seed_test_seed_lot_id_seed_lot"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seed_test")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_seed_test_seed_lot_id"), "seed_test", ["seed_lot_id"])
    op.create_table(
        "log_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("sowing_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("seeds", sa.Integer(), nullable=True),
        sa.Column("tray_id", sa.Integer(), nullable=True),
        sa.Column("seed_lot_id", sa.Integer(), nullable=True),
        sa.Column("cause", sa.String(length=20), nullable=True),
        sa.Column("note", sa.String(length=500), nullable=True),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("cells", sa.String(length=4000), nullable=True),
        sa.Column("grower_id", sa.Integer(), nullable=True),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.Double(), nullable=True),
        sa.CheckConstraint("count >= 0", name=op.f("ck_log_entry_count_not_negative")),
        sa.CheckConstraint("seeds >= 0", name=op.f("ck_log_entry_seeds_not_negative")),
        sa.CheckConstraint("supersedes_id <> id", name=op.f("ck_log_entry_supersedes_another")),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_log_entry_account_id_account"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_log_entry_grower_id_grower"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["seed_lot_id"], ["seed_lot.id"], name=op.f("fk_log_entry_seed_lot_id_seed_lot"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(["sowing_id"], ["sowing.id"], name=op.f("fk_log_entry_sowing_id_sowing")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["log_entry.id"], name=op.f("fk_log_entry_supersedes_id_log_entry")),
        sa.ForeignKeyConstraint(["tray_id"], ["tray.id"], name=op.f("fk_log_entry_tray_id_tray"), ondelete="SET NULL"),
        sa.CheckConstraint(
            "kind IN ('sown', 'up', 'thinned', 'potted on', 'lost', 'handed out', 'planted out')",
            name=op.f("ck_log_entry_kind"),
        ),
        sa.CheckConstraint(
            "cause IN ('damping off', 'dried out', 'leggy', 'pests', 'mice', 'dropped', 'cold', 'unknown')",
            name=op.f("ck_log_entry_cause"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_entry")),
        sa.UniqueConstraint("name", name=op.f("uq_log_entry_name")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_log_entry_supersedes_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_log_entry_account_id"), "log_entry", ["account_id"])
    op.create_index(op.f("ix_log_entry_date"), "log_entry", ["date"])
    op.create_index(op.f("ix_log_entry_grower_id"), "log_entry", ["grower_id"])
    op.create_index(op.f("ix_log_entry_seed_lot_id"), "log_entry", ["seed_lot_id"])
    op.create_index("ix_log_entry_sowing_id_date", "log_entry", ["sowing_id", "date"])
    op.create_index(op.f("ix_log_entry_tray_id"), "log_entry", ["tray_id"])
    op.create_table(
        "spare_offer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sowing_id", sa.Integer(), nullable=False),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("note", sa.String(length=500), nullable=True),
        sa.CheckConstraint("plants > 0", name=op.f("ck_spare_offer_plants_positive")),
        sa.ForeignKeyConstraint(
            ["sowing_id"], ["sowing.id"], name=op.f("fk_spare_offer_sowing_id_sowing"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spare_offer")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_spare_offer_sowing_id"), "spare_offer", ["sowing_id"])
    op.create_table(
        "ticked",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sowing_id", sa.Integer(), nullable=False),
        sa.Column("task", sa.String(length=20), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("account_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_ticked_account_id_account"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["sowing_id"], ["sowing.id"], name=op.f("fk_ticked_sowing_id_sowing"), ondelete="CASCADE"
        ),
        sa.CheckConstraint("task IN ('look', 'uncover', 'harden')", name=op.f("ck_ticked_task")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticked")),
        sa.UniqueConstraint("sowing_id", "task", "date", name="uq_ticked_sowing_task_date"),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_ticked_account_id"), "ticked", ["account_id"])
    op.create_table(
        "spare_gift",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("offer_id", sa.Integer(), nullable=False),
        sa.Column("request_id", sa.Integer(), nullable=True),
        sa.Column("grower_id", sa.Integer(), nullable=True),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.CheckConstraint("plants > 0", name=op.f("ck_spare_gift_plants_positive")),
        sa.ForeignKeyConstraint(
            ["grower_id"], ["grower.id"], name=op.f("fk_spare_gift_grower_id_grower"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["offer_id"], ["spare_offer.id"], name=op.f("fk_spare_gift_offer_id_spare_offer"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["request_id"],
            ["spare_request.id"],
            name=op.f("fk_spare_gift_request_id_spare_request"),
            ondelete="SET NULL",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spare_gift")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_spare_gift_grower_id"), "spare_gift", ["grower_id"])
    op.create_index(op.f("ix_spare_gift_offer_id"), "spare_gift", ["offer_id"])
    op.create_index(op.f("ix_spare_gift_request_id"), "spare_gift", ["request_id"])


def downgrade() -> None:
    """Drop the tables, then the room."""
    for table in (
        "spare_gift",
        "ticked",
        "spare_offer",
        "log_entry",
        "seed_test",
        "spare_request",
        "reminder",
        "feed",
        "care_round",
        "feed_event",
        "draft",
    ):
        op.drop_table(table)
    op.drop_column("sowing", "brings_seed")
    op.drop_column("account", "email")
    with op.batch_alter_table("house") as house:
        house.drop_constraint(op.f("ck_house_mail_security"), type_="check")
        house.drop_constraint(op.f("ck_house_mail_port_is_port"), type_="check")
        for name in reversed(MAIL):
            house.drop_column(name)
