"""Every fault of a garden folder is told with file, row and column, and nothing is loaded."""

import pytest
from sqlalchemy import select

from app.services.folder import load_folder
from app.storage.base import Base
from app.storage.folder import FaultyFolderError, FolderError, read_folder
from tests.storage.small_folder import DEALT, FILES, spoil, write_files

# file, what is changed there, into what; row and column of the fault, and what is said of it
FAULTS = {
    "unknown crop": ("sowings.csv", "Squash", "Sqash", 3, "crop", 'in crops.csv. Nearest: "Squash"'),
    "unknown grower": ("sowings.csv", "S1,Ana", "S1,Anna", 2, "grower", 'Nearest: "Ana"'),
    "unknown seed lot": ("sowings.csv", ",L1,", ",L9,", 2, "seed_lot", "no seed lot of that name in seed_lots.csv"),
    "unknown container": ("crops.csv", "8,Plug", "8,Plugs", 2, "start_container", 'Nearest: "Plug"'),
    "unknown pot": ("crops.csv", ",Pot,21", ",Pott,21", 2, "pot_on_container", "no container of that name"),
    "unknown crop of a lot": ("seed_lots.csv", "L2,Carrot", "L2,Karrot", 3, "crop", 'Nearest: "Carrot"'),
    "empty grower": ("sowings.csv", "S1,Ana", "S1,", 2, "grower", "the cell is empty; give the name of a grower"),
    "same sowing twice": ("sowings.csv", "S2", "S1", 3, "sowing", "row 2 has this sowing already"),
    "same grower twice": ("growers.csv", "Ben", "Ana", 3, "grower", "row 2 has this grower already"),
    "same crop twice": ("crops.csv", "Carrot,hardy", "Tomato,hardy", 4, "crop", "row 2 has this crop already"),
    "negative plants": ("sowings.csv", "Squash,4", "Squash,-4", 3, "plants", "a whole number from 1 to 10,000"),
    "no plants": ("sowings.csv", "Squash,4", "Squash,0", 3, "plants", "a whole number from 1"),
    "half a plant": ("sowings.csv", "Squash,4", "Squash,4.5", 3, "plants", "a whole number"),
    "text in a number": ("sowings.csv", "Squash,4", "Squash,four", 3, "plants", "a whole number"),
    "not a number": ("shelves.csv", "200,30", "nan,30", 4, "width_cm", "a number from 1 to 5,000"),
    "infinite": ("shelves.csv", "200,30", "200,inf", 4, "depth_cm", "a number from 1 to 5,000"),
    "underscore": ("sowings.csv", "Squash,4", "Squash,1_0", 3, "plants", "a whole number"),
    "full-width digits": ("sowings.csv", "Squash,4", "Squash,\uff14", 3, "plants", "a whole number"),
    "19 digits": ("sowings.csv", "Squash,4", "Squash,1234567890123456789", 3, "plants", "a whole number"),
    "decimal comma": ("crops.csv", "1.5,3", '"1,5",3', 3, "plant_out_weeks", "with a decimal point: 1.5"),
    "weeks out of order": ("crops.csv", "6,8,Plug", "9,8,Plug", 2, "indoor_weeks_max", "no less than the fewest weeks"),
    "impossible date": ("sowings.csv", "2027-05-20", "2027-02-30", 2, "plant_out", "no such day in the calendar"),
    "29 February": ("sowings.csv", "2027-05-20", "2027-02-29", 2, "plant_out", "no such day in the calendar"),
    "date in another form": ("sowings.csv", "2027-05-20", "20.5.2027", 2, "plant_out", "such as 2027-04-10"),
    "date far off": ("sowings.csv", "2027-05-20", "2207-05-20", 2, "plant_out", "a date from 2026 to 2028"),
    "sown far off": ("sowings.csv", "2027-04-01", "1927-04-01", 2, "sow_on", "a date from 2026 to 2028"),
    "no cells": ("containers.csv", "Pot,18", "Pot,0", 3, "cells_per_tray", "a whole number from 1"),
    "cells not given": ("containers.csv", "Pot,18", "Pot,", 3, "cells_per_tray", "the cell is empty"),
    "rows x columns": ("containers.csv", ",6,12", ",6,11", 2, "cells_per_tray", "6 x 11 = 66"),
    "rows alone": ("containers.csv", ",6,12", ",6,", 2, "columns", "or no rows"),
    "no such place": ("shelves.csv", "lamp,122", "lamps,122", 2, "place", "give one of: heat, lamp, window, hardening"),
    "25 hours": ("shelves.csv", ",16", ",25", 2, "hours_per_day", "a number from 0 to 24"),
    "no such hardiness": ("crops.csv", "Carrot,hardy", "Carrot,tough", 4, "hardiness", "very hardy, hardy, half-hardy"),
    "no such light": ("sowings.csv", ",window,", ",sun,", 3, "light", "give one of: lamp, window"),
    "no such origin": ("seed_lots.csv", "saved", "found", 3, "origin", "bought, saved, gift"),
    "neither yes nor no": ("crops.csv", "24,yes,lamp", "24,true,lamp", 2, "heat", "give one of: yes, no"),
    "misspelt weekday": ("growers.csv", "saturday sunday", "saturday sonday", 2, "days", 'Nearest: "sunday"'),
    "share above 1": ("seed_lots.csv", "0.9", "90", 2, "germination", "a number from 0.05 to 1"),
    "risk of 1": ("sowings.csv", ",0.2,", ",1,", 2, "risk", "a number from 0.01 to 0.99"),
    "placed above plants": ("sowings.csv", ",,5\n", ",,7\n", 2, "placed", "at most the 6 plants wanted"),
    "priority 4": ("sowings.csv", ",L1,1,", ",L1,4,", 2, "priority", "a whole number from 1 to 3"),
    "seed of another crop": ("sowings.csv", "72,L1", "72,L2", 2, "seed_lot", "seed is Carrot, the sowing is Tomato"),
    "resents, potted on": ("crops.csv", ",,,resents", ",Pot,20,resents", 3, "pot_on_container", "resents"),
    "pot without days": ("crops.csv", ",Pot,21,", ",Pot,,", 2, "pot_on_after_days", "needed where the crop"),
    "days without pot": ("crops.csv", ",Pot,21,", ",,21,", 2, "pot_on_container", "needed where days"),
    "start without weeks": ("crops.csv", ",6,8,Plug", ",,8,Plug", 2, "indoor_weeks_min", "needed for a crop"),
    "start without plant-out": ("crops.csv", "tender,1,", "tender,,", 2, "plant_out_weeks", "needed for a crop"),
    "start without light": ("crops.csv", "yes,lamp", "yes,", 2, "light", "needed for a crop"),
    "start without heat": ("crops.csv", "yes,lamp", ",lamp", 2, "heat", "start container needs it"),
    "start without seeds": ("crops.csv", "lamp,2", "lamp,", 2, "seeds_per_cell", "start container needs it"),
    "start without emergence": ("crops.csv", "transplant,7", "transplant,", 2, "days_to_emerge", "needed for a crop"),
    "outside without weeks": ("crops.csv", ",-3,", ",,", 4, "direct_sow_weeks", "without a start container"),
    "outside with weeks indoors": ("crops.csv", "hardy,,,,", "hardy,,2,,", 4, "indoor_weeks_min", "leave it empty"),
    "no such emergence row": ("crops.csv", "easy,tomato", "easy,tomatoe", 2, "emergence_row", 'Nearest: "tomato"'),
    "no such kind": ("crops.csv", "Carrot,\n", "Carot,\n", 4, "germination_kind", 'Nearest: "Carrot"'),
    "NUL in a name": ("growers.csv", "Ben", "B\0n", 3, "grower", "a NUL character"),
    "tab in a name": ("shelves.csv", "Sill", "Si\tll", 4, "shelf", "a tab"),
    "line break in a name": ("shelves.csv", "Sill", '"Si\nll"', 4, "shelf", "a line break"),
    "NUL in a text": ("growers.csv", "ana@", "a\0na@", 2, "contact", "a NUL character"),
    "long name": ("shelves.csv", "Sill", "S" * 81, 4, "shelf", "at most 80"),
    "unknown column": ("growers.csv", "plot,", "plott,", 1, "plott", 'no column of that name. Nearest: "plot"'),
    "missing column": ("sowings.csv", "crop,plants,variety", "crop,variety", 1, "plants", "this column is missing"),
    "repeated column": ("seed_lots.csv", "origin,year", "origin,origin", 1, "origin", "there already"),
    "too few cells": ("shelves.csv", "200,30,1,,,", "200,30,1,,", 4, None, "7 cells under 8 columns"),
    "too many cells": ("shelves.csv", "200,30,1,,,", "200,30,1,,,,7", 4, None, "9 cells under 8 columns"),
    "unclosed quote": ("sowings.csv", "S3,Ben", 'S3,"Ben', 4, None, "not closed"),
    "quote not doubled": ("growers.csv", "Ana,1", '"A"na,1', 2, None, "not doubled"),
    "semicolons": ("growers.csv", "grower,plot,contact,days", "grower;plot;contact;days", 1, None, "not separated by"),
    "empty file": ("growers.csv", FILES["growers.csv"], "", 1, None, "the header row is missing"),
    "no such season": ("garden.toml", "season = 2027", 'season = "27"', 3, "[garden] season", "from 1900 to 2200"),
    "no name": ("garden.toml", 'name = "Small Garden"\n', "", None, "[garden] name", "this setting is missing"),
    "no latitude": ("garden.toml", "latitude = 50.0\n", "", None, "[site] latitude", "this setting is missing"),
    "true for a number": ("garden.toml", "latitude = 50.0", "latitude = true", 11, "[site] latitude", "from -90 to 90"),
    "nan for a number": ("garden.toml", "latitude = 50.0", "latitude = nan", 11, "[site] latitude", "from -90 to 90"),
    "unknown units": ("garden.toml", '"metric"', '"imperial"', 4, "[garden] units", '"metric", "us"'),
    "one tray side": ("garden.toml", "[54.5, 28.0]", "[54.5]", 8, "[garden] tray_cm", "length and width"),
    "no such close": ("garden.toml", '"02-15"', '"02-31"', 7, "[garden] wishes_close", "month and day"),
    "unknown setting": ("garden.toml", "longitude", "longitud", 12, "[site] longitud", 'Nearest: "longitude"'),
    "unknown section": ("garden.toml", "[plan]", "[plans]", 24, "[plans]", 'Nearest: "plan"'),
    "TOML syntax": ("garden.toml", "season = 2027", "season = twenty", 3, None, "not written as a settings file"),
    "station": ("garden.toml", 'source = "table"', 'source = "station"', 16, "[frost] source", "daily_temperatures"),
    "one chance": ("garden.toml", 'p90 = "04-10", p50 = "04-25", ', "", 21, "[frost] spring", "two or more chances"),
    "one side of 50": ("garden.toml", 'p50 = "10-15", p90', 'p20 = "10-15", p40', 22, "[frost] autumn", "both sides"),
    "not falling": ("garden.toml", '"04-10"', '"04-30"', 21, "[frost] spring", "must fall as the chance rises"),
    "not rising": ("garden.toml", '"10-30"', '"10-02"', 22, "[frost] autumn", "must rise with the chance"),
    "no chance": ("garden.toml", 'p90 = "04', 'p100 = "04', 21, "[frost] spring", "a table of chances"),
    "no frost day": ("garden.toml", '"04-10"', '"04-31"', 21, "[frost] spring", "MM-DD"),
    "risk in percent": ("garden.toml", "c = 0.0\nrisk = 0.1", "c = 0.0\nrisk = 1", 19, "[frost] risk", "0.01 to 0.99"),
    "same tray twice": ("trays.csv", "102,Pot", "101,Pot", 3, "tray", "row 2 has this tray already; each needs a num"),
    "tray number 0": ("trays.csv", "103,Pot", "0,Pot", 4, "tray", "a whole number from 1 to 999,999"),
    "tray of no container": ("trays.csv", "101,Plug", "101,Plugs", 2, "container", 'Nearest: "Plug"'),
    "tray without a day": ("trays.csv", "102,Pot,2027-04-24", "102,Pot,", 3, "sow_on", "the cell is empty"),
    "tray far off": ("trays.csv", "102,Pot,2027", "102,Pot,2207", 3, "sow_on", "a date from 2024 to 2030"),
    "neither pinned nor not": ("trays.csv", "no,yes", "no,firmly", 2, "pinned", "give one of: yes, no"),
    "cell of no tray": ("cells.csv", "103,C", "104,C", 6, "tray", "no tray of that number in trays.csv"),
    "cell of a tray's name": ("cells.csv", "103,C", "T103,C", 6, "tray", "no tray of that number in trays.csv"),
    "cell without a tray": ("cells.csv", "103,C", ",C", 6, "tray", "empty; give the number of a tray in trays.csv"),
    "cell of no sowing": ("cells.csv", "6,S1", "6,S9", 6, "sowing", "no sowing of that name in sowings.csv"),
    "sown without a sowing": ("cells.csv", "S1,sown", ",sown", 2, "sowing", 'a cell that is "sown" has a sowing'),
    "no such state": ("cells.csv", "S1,sown", "S1,sawn", 2, "state", "give one of: empty, sown, up, potted on, out, "),
    "row past the tray": ("cells.csv", "101,F", "101,G", 4, "row", "this tray has rows A to F"),
    "row past its grid as laid out": ("cells.csv", "103,C", "103,D", 6, "row", "this tray has rows A to C"),
    "row AA past the tray": ("cells.csv", "101,F", "101,AA", 4, "row", "this tray has rows A to F"),
    "column past the tray": ("cells.csv", "F,12", "F,13", 4, "column", "this tray has columns 1 to 12"),
    "row as a number": ("cells.csv", "101,F", "101,6", 4, "row", "give the letters of a row"),
    "row past any tray": ("cells.csv", "101,F", "101,ALM", 4, "row", "give the letters of a row"),
    "column 0": ("cells.csv", "F,12", "F,0", 4, "column", "a whole number from 1 to 1,000"),
    "same cell twice": ("cells.csv", "101,A,2", "101,a,1", 3, "column", "row 2 has this cell already; a cell belongs"),
    "cell of two sowings": ("cells.csv", "A,2,S1,up", "A,1,S2,", 3, "column", "row 2 has this cell already"),
    "stay of no tray": ("stays.csv", "103,lamp", "104,lamp", 6, "tray", "no tray of that number in trays.csv"),
    "stay in no place": ("stays.csv", "102,window", "102,windows", 5, "place", "heat, lamp, window, hardening"),
    "stay on no shelf": ("stays.csv", "Frame", "Frames", 7, "shelf", 'in shelves.csv. Nearest: "Frame"'),
    "no slot": ("stays.csv", "Frame,1,1", "Frame,1,", 7, "slot", "shelf, level and slot, or none of the three"),
    "no level": ("stays.csv", "Frame,1,1", "Frame,,1", 7, "level", "shelf, level and slot, or none of the three"),
    "slot alone": ("stays.csv", "window,,,,", "window,,,1,", 5, "shelf", "shelf, level and slot, or none of the three"),
    "level 51": ("stays.csv", "Frame,1,1", "Frame,51,1", 7, "level", "a whole number from 1 to 50"),
    "level 0": ("stays.csv", "Frame,1,1", "Frame,0,1", 7, "level", "a whole number from 1 to 50"),
    "slot 0": ("stays.csv", "Frame,1,1", "Frame,1,0", 7, "slot", "a whole number from 1 to 10,000"),
    "slot 10,001": ("stays.csv", "Frame,1,1", "Frame,1,10001", 7, "slot", "a whole number from 1 to 10,000"),
    "no day to leave": ("stays.csv", "05-10,2027-05-20", "05-10,", 7, "to", "the cell is empty"),
    "leaves as it comes": ("stays.csv", "2027-05-20", "2027-05-10", 7, "to", "the tray leaves, after 2027-05-10"),
    "leaves before it comes": ("stays.csv", "2027-05-20", "2027-04-10", 7, "to", "the tray leaves, after 2027-05-10"),
    "leaves far off": ("stays.csv", "2027-05-20", "2207-05-20", 7, "to", "a date from 2024 to 2030"),
    "pinned to nothing": ("stays.csv", "05-14,", "05-14,yes", 5, "pinned", "only a position can be pinned"),
    "two trays in a position": ("stays.csv", "2027-04-29,2027-05-10", "2027-04-28,2027-05-10", 6, "slot",
                                "row 3 has a tray in this position from 2027-04-08 to 2027-04-29"),
    "one tray in two places": ("stays.csv", "2027-04-30,2027-05-14", "2027-04-29,2027-05-14", 5, "from",
                               "row 4 has this tray too until 2027-04-30"),
    "same stay twice": ("stays.csv", "04-30,no\n", "04-30,no\n102,heat,Bench,1,1,2027-04-24,2027-04-30,no\n",
                        5, "from", "row 4 has this tray too until 2027-04-30"),
}  # fmt: skip


