"""Every sheet of the demo garden, on paper, in every language: nothing in the margins, nothing over other words.

`make test` takes French on A4 and Spanish on letter; English is held sheet by sheet. `make soak` takes them all.
"""

from itertools import product

import pytest

from app import create_app
from app.language import LANGUAGES
from app.sheets.pdf import Paper
from tests.browser.gardens import make_garden
from tests.lengths import SOAK
from tests.sheets.reading import beyond_margins, leaves, overlapping

pytestmark = pytest.mark.soak

MARGIN_MM = 9.5  # the narrowest, that of slips
LOOKED_AT = 12  # leaves of a sheet
TAKEN = [*product(LANGUAGES, Paper)] if SOAK else [("fr", Paper.A4), ("es", Paper.LETTER)]


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    """Return the demo garden and a client of its coordinator."""
    made = make_garden("demo", tmp_path_factory.mktemp("demo"))
    client = create_app(made.settings).test_client()
    client.set_cookie("traymates", made.cookie)
    return made, client


@pytest.mark.parametrize(("language", "paper"), TAKEN)
def test_every_sheet_fits_its_paper_in_every_language(garden, language, paper):
    made, client = garden
    wrong, width = {}, {Paper.A4: 595, Paper.LETTER: 612}[paper]
    assert len(made.papers) >= 10
    for name, address in made.papers.items():
        asked = f"{address}{'&' if '?' in address else '?'}language={language}&paper={paper}"
        answer = client.get(asked, headers={"Accept-Language": language})
        found = list(leaves(answer.data))[:LOOKED_AT]
        faults = [(at, beyond_margins(leaf, MARGIN_MM), overlapping(leaf)) for at, leaf in enumerate(found)]
        if any(beyond or over for _, beyond, over in faults) or not found:
            wrong[name] = faults
        if name != "printing.frame":  # its paper is that of the stock
            assert {round(leaf.width) for leaf in found} == {width}, name
    assert wrong == {}
