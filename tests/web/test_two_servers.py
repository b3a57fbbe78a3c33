"""Many people on the pages of two server processes on one database: who comes first wins, the others are told."""

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from app.services.deal import season_days
from app.services.plan import get_plan
from app.storage import Session
from app.storage.models import Tray
from tests.dealing import (
    CLIENTS,
    TODAY,
    WINDOWS,
    ask_for_one_position,
    everything,
    garden_to_deal,
    slots_of,
    three_trays,
    wrong_deal,
    wrong_winners,
)
from tests.lengths import TIMES
from tests.reliability.browsing import SECRET, Browser, cookies_for
from tests.servers import free_port, wait_for

pytestmark = pytest.mark.postgres

ROOT = Path(__file__).parents[2]


@pytest.fixture
def ports(engine, tmp_path):
    """Start two servers on the database, by the command that people use; return their ports."""
    environ = os.environ | {
        "DATABASE_URL": engine.url.render_as_string(hide_password=False),
        "TRAYMATES_INSTANCE": str(tmp_path / "instance"),
        "TRAYMATES_SECRET_KEY": SECRET,
    }
    script = "from app.cli import main; main(prog_name='traymates')"
    made, processes = [free_port(), free_port()], []
    for port in made:
        command = [sys.executable, "-c", script, "serve", "--port", str(port), "--today", TODAY.isoformat()]
        processes.append(subprocess.Popen(command, env=environ, cwd=ROOT, stdout=subprocess.DEVNULL))
    for port in made:
        wait_for(port)
    yield made
    for process in processes:
        process.kill()
        process.wait()


class Visitor:
    """A coordinator with a form open, in a browser of their own."""

    def __init__(self, port, address, cookie):
        self.browser = Browser(port, cookie, timeout=60)
        self.form = self.browser.form(address)
        self.browser.close()

    def send(self, **fields):
        """Send the form; return status and page."""
        with self.browser:
            answer = self.browser.send(self.form, **fields)
        return answer.status, answer.text


def send_at_once(visitors, fields):
    """Let all visitors send their form at the same moment, each with fields of its own."""
    start = Barrier(len(visitors))

    def send(pair):
        start.wait()
        return pair[0].send(**pair[1])

    with ThreadPoolExecutor(len(visitors)) as pool:
        return list(pool.map(send, zip(visitors, fields, strict=True)))


def open_forms(engine, ports, addresses):
    """Open forms by turns on either server."""
    cookies = cookies_for(engine, ["Odile Brandt"] * len(addresses))
    return [
        Visitor(ports[number % 2], address, cookie)
        for number, (address, cookie) in enumerate(zip(addresses, cookies, strict=True))
    ]


def text_of(target):
    return f"{target.shelf_id}-{target.level}-{target.slot}"


def test_one_position_goes_to_as_many_as_there_are_places_and_the_others_get_a_clear_page(engine, ports):
    stays, target = ask_for_one_position(engine)
    with Session(engine) as session:
        before = {row[0]: row for row in everything(session)["stay"]}
    visitors = open_forms(engine, ports, [f"/trays/{number}/lamp/move" for number in range(1, CLIENTS + 1)])
    answers = send_at_once(visitors, [{"position": text_of(target)}] * CLIENTS)
    assert {status for status, _ in answers} == {302, 409}
    won = {stay for stay, (status, _) in zip(stays, answers, strict=True) if status == 302}
    assert wrong_winners(engine, before, stays, won) == []
    assert len(won) == len(WINDOWS)
    # Whoever lost reads which tray stands there, and has the form again.
    numbers = [1 + stays.index(stay) for stay in won]
    for status, page in answers:
        assert status == 302 or any(f"ray {number}" in page for number in numbers)
        assert status == 302 or 'name="position"' in page


@pytest.mark.soak
def test_crossing_moves_do_not_wait_for_each_other_for_ever(engine, ports):
    stays, shelf = three_trays(engine)
    for _ in range(3 * TIMES):
        slots = slots_of(engine, stays)
        visitors = open_forms(engine, ports, ["/trays/1/lamp/move", "/trays/2/lamp/move"])
        wanted = [{"position": f"{shelf}-1-{slot}", "exchange": "y"} for slot in (slots[1], slots[0])]
        answers = send_at_once(visitors, wanted)
        # Whoever comes second finds the tray there already: the other one has exchanged them.
        assert {status for status, _ in answers} <= {200, 302}
        assert 302 in {status for status, _ in answers}
        assert all("Now Lamp rack" in page for status, page in answers if status == 200)
        assert slots_of(engine, stays) == [slots[1], slots[0], 3]


def test_one_deal_is_stored_once_and_the_others_are_shown_what_is_now(engine, ports):
    people = 6
    with Session(engine) as session:
        garden_to_deal(session)
        session.commit()
        assert season_days(get_plan(session))
    visitors = open_forms(engine, ports, ["/trays/deal"] * people)
    assert len({visitor.form.fields["mark"] for visitor in visitors}) == 1
    answers = send_at_once(visitors, [{}] * people)
    assert sorted(status for status, _ in answers) == [302] + [409] * (people - 1)
    assert all("Something has changed since this deal was shown" in page for status, page in answers if status == 409)
    assert wrong_deal(engine) == []
    with Session(engine) as session:
        assert session.query(Tray).count() == len(get_plan(session).trays.group)