def faults_of(folder, files):
    with pytest.raises(FaultyFolderError) as caught:
        read_folder(write_files(folder, files))
    return caught.value.faults


def test_the_folder_the_faults_are_put_into_has_none(tmp_path):
    assert read_folder(write_files(tmp_path / "g", DEALT)).values["stays.csv"].count == 6


@pytest.mark.parametrize(("file", "old", "new", "row", "column", "said"), FAULTS.values(), ids=FAULTS)
def test_a_fault_is_told_with_its_place(tmp_path, file, old, new, row, column, said):
    faults = faults_of(tmp_path / "g", spoil(file, old, new, DEALT))
    matching = [fault for fault in faults if (fault.file, fault.row, fault.column) == (file, row, column)]
    assert len(matching) == 1, [str(fault) for fault in faults]
    assert said in matching[0].right
    assert str(matching[0]).startswith(f"{file}, " if row or column else file)


# A name that is wrong where it is defined is also unknown where it is used, and a file that cannot be taken
# apart has the rest of its faults; everything else is one fault.
SEVERAL = {
    "unknown column", "same grower twice", "same crop twice", "same sowing twice", "NUL in a name", "quote not doubled",
    "empty file", "semicolons", "repeated column", "unclosed quote", "missing column", "TOML syntax", "unknown section",
    "unknown setting", "same tray twice", "tray number 0",
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(set(FAULTS) - SEVERAL))
def test_one_fault_is_told_once_and_brings_no_others(tmp_path, name):
    file, old, new, *_ = FAULTS[name]
    assert len(faults_of(tmp_path / "g", spoil(file, old, new, DEALT))) == 1


