"""How long something takes, for the checks that print a ratio."""

import time


def least(run):
    """The least seconds that `run` took, over at least half a second."""
    best, begin = float("inf"), time.perf_counter()
    while time.perf_counter() - begin < 0.5:
        start = time.perf_counter()
        run()
        best = min(best, time.perf_counter() - start)
    return best
