"""Compares phase and gain margins with python-control on random amplifiers with resistances, cables and capacitors.

    cargo build --release -p stagewright
    python tests/python/margins_against_control.py target/release/stagewright

Each case is written as a design, read by the program, and worked out here apart from it: the feedback network by its two nodal
equations in polynomials of s, the amplifier by one pole (or two, where it has a minimum gain). python-control finds all
crossings of the loop gain; the margins of the notation are the least distances over them. Where the closed loop has a pole in
the right half plane the program must say so, and must not say so elsewhere. Exit 1 on any difference above the limit.
Reference: control.stability_margins, https://python-control.readthedocs.io
"""

import json
import math
import random
import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

import control
import numpy
from numpy.polynomial import Polynomial as P

LIMIT = 1e-6


def case(rng):
    lin = lambda a, b: math.exp(rng.uniform(math.log(a), math.log(b)))
    return {
        "a0": lin(1e4, 1e6),
        "gbw": lin(1e6, 5e7),
        "ro": lin(20, 300),
        "cin": lin(1e-12, 2e-11),
        "r2": lin(1e3, 1e5),
        "r1": lin(1e2, 1e5),
        "cf": lin(1e-13, 1e-10),
        "cl": lin(1e-11, 1e-7),
        "rs": rng.choice([0.0, lin(10, 200)]),
        "nmin": rng.choice([0.0, 0.0, 3.0, 5.0]),
    }


def text(c):
    minimum = f"  minimum gain {c['nmin']!r}\n" if c["nmin"] else ""
    load = f"  out -- R4 {c['rs']!r} -- line\n  line -- C3 {c['cl']!r}F external -- gnd\n" if c["rs"] else f"  out -- C3 {c['cl']!r}F external -- gnd\n"
    return (
        f"datasheet amp: opamp\n  open loop gain {20 * math.log10(c['a0'])!r} dB\n  gain bandwidth {c['gbw']!r} Hz\n"
        f"  output resistance {c['ro']!r} ohm\n  input capacitance {c['cin']!r} F\n{minimum}\n"
        f"stage loop: in -> out\n  in -- R3 10k -- gnd\n  U1 amp: + in, - fb, out out\n"
        f"  out -- R2 {c['r2']!r} || C1 {c['cf']!r}F -- fb\n  fb -- R1 {c['r1']!r} -- gnd\n{load}"
    )


def loop(c):
    """Numerator and denominator of T."""
    s = P([0.0, 1.0])
    yf, yg = P([1 / c["r2"], c["cf"]]), P([1 / c["r1"], c["cin"]])
    # The load's admittance, a fraction where a resistor stands in front of it.
    load_top, load_bottom = (s * c["cl"], P([1.0, c["rs"] * c["cl"]])) if c["rs"] else (s * c["cl"], P([1.0]))
    g = 1 / c["ro"]
    # (g + yL + yf) vo - yf vm = g E, -yf vo + (yf + yg) vm = 0, times the load's bottom
    determinant = (P([g]) * load_bottom + load_top + yf * load_bottom) * (yf + yg) - yf * yf * load_bottom
    wt = 2 * math.pi * c["gbw"]
    a0 = 10 ** (20 * math.log10(c["a0"]) / 20)
    amplifier = P([1 / a0, 1 / wt])
    if c["nmin"]:
        amplifier = amplifier * P([1.0, math.sqrt(2) * c["nmin"] / wt])
    return yf * g * load_bottom, determinant * amplifier


def main():
    warnings.filterwarnings("ignore")
    rng = random.Random(4)
    failures, compared, growing = [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for k in range(150):
            c = case(rng)
            path = Path(folder) / f"{k}.stage"
            path.write_text(text(c))
            lines = subprocess.run(
                [sys.argv[1], "read", "--format", "json", path, "phase margin of U1", "gain margin of U1"], capture_output=True, text=True
            ).stdout.splitlines()
            told = [json.loads(line) for line in lines]
            if len(told) != 2 or any(t["status"] == "unknown" for t in told):
                failures.append(f"{k}: {told}")
                continue
            top, bottom = loop(c)
            unstable = bool(numpy.max((top + bottom).roots().real) > 0)
            said = [t["reason"] == "none (unstable)" for t in told]
            if said != [unstable, unstable]:
                failures.append(f"{k}: unstable {unstable}, told {said}")
            if unstable:
                growing += 1
                continue
            # In units of the crossover's size, so that no coefficient is lost.
            scale = 2 * math.pi * c["gbw"] / 10
            scaled = lambda p: [x * scale**i for i, x in enumerate(p.coef)][::-1]
            # Nothing is lost by a common factor.
            a, b = numpy.array(scaled(top)), numpy.array(scaled(bottom))
            system = control.tf(a / abs(b).max(), b / abs(b).max())
            gm, pm, _, _, _, _ = control.stability_margins(system, returnall=True)
            pm = [abs((p + 180) % 360 - 180) for p in numpy.atleast_1d(pm)]
            gm = [abs(20 * math.log10(g)) for g in numpy.atleast_1d(gm) if 0 < g < math.inf]
            for mine, reading, name in [(pm, told[0], "phase"), (gm, told[1], "gain")]:
                compared += 1
                if reading["value"] is None:
                    # Far above everything the reference may find a crossing in its rounding.
                    if min(mine, default=math.inf) < 150:
                        failures.append(f"{k}: {name} unconditional, reference {mine}")
                elif not mine or abs(min(mine) - reading["value"]) > LIMIT * max(1, abs(reading["value"])):
                    failures.append(f"{k}: {name} {reading['value']}, reference {mine}, {c}")
    print(f"{compared} margins compared, {growing} circuits grow by themselves, {len(failures)} differ")
    for failure in failures[:10]:
        print(failure)
    return 0 if not failures and compared >= 150 and growing > 3 else 1


if __name__ == "__main__":
    sys.exit(main())
