"""With a safety taken away, the tests that show it find so."""

from tests.migrations.test_migrations import REVISIONS
from tests.reliability.saboteur import expect_red
from tests.reliability.serving import Server
from tests.reliability.test_kill_points import kill_command, kill_upgrade
from tests.reliability.test_killed_pages import kill_page
from tests.reliability.working import Crowd, Watch, workers_for


def test_an_answer_before_its_commit_is_found(garden, cookies, opened):
    expect_red(
        kill_page,
        *(garden, cookies, opened, "add a grower", "before a commit"),
        spoil="answer before commit",
        place="outside",
        match="lost: .*answered as saved and is not there",
    )


def test_forms_without_keys_are_found(garden, cookies, opened):
    expect_red(
        kill_page,
        *(garden, cookies, opened, "add a grower", "after a commit"),
        spoil="no form keys",
        match="sent again, twice: saved by 0",
    )


def work_without_history(garden, cookies, opened):
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    with Server(garden, plan={"spoil": "no history"}) as server:
        with Crowd(workers_for(server.port, cookies, watch.story)) as crowd:
            crowd.wait_for_answers(10)
        assert server.stop() == 0
    return watch.judge(engine)


def test_changes_without_history_are_found(garden, cookies, opened):
    expect_red(work_without_history, garden, cookies, opened, match="the history tells None")


def test_an_upgrade_in_steps_is_found(tmp_path, opened):
    expect_red(kill_upgrade, tmp_path, opened, REVISIONS[-1], spoil="upgrade in steps", match="a part of it is done")


def test_a_backup_written_in_place_is_found(garden, opened):
    expect_red(
        kill_command,
        *(garden, opened, "backup --replace", "at a statement", "app/storage/backup.py:_copy_pages"),
        number=2,
        spoil="backup in place",
        match=r"was\.sqlite3 is",
    )
