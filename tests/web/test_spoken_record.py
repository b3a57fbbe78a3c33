"""What is wrong with a station's file is told in the language that is spoken; on the command line, in English."""

import re

import pytest

from app import language
from app.language import speaking
from app.storage.folder import Faults, read_station
from app.storage.folder.station_file import too_large
from tests.stations import ghcn_text_of, temperatures, text_of
from tests.web.seasons import one_sowing
from tests.web.test_frost import hand_in, table_rows
from tests.web.test_nothing_left_out import WORD, Marking, unmarked

ROWS = temperatures(2019, 2020)
HEAD = "date,tmin_c,tmax_c\n2020-02-27,1,2\n"
HOT = [(day, round(low * 9 / 5 + 32, 1), round(high * 9 / 5 + 32, 1)) for day, low, high in ROWS]
TENFOLD = [(day, low * 10, high * 10) for day, low, high in ROWS]
WHOLE = [(day, round(low) / 10, round(high) / 10) for day, low, high in ROWS]
# Each kind of fault that a station's file may have, as little as shows it.
FAULTY = {
    "empty": "",
    "semicolons": "date;tmin_c\n2020-01-01;1\n",
    "column missing": "date,tmax_c\n2020-01-01,1\n",
    "column unknown": "date,tmin_c,tmax\n2020-01-01,1,2\n",
    "column twice": "date,tmin_c,tmin_c\n2020-01-01,1,1\n",
    "cells missing": f"{HEAD}2020-02-28,1\n",
    "cells too many": f"{HEAD}2020-02-28,1,2,3\n",
    "quote": f'{HEAD}2020-02-28,1,"2\n',
    "no such day": f"{HEAD}2020-02-30,1,2\n",
    "no day": f"{HEAD}28/2/2020,1,2\n",
    "year": f"{HEAD}1620-02-28,1,2\n",
    "empty cell": f"{HEAD},1,2\n",
    "no figure": f"{HEAD}2020-02-28,cold,2\n",
    "comma": f'{HEAD}2020-02-28,"1,5",2\n',
    "day twice": f"{HEAD}2020-02-27,1,2\n",
    "crossed": f"{HEAD}2020-02-28,3,2\n",
    "tenths, no figure": "DATE,TMIN\n2020-01-01,cold\n",
    "tenths, decimal": "DATE,TMIN\n2020-01-01,1.5\n",
    "letters": f"DATE,TMIN,STATION\n2020-01-01,15,{'X' * 300}\n",
    "hidden letter": "DATE,TMIN,STATION\n2020-01-01,15,X\u202eY\n",
    "NUL": "DATE,TMIN,STATION\n2020-01-01,15,X\0Y\n",
    "control": "DATE,TMIN,STATION\n2020-01-01,15,X\x1bY\n",
    "stations": "DATE,TMIN,STATION\n2020-01-01,15,A\n2020-01-02,15,B\n",
    "many stations": "DATE,TMIN,STATION\n" + "".join(f"2020-01-0{day},15,S{day}\n" for day in range(1, 6)),
    "Fahrenheit": text_of(HOT),
    "Fahrenheit in tenths": ghcn_text_of(HOT),
    "tenths as degrees": text_of(TENFOLD),
    "hundredths": ghcn_text_of(TENFOLD),
    "degrees as tenths": ghcn_text_of(WHOLE),
    "decimals as tenths": "DATE,TMIN,TMAX\n" + "".join(f"{day},{low:.1f},{high:.1f}\n" for day, low, high in ROWS),
    "UTF-16": text_of(ROWS[:3]).encode("utf-16"),
    "a byte": f"{HEAD}2020-02-28,1,2".encode() + b"\xe9\n",
    "bytes": f"{HEAD}2020-02-28,1,2".encode() + b"\xe9\n2020-02-29,1,2\xe9\n",
}
# Values that are put into sentences: names of columns, of stations and of units, and what stood in the file.
VALUES = re.compile(
    r"date|tmin_c|tmax_c|tmax|TMIN|TMAX|STATION|XX\d+|\b[AB]\b|S\d|cold|Celsius|Fahrenheit|U\+\w+|\bE9\b|é"
)


def rights_of(data):
    """Return what is said of each fault of a file."""
    faults = Faults()
    read_station(data if isinstance(data, bytes) else data.encode(), "station.csv", faults)
    return [fault.right for fault in faults._kept]


@pytest.mark.parametrize("data", FAULTY.values(), ids=FAULTY)
def test_no_word_of_a_fault_is_left_out(data, monkeypatch):
    """In a made-up language, which puts what is said between two signs, no word stands outside of them."""
    english = rights_of(data)
    assert english
    marking = Marking()
    monkeypatch.setattr(language, "catalogue", lambda _code: marking)
    with speaking("fr"):
        said = rights_of(data)
    assert len(said) == len(english)
    assert [WORD.findall(VALUES.sub(" ", unmarked(words))) for words in said] == [[] for _ in english]


def test_each_kind_of_fault_is_among_them():
    """Two that look alike would leave one untried."""
    kinds = {name: re.sub(r"[\d., ]+", " ", rights_of(data)[0]) for name, data in FAULTY.items()}
    assert len(set(kinds.values())) == len(kinds)


@pytest.mark.parametrize(
    ("code", "size"), [("en", "12,345 MB"), ("fr", "12\u202f345\u00a0Mo"), ("es", "12.345\u00a0MB")]
)
def test_figures_in_a_fault_are_written_as_the_language_does(code, size):
    """As the locale data of Unicode (CLDR) have it for each."""
    with speaking(code):
        assert size in too_large("station.csv", 12_345 * 1024 * 1024).right


def test_the_page_tells_the_faults_of_a_file_in_french(client, session):
    one_sowing(session)
    file = "date,tmin_c,tmax_c\n2001-01-01,-5,1\n2001-02-30,1,2\n2001-01-03,cold,2\n2001-01-01,1,2\n2001-01-05,9,2\n"
    answer = hand_in(client, file, headers={"Accept-Language": "fr"})
    assert answer.status_code == 200
    assert table_rows(answer.text, "faults") == [
        ["3", "date", "2001-02-30", "ce jour n’existe pas au calendrier"],
        ["4", "tmin_c", "cold", "donnez un nombre de -60 à 60 °C, ou rien pour un jour manquant"],
        ["5", "date", "2001-01-01", "la ligne 2 a déjà ce jour ; un jour ne figure qu’une fois"],
        ["6", "tmin_c", "9", "tmax_c de ce jour est plus bas : 2 ; l’un des deux est faux"],
    ]