def test_all_faults_of_all_files_come_in_one_answer_file_by_file_from_the_top(tmp_path):
    files = dict(FILES)
    for name, old, new in (
        ("garden.toml", "latitude = 50.0", "latitude = 95"),
        ("growers.csv", "saturday sunday", "caturday"),
        ("sowings.csv", "Squash", "Sqash"),
        ("sowings.csv", "2027-05-20", "2027-02-30"),
    ):
        files[name] = files[name].replace(old, new)
    faults = faults_of(tmp_path / "g", files)
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [
        ("garden.toml", 11, "[site] latitude"),
        ("growers.csv", 2, "days"),
        ("sowings.csv", 2, "plant_out"),
        ("sowings.csv", 3, "crop"),
    ]


def test_a_fault_reads_as_a_sentence(tmp_path):
    faults = faults_of(tmp_path / "g", spoil("sowings.csv", "Squash", "Sqash"))
    assert str(faults[0]) == (
        'sowings.csv, row 3, crop: found "Sqash"; there is no crop of that name in crops.csv. Nearest: "Squash".'
    )


@pytest.mark.parametrize("name", ["garden.toml", "growers.csv", "shelves.csv", "sowings.csv"])
def test_a_missing_file_is_a_fault(tmp_path, name):
    faults = faults_of(tmp_path / "g", {**FILES, name: None})
    assert [fault.file for fault in faults if "missing" in fault.right] == [name]
    assert not [fault for fault in faults if fault.file == "sowings.csv" and name != "sowings.csv"]


