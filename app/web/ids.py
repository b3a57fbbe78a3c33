"""Ids and numbers in addresses, in the digits 0 to 9 alone."""

from flask import Flask
from werkzeug.routing import IntegerConverter


class Id(IntegerConverter):
    """A number that a row may have; other digits, and more of them, lead nowhere."""

    regex = "[0-9]{1,10}"


def init_app(app: Flask) -> None:
    """Read `<int:...>` in addresses so; it comes before the views."""
    app.url_map.converters["int"] = Id
