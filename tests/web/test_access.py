"""Who may open and send what: every route, by request, for every role and for other people's things.

What is asked of access control: OWASP ASVS 5.0.0, chapter V8 (8.2.1 function level, 8.2.2 data level, 8.3.1 enforced
at a trusted layer).
"""

import re

import pytest

from tests.lengths import is_taken
from tests.web.access_table import LOG, MAY, OWN, ROLES, TABLE
from tests.web.pages import read_page
from tests.web.roles import FORBIDDEN, FOUND, UNAUTHORISED, as_role, fingerprint

REFUSED = ("This page is not open to you", "Not to be changed now")
LEADS_ON = ("sign_in.sign_out", "bench.done")  # to where one is led who is refused
WEEK = re.compile(r"\d{4}-W\d{2}")  # one stands for all of them


def path_values(world, endpoint):
    """Return what stands in the address of a route: things of the grower Ada Brandt, where they are anybody's."""
    return {
        "account_id": world.accounts["no grower" if endpoint.startswith("people.") else "member"],
        "batch_id": world.batch,
        "container_id": world.box,
        "crop_id": world.crop,
        "entry_id": world.entry,
        "round_id": world.round,
        "filename": "traymates.css",
        "grower_id": world.growers[0],
        "number": 1,
        "place": "heat",
        "printer_id": world.printer,
        "run_id": 1,
        "seed_lot_id": world.lot,
        "draft_id": world.draft,
        "offer_id": world.offer,
        "request_id": world.request,
        "gift_id": world.gift,
        "seed_test_id": world.test,
        "shelf_id": world.heat,
        "sowing_id": world.sowings[0],
        "stock_id": world.stock,
        "table": "sowings",
        "token": "not-a-token",
        "way": "cut",
        "week": "2027-W18",
        "page": "member",
        "name": "week.png",
    }


def is_refused(answer, role):
    """Return whether an answer refuses whoever is of a role, and in the way that is right for them."""
    to = answer.headers.get("Location", "")
    if role in {"anonymous", "visitor"}:
        leads_away = to.startswith("/sign-in") or (role == "visitor" and to == "/ledger")
        return answer.status_code == UNAUTHORISED or (answer.status_code == FOUND and leads_away)
    if role == "tablet":
        return answer.status_code == FOUND and to == "/bench"
    return answer.status_code == FORBIDDEN and any(head in answer.text for head in REFUSED)


def routes(app):
    return {
        (rule.endpoint, method) for rule in app.url_map.iter_rules() for method in rule.methods - {"HEAD", "OPTIONS"}
    }


def call(client, app, world, endpoint, method, **kwargs):
    names = {name for rule in app.url_map.iter_rules(endpoint) for name in rule.arguments}
    values = {name: value for name, value in path_values(world, endpoint).items() if name in names}
    if method == "POST":
        kwargs["data"] = {"sent": "something"}  # an empty body would not count as a form
    answer = client.open(app.url_map.bind("localhost").build(endpoint, values), method=method, **kwargs)
    answer.close()
    return answer


def test_every_route_stands_in_the_table_and_no_other(app):
    assert routes(app) == set(TABLE)


@pytest.mark.soak
@pytest.mark.parametrize("role", ROLES)
def test_every_route_is_open_to_whom_the_table_says_and_to_nobody_else(app, engine, world, role):
    """By request, with nothing but the cookie of the role; refused ones leave every table as it was.

    What is refused is always asked for; of what is open, every page in a soak alone.
    """
    table = {route: group for route, group in TABLE.items() if role not in MAY[group] or is_taken(f"{role} {route}", 4)}
    assert find_wrong(app, engine, world, role, table) == []


def find_wrong(app, engine, world, role, table=TABLE):
    """Return each route of a table that is open to a role against it, or closed."""
    app.config["WTF_CSRF_ENABLED"] = False  # a token would only tell that the page was seen
    wrong = []
    client = as_role(app, world, role)
    before = fingerprint(engine)
    refused = [route for route, group in table.items() if role not in MAY[group]]
    for endpoint, method in refused:
        answer = call(client, app, world, endpoint, method)
        if not is_refused(answer, role):
            wrong.append((endpoint, method, "is not refused", answer.status_code, answer.headers.get("Location")))
        elif method == "GET" and call(client, app, world, endpoint, "HEAD").status_code != answer.status_code:
            wrong.append((endpoint, "HEAD", "answers otherwise than GET"))
    if fingerprint(engine) != before:
        wrong.append(("the database", "is not as it was"))
    for endpoint, method in sorted(table.keys() - set(refused)):
        answer = call(as_role(app, world, role), app, world, endpoint, method)
        is_out = is_refused(answer, role) and not (endpoint in LEADS_ON and answer.status_code == FOUND)
        if is_out or answer.status_code >= 500:
            wrong.append((endpoint, method, "is refused", answer.status_code, answer.headers.get("Location")))
    return wrong


def test_a_view_that_says_nothing_is_open_to_nobody(app, world):
    app.add_url_rule("/probe", view_func=lambda: "seen", endpoint="probe")
    for role in ROLES:
        assert as_role(app, world, role).get("/probe").status_code == FORBIDDEN


def test_every_change_needs_the_token_of_a_page(app, engine, world):
    before = fingerprint(engine)
    client = as_role(app, world, "coordinator")
    after_signing_in = fingerprint(engine)
    for endpoint, method in TABLE:
        if method == "POST":
            answer = call(client, app, world, endpoint, method)
            assert answer.status_code == 400, endpoint
    assert fingerprint(engine) == after_signing_in != before


@pytest.mark.parametrize("role", ["member", "other member", "no grower", "visitor", "tablet", "at bench"])
def test_no_page_leads_its_reader_to_one_that_is_refused(app, world, role):
    """Every link and form of every page that they may open, however many steps away."""
    app.config["WTF_CSRF_ENABLED"] = False
    client = as_role(app, world, role)
    start = {"visitor": "/ledger", "tablet": "/bench", "at bench": "/bench"}.get(role, "/")
    seen, waiting, wrong = set(), [start, "/trays/1", "/trays/2"], []
    while waiting:
        path = waiting.pop()
        answer = client.get(path)
        seen.add(path)
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue
        page = read_page(answer.text)
        links = links_of(page) - seen - set(waiting)
        wrong += [(path, link) for link in links if is_refused(client.get(link), role)]
        waiting += links
        wrong += [(path, action) for action in actions_of(page, path) if not may_send(client, app, role, action)]
    assert wrong == []
    assert len(seen) > 3


def links_of(page):
    """Return the pages to which one leads; files are in the table alone, and the mark leads everybody home."""
    links = (a.attributes.get("href") or "" for a in page.all("a") if not a.has_class("mark"))
    links = {WEEK.sub("2027-W18", link.partition("#")[0].partition("?")[0]) for link in links}
    return {link for link in links if link.startswith("/") and not link.endswith((".pdf", ".csv", ".json"))}


def actions_of(page, path):
    posted = [form for form in page.all("form") if (form.attributes.get("method") or "").lower() == "post"]
    return {(form.attributes.get("action") or path).partition("?")[0] for form in posted}


def may_send(client, app, role, action):
    group = TABLE[app.url_map.bind("localhost").match(action, method="POST")[0], "POST"]
    return client.post(action).status_code != FORBIDDEN if group in {OWN, LOG} else role in MAY[group]