def test_a_csv_file_of_another_name_is_a_fault_and_other_files_are_none_of_ours(tmp_path):
    faults = faults_of(tmp_path / "g", {**FILES, "sowing.csv": "sowing\n"})
    assert [(fault.file, "sowings.csv" in fault.right) for fault in faults] == [("sowing.csv", True)]
    others = {"notes.txt": "x", ".hidden.csv": "x", "map.png": b"\x89PNG"}
    assert read_folder(write_files(tmp_path / "h", {**FILES, **others})).values


@pytest.mark.parametrize(("row", "old"), [(2, "Ana,1"), (3, "Ben,2")])
def test_windows_1252_is_told_with_row_byte_and_how_to_save(tmp_path, row, old):
    content = FILES["growers.csv"].replace(old, f"{old}é").encode("cp1252")
    faults = faults_of(tmp_path / "g", {**FILES, "growers.csv": content})
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [("growers.csv", row, "plot")]
    assert 'byte E9 is not UTF-8 ("é" in Windows-1252)' in faults[0].right
    assert "save it as UTF-8" in faults[0].right


def test_windows_1252_in_the_settings_is_told_with_its_line(tmp_path):
    content = FILES["garden.toml"].replace("Small", "Kleiné").encode("cp1252")
    faults = faults_of(tmp_path / "g", {**FILES, "garden.toml": content})
    assert [(fault.file, fault.row) for fault in faults] == [("garden.toml", 2)]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_told_and_the_other_faults_of_the_file_too(tmp_path, encoding):
    content = FILES["growers.csv"].replace("sunday", "sonday").encode(encoding)
    faults = faults_of(tmp_path / "g", {**FILES, "growers.csv": content})
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [
        ("growers.csv", 1, None),
        ("growers.csv", 2, "days"),
    ]
    assert "UTF-16" in faults[0].right


