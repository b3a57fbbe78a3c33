"""Classes of input that have broken programs, each with one value, and what each kind of field is to make of it.

The classes are those of general lists of hostile input (OWASP Web Security Testing Guide 4.2, input validation
testing; Unicode Technical Report 36; OWASP, CSV injection), written down from memory; the values are our own.
"""

from enum import Enum
from urllib.parse import quote_plus


class Expected(Enum):
    """What becomes of a value: kept, refused with words beside the field, or not decided by the class alone."""

    TAKEN = "taken"
    REFUSED = "refused"
    OPEN = "open"


TAKEN, REFUSED, OPEN = Expected

NUMBERS = {
    "underscore": "1_000",
    "full-width digits": "\uff11\uff12",
    "arabic digits": "\u0661\u0662",
    "superscript": "1\u00b2",
    "roman numeral": "\u2167",
    "not a number": "nan",
    "infinite": "inf",
    "minus infinite": "-inf",
    "past a float": "1e400",
    "exponent": "1e3",
    "hexadecimal": "0x10",
    "octal": "0o17",
    "19 digits": "9" * 19,
    "2^31": str(2**31),
    "2^63": str(2**63),
    "40 digits": "9" * 40,
    "5000 digits": "9" * 5000,
    "far below": "-999999999",
    "two minuses": "--1",
    "two points": "1.2.3.4",
    "arithmetic": "6*7",
    "logic": "true",
    "nothing's name": "None",
}
DATES = {
    "week 53 of a year without": "2027-W53",
    "29 February of a common year": "2027-02-29",
    "year 1": "0001-01-01",
    "year 9999": "9999-12-31",
    "month 13": "2027-13-01",
    "day 0": "2027-06-00",
    "day 32": "32/1",
    "instant": "2027-06-01T00:00:00Z",
}
HIDDEN = {
    "NUL": "a\0b",
    "escape": "a\x1b[31mb",
    "delete": "a\x7fb",
    "control of the upper half": "a\x9bb",
    "right-to-left override": "a\u202eb",
    "right-to-left isolate": "a\u2067b",
    "private letter": "a\ue000b",
    "no character": "a\ufdd0b",
    "unassigned": "a\U000e0fffb",
}
TOO_LONG = {"5000 letters": "a" * 5000, "5000 marks on one letter": "a" + "\u0301" * 5000}
# One value each that is kept as text, though no number or day reads so.
WORDS = {
    "right-to-left mark": "a\u200fb",
    "zero width": "a\u200bb",
    "zero width joiner": "a\u200db",
    "combining letters": "n\u0303o\u0308",
    "marks on one letter": "a" + "\u0301" * 12,
    "right to left": "\u05d2\u05df",
    "emoji": "\U0001f331",
    "emoji of several": "\U0001f469\u200d\U0001f33e",
    "formula =": "=1+1",
    "formula +": "+A1",
    "formula -": "-A1",
    "formula @": "@SUM(A1)",
    "formula with a quote": "'=1+1",
    "quote of a name": "'t Veld",
    "typst call": '#read("x")',
    "typst sums": "$x^2$",
    "typst stars": "*a* _b_ `c`",
    "typst brackets": "[a] \\ <b> @c ~ / // /*",
    "template sum": "{{7*7}}",
    "template block": "{% if 1 %}",
    "format %": "%s%n%d",
    "format braces": "{0.__class__}",
    "element": "<b>bold</b>",
    "script": "<script>alert(1)</script>",
    "drawing": "<svg onload=alert(1)>",
    "attribute": '" onfocus=alert(1) x="',
    "comment": "<!-- ]]> -->",
    "entity": "&amp;&#x41;",
    "SQL quote": "'; DROP TABLE grower; --",
    "SQL wildcards": "%_\\",
    "path": "../../etc/passwd",
    "device": "CON.txt",
    "address of a script": "javascript:alert(1)",
    "percent code": "%41%2541",
    "line of JSON": '{"a": [1, null]}',
    "shell": "$(id); `id` | cat",
}
BLANKS = {"tab": "a\tb", "carriage return": "a\rb", "line feed": "a\nb", "header": "a\r\nSet-Cookie: b=c"}
# Bytes that are no UTF-8 arrive as the percent codes that were sent.
BYTES = {
    "no UTF-8": b"a\xff\xfeb",
    "half a pair": b"a\xed\xa0\x80b",
    "overlong": b"a\xc0\xafb",
    "cut off": b"a\xe2\x82",
}
NOTHING = {"empty": "", "blank": "   ", "no-break space": "\u00a0"}

CLASSES = NUMBERS | DATES | HIDDEN | TOO_LONG | WORDS | BLANKS | BYTES | NOTHING

# A spreadsheet would make a number or a date of these.
LIKE_NUMBERS = {
    *DATES,
    "full-width digits",
    "arabic digits",
    "past a float",
    "exponent",
    "19 digits",
    "2^31",
    "2^63",
    "40 digits",
    "far below",
    "two minuses",
    "two points",
} - {"week 53 of a year without", "instant"}


def encoded(values):
    """Return a form's body: names with lists of texts or bytes."""
    return "&".join(
        f"{quote_plus(name)}={quote_plus(value)}" for name, several in values.items() for value in several
    ).encode()
