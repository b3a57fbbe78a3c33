"""The log, and what members share out, as files: in and out, and what is refused."""

import pytest

from app.services.folder import load_folder
from app.storage.folder import FaultyFolderError, read_folder
from app.storage.folder.writing import folder_files
from tests.storage.small_folder import LOGGED, spoil, write_files
from tests.storage.test_folder_round_trip import rows_of

LOG = "log.csv"
FAULTS = {
    # file, what stands there, what stands in its place, row, column, what is said
    "no such sowing": (LOG, "E-5,S1", "E-5,S8", 6, "sowing", "no sowing of that name"),
    "no such kind": (LOG, "lost,", "gone,", 6, "kind", "give one of: sown, up, thinned"),
    "no such cause": (LOG, "damping off", "damp", 6, "cause", "give one of: damping off, dried out"),
    "no day": (LOG, "lost,2027-04-12", "lost,", 6, "date", "the cell is empty"),
    "day far off": (LOG, "lost,2027-04-12", "lost,2207-04-12", 6, "date", "a date from 2024 to 2030"),
    "count below 0": (LOG, "12,1,,101", "12,-1,,101", 6, "count", "a whole number from 0"),
    "no such tray": (LOG, "12,1,,101", "12,1,,104", 6, "tray", "no tray of that number"),
    "no such entry": (LOG, "E-3,,\n", "E-33,,\n", 5, "supersedes", "no entry of that name in log.csv"),
    "same entry twice": (LOG, "E-2,", "E-1,", 3, "entry", "row 2 has this entry already"),
    "no such cell": (LOG, "F12", "F-12", 6, "cells", "give cells as on the label"),
    "cell twice": (LOG, "A1 A2", "A1 a1", 3, "cells", "each once"),
    "corrects itself": (LOG, "E-3,,\n", "E-4,,\n", 5, "supersedes", "these correct each other"),
    "corrects another kind": (LOG, "E-3,,\n", "E-5,,\n", 5, "kind", "corrects row 6, which is of another kind"),
    "corrected twice": (LOG, "F12,Ben\n", "F12,Ben\nE-6,S1,up,2027-04-11,3,,101,,,,E-3,,\n", 7, "supersedes",
                        "row 5 corrects this entry already"),
    "takes back nothing": (LOG, "04-12,1,", "04-12,0,", 6, "count", "takes back another one"),
    "more up than sown": (LOG, "04-10,3,", "04-10,4,", 5, "count", "more cells came up than the 3 that were sown"),
    "more in a tray than it has": (LOG, "04-01,3,", "04-01,4,", 2, "count", "give at most 3"),
    "up before it was sown": (LOG, "up,2027-04-09", "up,2027-03-09", 3, "kind", "nothing of this sowing was sown"),
    "of a sowing that was not sown": (LOG, "E-5,S1", "E-5,S2", 6, "kind", "nothing of this sowing was sown"),
    "more lost than came up": (LOG, "04-12,1,", "04-12,151,", 6, "count", "more was lost than there was, which is 150"),
    "long before the season": (LOG, "sown,2027-04-01", "sown,2025-04-01", 2, "date", "from 2026-01-01 on"),
    "ticked off twice": ("ticks.csv", "look,2027-04-09", "look,2027-04-08", 3, "date", "row 2 has this tick already"),
    "no such task": ("ticks.csv", "look,2027-04-09", "peek,2027-04-09", 3, "task", "give one of: look, uncover"),
    "more up than tried": ("seed_tests.csv", "20,17", "20,21", 2, "up", "at most the 20"),
    "none tried": ("seed_tests.csv", "20,17", "0,0", 2, "tried", "a whole number from 1"),
    "two rounds on a day": ("rounds.csv", "2027-04-14", "2027-04-12", 3, "date", "row 2 has this round already"),
    "round of nobody known": ("rounds.csv", "14,Ben", "14,Bea", 3, "grower", 'Nearest: "Ben"'),
    "draft of no crop": ("drafts.csv", "Ben,Carrot", "Ben,", 3, "crop", "the cell is empty"),
    "same offer twice": ("spare_offers.csv", "9,S1", "4,S1", 3, "offer", "row 2 has this offer already"),
    "gift of no offer": ("spare_gifts.csv", "9,Ben", "8,Ben", 2, "offer", "no offer of that number"),
    "gift for no request": ("spare_gifts.csv", "12,7", "12,8", 2, "request", "no request of that number"),
}  # fmt: skip
# A name that is wrong where it is defined is also unknown where it is used.
SEVERAL = {"same entry twice", "same offer twice", "corrects itself", "up before it was sown"}


