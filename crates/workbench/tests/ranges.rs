//! What is said over a band and over positions, against what can be worked out by hand.

mod said;

use std::f64::consts::TAU;

use num_complex::Complex64;
use said::{bench, reading};
use workbench::{Kind, Statement, Status, Verdict};

/// Least and greatest over the band or the positions.
fn ends(text: &str, phrase: &str) -> [f64; 2] {
    let reading = reading(text, phrase);
    let range = reading.range.as_ref().unwrap_or_else(|| panic!("{phrase}: {reading:?}"));
    range.ends.clone().map(|e| e.value.unwrap_or(f64::NAN))
}

fn statements(text: &str) -> Vec<Statement> {
    bench(text).snapshot().statements("a").to_vec()
}

/// What is decided of a design with one requirement: true where it holds.
fn holds(text: &str, limit: &str) -> bool {
    let all = statements(&format!("{text}\nrequire\n  {limit}\n"));
    match &all.last().expect("a requirement").verdict {
        Verdict::Holds => true,
        Verdict::Fails(_) => false,
        Verdict::Unknown(why) => panic!("{limit}: {why}"),
    }
}

/// Why a requirement is not decided.
fn unknown(text: &str, limit: &str) -> String {
    let all = statements(&format!("{text}\nrequire\n  {limit}\n"));
    match &all.last().expect("a requirement").verdict {
        Verdict::Unknown(why) => why.clone(),
        other => panic!("{limit}: {other:?}"),
    }
}

fn heading(text: &str) -> String {
    let bench = bench(text);
    let hints = bench.snapshot().hints("a", None);
    hints.iter().find(|h| h.line == 0).map(|h| h.label.clone()).unwrap_or_default()
}

fn close(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs(), "{a} is not {b}");
}

fn j(x: f64) -> Complex64 {
    Complex64::new(0.0, x)
}

const NOTCH: &str =
    "stage cell: in -> out\n  in -- R1 100 -- out\n  out -- L1 10m -- C2 7n -- R2 2R -- gnd\n  out -- C1 50n -- gnd\n";

#[test]
fn a_notch_between_the_points_of_a_grid_is_found() {
    // G = 1/(1 + R1·Y), Y = 1/(R2 + jωL + 1/(jωC2)) + jωC1, scanned finely around 1/(2π√(L·C2)) = 19.022 kHz.
    let gain = |f: f64| {
        let w = TAU * f;
        let y = 1.0 / (2.0 + j(w * 10e-3) + 1.0 / j(w * 7e-9)) + j(w * 50e-9);
        (1.0 / (1.0 + 100.0 * y)).norm()
    };
    let f0 = 1.0 / (TAU * (10e-3f64 * 7e-9).sqrt());
    let scan = (0..=200_000).map(|k| gain(f0 * (0.99 + 0.02 * f64::from(k) / 200_000.0)));
    let least = scan.fold(f64::INFINITY, f64::min);
    let [low, high] = ends(NOTCH, "gain in -> out over 20 Hz .. 100 kHz");
    close(low, least, 1e-7);
    assert!(high <= 1.0 + 1e-2);
    // Of the same notch the flatness is told: the gain at 1 kHz less that.
    let flat = reading(NOTCH, "flatness in -> out over 20 Hz .. 100 kHz").magnitude().unwrap();
    close(flat, 20.0 * (gain(1e3) / least).log10(), 1e-7);
    assert!(!holds(NOTCH, "gain in -> out over 20 Hz .. 100 kHz > -20 dB"));
}