def test_rows_are_counted_as_a_spreadsheet_counts_them(tmp_path):
    growers = 'grower,plot,contact,days\nAna,1,"12 Low Lane\nby the mill\n",\n\nBen,2,,monday caturday\n'
    faults = faults_of(tmp_path / "g", {**FILES, "growers.csv": growers})
    assert [(fault.row, fault.column) for fault in faults] == [(4, "days")]


def test_at_most_200_faults_are_told_and_the_rest_counted(tmp_path):
    lines = "".join(f"X{number},Nobody,Tomato,5,,,,,,,,,\n" for number in range(1000))
    with pytest.raises(FaultyFolderError) as caught:
        read_folder(write_files(tmp_path / "g", {**FILES, "sowings.csv": FILES["sowings.csv"] + lines}))
    assert (len(caught.value.faults), caught.value.count) == (200, 1000)
    assert "... and 800 more." in str(caught.value)


def test_a_container_missing_for_the_crop_cards_of_the_program_is_told_of_them(tmp_path):
    files = {**FILES, "crops.csv": None, "seed_lots.csv": None}
    files["sowings.csv"] = FILES["sowings.csv"].splitlines()[0] + "\n"
    faults = faults_of(tmp_path / "g", files)
    assert {fault.file for fault in faults} == {"crops.csv of the program"}


