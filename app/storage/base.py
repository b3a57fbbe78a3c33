"""The declarative base: constraint names and column types that all models share."""

from datetime import date
from enum import StrEnum
from typing import ClassVar

from sqlalchemy import Date, Enum, MetaData, String, Table
from sqlalchemy.orm import DeclarativeBase

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The base of all models."""

    metadata = MetaData(naming_convention=NAMING)
    # Whether its rows are part of what pages of the garden are made from, so that a change renews the mark.
    marks_data: ClassVar[bool] = True
    # Not part of what people keep: it is not copied to another database, and gone after a restore.
    is_transient: ClassVar[bool] = False
    type_annotation_map = {str: String(80), date: Date()}  # noqa: RUF012 - the name and form SQLAlchemy asks for


def words(kind: type[StrEnum], name: str) -> Enum:
    """Return a text column type that holds the words of an enum and nothing else.

    Args:
        kind: The enum; its values are stored, not its names.
        name: The name of the CHECK constraint within its table.
    """
    return Enum(
        kind,
        native_enum=False,
        create_constraint=True,
        length=20,
        name=name,
        values_callable=lambda members: [member.value for member in members],
    )


def table_of(model: type[Base]) -> Table:
    """Return the table of a model, for statements over whole columns."""
    return Base.metadata.tables[model.__tablename__]
