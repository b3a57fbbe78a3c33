import pytest

from tests.web.pages import check_page

GOOD = """<!doctype html><html lang="en"><head><title>Shelves – Alder</title></head><body><main><h1>Shelves</h1>
<form method="post"><input type="hidden" name="csrf_token" value="x"><input type="hidden" name="key" value="x">
<label for="n">Name</label><input id="n" name="n" aria-describedby="h"><p id="h">Hint</p></form>
<table class="stack"><caption>All</caption><tr role="row">
<th role="columnheader" scope="col">A</th><td role="cell" data-label="A">1</td></tr></table></main></body></html>"""


def test_a_good_page_passes():
    check_page(GOOD)


@pytest.mark.parametrize(
    ("part", "broken"),
    [
        ("<!doctype html>", ""),
        (' lang="en"', ""),
        ("<title>Shelves", "<title>Other"),
        ("<h1>Shelves</h1>", ""),
        ("<h1>Shelves</h1>", "<h1>Shelves</h1><h1>Again</h1>"),
        ('<p id="h">', '<p id="n">'),
        ('aria-describedby="h"', 'aria-describedby="gone"'),
        ('for="n"', 'for="m"'),
        ("<label for", '<label style="color:red" for'),
        ("<main>", '<main onclick="x()">'),
        ("<main>", "<main><script>x()</script>"),
        ('name="csrf_token"', 'name="other"'),
        ('name="key"', 'name="other"'),
        ("<caption>All</caption>", ""),
        (' scope="col"', ""),
        (' role="cell"', ""),
        (' data-label="A"', ""),
        ("</p>", ""),
        ("<main>", '<main><a href="#nowhere">there</a>'),
        ("<main>", '<main><a href="/there"></a>'),
    ],
)
def test_a_page_that_breaks_a_rule_fails(part, broken):
    assert part in GOOD
    with pytest.raises(AssertionError):
        check_page(GOOD.replace(part, broken, 1))
