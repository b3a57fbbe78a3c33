"""A station's daily temperatures, and frost dates that come from them."""

from contextlib import AbstractContextManager

import sqlalchemy as sa
from alembic import op
from alembic.operations import BatchOperations

revision = "0002_station_record"
down_revision = "0001_first_tables"
branch_labels = None
depends_on = None

SOURCES = "ck_garden_frost_source"

# SQLite changes a constraint by making the table anew, and must be told all the others.
GARDEN = sa.Table(
    "garden",
    sa.MetaData(),
    sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
    sa.Column("name", sa.String(length=80), nullable=False),
    sa.Column("season", sa.Integer(), nullable=False),
    sa.Column("units", sa.String(length=20), nullable=False),
    sa.Column("sowing_day", sa.String(length=20), nullable=False),
    sa.Column("hand_out_day", sa.String(length=20), nullable=False),
    sa.Column("wishes_close", sa.String(length=5), nullable=True),
    sa.Column("tray_length_cm", sa.Double(), nullable=False),
    sa.Column("tray_width_cm", sa.Double(), nullable=False),
    sa.Column("latitude", sa.Double(), nullable=False),
    sa.Column("longitude", sa.Double(), nullable=False),
    sa.Column("elevation_m", sa.Double(), nullable=False),
    sa.Column("frost_source", sa.String(length=20), nullable=False),
    sa.Column("frost_law", sa.String(length=20), nullable=False),
    sa.Column("threshold_c", sa.Double(), nullable=False),
    sa.Column("risk", sa.Double(), nullable=False),
    sa.Column("autumn_risk", sa.Double(), nullable=False),
    sa.Column("confidence", sa.Double(), nullable=False),
    sa.Column("survival", sa.Double(), nullable=False),
    sa.Column("spare", sa.Double(), nullable=False),
    sa.CheckConstraint("autumn_risk > 0 AND autumn_risk < 1", name="ck_garden_autumn_risk_is_share"),
    sa.CheckConstraint("confidence > 0 AND confidence < 1", name="ck_garden_confidence_is_share"),
    sa.CheckConstraint("id = 1", name="ck_garden_one_row"),
    sa.CheckConstraint("latitude BETWEEN -90 AND 90", name="ck_garden_latitude_on_earth"),
    sa.CheckConstraint("longitude BETWEEN -180 AND 180", name="ck_garden_longitude_on_earth"),
    sa.CheckConstraint("risk > 0 AND risk < 1", name="ck_garden_risk_is_share"),
    sa.CheckConstraint("spare >= 0 AND spare <= 1", name="ck_garden_spare_is_share"),
    sa.CheckConstraint("survival > 0 AND survival <= 1", name="ck_garden_survival_is_share"),
    sa.CheckConstraint("tray_length_cm > 0 AND tray_width_cm > 0", name="ck_garden_tray_has_size"),
    sa.CheckConstraint("units IN ('metric', 'us')", name="ck_garden_units"),
    *(
        sa.CheckConstraint(
            f"{column} IN ('monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday')",
            name=f"ck_garden_{column}",
        )
        for column in ("sowing_day", "hand_out_day")
    ),
    sa.CheckConstraint("frost_law IN ('normal', 'empirical')", name="ck_garden_frost_law"),
    sa.PrimaryKeyConstraint("id", name="pk_garden"),
)


def upgrade() -> None:
    """Create the table; let a garden take its frost dates from it."""
    op.create_table(
        "daily_temperature",
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("tmin_c", sa.Double(), nullable=True),
        sa.Column("tmax_c", sa.Double(), nullable=True),
        sa.CheckConstraint(
            "tmin_c IS NOT NULL OR tmax_c IS NOT NULL", name=op.f("ck_daily_temperature_has_a_temperature")
        ),
        sa.CheckConstraint("tmin_c <= tmax_c", name=op.f("ck_daily_temperature_tmin_at_most_tmax")),
        sa.PrimaryKeyConstraint("date", name=op.f("pk_daily_temperature")),
    )
    with _garden_with("frost_source IN ('table', 'dates')") as batch:
        batch.drop_constraint(op.f(SOURCES), type_="check")
        batch.create_check_constraint(op.f(SOURCES), "frost_source IN ('table', 'dates', 'station')")
        batch.add_column(sa.Column("record_mark", sa.String(length=32), nullable=True))


def downgrade() -> None:
    """Undo it; a garden that went by its station goes by its table or pair of dates again."""
    connection = op.get_bind()
    sides = connection.execute(sa.text("SELECT count(*), count(DISTINCT side) FROM frost_point")).one()
    by_station = connection.execute(sa.text("SELECT count(*) FROM garden WHERE frost_source = 'station'")).scalar_one()
    if by_station and sides[1] < 2:  # noqa: PLR2004 - spring and autumn
        message = "the garden has no frost dates but those of its station; enter a table or a pair of dates first"
        raise RuntimeError(message)
    source = "dates" if sides[0] == 2 else "table"  # noqa: PLR2004 - one date on each side
    connection.execute(
        sa.text("UPDATE garden SET frost_source = :source WHERE frost_source = 'station'"), {"source": source}
    )
    with _garden_with("frost_source IN ('table', 'dates', 'station')", "record_mark") as batch:
        batch.drop_constraint(op.f(SOURCES), type_="check")
        batch.create_check_constraint(op.f(SOURCES), "frost_source IN ('table', 'dates')")
        batch.drop_column("record_mark")
    op.drop_table("daily_temperature")


def _garden_with(sources: str, *more_columns: str) -> AbstractContextManager[BatchOperations]:
    """Return a change of the garden's table as it stands before the change."""
    table = GARDEN.to_metadata(sa.MetaData())
    table.append_constraint(sa.CheckConstraint(sources, name=SOURCES))
    for name in more_columns:
        table.append_column(sa.Column(name, sa.String(length=32), nullable=True))
    return op.batch_alter_table("garden", copy_from=table)
