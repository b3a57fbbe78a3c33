"""The only package that builds SQL: models, queries, and the garden folder in and out."""

from sqlalchemy import Engine
from sqlalchemy.orm import Session

__all__ = ["Engine", "Session"]
