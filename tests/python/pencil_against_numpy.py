"""Time a frequency: the solver, every check included, beside numpy's batched linalg.solve on the same matrices.

    cargo build --release -p pencil --example replay_speed
    python tests/python/pencil_against_numpy.py target/release/examples/replay_speed

Both run in this one process tree, one after the other, on one thread; compare the ratio, not the microseconds. The answers
are compared as well, against a loose limit, since an unscaled dense solution is itself rounded. Exit 1 where they differ.
Reference: numpy.linalg.solve (LAPACK gesv), https://numpy.org/doc/stable/reference/generated/numpy.linalg.solve.html
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import json
import subprocess
import sys

import numpy

from timing import least


def main():
    lines = subprocess.run([sys.argv[1], "--json"], check=True, capture_output=True, text=True).stdout.splitlines()
    good = len(lines) == 5
    print("unknowns   this/us  numpy/us   ratio  largest difference")
    for line in lines:
        system = json.loads(line)
        size, omegas = system["unknowns"], system["omegas"]
        if size > 500:
            omegas = omegas[::16]
        g, c = numpy.zeros((size, size)), numpy.zeros((size, size))
        for i, j, value in system["g"]:
            g[i, j] = value
        for i, j, value in system["c"]:
            c[i, j] = value
        right = numpy.zeros((size, 1), complex)
        for i, value in system["sources"]:
            right[i, 0] = value
        batch = g + 1j * numpy.array(omegas)[:, None, None] * c
        rights = numpy.broadcast_to(right, (len(omegas), size, 1))
        x = numpy.linalg.solve(batch, rights)[:, system["out"], 0]
        seconds = least(lambda: numpy.linalg.solve(batch, rights)) / len(omegas)
        told = {w: a for w, a in zip(system["omegas"], system["answers"])}
        answers = numpy.array([complex(*told[w]) for w in omegas])
        # Far below the passband the dense solution has no digits left; compare where it has.
        sound = numpy.abs(x) > 1e-12
        difference = numpy.max(numpy.abs(answers - x)[sound] / numpy.abs(x)[sound], initial=0.0)
        good = good and bool(sound.any()) and difference < 1e-4
        ratio = seconds * 1e6 / system["microseconds"]
        print(f"{size:8}  {system['microseconds']:8.3f}  {seconds * 1e6:8.1f}  {ratio:6.0f}  {difference:.1e} ({sound.sum()} compared)")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
