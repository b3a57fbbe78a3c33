"""Very long sheets are set in a process of their own: typst keeps the last ten, hundreds of megabytes of them."""

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from app.sheets.pdf import make_pdf


def make_pdf_apart(template, sheet, paper):
    """Return what `make_pdf` returns, and leave no memory taken."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(make_pdf, template, sheet, paper).result()
