"""Compares natural frequency and q of filter sections with the poles of scipy's filter families.

    cargo build --release -p stagewright
    python tests/python/filters_against_scipy.py target/release/stagewright

Butterworth, Chebyshev and Bessel low-passes of orders 2 to 9 are built of unity-gain sections and, apart from these, of
multiple-feedback sections, with part values worked out here from scipy's poles. The program reads each section's natural
frequency and q off the circuit. Exit 1 where one differs by more than the limit, or where fewer were compared than stated.
Reference: scipy.signal.butter, cheby1, bessel, https://docs.scipy.org
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import scipy.signal

LIMIT = 1e-9


def families():
    for order in range(2, 10):
        for hertz in (17.0, 1e3, 40e3):
            w = 2 * math.pi * hertz
            yield f"butter {order}", scipy.signal.butter(order, w, analog=True, output="zpk")[1]
            yield f"cheby1 {order} 0.5 dB", scipy.signal.cheby1(order, 0.5, w, analog=True, output="zpk")[1]
            yield f"cheby1 {order} 3 dB", scipy.signal.cheby1(order, 3, w, analog=True, output="zpk")[1]
            yield f"bessel {order}", scipy.signal.bessel(order, w, analog=True, output="zpk", norm="mag")[1]


def unity(k, at, to, w, q):
    """Equal resistors: w = 1/(R sqrt(C1 C2)), 2Q = sqrt(C1/C2)."""
    r = 1e4
    c1, c2 = 2 * q / (w * r), 1 / (2 * q * w * r)
    return (
        f"stage section{k}: {at} -> {to}\n  {at} -- R{3 * k + 1} {r!r} -- x{k} -- R{3 * k + 2} {r!r} -- y{k}\n"
        f"  x{k} -- C{2 * k + 1} {c1!r}F -- {to}\n  y{k} -- C{2 * k + 2} {c2!r}F -- gnd\n  U{k + 1}: + y{k}, - {to}, out {to}\n\n"
    )


def feedback(k, at, to, w, q):
    """All resistors R: w^2 = 1/(R^2 C1 C2), Q = sqrt(C1/C2)/3."""
    r = 1e4
    c1, c2 = 3 * q / (w * r), 1 / (3 * q * w * r)
    return (
        f"stage section{k}: {at} -> {to}\n  {at} -- R{3 * k + 1} {r!r} -- x{k} -- C{2 * k + 1} {c1!r}F -- gnd\n"
        f"  x{k} -- R{3 * k + 2} {r!r} -- {to}\n  x{k} -- R{3 * k + 3} {r!r} -- y{k} -- C{2 * k + 2} {c2!r}F -- {to}\n"
        f"  U{k + 1}: + gnd, - y{k}, out {to}\n\n"
    )


def main():
    compared, worst, failures = 0, 0.0, []
    with tempfile.TemporaryDirectory() as folder:
        for number, (name, poles) in enumerate(families()):
            pairs = sorted((float(abs(p)), float(abs(p) / (-2 * p.real))) for p in poles if p.imag > 1e-9 * abs(p))
            for section in (unity, feedback):
                text = "".join(section(k, f"n{k}", f"n{k + 1}", w, q) for k, (w, q) in enumerate(pairs))
                path = Path(folder) / f"{number}.stage"
                path.write_text(text)
                phrases = [f"{what} of section{k}" for k in range(len(pairs)) for what in ("natural frequency", "q")]
                lines = subprocess.run([sys.argv[1], "read", "--format", "json", path, *phrases], capture_output=True, text=True).stdout
                told = [json.loads(line) for line in lines.splitlines()]
                wanted = [x for w, q in pairs for x in (w / (2 * math.pi), q)]
                if len(told) != len(wanted):
                    failures.append(f"{name}: {len(told)} readings of {len(wanted)}")
                    continue
                for reading, truth in zip(told, wanted):
                    compared += 1
                    off = math.inf if reading["value"] is None else abs(reading["value"] / truth - 1)
                    worst = max(worst, off)
                    if off > LIMIT:
                        failures.append(f"{name}, {section.__name__}: {reading['text']}, wanted {truth}")
    print(f"{compared} figures compared, worst relative difference {worst:.1e}")
    for failure in failures[:10]:
        print(failure)
    return 0 if not failures and compared > 900 else 1


if __name__ == "__main__":
    sys.exit(main())
