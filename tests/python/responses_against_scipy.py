"""Compares gain, phase and corners of filters with scipy's frequency responses.

    cargo build --release -p stagewright
    python tests/python/responses_against_scipy.py target/release/stagewright

Butterworth, Chebyshev and Bessel low- and high-passes of even orders 2 to 8 are built of unity-gain sections with part values
worked out here from scipy's poles, and read by the program at 13 frequencies over four decades. Exit 1 where one differs.
Reference: scipy.signal.freqs_zpk, https://docs.scipy.org
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy
import scipy.optimize
import scipy.signal

# Of a gain, as a complex number, and of a corner the share; degrees of a phase.
LIMITS = {"gain": 1e-9, "phase": 1e-7, "corner": 1e-9}
CORNER = 1e3


def families():
    w = 2 * math.pi * CORNER
    for order in (2, 4, 6, 8):
        for kind in ("lowpass", "highpass"):
            yield f"butter {order} {kind}", kind, scipy.signal.butter(order, w, kind, analog=True, output="zpk")
            yield f"cheby1 {order} {kind}", kind, scipy.signal.cheby1(order, 1, w, kind, analog=True, output="zpk")
            yield f"bessel {order} {kind}", kind, scipy.signal.bessel(order, w, kind, analog=True, output="zpk", norm="mag")


def section(kind, k, w, q):
    """Unity gain; a low-pass of equal resistors, a high-pass of equal capacitors."""
    at, to = f"n{k}", f"n{k + 1}"
    if kind == "lowpass":
        r = 1e4
        one, two = f"R{2 * k + 1} {r!r}", f"R{2 * k + 2} {r!r}"
        up, down = f"C{2 * k + 1} {2 * q / (w * r)!r}F", f"C{2 * k + 2} {1 / (2 * q * w * r)!r}F"
    else:
        c = 1e-8
        one, two = f"C{2 * k + 1} {c!r}F", f"C{2 * k + 2} {c!r}F"
        up, down = f"R{2 * k + 1} {1 / (2 * q * w * c)!r}", f"R{2 * k + 2} {2 * q / (w * c)!r}"
    return (
        f"stage section{k}: {at} -> {to}\n  {at} -- {one} -- x{k} -- {two} -- y{k}\n  x{k} -- {up} -- {to}\n"
        f"  y{k} -- {down} -- gnd\n  U{k + 1}: + y{k}, - {to}, out {to}\n\n"
    )


def main():
    compared, worst, failures = 0, dict.fromkeys(LIMITS, 0.0), []

    def compare(name, what, off):
        nonlocal compared
        compared += 1
        worst[what] = max(worst[what], off)
        if not off <= LIMITS[what]:
            failures.append(f"{name}: {what} off by {off:.3g}")

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.stage"
        for name, kind, (zeros, poles, gain) in families():
            pairs = [(float(abs(p)), float(abs(p) / (-2 * p.real))) for p in poles if p.imag > 0]
            path.write_text("".join(section(kind, k, w, q) for k, (w, q) in enumerate(pairs)))
            chain = f"n0 -> n{len(pairs)}"
            hertz = [float(f) for f in CORNER * numpy.logspace(-2, 2, 13)]
            # The sections have a gain of 1 in their pass band, and an even Chebyshev begins there at the bottom of its ripple.
            pass_band = 1e-6 if kind == "lowpass" else 1e12
            response = lambda f: scipy.signal.freqs_zpk(zeros, poles, gain, [2 * math.pi * f])[1][0]
            scale = abs(response(pass_band * CORNER))
            edge = math.exp(scipy.optimize.brentq(lambda u: abs(response(math.exp(u))) / scale - math.sqrt(0.5), math.log(0.5e3), math.log(2e3), xtol=1e-14, rtol=1e-14))
            corner = f"high corner {chain} against 1 mHz" if kind == "lowpass" else f"low corner {chain} against 100 MHz"
            phrases = [f"{word} {chain} at {f!r} Hz" for f in hertz for word in ("gain", "phase")] + [corner]
            lines = subprocess.run([sys.argv[1], "read", "--format", "json", path, *phrases], capture_output=True, text=True).stdout
            told = [json.loads(line) for line in lines.splitlines()]
            if len(told) != len(phrases) or any(t["value"] is None for t in told):
                failures.append(f"{name}: {[t['text'] for t in told if t['value'] is None][:3]} of {len(told)} readings")
                continue
            for f, found, phase in zip(hertz, told[:-1:2], told[1:-1:2]):
                truth = response(f) / scale
                compare(f"{name} at {f:.4g} Hz", "gain", abs(complex(*found["value"]) / truth - 1))
                turn = phase["value"] - math.degrees(numpy.angle(truth))
                compare(f"{name} at {f:.4g} Hz", "phase", abs(turn - 360 * round(turn / 360)))
            compare(name, "corner", abs(told[-1]["value"] / edge - 1))
    print(f"{compared} figures compared, worst differences {worst['gain']:.1e} of a gain, {worst['phase']:.1e} degrees, {worst['corner']:.1e} of a corner")
    print(*failures[:10], sep="\n")
    return 0 if not failures and compared == 24 * 27 else 1


if __name__ == "__main__":
    sys.exit(main())
