"""Readings over tolerance beside builds that numpy draws and solves from formulas of their own.

    cargo build --release -p stagewright
    python tests/python/tolerance_against_numpy.py target/release/stagewright

A loaded divider, an RC corner and a difference amplifier with matched resistors: the points below which 0.5, 50 and 99.5 % of
the builds lie agree within what 10,000 builds scatter by, and the time of each is printed. Exit 1 where they differ.
Reference: numpy.random.Generator.uniform and numpy.quantile, https://numpy.org/doc/stable/reference/random/generator.html
"""

import json
import pathlib
import subprocess
import sys
import tempfile
import time

import numpy

COUNT = 200_000
DRAW = numpy.random.default_rng(20240229)


def off(share):
    return 1 + DRAW.uniform(-share, share, COUNT)


def divider():
    r1, r2, r3 = 10e3 * off(0.01), 30e3 * off(0.01), 100e3 * off(0.01)
    load = r2 * r3 / (r2 + r3)
    return load / (r1 + load)


def corner():
    return 1 / (2 * numpy.pi * 10e3 * off(0.01) * 10e-9 * off(0.05))


def rejection():
    # Any two differ by at most 0.1 %, and none by more than 1 % from its value.
    own = 0.001 / 2.001  # (1 + own) / (1 - own) is 1.001
    common = DRAW.uniform(-1, 1, COUNT) * (0.01 - own) / (1 + own)
    r1, r2, r3, r4 = (value * (1 + common) * (1 + DRAW.uniform(-own, own, COUNT)) for value in (10e3, 20e3, 10e3, 20e3))
    share, gain = r2 / (r1 + r2), r4 / r3
    plus, minus = share * (1 + gain), -gain
    return 20 * numpy.log10(numpy.abs(0.5 * (plus - minus)) / numpy.abs(plus + minus))


HEAD = "design\n  tolerance R 1 %, C 5 %\n"
CASES = [
    (divider, "gain in -> out", HEAD + "\nstage pad: in -> out\n  in  -- R1 10k -- out\n  out -- R2 30k -- gnd\n  out -- R3 100k -- gnd\n"),
    (corner, "high corner in -> out against 1 Hz", HEAD + "\nstage low: in -> out\n  in  -- R1 10k -- out\n  out -- C1 10n -- gnd\n"),
    (
        rejection,
        "rejection line -> out",
        HEAD
        + "  matched R1, R2, R3, R4 0.1 %\n  balanced line: hot, cold\n\nstage receiver: hot, cold -> out\n"
        + "  hot  -- R1 10k -- p -- R2 20k -- gnd\n  cold -- R3 10k -- m -- R4 20k -- out\n  U1a: + p, - m, out out\n",
    ),
]


def main():
    worst = 0
    for formula, phrase, text in CASES:
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "a.stage"
            path.write_text(text, encoding="utf-8")
            begin = time.perf_counter()
            run = subprocess.run([sys.argv[1], "read", path, phrase, "--tolerance", "--format", "json"], check=True, capture_output=True)
            took = time.perf_counter() - begin
        found = json.loads(run.stdout)["tolerance"]
        values = numpy.sort(formula())
        for share, point in zip((0.005, 0.5, 0.995), found["points"]):
            # A point of n builds scatters by √(p(1 − p)/n) of all of them; five times that either way.
            reach = 5 * (share * (1 - share) / found["builds"]) ** 0.5
            low, high = numpy.quantile(values, [max(share - reach, 0), min(share + reach, 1)])
            good = low <= point <= high
            worst |= not good
            print(f"{phrase}: {100 * share:4.1f} % below {point:.6g}, numpy {numpy.quantile(values, share):.6g}{'' if good else '  DIFFERS'}")
        low, high = found["range"]
        bounded = low <= values[0] * (1 + 1e-9) and (high is None or values[-1] <= high * (1 + 1e-9))
        worst |= not bounded
        print(f"{phrase}: {low:.6g} … {high} holds every one of numpy's {COUNT} builds: {bounded}; {1e3 * took:.0f} ms for all")
    return int(worst)


if __name__ == "__main__":
    sys.exit(main())
