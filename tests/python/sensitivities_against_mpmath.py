"""Sensitivities in dB per per cent beside differences in extended precision.

    cargo build --release -p stagewright
    python tests/python/sensitivities_against_mpmath.py target/release/stagewright

A ladder of resistors, capacitors and an inductor, a Sallen-Key section, and an inverting stage whose amplifier has a gain and a bandwidth that end,
each at several frequencies: what `read --tolerance` gives as a part's slope, against the difference that the same part makes when it is off
by one part in 10²⁰ either way, from nodal equations written here and solved to 60 digits. Exit 1 where they differ by more than a ten-millionth of
the greatest slope. Reference: mpmath.lu_solve, https://mpmath.org/doc/current/matrices.html
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import mpmath

mpmath.mp.dps = 60
WITHIN = 1e-7
STEP = mpmath.mpf(10) ** -20


def gain(parts, amplifiers, source, out, hertz):
    """V(out) over V(source): parts are (kind, value, node, node), amplifiers (+, -, output, inverse gain as a function of s)."""
    s = 2j * mpmath.pi * mpmath.mpf(hertz)
    nodes = sorted({n for p in parts for n in p[2:]} | {n for a in amplifiers for n in a[:3]} - {"gnd"})
    nodes = [n for n in nodes if n != "gnd"]
    place = {n: i for i, n in enumerate(nodes)}
    size = len(nodes) + 1 + len(amplifiers)
    m, b = mpmath.matrix(size, size), mpmath.matrix(size, 1)
    for kind, value, *ends in parts:
        y = {"R": lambda: 1 / value, "C": lambda: s * value, "L": lambda: 1 / (s * value)}[kind]()
        for one, other in (ends, ends[::-1]):
            if one != "gnd":
                m[place[one], place[one]] += y
                if other != "gnd":
                    m[place[one], place[other]] -= y
    row = len(nodes)
    m[place[source], row] = m[row, place[source]] = 1
    b[row] = 1
    for k, (plus, minus, output, inverse) in enumerate(amplifiers):
        row = len(nodes) + 1 + k
        m[place[output], row] = 1
        m[row, place[output]] += inverse(s)
        for node, sign in ((plus, -1), (minus, 1)):
            if node != "gnd":
                m[row, place[node]] += sign
    return mpmath.lu_solve(m, b)[place[out]]


def slope(parts, name, *rest):
    """dB for each per cent of one part."""
    sizes = []
    for sign in (1, -1):
        moved = {n: (k, v * (1 + sign * STEP) if n == name else v, a, b) for n, (k, v, a, b) in parts.items()}
        sizes.append(20 * mpmath.log10(abs(gain(list(moved.values()), *rest))))
    return (sizes[0] - sizes[1]) / (2 * STEP) / 100


def text(parts, devices):
    """The circuit as a design."""
    unit = {"R": "ohm", "C": "F", "L": "H"}
    lines = [f"  {a} -- {name} {mpmath.nstr(v, 20)} {unit[k]} -- {b}" for name, (k, v, a, b) in parts.items()]
    head = "design\n  tolerance R 0.01 %, C 0.01 %, L 0.01 %\n\n"
    return head + "stage net: in -> out\n" + "\n".join(lines + devices) + "\n"


def values(**given):
    """Exact decimal values; the ends stand behind."""
    return {name: (name[0], mpmath.mpf(v), a, b) for name, (v, a, b) in given.items()}


IDEAL = lambda s: mpmath.mpf(0)
REAL = lambda s: mpmath.mpf(10) ** -5 + s / (2 * mpmath.pi * mpmath.mpf(3000000))
SHEET = "\ndatasheet mine: opamp\n  open loop gain 100 dB\n  gain bandwidth 3 MHz\n"
CASES = [
    (
        "ladder",
        values(R1=("330", "in", "a"), L1=("0.01", "a", "b"), C1=("4.7e-8", "a", "gnd"), R2=("1200", "b", "out"), C2=("2.2e-8", "out", "gnd"), R3=("5600", "out", "gnd")),
        [],
        [],
        "",
        (50, 3000, 12000, 90000),
    ),
    (
        "Sallen-Key",
        values(R1=("10000", "in", "a"), R2=("12000", "a", "p"), C1=("1e-8", "p", "gnd"), C2=("2.2e-8", "a", "out"), R3=("10000", "out", "n"), R4=("27000", "n", "gnd")),
        [("p", "n", "out", IDEAL)],
        ["  U1 ideal: + p, - n, out out"],
        "",
        (20, 900, 1100, 20000),
    ),
    (
        "inverting, a real amplifier",
        values(R1=("2200", "in", "n"), R2=("100000", "n", "out"), C1=("2.2e-11", "n", "out"), R3=("4700", "out", "gnd")),
        [("gnd", "n", "out", REAL)],
        ["  U1 mine: + gnd, - n, out out"],
        SHEET,
        (1000, 30000, 200000),
    ),
]


def main():
    bad = compared = 0
    for title, parts, amplifiers, devices, sheet, frequencies in CASES:
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "a.stage"
            path.write_text(text(parts, devices) + sheet, encoding="utf-8")
            phrases = [f"gain in -> out at {f} Hz" for f in frequencies]
            run = subprocess.run([sys.argv[1], "read", path, *phrases, "--tolerance", "--format", "json"], check=True, capture_output=True)
        for f, line in zip(frequencies, run.stdout.decode().splitlines()):
            told = {w["name"]: w["slope"] for w in json.loads(line)["tolerance"]["matters"]}
            wanted = {name: slope(parts, name, amplifiers, "in", "out", f) for name in parts}
            most = max(abs(x) for x in wanted.values())
            off = max(abs(told[name] - wanted[name]) / most for name in told)
            # What matters is told; what is left out matters a hundredth of the greatest and less.
            lacking = [name for name, x in wanted.items() if abs(x) > most / 90 and name not in told]
            good = off <= WITHIN and not lacking and told
            bad += not good
            compared += len(told)
            print(f"{title} at {f} Hz: {len(told)} slopes, the greatest {mpmath.nstr(most, 6)} dB per %, off by {mpmath.nstr(off, 2)} of it{'' if good else '  DIFFERS'} {lacking or ''}")
    print(f"{compared} slopes compared")
    return int(bad > 0 or compared < 30)


if __name__ == "__main__":
    sys.exit(main())
