"""The program's own names of crops and containers are said in the language of the reader on every page."""

import re

from app.storage.published import names_in
from app.web.views import bench
from tests.web.everything import addresses, fill
from tests.web.roles import as_role
from tests.web.test_bring_in import read

# What is typed in, rows of published tables to choose from, and what is kept as it was.
NOT_SAID = {"crops.new", "crops.edit", "containers.new", "containers.edit", "bring_in.index", "history.index"}
READ_ALOUD = re.compile(r'(?:aria-label|title|placeholder|alt)="([^"]*)"')


def test_names_are_said_on_every_page(app, client, engine):
    values = fill(engine)
    english = [re.escape(name) for name, said in names_in("fr").items() if said != name]
    pattern = re.compile(rf"\b(?:{'|'.join(english)})\b")
    left, pages = [], 0
    for endpoint, address in addresses(app, values, "GET").items():
        answer = client.get(address, headers={"Accept-Language": "fr"})
        if answer.mimetype == "text/html" and answer.status_code == 200 and endpoint not in NOT_SAID:
            text = re.sub(r"<textarea.*?</textarea>", "", answer.text, flags=re.DOTALL)
            words = [*re.sub(r"<[^>]*>", "\n", text).splitlines(), *READ_ALOUD.findall(text)]
            left += [(endpoint, line.strip()) for line in words if pattern.search(line)]
            pages += any("Tomate" in line for line in words)
    assert left == []
    assert pages > 20


def test_names_are_said_at_the_bench_tablet(app, world, monkeypatch):
    monkeypatch.setattr(bench, "DAYS_AROUND", 90)
    page = as_role(app, world, "at bench").get("/bench", headers={"Accept-Language": "fr"}).text
    assert "Tomate" in page
    assert "Tomato" not in page


def test_crops_are_pasted_by_the_names_that_are_said_and_by_their_own(client, engine):
    fill(engine)
    for code, name in (("fr", "Tomate"), ("fr", "tomato"), ("en", "Tomato")):
        client.environ_base["HTTP_ACCEPT_LANGUAGE"] = code
        page = read(client, "sowings", f"Grower\tCrop\tPlants\nAda Brandt\t{name}\t3")
        assert page.status_code == 200
        assert "<optgroup" not in page.text, name
    assert "<optgroup" in read(client, "sowings", "Grower\tCrop\tPlants\nAda Brandt\tTomate\t3").text
