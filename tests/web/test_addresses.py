"""Where an answer may lead to, held against the URL standard as an independent library has it."""

from urllib.parse import urljoin, urlsplit

import pytest

from app.web.addresses import LONGEST_ADDRESS, safe_next

HERE = "http://shed.lan:5000/sign-in"


@pytest.mark.parametrize(
    "text", ["/", "/trays/12", "/trays/12?day=2027-04-10&place=Bench", "/crops/é", "/a//b", "/a\\b"]
)
def test_an_address_inside_is_gone_on_to(text):
    assert safe_next(text) == text
    assert urlsplit(urljoin(HERE, text)).netloc == "shed.lan:5000"


# The ways round a check by prefix: two slashes, backslashes (the URL standard, url.spec.whatwg.org, "special
# authority ignore slashes state"), and tabs and line ends, which it removes before it reads.
@pytest.mark.parametrize(
    "text",
    [
        "//elsewhere.example", "///elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example",
        "/\t/elsewhere.example", "/\n/elsewhere.example", "/\r\\elsewhere.example", "\t//elsewhere.example",
        "http://elsewhere.example", "https:elsewhere.example", "javascript:alert(1)", "data:text/html,a", "trays", "",
        " /trays", "/trays\r\nSet-Cookie: a=b", "/trays\x00", "/trays\x7f", "/trays\x85", "?day=1", None,
        "/" + "a" * LONGEST_ADDRESS,
    ],
)  # fmt: skip
def test_an_address_that_leads_away_is_not(text):
    assert safe_next(text) is None
