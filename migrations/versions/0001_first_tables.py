"""The garden, its growers, crop cards, containers, shelves, seed lots and sowings."""

import secrets

import sqlalchemy as sa
from alembic import op

revision = "0001_first_tables"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create them."""
    op.create_table(
        "container",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("cells_per_tray", sa.Integer(), nullable=False),
        sa.Column("cell_volume_ml", sa.Double(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=True),
        sa.Column("columns", sa.Integer(), nullable=True),
        sa.CheckConstraint("(rows IS NULL) = (columns IS NULL)", name=op.f("ck_container_rows_with_columns")),
        sa.CheckConstraint("cell_volume_ml > 0", name=op.f("ck_container_cell_volume_positive")),
        sa.CheckConstraint("cells_per_tray > 0", name=op.f("ck_container_cells_per_tray_positive")),
        sa.CheckConstraint(
            "rows IS NULL OR rows * columns = cells_per_tray", name=op.f("ck_container_rows_times_columns")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_container")),
        sa.UniqueConstraint("name", name=op.f("uq_container_name")),
    )
    op.create_table(
        "data_version",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("mark", sa.String(length=32), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_data_version_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_data_version")),
    )
    op.create_table(
        "frost_point",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(
            "side",
            sa.Enum("spring", "autumn", name="side", native_enum=False, create_constraint=True, length=20),
            nullable=False,
        ),
        sa.Column("chance_percent", sa.Integer(), nullable=False),
        sa.Column("month_day", sa.String(length=5), nullable=False),
        sa.CheckConstraint("chance_percent BETWEEN 1 AND 99", name=op.f("ck_frost_point_chance_is_percent")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_frost_point")),
        sa.UniqueConstraint("side", "chance_percent", name="uq_frost_point_side_chance"),
    )
    op.create_table(
        "garden",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("season", sa.Integer(), nullable=False),
        sa.Column(
            "units",
            sa.Enum("metric", "us", name="units", native_enum=False, create_constraint=True, length=20),
            nullable=False,
        ),
        sa.Column(
            "sowing_day",
            sa.Enum(
                "monday",
                "tuesday",
                "wednesday",
                "thursday",
                "friday",
                "saturday",
                "sunday",
                name="sowing_day",
                native_enum=False,
                create_constraint=True,
                length=20,
            ),
            nullable=False,
        ),
        sa.Column(
            "hand_out_day",
            sa.Enum(
                "monday",
                "tuesday",
                "wednesday",
                "thursday",
                "friday",
                "saturday",
                "sunday",
                name="hand_out_day",
                native_enum=False,
                create_constraint=True,
                length=20,
            ),
            nullable=False,
        ),
        sa.Column("wishes_close", sa.String(length=5), nullable=True),
        sa.Column("tray_length_cm", sa.Double(), nullable=False),
        sa.Column("tray_width_cm", sa.Double(), nullable=False),
        sa.Column("latitude", sa.Double(), nullable=False),
        sa.Column("longitude", sa.Double(), nullable=False),
        sa.Column("elevation_m", sa.Double(), nullable=False),
        sa.Column(
            "frost_source",
            sa.Enum("table", "dates", name="frost_source", native_enum=False, create_constraint=True, length=20),
            nullable=False,
        ),
        sa.Column(
            "frost_law",
            sa.Enum("normal", "empirical", name="frost_law", native_enum=False, create_constraint=True, length=20),
            nullable=False,
        ),
        sa.Column("threshold_c", sa.Double(), nullable=False),
        sa.Column("risk", sa.Double(), nullable=False),
        sa.Column("autumn_risk", sa.Double(), nullable=False),
        sa.Column("confidence", sa.Double(), nullable=False),
        sa.Column("survival", sa.Double(), nullable=False),
        sa.Column("spare", sa.Double(), nullable=False),
        sa.CheckConstraint("autumn_risk > 0 AND autumn_risk < 1", name=op.f("ck_garden_autumn_risk_is_share")),
        sa.CheckConstraint("confidence > 0 AND confidence < 1", name=op.f("ck_garden_confidence_is_share")),
        sa.CheckConstraint("id = 1", name=op.f("ck_garden_one_row")),
        sa.CheckConstraint("latitude BETWEEN -90 AND 90", name=op.f("ck_garden_latitude_on_earth")),
        sa.CheckConstraint("longitude BETWEEN -180 AND 180", name=op.f("ck_garden_longitude_on_earth")),
        sa.CheckConstraint("risk > 0 AND risk < 1", name=op.f("ck_garden_risk_is_share")),
        sa.CheckConstraint("spare >= 0 AND spare <= 1", name=op.f("ck_garden_spare_is_share")),
        sa.CheckConstraint("survival > 0 AND survival <= 1", name=op.f("ck_garden_survival_is_share")),
        sa.CheckConstraint("tray_length_cm > 0 AND tray_width_cm > 0", name=op.f("ck_garden_tray_has_size")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_garden")),
    )
    op.create_table(
        "grower",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("plot", sa.String(length=80), nullable=True),
        sa.Column("contact", sa.String(length=200), nullable=True),
        sa.Column("days", sa.String(length=80), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grower")),
        sa.UniqueConstraint("name", name=op.f("uq_grower_name")),
    )
    op.create_table(
        "shelf",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column(
            "place",
            sa.Enum(
                "heat",
                "lamp",
                "window",
                "hardening",
                name="place",
                native_enum=False,
                create_constraint=True,
                length=20,
            ),
            nullable=False,
        ),
        sa.Column("width_cm", sa.Double(), nullable=False),
        sa.Column("depth_cm", sa.Double(), nullable=False),
        sa.Column("levels", sa.Integer(), nullable=False),
        sa.Column("positions", sa.Integer(), nullable=True),
        sa.Column("bench_temp_c", sa.Double(), nullable=True),
        sa.Column("ppfd", sa.Double(), nullable=True),
        sa.Column("hours_per_day", sa.Double(), nullable=True),
        sa.Column("watts", sa.Double(), nullable=True),
        sa.Column("pan_depth_mm", sa.Double(), nullable=True),
        sa.Column("fan", sa.Boolean(), nullable=True),
        sa.CheckConstraint("hours_per_day BETWEEN 0 AND 24", name=op.f("ck_shelf_hours_of_a_day")),
        sa.CheckConstraint("levels > 0", name=op.f("ck_shelf_levels_positive")),
        sa.CheckConstraint("positions >= 0", name=op.f("ck_shelf_positions_not_negative")),
        sa.CheckConstraint(
            "ppfd >= 0 AND watts >= 0 AND pan_depth_mm >= 0", name=op.f("ck_shelf_figures_not_negative")
        ),
        sa.CheckConstraint("width_cm > 0 AND depth_cm > 0", name=op.f("ck_shelf_has_size")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf")),
        sa.UniqueConstraint("name", name=op.f("uq_shelf_name")),
    )
    op.create_table(
        "crop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("botanical", sa.String(length=80), nullable=True),
        sa.Column(
            "hardiness",
            sa.Enum(
                "very hardy",
                "hardy",
                "half-hardy",
                "tender",
                "very tender",
                name="hardiness",
                native_enum=False,
                create_constraint=True,
                length=20,
            ),
            nullable=False,
        ),
        sa.Column("plant_out_weeks", sa.Double(), nullable=True),
        sa.Column("direct_sow_weeks", sa.Double(), nullable=True),
        sa.Column("indoor_weeks_min", sa.Double(), nullable=True),
        sa.Column("indoor_weeks_max", sa.Double(), nullable=True),
        sa.Column("start_container_id", sa.Integer(), nullable=True),
        sa.Column("pot_on_container_id", sa.Integer(), nullable=True),
        sa.Column("pot_on_after_days", sa.Integer(), nullable=True),
        sa.Column(
            "transplanting",
            sa.Enum(
                "easy", "careful", "resents", name="transplanting", native_enum=False, create_constraint=True, length=20
            ),
            nullable=True,
        ),
        sa.Column("days_to_maturity", sa.Integer(), nullable=False),
        sa.Column(
            "counted_from",
            sa.Enum("seed", "transplant", name="counted_from", native_enum=False, create_constraint=True, length=20),
            nullable=False,
        ),
        sa.Column("harvest_days", sa.Integer(), nullable=True),
        sa.Column("hardening_days", sa.Integer(), nullable=True),
        sa.Column("days_to_emerge", sa.Integer(), nullable=True),
        sa.Column("germ_temp_c", sa.Double(), nullable=True),
        sa.Column("heat", sa.Boolean(), nullable=False),
        sa.Column(
            "light",
            sa.Enum("lamp", "window", name="light", native_enum=False, create_constraint=True, length=20),
            nullable=True,
        ),
        sa.Column("light_to_germinate", sa.Boolean(), nullable=True),
        sa.Column("seeds_per_cell", sa.Integer(), nullable=False),
        sa.Column("plants_per_cell", sa.Integer(), nullable=True),
        sa.Column("sow_depth_mm", sa.Double(), nullable=True),
        sa.Column("seeds_per_gram", sa.Double(), nullable=True),
        sa.Column("seed_storage_years", sa.Double(), nullable=True),
        sa.Column("dli_target", sa.Double(), nullable=True),
        sa.Column("heat_sum_cd", sa.Double(), nullable=True),
        sa.Column("heat_base_c", sa.Double(), nullable=True),
        sa.Column(
            "heat_method",
            sa.Enum("mean", "each", name="heat_method", native_enum=False, create_constraint=True, length=20),
            nullable=True,
        ),
        sa.Column("emergence_row", sa.String(length=80), nullable=True),
        sa.Column("germination_kind", sa.String(length=80), nullable=True),
        sa.Column("source", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "NOT (transplanting = 'resents' AND pot_on_container_id IS NOT NULL)",
            name=op.f("ck_crop_resents_is_not_potted_on"),
        ),
        sa.CheckConstraint(
            "(pot_on_container_id IS NULL) = (pot_on_after_days IS NULL)", name=op.f("ck_crop_pot_on_after_days_given")
        ),
        sa.CheckConstraint("days_to_emerge > 0", name=op.f("ck_crop_days_to_emerge_positive")),
        sa.CheckConstraint(
            "start_container_id IS NULL OR days_to_emerge IS NOT NULL", name=op.f("ck_crop_days_to_emerge_given")
        ),
        sa.CheckConstraint("days_to_maturity > 0", name=op.f("ck_crop_days_to_maturity_positive")),
        sa.CheckConstraint("harvest_days >= 0 AND hardening_days >= 0", name=op.f("ck_crop_days_not_negative")),
        sa.CheckConstraint("indoor_weeks_min <= indoor_weeks_max", name=op.f("ck_crop_indoor_weeks_in_order")),
        sa.CheckConstraint("indoor_weeks_min >= 0", name=op.f("ck_crop_indoor_weeks_positive")),
        sa.CheckConstraint("plants_per_cell > 0", name=op.f("ck_crop_plants_per_cell_positive")),
        sa.CheckConstraint("seeds_per_cell > 0", name=op.f("ck_crop_seeds_per_cell_positive")),
        sa.ForeignKeyConstraint(
            ["pot_on_container_id"], ["container.id"], name=op.f("fk_crop_pot_on_container_id_container")
        ),
        sa.ForeignKeyConstraint(
            ["start_container_id"], ["container.id"], name=op.f("fk_crop_start_container_id_container")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_crop")),
        sa.UniqueConstraint("name", name=op.f("uq_crop_name")),
    )
    with op.batch_alter_table("crop", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_crop_pot_on_container_id"), ["pot_on_container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_crop_start_container_id"), ["start_container_id"], unique=False)

    op.create_table(
        "seed_lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("crop_id", sa.Integer(), nullable=False),
        sa.Column("variety", sa.String(length=80), nullable=True),
        sa.Column("germination", sa.Double(), nullable=True),
        sa.Column(
            "origin",
            sa.Enum("bought", "saved", "gift", name="origin", native_enum=False, create_constraint=True, length=20),
            nullable=True,
        ),
        sa.Column("year", sa.Integer(), nullable=True),
        sa.CheckConstraint("germination > 0 AND germination <= 1", name=op.f("ck_seed_lot_germination_is_share")),
        sa.ForeignKeyConstraint(["crop_id"], ["crop.id"], name=op.f("fk_seed_lot_crop_id_crop")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seed_lot")),
        sa.UniqueConstraint("name", name=op.f("uq_seed_lot_name")),
    )
    with op.batch_alter_table("seed_lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_seed_lot_crop_id"), ["crop_id"], unique=False)

    op.create_table(
        "sowing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("grower_id", sa.Integer(), nullable=False),
        sa.Column("crop_id", sa.Integer(), nullable=False),
        sa.Column("seed_lot_id", sa.Integer(), nullable=True),
        sa.Column("plants", sa.Integer(), nullable=False),
        sa.Column("variety", sa.String(length=80), nullable=True),
        sa.Column("days_to_maturity", sa.Integer(), nullable=True),
        sa.Column("priority", sa.Integer(), nullable=True),
        sa.Column("plant_out", sa.Date(), nullable=True),
        sa.Column("risk", sa.Double(), nullable=True),
        sa.Column("sow_on", sa.Date(), nullable=True),
        sa.Column(
            "light",
            sa.Enum("lamp", "window", name="light", native_enum=False, create_constraint=True, length=20),
            nullable=True,
        ),
        sa.Column("placed", sa.Integer(), nullable=True),
        sa.CheckConstraint("days_to_maturity > 0", name=op.f("ck_sowing_days_to_maturity_positive")),
        sa.CheckConstraint("placed >= 0 AND placed <= plants", name=op.f("ck_sowing_placed_within_plants")),
        sa.CheckConstraint("plants > 0", name=op.f("ck_sowing_plants_positive")),
        sa.CheckConstraint("priority BETWEEN 1 AND 3", name=op.f("ck_sowing_priority_1_to_3")),
        sa.CheckConstraint("risk > 0 AND risk < 1", name=op.f("ck_sowing_risk_is_share")),
        sa.ForeignKeyConstraint(["crop_id"], ["crop.id"], name=op.f("fk_sowing_crop_id_crop")),
        sa.ForeignKeyConstraint(["grower_id"], ["grower.id"], name=op.f("fk_sowing_grower_id_grower")),
        sa.ForeignKeyConstraint(["seed_lot_id"], ["seed_lot.id"], name=op.f("fk_sowing_seed_lot_id_seed_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sowing")),
        sa.UniqueConstraint("name", name=op.f("uq_sowing_name")),
    )
    with op.batch_alter_table("sowing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sowing_crop_id"), ["crop_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sowing_grower_id"), ["grower_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sowing_seed_lot_id"), ["seed_lot_id"], unique=False)
    mark = sa.table("data_version", sa.column("id", sa.Integer), sa.column("mark", sa.String))
    op.execute(mark.insert().values(id=1, mark=secrets.token_hex(16)))


def downgrade() -> None:
    """Undo it."""
    with op.batch_alter_table("sowing", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sowing_seed_lot_id"))
        batch_op.drop_index(batch_op.f("ix_sowing_grower_id"))
        batch_op.drop_index(batch_op.f("ix_sowing_crop_id"))

    op.drop_table("sowing")
    with op.batch_alter_table("seed_lot", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_seed_lot_crop_id"))

    op.drop_table("seed_lot")
    with op.batch_alter_table("crop", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_crop_start_container_id"))
        batch_op.drop_index(batch_op.f("ix_crop_pot_on_container_id"))

    op.drop_table("crop")
    op.drop_table("shelf")
    op.drop_table("grower")
    op.drop_table("garden")
    op.drop_table("frost_point")
    op.drop_table("data_version")
    op.drop_table("container")
