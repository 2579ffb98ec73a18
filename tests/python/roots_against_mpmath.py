"""Compares the roots of random amplifier networks with mpmath at 60 digits: their number, their set and each by itself.

    cargo run --release -p pencil --example random_roots -- 60 1 12 > roots.jsonl
    python tests/python/roots_against_mpmath.py roots.jsonl --networks 60

No eigenvalue routine serves as the reference. The determinant of G + sC is taken from the stamps by elimination, with mpmath's
numbers. If the roots are right, all of them and each as often as it counts, det(s) over the product of (s - root) is one
constant at any s; it is looked at near every root's size. Each root by itself is then brought to 40 digits by Newton's
iteration on the determinant. Exit 1 where the constant is none, where a root is off by more than the limit and more than it
says of itself, where an answer is missing, or where fewer networks were compared than stated.
Reference: mpmath (general-purpose arbitrary-precision arithmetic), https://mpmath.org
"""

import argparse
import json
import sys

from mpmath import mp, mpc, mpf, pi, expj


def determinant(rows):
    """By Gaussian elimination on sparse rows, pivots by the largest share of their row; up to its sign."""
    rows = [dict(r) for r in rows]
    waiting = set(range(len(rows)))
    product = mpc(1)
    for column in range(len(rows)):
        best, at = mpf(0), None
        for i in waiting:
            entry = rows[i].get(column)
            if entry is not None and entry != 0:
                share = abs(entry) / max(abs(v) for v in rows[i].values())
                if share > best:
                    best, at = share, i
        if at is None:
            return mpc(0)
        waiting.remove(at)
        pivot = rows[at].pop(column)
        product *= pivot
        for i in waiting:
            entry = rows[i].pop(column, None)
            if entry is not None and entry != 0:
                factor = entry / pivot
                for j, v in rows[at].items():
                    rows[i][j] = rows[i].get(j, mpf(0)) - factor * v
    return product


def at(network, s):
    rows = [dict() for _ in range(network["unknowns"])]
    for value, over, dynamic, left, right in network["stamps"]:
        weight = 1 / mpf(value) if over else mpf(value)
        if dynamic:
            weight = weight * s
        for i, u in left:
            for j, v in right:
                rows[i][j] = rows[i].get(j, mpf(0)) + weight * u * v
    return determinant(rows)


def exact(network, told, others):
    """The root next to the told one, by Newton's iteration on what is left when the others are divided out."""
    s = told
    step = mpf(10) ** -25

    def left(z):
        value = at(network, z)
        for other in others:
            value /= z - other
        return value

    for _ in range(6):
        here = left(s)
        if here == 0:
            return s
        there = left(s * (1 + step))
        # The elimination may choose another order there, which may change the sign.
        if abs(there + here) < abs(there - here):
            there = -there
        change = here / ((there - here) / (s * step))
        s -= change
        if abs(change) <= mpf(10) ** -35 * abs(s):
            return s
    return s


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("file")
    parser.add_argument("--networks", type=int, default=60)
    parser.add_argument("--limit", type=float, default=1e-12)
    parser.add_argument("--each", type=int, default=20, help="networks whose roots are looked at one by one")
    arguments = parser.parse_args()
    mp.dps = 60
    networks = roots = looked = 0
    failures, worst, constant_worst = [], mpf(0), mpf(0)
    with open(arguments.file) as lines:
        for line in lines:
            network = json.loads(line)
            networks += 1
            if isinstance(network["roots"], str):
                failures.append(f"network {networks}: {network['roots']}")
                continue
            told = [(mpc(mpf(re), mpf(im)), mpf(error)) for re, im, error in network["roots"]]
            roots += len(told)
            sizes = sorted({abs(z) for z, _ in told if z != 0}) or [mpf(1)]
            points = [1.7 * sizes[0] / 1000, 1.7 * sizes[-1] * 1000] + [1.3 * x for x in sizes[:: max(1, len(sizes) // 5)]]
            constant = None
            for k, size in enumerate(points):
                s = size * expj(pi * (1 + 2 * k) / 7)
                value = at(network, s)
                # How far the sum of what each root admits moves the quotient here.
                allowed = mpf("1e-11")
                for z, error in told:
                    value /= s - z
                    allowed += error * abs(z) / abs(s - z)
                if constant is None:
                    constant = value
                off = min(abs(value / constant - 1), abs(value / constant + 1))
                constant_worst = max(constant_worst, off / allowed)
                if not off <= 20 * allowed:
                    failures.append(f"network {networks}: the quotient moves by {mp.nstr(off, 3)} at |s| {mp.nstr(size, 3)}")
            if networks <= arguments.each:
                for k, (z, error) in enumerate(told):
                    if z == 0:
                        continue
                    looked += 1
                    truth = exact(network, z, [w for i, (w, _) in enumerate(told) if i != k])
                    off = abs(z - truth) / abs(truth)
                    if off > arguments.limit and off > 20 * error:
                        failures.append(f"network {networks}: {mp.nstr(z, 8)} is off by {mp.nstr(off, 3)}, and says {mp.nstr(error, 3)}")
                    worst = max(worst, min(off, off / max(error, mpf("1e-300")) * arguments.limit))
    print(f"{networks} networks, {roots} roots; the quotient is constant to {mp.nstr(constant_worst, 3)} of what the roots admit")
    print(f"{looked} roots looked at one by one, worst {mp.nstr(worst, 3)}")
    for failure in failures[:20]:
        print(failure)
    return 0 if not failures and networks >= arguments.networks and looked > 50 else 1


if __name__ == "__main__":
    sys.exit(main())
