"""The server is killed at random moments while people write: what was answered is there, and nothing is half done."""

import random
import time

import pytest

from tests.lengths import TIMES
from tests.reliability.checker import Result
from tests.reliability.serving import Server
from tests.reliability.working import Crowd, Watch, faults_of_file, workers_for

KILLS = 4 * TIMES


def kill_and_retry(garden, cookies, opened, seed):
    """Kill a server under writers, look, send again what got no answer, and look again.

    Returns:
        All that is wrong, how many were answered, and how many were not.
    """
    engine = opened(garden)
    watch = Watch(engine)
    engine.dispose()
    with Server(garden) as server:
        workers = workers_for(server.port, cookies, watch.story, seed=seed, trays=watch.trays)
        with Crowd(workers) as crowd:
            crowd.wait_for_answers(10)
            time.sleep(random.Random(seed).uniform(0, 0.5))
            server.kill()
        faults = [*crowd.faults, *faults_of_file(engine), *watch.judge(engine)]
        if "Traceback" in server.output():
            faults.append(server.output())
    engine.dispose()
    answered = watch.story.count(Result.OK)
    if crowd.unanswered:
        with Server(garden, plan={}) as server:
            saved = {sent.operation.key: sent.again(server.port, times=2) for sent in crowd.unanswered}
            assert server.stop() == 0
        faults += [f"{key} sent again, twice: saved by {times}" for key, times in saved.items() if times != 2]
        faults += [*faults_of_file(engine), *watch.judge(engine)]
        engine.dispose()
    return faults, answered, len(crowd.unanswered)


@pytest.mark.soak
def test_a_kill_loses_nothing_that_was_answered_and_a_form_sent_again_acts_once(garden, cookies, opened):
    answered = unanswered = 0
    for number in range(KILLS):
        faults, more, open_ones = kill_and_retry(garden, cookies, opened, seed=number)
        assert faults == []
        assert more >= 5
        answered, unanswered = answered + more, unanswered + open_ones
    print(f"\n  {KILLS} kills, {answered} saved and answered, {unanswered} without an answer and sent again")
    assert unanswered