def faults_of(folder, files):
    with pytest.raises(FaultyFolderError) as caught:
        read_folder(write_files(folder, files))
    return caught.value.faults


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_told_with_its_place_and_brings_no_others(tmp_path, name):
    file, old, new, row, column, said = FAULTS[name]
    faults = faults_of(tmp_path / "g", spoil(file, old, new, LOGGED))
    matching = [fault for fault in faults if (fault.file, fault.row, fault.column) == (file, row, column)]
    assert len(matching) == 1, [str(fault) for fault in faults]
    assert said in matching[0].right
    assert len(faults) == 1 or name in SEVERAL


def test_entries_that_correct_each_other_in_a_circle_are_refused(tmp_path):
    files = spoil(LOG, "04-10,30,,101,,,,,,", "04-10,30,,101,,,,E-4,,", LOGGED)
    assert {fault.row for fault in faults_of(tmp_path / "g", files)} == {4, 5}


def test_a_log_of_an_earlier_season_needs_no_trays(tmp_path):
    files = {**LOGGED, "trays.csv": None, "cells.csv": None, "stays.csv": None}
    files[LOG] = "entry,sowing,kind,date,count\n1,S2,sown,2027-04-20,4\n2,S2,up,2027-04-27,4\n"
    assert read_folder(write_files(tmp_path / "g", files)).values[LOG].count == 2


def test_cells_that_were_filled_without_an_entry_may_come_up(tmp_path):
    files = {**LOGGED, LOG: "entry,sowing,kind,date,count\n1,S1,up,2027-04-09,2\n"}
    assert read_folder(write_files(tmp_path / "g", files)).values[LOG].count == 1
    few = {**LOGGED, LOG: "entry,sowing,kind,date,count\n1,S1,up,2027-04-09,3\n"}
    assert "than the 2 that were sown" in faults_of(tmp_path / "h", few)[0].right


def test_a_correction_may_stand_above_what_it_corrects(tmp_path):
    header, *lines = LOGGED[LOG].splitlines()
    turned = {**LOGGED, LOG: "\n".join([header, *reversed(lines)]) + "\n"}
    assert read_folder(write_files(tmp_path / "g", turned)).values[LOG].columns["supersedes"] == [
        None, 3, None, None, None
    ]  # fmt: skip


def test_a_log_is_loaded_as_it_says_and_written_as_it_was(session, tmp_path):
    load_folder(session, write_files(tmp_path / "g", LOGGED))
    rows = rows_of(session)
    assert [row[1] for row in rows["log_entry"]] == ["E-1", "E-2", "E-3", "E-4", "E-5"]
    assert [row[11] for row in rows["log_entry"]] == [None, None, None, 3, None]
    assert rows["log_entry"][1][12] == "1-1 1-2"
    assert [row[0] for row in rows["spare_offer"]] == [4, 9]
    assert [row[1:3] for row in rows["spare_gift"]] == [(9, 7), (4, None)]
    files, counts = folder_files(session)
    assert {name: count for name, count in counts.items() if name in LOGGED and count} == {
        name: len(text.splitlines()) - 1 for name, text in LOGGED.items() if name.endswith(".csv")
    }
    # What has a usual value is written out; else these files say the same.
    assert files[LOG].decode() == LOGGED[LOG]
    for name in ("ticks.csv", "spare_offers.csv", "spare_requests.csv", "spare_gifts.csv"):
        assert files[name].decode() == LOGGED[name]
    load_folder(session, write_files(tmp_path / "h", files), replace=True)
    assert rows_of(session) == rows
    assert folder_files(session)[0] == files
