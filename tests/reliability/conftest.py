"""A garden made once, from which each test has a copy of its own."""

import pytest

from app.storage.engine import make_engine
from tests.reliability.serving import Driver, copy_garden, make_garden, url_of

PEOPLE = tuple(f"Person {number}" for number in range(6))


@pytest.fixture(scope="session", autouse=True)
def ended_driver():
    """End what the tests' processes are split off from."""
    yield
    Driver.end()


@pytest.fixture(scope="session")
def made_garden(tmp_path_factory):
    """Return the folder of a garden, and the cookies of those who are signed in."""
    folder = tmp_path_factory.mktemp("made") / "garden"
    return folder, make_garden(folder, PEOPLE)


@pytest.fixture
def garden(made_garden, tmp_path):
    """Return a folder with a garden of one's own."""
    return copy_garden(made_garden[0], tmp_path / "garden")


@pytest.fixture
def cookies(made_garden):
    """Return cookies of people who are signed in to any garden made so."""
    return made_garden[1]


@pytest.fixture
def opened():
    """Return a function that opens a garden's database; all are closed in the end."""
    engines = []

    def open_garden(folder):
        engines.append(make_engine(url_of(folder)))
        return engines[-1]

    yield open_garden
    for engine in engines:
        engine.dispose()
