"""Ids and numbers in addresses, in the digits 0 to 9 alone."""

from flask import Flask
from werkzeug.routing import IntegerConverter


class Id(IntegerConverter):
    """A number that a row may have; other digits, and more of them, lead nowhere."""

    # Up to 1,999,999,999: not all numbers of ten digits are held by an integer column (2^31 - 1).
    regex = "(?:[0-9]{1,9}|1[0-9]{9})"


def init_app(app: Flask) -> None:
    """Read `<int:...>` in addresses so; it comes before the views."""
    app.url_map.converters["int"] = Id