#[test]
fn an_impedance_over_a_band_has_its_resonances() {
    // In series resonance, at 15.9 kHz, 1 Ω lies beside 1 MΩ; Q is 10,000.
    let text = "stage cell: in -> out\n  in -- R1 10 -- out\n  out -- L1 100m -- C1 1n -- R2 1R -- gnd\n  out -- R3 1M -- gnd\n";
    let [low, _] = ends(text, "input impedance of cell over 20 Hz .. 20 kHz");
    close(low, 10.0 + 1.0 / (1.0 + 1e-6), 1e-7);
    // A coil beside a capacitor, whose losses are L/(C·R) = 10 MΩ at 5.033 kHz: the peak is that of the closed form, scanned finely.
    let tank =
        "stage tank: in -> out\n  in -- R1 1k -- out\n  out -- L1 10m -- R2 0R01 -- gnd\n  out -- C1 100n -- gnd\n";
    let [_, high] = ends(tank, "gain in -> out over 20 Hz .. 20 kHz");
    let gain = |f: f64| {
        let y = 1.0 / (0.01 + j(TAU * f * 10e-3)) + j(TAU * f * 100e-9);
        (1.0 / (1.0 + 1e3 * y)).norm()
    };
    let f0 = 1.0 / (TAU * (10e-3f64 * 100e-9).sqrt());
    let most = (0..=20_000).map(|k| gain(f0 * (0.999 + 1e-7 * f64::from(k)))).fold(0.0, f64::max);
    close(high, most, 1e-6);
}

/// A coil of 100 mH with 0.1 Ω and 1 nF: 15.9 kHz, Q 100,000, behind 1 Ω.
const CRYSTAL: &str = "stage cell: in -> out\n  in -- R1 1R -- out\n  out -- L1 100m -- C1 1n -- R2 0R1 -- gnd\n";

#[test]
fn a_crystal_ends_the_interval_of_a_corner() {
    // |G|² = (r² + X²)/((R1 + r)² + X²) is ½ at X² = (R1 + r)² − 2r² = 1.19; below resonance X = −√1.19, and with δ = √1.19/10 kΩ
    // f/f₀ = √(1 + δ²/4) − δ/2. At 1 kHz X is 159 kΩ and |G| 1 less 2·10⁻¹¹.
    let delta = 1.19f64.sqrt() / 1e4;
    let f0 = 1e5 / TAU;
    let corner = reading(CRYSTAL, "high corner in -> out").magnitude().expect("a corner");
    close(corner, f0 * ((1.0 + delta * delta / 4.0).sqrt() - delta / 2.0), 1e-9);
}

#[test]
fn a_delay_is_the_derivative_of_the_phase() {
    // φ = arg(r + jX) − arg(R1 + r + jX), X = ωL − 1/(ωC), X′ = L + 1/(ω²C).
    let f = 15915.6;
    let w = TAU * f;
    let (x, slope) = (w * 0.1 - 1.0 / (w * 1e-9), 0.1 + 1.0 / (w * w * 1e-9));
    let share = |r: f64| r / (r * r + x * x);
    let delay = reading(CRYSTAL, "delay in -> out at 15915.6 Hz").magnitude().expect("a delay");
    close(delay, -slope * (share(0.1) - share(1.1)), 1e-8);
    // A first-order low-pass: RC/(1 + (ωRC)²).
    let low = "stage cell: in -> out\n  in -- R1 10k -- out\n  out -- C1 1n6 -- gnd\n";
    let wrc: f64 = TAU * 5e3 * 16e-6;
    close(reading(low, "delay in -> out at 5 kHz").magnitude().unwrap(), 16e-6 / (1.0 + wrc * wrc), 1e-12);
}

