"""Compares A- and 468-weighting, as noise is read by them, with scipy and with the recommendation's table.

    cargo build --release -p stagewright
    python tests/python/weightings_against_scipy.py target/release/stagewright

A resistor's noise is white, so that the weighted over the plain noise of a very narrow band is the weighting there: for A it is
compared with scipy.signal.freqs_zpk on the poles of IEC 61672-1, annex E; for 468 with table 1 of ITU-R BS.468-4, which the
network meets within 0.06 dB. Over the whole band it is compared with scipy.integrate.quad of the same curve. Exit 1 where one differs.
Reference: https://docs.scipy.org; the table as held in stored public code; the poles from memory.
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import scipy.integrate
import scipy.signal

DESIGN = "stage resistor: in -> out\n  in -- R1 10k -- out\n"
POLES = [20.598997, 20.598997, 107.65265, 737.86223, 12194.217, 12194.217]
TABLE = [
    (31.5, -29.9), (63, -23.9), (100, -19.8), (200, -13.8), (400, -7.8), (800, -1.9), (1000, 0.0), (2000, 5.6), (3150, 9.0),
    (4000, 10.5), (5000, 11.7), (6300, 12.2), (7100, 12.0), (8000, 11.4), (9000, 10.1), (10000, 8.1), (12500, 0.0), (14000, -5.3),
    (16000, -11.7), (20000, -22.2), (31500, -42.7),
]  # fmt: skip
BANDS = [(20, 20e3), (22.4, 22.4e3), (1, 100e3)]


def a_weighting(hertz):
    poles = [-2 * math.pi * p for p in POLES]
    _, h = scipy.signal.freqs_zpk([0] * 4, poles, 1, [2 * math.pi * hertz, 2 * math.pi * 1e3])
    return abs(h[0] / h[1])


def main():
    narrow = lambda f: f"noise of out over {f!r} Hz .. {f * (1 + 1e-5)!r} Hz"
    thirds = [1e3 * 10 ** (n / 10) for n in range(-20, 21)]
    phrases, wanted = [], []
    for f in thirds:
        phrases += [f"{narrow(f)} A-weighted", narrow(f)]
        # At the middle of the narrow band.
        wanted.append((f"A at {f:.4g} Hz", 20 * math.log10(a_weighting(f * (1 + 0.5e-5))), 1e-7))
    for f, level in TABLE:
        phrases += [f"{narrow(float(f))} 468-weighted", narrow(float(f))]
        wanted.append((f"468 at {f} Hz", level, 0.06))
    for low, high in BANDS:
        phrases += [f"noise of out over {low} Hz .. {high!r} Hz A-weighted", f"noise of out over {low} Hz .. {high!r} Hz"]
        # In the logarithm, where the curve is smooth; the plain noise is that of the band's width.
        power, _ = scipy.integrate.quad(lambda u: a_weighting(math.exp(u)) ** 2 * math.exp(u), math.log(low), math.log(high), epsabs=0, epsrel=1e-10, limit=400)
        wanted.append((f"A over {low} .. {high:g} Hz", 10 * math.log10(power / (high - low)), 1e-6))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.stage"
        path.write_text(DESIGN)
        lines = subprocess.run([sys.argv[1], "read", "--format", "json", path, *phrases], check=True, capture_output=True, text=True).stdout
    told = [json.loads(line)["value"] for line in lines.splitlines()]
    assert len(told) == 2 * len(wanted), f"{len(told)} readings of {2 * len(wanted)}"
    failures, worst = [], {"A": 0.0, "468": 0.0}
    for (name, level, limit), weighted, plain in zip(wanted, told[::2], told[1::2]):
        off = abs(20 * math.log10(weighted / plain) - level)
        worst[name.split()[0]] = max(worst[name.split()[0]], off)
        if not off <= limit:
            failures.append(f"{name}: off by {off:.3g} dB, {limit} is allowed")
    print(f"{len(wanted)} weightings compared; worst differences {worst['A']:.1e} dB of A (scipy), {worst['468']:.2f} dB of 468 (table)")
    print(*failures[:10], sep="\n")
    return 0 if not failures else 1


if __name__ == "__main__":
    sys.exit(main())
