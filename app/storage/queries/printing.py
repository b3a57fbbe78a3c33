"""Printers, label stock, the address on paper, and the labels that were made."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from sqlalchemy import Exists, and_, exists, func, select
from sqlalchemy.orm import Session

from app.core.house.label_sheets import LabelKind
from app.storage.models import Grower, LabelPrint, LabelStock, Printer, PublicAddress, Stay, Tray
from app.storage.queries.rows import get_row


class PrintRow(NamedTuple):
    """A label that was made; without an address it has no code."""

    number: int
    kind: LabelKind
    address: str | None
    contents: str
    made_on: date


PRINTS = select(
    LabelPrint.number, LabelPrint.kind, LabelPrint.address, LabelPrint.contents, LabelPrint.made_on
).order_by(LabelPrint.kind, LabelPrint.number)


def get_printer(session: Session, printer_id: int) -> Printer:
    """Return a printer, or raise NotFoundError."""
    return get_row(session, Printer, printer_id, "printer")


def list_printers(session: Session) -> list[Printer]:
    """Return every printer by name."""
    return list(session.scalars(select(Printer).order_by(Printer.name, Printer.id)))


def get_stock(session: Session, stock_id: int) -> LabelStock:
    """Return label stock of the garden's own, or raise NotFoundError."""
    return get_row(session, LabelStock, stock_id, "label stock")


def list_stock(session: Session) -> list[LabelStock]:
    """Return all label stock of the garden's own by name."""
    return list(session.scalars(select(LabelStock).order_by(LabelStock.name, LabelStock.id)))


def find_public_address(session: Session) -> PublicAddress | None:
    """Return the row of the address on paper, or None where none was entered."""
    return session.get(PublicAddress, 1)


def list_prints(session: Session, kind: LabelKind, numbers: Iterable[int] | None = None) -> list[PrintRow]:
    """Return the labels of a kind that were made, of these tray numbers or of all, by number."""
    query = PRINTS.where(LabelPrint.kind == kind)
    if numbers is not None:
        query = query.where(LabelPrint.number.in_(list(numbers)))
    return [PrintRow(*row) for row in session.execute(query)]


def list_prints_in_use(session: Session, today: date) -> list[PrintRow]:
    """Return the labels that were made for trays that still stand somewhere on a day, or will, by kind and number."""
    query = PRINTS.join(Tray, Tray.number == LabelPrint.number).where(
        LabelPrint.kind != LabelKind.TAG, _is_in_use(today)
    )
    return [PrintRow(*row) for row in session.execute(query)]


def list_unlabelled(session: Session, today: date) -> list[tuple[int, date]]:
    """Return number and day of filling of the trays that stand somewhere on a day, or will, and have no label yet."""
    has_label = exists().where(and_(LabelPrint.number == Tray.number, LabelPrint.kind == LabelKind.TRAY))
    query = select(Tray.number, Tray.sow_on).where(_is_in_use(today), ~has_label).order_by(Tray.sow_on, Tray.number)
    return [(number, day) for number, day in session.execute(query)]


def list_days_filled(session: Session) -> list[tuple[date, int]]:
    """Return each day on which trays are filled, with how many."""
    query = select(Tray.sow_on, func.count()).group_by(Tray.sow_on).order_by(Tray.sow_on)
    return [(day, count) for day, count in session.execute(query)]


def find_prints(session: Session, kind: LabelKind, numbers: Iterable[int]) -> dict[int, LabelPrint]:
    """Return the rows of the labels of a kind that were made for these tray numbers, by number, to be changed."""
    query = select(LabelPrint).where(LabelPrint.kind == kind, LabelPrint.number.in_(list(numbers)))
    return {row.number: row for row in session.scalars(query)}


def list_plots(session: Session, grower_ids: Iterable[int]) -> dict[int, str]:
    """Return the plot of each of these growers who has one."""
    query = select(Grower.id, Grower.plot).where(Grower.id.in_(list(grower_ids)), Grower.plot.is_not(None))
    return {grower_id: plot or "" for grower_id, plot in session.execute(query)}


def _is_in_use(today: date) -> Exists:
    return exists().where(and_(Stay.tray_id == Tray.id, Stay.end_on > today))