#[test]
fn an_exact_null_is_nothing_at_all() {
    let text = "stage cell: in -> out\n  in -- R1 1k -- out\n  out -- L1 10m -- C1 100n -- gnd\n";
    assert_eq!(ends(text, "gain in -> out over 20 Hz .. 20 kHz")[0], 0.0);
    assert!(ends(text, "gain in -> out over 20 Hz .. 2 kHz")[0] > 0.5, "the null lies above");
    assert!(!holds(text, "gain in -> out over 20 Hz .. 20 kHz > -150 dB"));
    let flat = reading(text, "flatness in -> out over 20 Hz .. 20 kHz");
    assert!(flat.unknown().is_some_and(|why| why.contains("nothing arrives")), "{flat:?}");
    assert!(reading(text, "phase in -> out over 20 Hz .. 20 kHz").unknown().is_some());
    // Without loss nothing bounds the other way round.
    let tank = "stage cell: in -> out\n  in -- L1 10m -- out\n  out -- C1 100n -- gnd\n";
    let most = reading(tank, "gain in -> out over 20 Hz .. 20 kHz");
    assert!(most.unknown().is_some_and(|why| why.contains("nothing bounds")), "{most:?}");
    // A twin T without any coil has its null at 1/(2πRC) = 1.59 kHz.
    let twin = "stage cell: in -> out\n  in -- R1 10k -- a -- R2 10k -- out\n  a -- C1 20n -- gnd\n  in -- C2 10n -- b -- C3 10n -- out\n  b -- R3 5k -- gnd\n  out -- R4 1M -- gnd\n";
    assert_eq!(ends(twin, "gain in -> out over 20 Hz .. 20 kHz")[0], 0.0);
}

/// An amplifier of ±1: a switch takes its + input to the signal or to gnd.
const POLARITY: &str = "stage flip: in -> out\n  in -- R1 10k -- m\n  m -- R2 10k -- out\n  U1 ideal: + p, - m, out out\n  SW1 at 1: pole p, 1 in, 2 gnd\n";

#[test]
fn each_position_has_its_own_sign() {
    assert!(!holds(POLARITY, "gain in -> out = 1 ± 1 %"));
    assert!(holds(POLARITY, "gain in -> out = -1 .. 1"));
    assert!(holds(POLARITY, "gain in -> out when SW1 2 = -1 ± 1 %"));
    assert!(holds(POLARITY, "gain in -> out = 0 dB ± 0.1 dB"));
    assert!(heading(POLARITY).contains("in phase at rest"), "{}", heading(POLARITY));
    let other = POLARITY.replace("at 1", "at 2");
    assert!(heading(&other).contains("inverted at rest"), "{}", heading(&other));
    // From −1 at 0 % over 0 to 1 at 100 %: G = 2p − 1.
    let blend = "stage blend: in -> out\n  in -- R1 10k -- m\n  m -- R2 10k -- out\n  U1 ideal: + p, - m, out out\n  VR1 10k lin at 90 %: ccw gnd, wiper p, cw in\n";
    assert!(holds(blend, "gain in -> out = -1.01 .. 1.01"));
    assert!(!holds(blend, "gain in -> out = 0 .. 1.01"));
    // At the second position the low-pass has ωRC = 6.3 at 1 kHz, and turns it by −81°.
    let aslant = "stage cell: in -> out\n  in -- R1 10k -- p\n  p -- C1 100n -- q\n  SW1 at 1: pole q, 1 w, 2 gnd\n  w -- R2 1G -- gnd\n  q -- R3 1G -- gnd\n  U1 ideal: + p, - out, out out\n";
    let why = unknown(aslant, "gain in -> out = -2 .. 2");
    assert!(why.contains("SW1 2") && why.contains("neither in nor out of phase"), "{why}");
}

#[test]
fn a_ratio_over_a_band_has_its_sign_at_every_frequency() {
    let amp = "stage amp: in -> out\n  in -- R3 1k -- n\n  n -- R4 10k -- out\n  U2 ideal: + gnd, - n, out out\n";
    assert!(holds(amp, "gain in -> out over 20 Hz .. 20 kHz = -10 ± 5 %"));
    assert!(!holds(amp, "gain in -> out over 20 Hz .. 20 kHz = 10 ± 5 %"));
    // With 1 nF across 10 kΩ, 45° are reached at 15.9 kHz: at 20 kHz it has no sign any more.
    let slow = format!("{amp}  n -- C1 1n -- out\n");
    assert!(holds(&slow, "gain in -> out over 20 Hz .. 15 kHz = -10 .. -7"));
    let why = unknown(&slow, "gain in -> out over 20 Hz .. 20 kHz = -10 .. 0");
    assert!(why.contains("20 kHz") && why.contains("neither in nor out of phase"), "{why}");
}

