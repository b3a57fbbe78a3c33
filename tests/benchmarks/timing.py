"""Ratios of times taken in one run, in turn, so that a machine's mood falls on both sides alike."""

import gc
import statistics
import time


def seconds(call):
    """Return how long a call takes. [s]"""
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def ratio(ours, baseline, *, rounds=7, calls=1):
    """Return the median over rounds of (time of `ours`) / (time of `baseline`), called in turn.

    Args:
        ours: A call without arguments.
        baseline: What it is held against.
        rounds: How often both are timed, after one uncounted round.
        calls: How often each is called in a round; many for what is over in a moment.
    """

    def several(call):
        for _ in range(calls):
            call()

    ours(), baseline()
    ratios = []
    for _ in range(rounds):
        gc.collect()
        ratios.append(seconds(lambda: several(ours)) / seconds(lambda: several(baseline)))
    return statistics.median(ratios)


def report(name, value, limit):
    """Print a figure beside its limit, for the reader of the run."""
    print(f"\n  {name}: {value:.2f} (limit {limit})")
