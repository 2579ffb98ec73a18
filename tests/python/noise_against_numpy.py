"""Noise density of a chain of six amplifiers at 200 frequencies, by transposed solutions, beside numpy's batched linalg.solve.

    cargo build --release -p pencil --example chain_speed
    python tests/python/noise_against_numpy.py target/release/examples/chain_speed

Both take one transposed solution a frequency of the same matrices and add the powers of all that makes noise; the solver's time
holds its check of every answer. Both run in this one process tree, one after the other, on one thread; compare the ratio. numpy
is also timed as one would do without the transposition, with one right-hand side for each maker. Exit 1 where the densities differ.
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


def main():
    lines = subprocess.run([sys.argv[1], "--json"], check=True, capture_output=True, text=True).stdout.splitlines()
    system = next(s for s in map(json.loads, lines) if s["what"] == "noise")
    size, omegas = system["unknowns"], numpy.array(system["omegas"])
    g, c = matrices(system, system["values"])
    batch = g + 1j * omegas[:, None, None] * c
    turned = numpy.ascontiguousarray(batch.transpose(0, 2, 1))
    point = numpy.zeros((len(omegas), size, 1), complex)
    point[:, system["out"], 0] = 1
    makers = numpy.zeros((len(system["makers"]), size))
    for row, (equations, _) in zip(makers, system["makers"]):
        for i, k in equations:
            row[i] = k
    white = numpy.array([w for _, w in system["makers"]])
    each = numpy.broadcast_to(makers.T.astype(complex), (len(omegas), size, len(makers)))

    def transposed():
        weights = numpy.linalg.solve(turned, point)[:, :, 0] @ makers.T
        return numpy.sqrt((numpy.abs(weights) ** 2) @ white)

    def one_by_one():
        weights = numpy.linalg.solve(batch, each)[:, system["out"], :]
        return numpy.sqrt((numpy.abs(weights) ** 2) @ white)

    told = numpy.array(system["answers"])
    off = max(float(numpy.max(numpy.abs(told / found - 1))) for found in (transposed(), one_by_one()))
    mine = system["microseconds"]
    by_transposing, by_each = (least(run) * 1e6 for run in (transposed, one_by_one))
    print(f"{size} unknowns, {len(omegas)} frequencies, {len(makers)} makers of noise, {told[0] * 1e9:.1f} nV/rtHz at the low end")
    print(f"this {mine:.0f} us, numpy {by_transposing:.0f} us: {by_transposing / mine:.1f} times; each maker by itself {by_each:.0f} us: {by_each / mine:.1f} times")
    print(f"largest relative difference {off:.1e}")
    return 0 if len(told) == 200 and off < LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())
