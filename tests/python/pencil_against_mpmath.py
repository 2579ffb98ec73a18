"""Compares the solver with mpmath at 50 digits and more on random amplifier networks.

    cargo run --release -p pencil --example random_networks -- 200 1 12 > networks.jsonl
    python tests/python/pencil_against_mpmath.py networks.jsonl --networks 200

Every network is built again here from its element values (nodal equations with a current for every part that is not a
conductance) and solved by Gaussian elimination with mpmath's numbers, at 50 digits and at 150. What shrinks with the
precision is an exact zero, and the solver must have told 0. Exit 1 where a relative error is above the limit,
where an answer is missing although the solution is well defined, or where fewer networks were compared than stated.
Reference: mpmath (general-purpose arbitrary-precision arithmetic), https://mpmath.org
"""

import argparse
import json
import sys

from mpmath import mp, mpc, mpf


def solve(matrix, right):
    """Gaussian elimination on sparse rows (dictionaries), pivots scaled by their row's largest entry."""
    size = len(right)
    rows = [dict(r) for r in matrix]
    right = list(right)
    waiting = set(range(size))
    pivots = []
    for column in range(size):
        best, best_row = mpf(0), None
        for i in waiting:
            entry = rows[i].get(column)
            if entry is not None and entry != 0:
                largest = max(abs(v) for v in rows[i].values())
                ratio = abs(entry) / largest
                if ratio > best:
                    best, best_row = ratio, i
        if best_row is None or best < mpf(10) ** (8 - mp.dps):
            return None
        waiting.remove(best_row)
        pivot_row = rows[best_row]
        pivots.append((best_row, column))
        for i in waiting:
            entry = rows[i].pop(column, None)
            if entry is None:
                continue
            factor = entry / pivot_row[column]
            for j, v in pivot_row.items():
                if j != column:
                    rows[i][j] = rows[i].get(j, mpf(0)) - factor * v
            right[i] -= factor * right[best_row]
    x = [mpf(0)] * size
    for i, column in reversed(pivots):
        total = right[i]
        for j, v in rows[i].items():
            if j != column:
                total -= v * x[j]
        x[column] = total / rows[i][column]
    return x


def node_voltages(network):
    nodes = network["nodes"]
    s = mpc(0, mpf(network["omega"]))
    size = nodes + sum(p[0] not in "C" and not (p[0] == "R" and p[3] != 0) for p in network["parts"])
    rows = [dict() for _ in range(size)]
    right = [mpf(0)] * size

    def put(i, j, value):
        if i >= 0 and j >= 0:
            rows[i][j] = rows[i].get(j, mpf(0)) + value

    own = nodes
    for kind, *fields in network["parts"]:
        if kind == "C" or (kind == "R" and fields[2] != 0):
            a, b = fields[0] - 1, fields[1] - 1
            y = s * mpf(fields[2]) if kind == "C" else 1 / mpf(fields[2])
            put(a, a, y), put(b, b, y), put(a, b, -y), put(b, a, -y)
            continue
        if kind == "A":
            plus, minus, out = (f - 1 for f in fields[:3])
            put(out, own, mpf(1))
            put(own, plus, mpf(-1)), put(own, minus, mpf(1))
            put(own, out, mpf(fields[3]) + s * mpf(fields[4]))
        else:
            a, b = fields[0] - 1, fields[1] - 1
            put(a, own, mpf(1)), put(b, own, mpf(-1))
            alpha = mpf(fields[2]) if kind == "S" else mpf(1)
            put(own, a, alpha), put(own, b, -alpha)
            if kind == "S":
                put(own, own, mpf(fields[3]))
            elif kind == "L":
                put(own, own, -s * mpf(fields[2]))
            elif kind == "R":
                put(own, own, -mpf(fields[2]))
            else:
                right[own] = mpf(fields[2])
        own += 1
    x = solve(rows, right)
    return None if x is None else [mpf(0)] + x[:nodes]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("file")
    parser.add_argument("--networks", type=int, default=200)
    parser.add_argument("--limit", type=float, default=1e-9)
    parser.add_argument("--digits", type=int, default=50)
    arguments = parser.parse_args()
    mp.dps = arguments.digits
    networks = compared = missing = posed = zeros = 0
    worst, where = mpf(0), None
    with open(arguments.file) as lines:
        for line in lines:
            network = json.loads(line)
            networks += 1
            mp.dps = arguments.digits
            rough = node_voltages(network)
            mp.dps = 3 * arguments.digits
            voltages = node_voltages(network)
            if voltages is None or rough is None:
                # Singular at this precision: the solver must not have told a number.
                posed += 1
                if any(not isinstance(a, str) for a in network["answers"]):
                    print(f"network {networks}: answered though singular")
                    worst, where = mpf("inf"), (networks, "singular")
                continue
            for (a, b), answer in zip(network["pairs"], network["answers"]):
                if isinstance(answer, str):
                    missing += 1
                    print(f"network {networks} ({network['unknowns']} unknowns), {a}-{b}: {answer}")
                    continue
                truth = voltages[a] - voltages[b]
                noise = abs(rough[a] - rough[b] - truth)
                told = mpc(mpf(answer[0]), mpf(answer[1]))
                compared += 1
                if abs(truth) <= mpf("1e-60") * noise or abs(truth) < mpf("1e-120"):
                    zeros += 1
                    error = mpf(0) if told == 0 or abs(told - truth) <= arguments.limit * abs(truth) else mpf("inf")
                    if error != 0:
                        print(f"network {networks}, {a}-{b}: told {mp.nstr(told, 5)}, truth 0")
                else:
                    error = abs(told - truth) / abs(truth)
                    if error > arguments.limit:
                        print(f"network {networks}, {a}-{b}: told {mp.nstr(told, 5)}, truth {mp.nstr(truth, 5)}")
                if not error <= worst:
                    worst, where = error, (networks, (a, b))
    print(f"{networks} networks, {compared} answers compared ({zeros} of them zero), {missing} missing, {posed} singular")
    print(f"worst relative error {mp.nstr(worst, 3)} at {where}")
    good = worst <= arguments.limit and missing == 0 and networks - posed >= arguments.networks
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
