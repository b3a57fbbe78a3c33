"""For each place of the program that makes something last: by which test a process is killed there, or why by none."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Reached:
    """A process is killed there.

    Attributes:
        test: By this test.
        scenario: Its part that gets there.
        file: Where the test stands.
    """

    test: str
    scenario: str
    file: str = "test_kill_points.py"


@dataclass(frozen=True)
class Harmless:
    """No process is killed there.

    Attributes:
        why: What makes that needless.
    """

    why: str


COMMAND = "test_a_command_that_is_killed_has_done_all_or_nothing"


def of_page(scenario):
    """Return that a server is killed there by a page."""
    return Reached("test_a_page_that_is_killed_has_done_all_or_nothing", scenario, "test_killed_pages.py")


PLACES = {
    "app/services/accounts.py:count_try": of_page("sign in"),
    "app/settings.py:_place_new_key": Reached("test_a_key_is_whole_or_not_there", "secret_key"),
    "app/storage/backup.py:_copy_rows": Harmless("it fills a file that has no name yet; written_aside gives it one"),
    "app/storage/engine.py:QueuedConnection.commit": Harmless("the door of all others, which is where they are killed"),
    "app/storage/engine.py:_on_connect_postgresql": Harmless("settings of a connection, nothing of a garden"),
    "app/storage/folder/writing.py:_swap_in": Reached(COMMAND, "dump --replace"),
    "app/storage/opening.py:session_on": Reached(COMMAND, "load --replace"),
    "app/storage/whole_files.py:written_aside": Reached(COMMAND, "backup --replace"),
    "app/web/once.py:save": of_page("add a grower"),
    "app/web/views/account.py:sign_out_everywhere": of_page("sign out everywhere"),
    "app/web/views/bench.py:begin": of_page("begin the bench tablet"),
    "app/web/views/bench.py:done": of_page("leave the bench tablet"),
    "app/web/views/bench.py:end": of_page("end the bench tablet"),
    "app/web/views/bench.py:person": of_page("come to the bench tablet"),
    "app/web/views/feeds.py:make": of_page("make an address for calendars"),
    "app/web/views/first_steps.py:clear": of_page("clear the demo garden"),
    "app/web/views/labels.py:make": of_page("make labels"),
    "app/web/views/people.py:hand_out": of_page("make a slip"),
    "app/web/views/sign_in.py:_come_in": of_page("sign in"),
    "app/web/views/language.py:index": of_page("choose a language"),
    "app/web/views/sign_in.py:sign_out": of_page("sign out"),
    "migrations/env.py:<module>": Reached(
        "test_an_upgrade_that_is_killed_has_done_all_or_nothing", "migrations/env.py"
    ),
}
