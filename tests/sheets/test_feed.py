"""A calendar file is what RFC 5545 asks for: read by two libraries that share nothing, and octet by octet.

The second library is vobject; it wrote none of what it reads here. Names are invented.
"""

import re
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st

from app.services.feeds import Event, Told
from app.sheets.feed import make_calendar

HOSTILE = (
    "Rue; Sage, Thyme",
    "back\\slash \\n is no break",
    "two\nlines",
    "🌱🍅 " * 30,
    'quoted "name": X=Y',
    "BEGIN:VEVENT\nEND:VCALENDAR",
    "é" * 74,
    "a" * 75,
    "a\ttab",
    "ends with \\",
)
CHANGED_AT = 1_800_000_000.75
# Letters that TEXT may hold: all but controls, halves of pairs, and what is not to be exchanged (RFC 5545, 3.3.11).
LETTERS = st.text(st.characters(exclude_categories=["Cc", "Cs"]) | st.sampled_from('\n\t,;\\:"'), max_size=200)


def event(**changes):
    told = {"key": "2027/S-1/sow", "day": date(2027, 5, 1), "summary": "Sow: Tomato, 9 cells"}
    parts = {key: changes.pop(key) for key in list(changes) if key in {"summary", "description", "day", "link"}}
    rest = {"uid": "6f7c2c36-6d3e-4d4f-9a8c-0d7b0a4f5b11", "sequence": 2, "changed_at": CHANGED_AT}
    return Event(told=Told(**told | parts), **rest | changes)


def unfold(body):
    """Return the lines of a calendar as RFC 5545, 3.1 says, without either library."""
    assert body.endswith(b"\r\n")
    lines = body[:-2].split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    unfolded = []
    for line in lines:
        line.decode()  # no letter is cut in two
        if line.startswith((b" ", b"\t")):
            unfolded[-1] += line[1:].decode()
        else:
            unfolded.append(line.decode())
    return unfolded


def test_every_line_of_an_event_is_as_the_standard_has_it():
    lines = unfold(make_calendar("Wrenmoor", [event(description="18 seeds", link="http://shed.lan/growers/1")]))
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    head, body = lines[1 : lines.index("BEGIN:VEVENT")], lines[lines.index("BEGIN:VEVENT") : -1]
    assert set(head) == {
        "VERSION:2.0",
        "PRODID:-//Traymates//Dates of a garden//EN",
        "NAME:Wrenmoor",
        "X-WR-CALNAME:Wrenmoor",
        "REFRESH-INTERVAL;VALUE=DURATION:PT12H",
        "X-PUBLISHED-TTL:PT12H",
    }
    assert sorted(body) == sorted(
        [
            "BEGIN:VEVENT",
            "UID:6f7c2c36-6d3e-4d4f-9a8c-0d7b0a4f5b11",
            "DTSTAMP:20270115T080000Z",  # 1 800 000 000 s, by GNU date
            "LAST-MODIFIED:20270115T080000Z",
            "SEQUENCE:2",
            "DTSTART;VALUE=DATE:20270501",
            "DTEND;VALUE=DATE:20270502",
            r"SUMMARY:Sow: Tomato\, 9 cells",
            "DESCRIPTION:18 seeds",
            "URL:http://shed.lan/growers/1",
            "STATUS:CONFIRMED",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    )


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_come_back_equal_from_both_libraries(text):
    assert_comes_back(text)


@given(LETTERS)
def test_every_text_comes_back_equal(text):
    assert_comes_back(text)


def assert_comes_back(text):
    body = make_calendar(text or "x", [event(summary=text, description=text)])
    unfold(body)
    first = icalendar.Calendar.from_ical(body)
    assert [str(part.name) for part in first.walk()] == ["VCALENDAR", "VEVENT"]
    assert first.walk("VEVENT")[0].errors == []
    assert str(first.walk("VEVENT")[0]["summary"]) == text
    other = vobject.readOne(body.decode())
    assert [part.name for part in other.components()] == ["VEVENT"]
    assert other.vevent.summary.value == text
    assert (other.vevent.description.value if text else "") == text


def test_both_libraries_read_the_same_dates():
    events = [event(day=date(2027, 12, 31)), event(day=date(2028, 2, 29), uid="other", is_cancelled=True)]
    body = make_calendar("Wrenmoor", events)
    for by in icalendar.Calendar.from_ical(body).walk("VEVENT"):
        start, end = by["dtstart"].dt, by["dtend"].dt
        assert type(start) is date
        assert end - start == timedelta(days=1)
    read = list(vobject.readOne(body.decode()).vevent_list)
    assert [one.dtstart.value for one in read] == [date(2027, 12, 31), date(2028, 2, 29)]
    assert [one.dtend.value for one in read] == [date(2028, 1, 1), date(2028, 3, 1)]
    assert [one.status.value for one in read] == ["CONFIRMED", "CANCELLED"]
    assert read[0].dtstamp.value == datetime.fromtimestamp(int(CHANGED_AT), UTC)
    for one in read:
        assert one.validate(raiseException=True)
    assert b"VTIMEZONE" not in body
    assert not re.search(rb"(DTSTART|DTEND)[^:]*T[ZI]", body)


def test_what_text_cannot_hold_is_left_out():
    body = make_calendar("bell\x07", [event(summary="a\x00b\x1bc\x7fd\x85e")])
    assert "SUMMARY:abcde" in unfold(body)
    assert "NAME:bell" in unfold(body)