#[test]
fn a_phase_over_a_band_is_followed() {
    let all_pass = |k: usize, a: &str, b: &str| {
        format!(
            "stage s{k}x: {a} -> {b}\n  {a} -- R{k}1 10k -- m{k}\n  m{k} -- R{k}2 10k -- {b}\n  {a} -- R{k}3 10k -- p{k}\n  p{k} -- C{k} 25n -- gnd\n  U{k} ideal: + p{k}, - m{k}, out {b}\n"
        )
    };
    let two = format!("{}{}", all_pass(1, "in", "mid"), all_pass(2, "mid", "out"));
    let at = |f: f64| -4.0 * (f * TAU * 10e3 * 25e-9).atan().to_degrees();
    let [low, high] = ends(&two, "phase in -> out over 20 Hz .. 20 kHz");
    close(low, at(20e3), 1e-9);
    close(high, at(20.0), 1e-9);
    assert!(!holds(&two, "phase in -> out over 20 Hz .. 20 kHz = 180 deg ± 20 deg"));
    assert!(holds(&two, "phase in -> out over 20 Hz .. 20 kHz = 180 deg ± 175 deg"));
    assert!(!holds(&two, "phase in -> out over 20 Hz .. 20 kHz = 0 deg ± 20 deg"));
}

#[test]
fn a_range_is_marked_where_an_end_of_it_rests_on_a_typical_figure() {
    // ×2 at rest, ×52 at the other end.
    let text = "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 1k -- VR1 50k lin at 0 % -- fb\n  fb -- R3 1k -- gnd\n";
    // The product of gain and bandwidth is some MHz: at 100 Hz it moves ×2 by 0.005 % and ×52 by 0.1 %, of which 0.05 % count.
    assert_eq!(reading(text, "gain in -> out at 100 Hz when VR1 0 %").status, Status::Exact);
    assert!(matches!(reading(text, "gain in -> out at 100 Hz when VR1 100 %").status, Status::Typical(_)));
    assert!(matches!(reading(text, "gain in -> out at 100 Hz").status, Status::Typical(_)));
}

#[test]
fn where_the_controls_rest_is_a_position_too() {
    // G = 4p − 3: 0 at rest, while −3, −1 and 1 at the ends and the middle span 0.0 … 9.5 dB.
    let text = "stage vol: in -> out\n  VR1 10k lin at 75 %: ccw gnd, wiper a, cw in\n  in -- R1 10k -- fb -- R2 30k -- out\n  U1 ideal: + a, - fb, out out\n";
    assert!(!holds(text, "gain in -> out > -20 dB"));
    let reading = reading(text, "gain in -> out");
    let range = reading.range.as_ref().expect("a range");
    let least = range.ends.iter().filter_map(|e| e.value).fold(f64::INFINITY, f64::min);
    assert!(reading.kind == Kind::Gain && least <= reading.magnitude().unwrap(), "{reading:?}");
    assert!(range.ends.iter().any(|e| &*e.position == "VR1 75 %"), "{range:?}");
}

#[test]
fn with_nothing_to_turn_the_least_goes_first() {
    let text =
        "stage cell: in -> out\n  VR1 10k lin: ccw gnd, wiper a, cw in\n  a -- R1 10k -- out\n  out -- C1 10n -- gnd\n";
    let [a, b] = ends(text, "gain in -> out over 20 Hz .. 20 kHz when VR1 100 %");
    assert!(a < b && (b - 1.0).abs() < 1e-3, "{a} {b}");
}
