"""Time for all poles, beside numpy's and scipy's eigenvalues of the same system, and the three compared.

    cargo build --release -p pencil --example roots_speed
    python tests/python/roots_against_numpy.py target/release/examples/roots_speed

All run in this one process tree, one after the other, on one thread; compare the ratios, not the microseconds. numpy has no
generalised eigenvalues: it gets those of (G + s0 C)^-1 C, s = s0 - 1/lambda, which is what one would write by hand; scipy gets
G and C. Neither refines its answer, so they are compared loosely and each root only against the nearest. Exit 1 where more
than a tenth of the roots finds none near.
Reference: numpy.linalg.eigvals (LAPACK geev) and scipy.linalg.eigvals (LAPACK ggev), https://numpy.org, https://scipy.org
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import json
import subprocess
import sys
import warnings

import numpy
import scipy.linalg

from timing import least


def main():
    warnings.filterwarnings("ignore")
    lines = subprocess.run([sys.argv[1], "--json"], check=True, capture_output=True, text=True).stdout.splitlines()
    good = len(lines) == 4
    print("unknowns  roots   this/us  numpy/us   ratio  scipy/us   ratio  numpy off/median  scipy off/median")
    for line in lines:
        system = json.loads(line)
        size = system["unknowns"]
        g, c = numpy.zeros((size, size)), numpy.zeros((size, size))
        for i, j, value in system["g"]:
            g[i, j] = value
        for i, j, value in system["c"]:
            c[i, j] = value
        shift = 1e5

        def by_numpy():
            eigenvalues = numpy.linalg.eigvals(numpy.linalg.solve(g + shift * c, c))
            keep = numpy.abs(eigenvalues) > 1e-13 * numpy.max(numpy.abs(eigenvalues))
            return shift - 1 / eigenvalues[keep]

        def by_scipy():
            found = scipy.linalg.eigvals(-g, c)
            return found[numpy.isfinite(found)]

        told = numpy.array([complex(*r) for r in system["roots"]])
        seconds = [least(by_numpy), least(by_scipy)]
        ratios = [s * 1e6 / system["microseconds"] for s in seconds]
        off = []
        for found in (by_numpy(), by_scipy()):
            distance = numpy.min(numpy.abs(told[:, None] - found[None, :]), axis=1) / numpy.abs(told)
            off.append(numpy.median(distance))
            # A plain dense routine loses the slow roots of a wide spread; most of them it has.
            good = good and numpy.mean(distance < 1e-2) > 0.9
        print(
            f"{size:8}  {len(told):5}  {system['microseconds']:8.0f}  {seconds[0] * 1e6:8.0f}  {ratios[0]:6.1f}"
            f"  {seconds[1] * 1e6:8.0f}  {ratios[1]:6.1f}  {off[0]:16.1e}  {off[1]:16.1e}"
        )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
