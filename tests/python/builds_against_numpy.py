"""A gain at one frequency in 10,000 builds of a chain of six amplifiers, beside numpy's batched linalg.solve of the same matrices.

    cargo build --release -p pencil --example chain_speed
    python tests/python/builds_against_numpy.py target/release/examples/chain_speed

The solver's time holds the values taken in and the check of every answer; numpy's holds its solutions alone, its matrices being
made beforehand. Both run in this one process tree, one after the other, on one thread; compare the ratio. Exit 1 where the gains differ.
Reference: numpy.linalg.solve (LAPACK gesv), https://numpy.org/doc/stable/reference/generated/numpy.linalg.solve.html
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import json
import subprocess
import sys

import numpy

from stamps import matrices
from timing import least

LIMIT = 1e-8
# So many matrices at once stay within a few tens of megabytes.
AT_ONCE = 1000


def main():
    lines = subprocess.run([sys.argv[1], "--json"], check=True, capture_output=True, text=True).stdout.splitlines()
    system = next(s for s in map(json.loads, lines) if s["what"] == "builds")
    size, values = system["unknowns"], numpy.array(system["values"])
    right = numpy.zeros((size, 1), complex)
    for i, value in system["sources"]:
        right[i, 0] = value
    found, seconds = [], 0.0
    for begin in range(0, len(values), AT_ONCE):
        g, c = matrices(system, values[begin : begin + AT_ONCE])
        batch = g + 1j * system["omega"] * c
        rights = numpy.broadcast_to(right, (len(batch), size, 1))
        found.append(numpy.linalg.solve(batch, rights)[:, system["out"], 0])
        seconds += least(lambda: numpy.linalg.solve(batch, rights))
    found, told = numpy.concatenate(found), numpy.array([complex(*a) for a in system["answers"]])
    off = float(numpy.max(numpy.abs(told / found - 1)))
    spread = numpy.ptp(20 * numpy.log10(numpy.abs(told)))
    mine = system["microseconds"]
    print(f"{size} unknowns, {len(told)} builds, gains within {spread:.2f} dB of one another")
    print(f"this {mine / 1e3:.2f} ms, numpy {seconds * 1e3:.1f} ms: {seconds * 1e6 / mine:.0f} times")
    print(f"largest relative difference {off:.1e}")
    # Builds that were all the same would compare nothing.
    return 0 if len(told) == 10_000 and off < LIMIT and spread > 0.1 else 1


if __name__ == "__main__":
    sys.exit(main())
