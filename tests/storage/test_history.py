"""What the history says of every change that passes through the session."""

import json
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from app.core.words import Place, Role, Via
from app.storage.history import LEFT_OUT, NOUNS, SECRET, Actor, note_history, set_actor
from app.storage.models import Account, Grower, History, House, Printer, Shelf
from tests.people import add_account

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12)
VALUES = {
    Grower: {"name": WORDS.filter(bool), "plot": st.none() | WORDS, "contact": st.none() | WORDS},
    Shelf: {
        "positions": st.integers(0, 40),
        "bench_temp_c": st.none() | st.floats(0, 30),
        "place": st.sampled_from(Place),
    },
    Printer: {"offset_x_mm": st.floats(-5, 5), "turned": st.booleans()},
    House: {"open_to_visitors": st.booleans(), "wifi_passphrase": st.none() | WORDS, "keep_days": st.integers(1, 9)},
}
FIRST = {
    Grower: {"name": "Odile Brandt"},
    Shelf: {"name": "Lamp", "place": Place.LAMP, "positions": 4, "width_cm": 1.0, "depth_cm": 1.0, "levels": 1},
    Printer: {"name": "Hut", "offset_x_mm": 0.0, "offset_y_mm": 0.0, "scale_percent": 100.0, "turned": False},
    House: {"open_to_visitors": False, "keep_days": 7},
}


def rows_of(session):
    return list(session.scalars(select(History).order_by(History.id)))


def stored(value):
    return getattr(value, "value", value.isoformat() if isinstance(value, date) else value)


@st.composite
def changes(draw):
    model = draw(st.sampled_from(sorted(VALUES, key=lambda one: one.__name__)))
    names = sorted(VALUES[model])
    steps = st.lists(st.sampled_from(names).flatmap(lambda name: st.tuples(st.just(name), VALUES[model][name])))
    return model, draw(st.lists(st.tuples(steps, st.booleans()), min_size=1, max_size=4)), draw(st.booleans())


@given(changes())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_history_tells_every_change_from_what_was_stored_to_what_is(engine, drawn):
    """The judge is the table itself, read by a plain statement before and after each step."""
    model, steps, is_removed = drawn
    table = inspect(model).local_table
    with engine.connect() as connection, Session(bind=connection) as session:
        row = model(**FIRST[model])
        session.add(row)
        session.flush()

        def read():
            session.flush()
            return dict(session.connection().execute(select(table)).mappings().one())

        before = read()
        for step, is_expired in steps:
            number = len(rows_of(session))
            if is_expired:
                session.expire_all()
            for name, value in step:
                setattr(row, name, value)
            after = read()
            differs = {
                name: [stored(before[name]), stored(after[name])]
                for name in before
                if before[name] != after[name] and name not in SECRET
            }
            hidden = {name for name in before if before[name] != after[name] and name in SECRET}
            new = rows_of(session)[number:]
            assert [one.action for one in new] == ["changed"] * bool(differs or hidden)
            told = {name: [old, now] for one in new for name, old, now in one.changes}
            assert {name: pair for name, pair in told.items() if name not in SECRET} == differs
            assert hidden <= set(told)
            assert all(pair == [None, None] for name, pair in told.items() if name in SECRET)
            before = after
        if is_removed:
            session.expire_all()
            session.delete(row)
            session.flush()
            last = rows_of(session)[-1]
            assert (last.action, last.noun) == ("removed", NOUNS[model])
            told = {name: old for name, old, _ in last.changes if name not in SECRET}
            holds = {name for name, value in before.items() if value is not None and value is not False and value != ""}
            assert told == {name: stored(before[name]) for name in holds - SECRET - LEFT_OUT}
        session.rollback()


@pytest.mark.parametrize("model", NOUNS, ids=lambda model: model.__name__)
def test_every_column_that_is_kept_secret_is_one_of_a_tracked_model(model):
    columns = {attribute.key for attribute in inspect(model).column_attrs}
    assert not [name for name in columns if "passphrase" in name or name == "pin"] or columns & SECRET
    assert not columns & {"token"}


def test_nothing_secret_stands_in_the_history(session):
    account = add_account(session, passphrase="$argon2id$first", pin="$argon2id$pin")
    account.passphrase = "$argon2id$second"
    account.pin = None
    session.flush()
    session.delete(account)
    session.flush()
    text = json.dumps([[row.subject, row.changes] for row in rows_of(session)])
    assert "argon2" not in text
    assert "passphrase" in text


def test_added_row_is_told_with_its_id_and_who_added_it(session):
    by = add_account(session, "Ruth Tan")
    session.flush()
    set_actor(session, Actor(by.id, Via.BENCH))
    grower = Grower(name="Odile Brandt", plot="14")
    session.add(grower)
    session.commit()
    last = rows_of(session)[-1]
    assert (last.noun, last.subject, last.subject_id, last.action) == ("grower", "Odile Brandt", grower.id, "added")
    assert (last.account_id, last.via) == (by.id, Via.BENCH)
    assert sorted(last.changes) == [["name", None, "Odile Brandt"], ["plot", None, "14"]]


def test_what_is_rolled_back_leaves_no_history(session):
    session.add(Grower(name="Odile Brandt"))
    session.flush()
    session.rollback()
    session.commit()
    assert rows_of(session) == []


def test_change_outlives_the_account_of_who_made_it(session):
    by = add_account(session, "Ruth Tan", Role.MEMBER)
    session.commit()
    set_actor(session, Actor(by.id, Via.PAGE))
    note_history(session, "tray", "sown", subject="12")
    session.commit()
    session.delete(session.get_one(Account, by.id))
    session.commit()
    row = session.scalars(select(History).where(History.noun == "tray")).one()
    assert (row.account_id, row.via, row.subject) == (None, Via.PAGE, "12")
