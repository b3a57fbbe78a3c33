"""Hostile input by class, in every part and question of every address: it leads nowhere and changes nothing."""

import re
from urllib.parse import quote, quote_plus

import pytest

from tests.lengths import SOAK, every
from tests.rules.tree import project_files, relative
from tests.web.classes import CLASSES, NOTHING
from tests.web.everything import addresses, contents, find_forms

pytestmark = pytest.mark.soak
EVERY = every(83)  # one of so many pairs of a place and a class is tried
MORE_IDS = {"zero": "0", "minus": "-1", "unused": "899999", "plus": "+1", "point": "1.0", "too large": str(2**31)}
ADDRESS_STATUS = {
    "sign_in.slip": {404, 410},
    "trays.short": {302, 404},  # a tag without a tray leads to where one is started
    "trays.start": {200, 404},
    "levelling.stop": {400, 404},
    "bench.person": {302, 404},  # leads to who is there
}
QUESTIONS = {
    "autumn_risk", "columns", "crop", "crops", "day", "filled", "first", "frost_law", "grower", "kind", "last", "light",
    "new", "next", "number", "page", "paper", "place", "placed", "printer", "q", "risk", "shelf", "sort", "sowing",
    "still", "stock", "tick", "tray", "trays", "v", "verdict", "waits", "week", "what", "which", "who",
}  # fmt: skip
QUESTIONS |= {"back", "event", "language"}
QUESTIONS |= {"by", "every", "ticked", "without"}
# Where a week, a day, a sheet of paper or a place that there is not leads nowhere; elsewhere it is passed over.
LEADS_NOWHERE = {
    "week": {
        "week.index",
        "sowings.day",
        "trays.index",
        "sheets.index",
        "moves.index",
        "moves.pdf",
        "notice.index",
        "week.pdf",
    }
    | {"notice.pdf", "send_words.index"},
    "paper": {"sheets.index", "sheets.weekly", "sheets.weekly_pdf", "sheets.sowing", "sheets.sowing_pdf"}
    | {
        "sheets.hand_out",
        "sheets.hand_out_pdf",
        "sheets.grower_pdf",
        "moves.index",
        "moves.pdf",
        "notice.index",
        "week.pdf",
    }
    | {"rounds.show", "rounds.pdf"}
    | {"notice.pdf", "connect.door", "connect.index", "next_season.index", "review.index", "review.pdf"},
    "event": {"feeds.of_grower"},
    "day": {"sheets.sowing", "sheets.sowing_pdf", "sheets.hand_out", "sheets.hand_out_pdf"},
    "place": {"ledger.week"},
}


def rule_address(rule, parts):
    """Return the address of a rule, whatever its methods and converters."""
    return re.sub(r"<(?:[^<>]*:)?(\w+)>", lambda match: str(parts[match[1]]), rule.rule)


def test_every_part_of_an_address_is_one_that_there_is_or_leads_nowhere(app, client, engine, made):
    before, faults, count = contents(engine), [], 0
    token = next(one for one in find_forms(client, "/growers/new") if one.method == "post").values["csrf_token"][0]
    with app.test_request_context():
        rules = [rule for rule in app.url_map.iter_rules() if rule.arguments]
    for rule in rules:
        for name in sorted(rule.arguments):
            for label, text in (CLASSES | MORE_IDS).items():
                count += 1
                if (count % EVERY and label not in MORE_IDS) or label in NOTHING:
                    continue
                parts = made | {"filename": "traymates.css", name: "\1"}
                head, tail = rule_address(rule, parts).split("\1")
                method = "GET" if "GET" in rule.methods else "POST"
                data = {} if method == "GET" else {"csrf_token": token}
                answer = client.open(head + quote(text, safe="") + tail, method=method, data=data)
                if answer.status_code not in ADDRESS_STATUS.get(rule.endpoint, {404}):
                    faults.append((rule.rule, name, label, answer.status_code))
    assert not faults, "\n".join(map(str, faults[:60]))
    assert contents(engine) == before


def test_the_program_s_questions_in_addresses_are_all_known():
    found = set()
    for path in project_files(".py"):
        if relative(path).startswith("app/web/"):
            found |= set(re.findall(r'request\.args(?:\.get\(|\[)"(\w+)"|read_number\("(\w+)"', path.read_text()))
    assert {first or second for first, second in found} <= QUESTIONS


def every_question(*, is_read, is_slow):
    """Return how seldom a question is put to a page: seldom where it passes the question over, or takes long."""
    if SOAK:
        return 1 if is_read and not is_slow else 20 if is_read else 30
    return 40 if is_read and not is_slow else 3000


def test_every_question_in_an_address_is_answered_or_leads_nowhere(app, client, engine, made):
    before, faults, count = contents(engine), [], 0
    for endpoint, address in addresses(app, made, "GET").items():
        is_slow = address.partition("?")[0].endswith(".pdf")
        usual = client.get(address).status_code
        for name in sorted(QUESTIONS):
            leads_nowhere = endpoint in LEADS_NOWHERE.get(name, ())
            for label, text in CLASSES.items():
                count += 1
                if label in NOTHING or count % every_question(is_read=leads_nowhere, is_slow=is_slow):
                    continue
                mark = "&" if "?" in address else "?"
                answer = client.get(f"{address}{mark}{name}={quote_plus(text)}")
                if answer.status_code != (404 if leads_nowhere else usual):
                    faults.append((endpoint, name, label, answer.status_code, usual))
    assert not faults, "\n".join(map(str, faults[:60]))
    assert contents(engine) == before