# What a card or a shelf that is changed after trays were dealt leaves behind.
HISTORY = {
    "another start container": ("crops.csv", "3,4,Pot", "3,4,Plug"),
    "another pot": ("crops.csv", "lamp,2,Solanum lycopersicum,,Pot,21", "lamp,2,Solanum lycopersicum,,Plug,21"),
    "no longer potted on": ("crops.csv", ",Pot,21,", ",,,"),
    "sown outside": ("sowings.csv", "Ben,Squash", "Ben,Carrot"),
    "a shelf of another place": ("shelves.csv", "Frame,hardening", "Frame,window"),
    "a shelf of fewer levels": ("stays.csv", "Frame,1,1", "Frame,9,7"),
    "filled a year before": ("trays.csv", "101,Plug,2027", "101,Plug,2025"),
}


@pytest.mark.parametrize(("file", "old", "new"), HISTORY.values(), ids=HISTORY)
def test_what_was_dealt_before_a_card_or_a_shelf_changed_is_no_fault(tmp_path, file, old, new):
    assert read_folder(write_files(tmp_path / "g", spoil(file, old, new, DEALT))).values["trays.csv"].count == 3


def test_each_tray_that_comes_to_a_taken_position_is_told_once_with_the_one_there(tmp_path):
    lines = [DEALT["trays.csv"]]
    stays = [DEALT["stays.csv"].splitlines()[0] + "\n"]
    for number in range(4):
        lines.append(f"{number + 1},Pot,2027-04-01,,\n")
        stays.append(f"{number + 1},lamp,Rack,1,1,2027-04-{4 - number:02},2027-04-20,\n")
    faults = faults_of(tmp_path / "g", {**DEALT, "trays.csv": "".join(lines), "stays.csv": "".join(stays)})
    assert [(fault.row, fault.right[:6]) for fault in faults] == [(2, "row 5 "), (3, "row 5 "), (4, "row 5 ")]


def test_cells_and_stays_of_a_folder_without_trays_are_faults(tmp_path):
    faults = faults_of(tmp_path / "g", {**DEALT, "trays.csv": None})
    assert {(fault.file, fault.column) for fault in faults} == {("cells.csv", "tray"), ("stays.csv", "tray")}
    assert len(faults) == 11


@pytest.mark.parametrize("name", ["nothing", "a_file"])
def test_what_is_no_folder_is_told_plainly(tmp_path, name):
    (tmp_path / "a_file").write_text("x")
    with pytest.raises(FolderError, match=name):
        read_folder(tmp_path / name)


def test_a_folder_with_a_fault_leaves_the_database_as_it_was(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", FILES))
    session.commit()

    def everything():
        tables = Base.metadata.sorted_tables
        return [session.connection().execute(select(table).order_by(*table.primary_key)).all() for table in tables]

    before = everything()
    bad = write_files(tmp_path / "h", spoil("sowings.csv", "Squash,4", "Squash,-4"))
    with pytest.raises(FaultyFolderError):
        load_folder(session, bad, replace=True)
    session.commit()
    assert everything() == before
