"""Every service that looks and then writes lets no other writer in between.

On SQLite whoever writes has the only lock anyway; on PostgreSQL `hold_writes` takes it. A service that writes without
it is listed here, with the reason why nothing can come between.
"""

import ast

from tests.rules.tree import ROOT

WRITES = {"add", "add_all", "delete", "flush", "merge"}
# What changes rows where a service does not do it itself.
STORING = {
    "apply_changes", "delete_all", "delete_record", "drop_slips", "end_levelling", "free_cells_of_sowing",
    "forget_numbers", "insert_levelling", "replace_everything", "replace_frost_points", "replace_record", "set_number",
    "set_position", "store_folder", "store_usual_cards", "take_back_changes", "take_off_shelf", "want_stop",
}  # fmt: skip
WITHOUT = {
    "accounts.add_bench": "adds a row under a token of its own, whatever is there",
    "accounts.add_sign_in": "adds a row under a token of its own, whatever is there",
    "demo_account.remove_demo_account": "is called by loading, which holds",
    "demo.set_up_demo": "loads first, which holds until the end",
    "levelling.start_levelling": "a unique index lets one run; the second is told so",
    "levelling.stop_levelling": "one statement, whatever is there",
    "levelling.fail_levelling": "one statement that names the state it changes",
    "backups.restore_backup": "holds everything, by `hold_everything`",
}


def functions():
    """Return name and calls of each public function of a service, and the calls of its helpers with them."""
    found = {}
    for path in sorted((ROOT / "app" / "services").glob("*.py")):
        own = {node.name: node for node in ast.parse(path.read_text()).body if isinstance(node, ast.FunctionDef)}
        for name in own:
            if not name.startswith("_"):
                found[f"{path.stem}.{name}"] = calls_of(name, own, set())
    return found


def calls_of(name, own, seen):
    """Return what a function calls, (of a session, name), its private helpers' calls included."""
    seen.add(name)
    calls = set()
    for node in ast.walk(own[name]):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            calls.add((called.startswith("session."), called.rpartition(".")[2]))
    for _, called in list(calls):
        if called.startswith("_") and called in own and called not in seen:
            calls |= calls_of(called, own, seen)
    return calls


def writes(calls):
    return any((of_session and name in WRITES) or name in STORING for of_session, name in calls)


def test_every_service_that_writes_holds_first():
    found = functions()
    writing = {name for name, calls in found.items() if writes(calls)}
    holding = {name for name, calls in found.items() if (False, "hold_writes") in calls}
    assert len(writing & holding) > 40
    assert sorted(writing - holding - set(WITHOUT)) == []
    assert sorted(set(WITHOUT) - (writing - holding)) == []  # nothing stays listed that need not be
