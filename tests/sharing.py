"""What all applications of a test run share, since each would make it anew for every test. No data is among it."""

from contextlib import contextmanager

from sqlalchemy import Engine
from werkzeug.routing import Rule

from app.extensions import db


def share_addresses(monkeypatch):
    """Let each address of the program be compiled once, not once for each application."""
    compile_rule, made = Rule.compile, {}

    def compile_once(rule):
        # All that it is made of; an application of another kind must not be given this one's.
        kinds = tuple(rule.map.converters.items())
        key = (
            rule.rule,
            rule.merge_slashes,
            rule.subdomain,
            rule.host,
            rule.map.host_matching,
            repr(rule.defaults),
            kinds,
        )
        first = made.setdefault(key, rule)
        if first is rule:
            compile_rule(rule)
            return
        rule._parts, rule._trace, rule._converters = first._parts, first._trace, first._converters
        rule.arguments |= first.arguments
        for name in ("_build", "_build_unknown"):
            setattr(rule, name, getattr(first, name).__func__.__get__(rule))

    monkeypatch.setattr(Rule, "compile", compile_once)


@contextmanager
def sharing(app, shared: Engine):
    """Let an application use the connections and compiled queries of an engine; what it listens to stays its own."""
    with app.app_context():
        engine = db.engine
    assert engine.url == shared.url
    engine.pool, engine.dialect, engine._compiled_cache = shared.pool, shared.dialect, shared._compiled_cache
    yield
    if engine.pool is not shared.pool or shared.pool.checkedout():
        engine.dispose()
        shared.dispose()
