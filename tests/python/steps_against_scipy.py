"""Compares steps and the envelopes of bursts with scipy and mpmath.

    cargo run --release -p analysis --example steps > steps.jsonl
    python tests/python/steps_against_scipy.py steps.jsonl

A step is compared twice: with scipy.signal.step, which solves a state equation in double precision and is compared loosely, and
with mpmath's sum of residues at 80 digits, poles that coincide moved apart by 1e-22 of themselves, compared closely. The
envelope is compared with the same sum for a drive e^(jwt). Exit 1 beyond the limits.
Reference: scipy.signal.step, https://docs.scipy.org; mpmath, https://mpmath.org
"""

import json
import sys

import numpy
import scipy.signal
from mpmath import mp, mpc, mpf, exp, pi


def residues(gain, zeros, poles, drive):
    poles = list(poles)
    for k in range(len(poles)):
        while any(abs(poles[k] - p) < mpf("1e-30") * abs(p) for p in poles[:k]):
            poles[k] *= 1 + mpf("1e-22") * (k + 1)
    poles = poles + [drive]
    found = []
    for k, p in enumerate(poles):
        value = mpf(gain)
        for z in zeros:
            value *= p - z
        for m, other in enumerate(poles):
            if m != k:
                value /= p - other
        found.append((p, value))
    return found


def response(found, t):
    return mpf(0) if t < 0 else sum(w * exp(p * t) for p, w in found)


def main():
    mp.dps = 260
    failures = compared = 0
    with open(sys.argv[1]) as lines:
        for line in lines:
            case = json.loads(line)
            zeros = [mpc(*map(mpf, z)) for z in case["zeros"]]
            poles = [mpc(*map(mpf, p)) for p in case["poles"]]
            times = case["times"]
            found = residues(case["gain"], zeros, poles, mpc(0))
            exact = [float(response(found, mpf(t)).real) for t in times]
            close = max(abs(a - b) for a, b in zip(case["step"], exact))
            plain = scipy.signal.ZerosPolesGain([complex(*z) for z in case["zeros"]], [complex(*p) for p in case["poles"]], case["gain"])
            _, by_scipy = scipy.signal.step(plain.to_ss(), T=numpy.array(times))
            loose = float(numpy.max(numpy.abs(by_scipy - numpy.array(case["step"]))))
            drive = mpc(0, 2 * pi * mpf(case["hertz"]))
            driven = residues(case["gain"], zeros, poles, drive)
            length = mpf(case["seconds"])
            burst = [float(abs(response(driven, mpf(t)) - response(driven, mpf(t) - length) * exp(drive * length))) for t in times]
            swell = max(abs(a - b) for a, b in zip(case["envelope"], burst))
            compared += len(times)
            good = close < 1e-12 and swell < 1e-11 and loose < 1e-6
            failures += not good
            print(f"{case['name']}: step off by {close:.1e} (scipy {loose:.1e}), envelope by {swell:.1e}{'' if good else '  FAILS'}")
    print(f"{compared} values compared")
    return 0 if failures == 0 and compared >= 200 else 1


if __name__ == "__main__":
    sys.exit(main())
