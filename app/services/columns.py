"""Writing values into a row."""

from dataclasses import fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def set_columns(row: object, values: "DataclassInstance") -> None:
    """Set each column that the values name; columns that stay as they are are not touched.

    A row whose columns were all left alone is not written, so that the plan is not made again for nothing.
    """
    for field in fields(values):
        value: Any = getattr(values, field.name)
        if getattr(row, field.name) != value:
            setattr(row, field.name, value)
