//! Delays over a band, against what can be worked out by hand.

mod said;

use std::f64::consts::TAU;

use said::{bench, reading};
use workbench::{Status, Verdict};

/// Least and greatest.
fn ends(text: &str, phrase: &str) -> [f64; 2] {
    let reading = reading(text, phrase);
    let range = reading.range.as_ref().unwrap_or_else(|| panic!("{phrase}: {reading:?}"));
    range.ends.clone().map(|e| e.value.unwrap_or(f64::NAN))
}

fn close(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs(), "{a} is not {b}");
}

/// That of a pair of poles: (1 + x²) / (ω₀·Q·((1 − x²)² + x²/Q²)), x = ω/ω₀.
fn pair(omega: f64, q: f64, hertz: f64) -> f64 {
    let u = (TAU * hertz / omega).powi(2);
    (1.0 + u) / (omega * q * ((1.0 - u).powi(2) + u / (q * q)))
}

/// The greatest of that: its derivative by x² is nothing at x² = √(4 − 1/Q²) − 1.
fn peak(omega: f64, q: f64) -> f64 {
    pair(omega, q, omega / TAU * ((4.0 - 1.0 / (q * q)).sqrt() - 1.0).sqrt())
}

#[test]
fn a_first_order_all_pass_delays_least_at_the_upper_end() {
    let text = "stage turn: in -> out\n  in -- R1 10k -- m\n  m -- R2 10k -- out\n  in -- R3 10k -- p\n  p -- C1 25n -- gnd\n  U1 ideal: + p, - m, out out\n";
    let at = |f: f64| 2.0 * 250e-6 / (1.0 + (TAU * f * 250e-6).powi(2));
    let [least, most] = ends(text, "delay in -> out over 20 Hz .. 20 kHz");
    close(least, at(20e3), 1e-12);
    close(most, at(20.0), 1e-12);
}

/// A band-pass by multiple feedback with Q = √(R2/R1)/2 and a peak of −2Q², of which the second stage adds as much as makes the whole an
/// all-pass: −(s² − s·ω₀/Q + ω₀²) / (s² + s·ω₀/Q + ω₀²), ω₀ = 1/(C·√(R1·R2)).
fn all_pass(r2: &str, adder: &str) -> String {
    format!(
        "stage turn: in -> out\n  in -- R1 1k -- a\n  a -- C1 10n -- m\n  a -- C2 10n -- b\n  m -- R2 {r2} -- b\n  U1a ideal: + gnd, - m, out b\n  in -- R3 10k -- sum\n  b -- R4 {adder} -- sum\n  sum -- R5 10k -- out\n  U1b ideal: + gnd, - sum, out out\n"
    )
}

#[test]
fn an_all_pass_of_second_order_delays_most_beside_its_resonance() {
    for (r2, adder, ratio) in [("100k", "250k", 100.0f64), ("10M", "25M", 10e3), ("1G", "2.5G", 1e6)] {
        let q = ratio.sqrt() / 2.0;
        let omega = 1.0 / (10e-9 * (1e3 * 1e3 * ratio).sqrt());
        let [least, most] = ends(&all_pass(r2, adder), "delay in -> out over 1 Hz .. 100 kHz");
        close(most, 2.0 * peak(omega, q), 1e-9);
        let at = |f: f64| 2.0 * pair(omega, q, f);
        close(least, at(1.0).min(at(100e3)), 1e-9);
    }
}

#[test]
fn a_delay_over_a_band_is_held_against_a_limit() {
    let text = all_pass("100k", "250k");
    let verdict = |limit: &str| {
        let design = format!("{text}\nrequire\n  delay in -> out over 20 Hz .. 20 kHz {limit}\n");
        bench(&design).snapshot().statements("a").last().expect("a requirement").verdict.clone()
    };
    // 2·peak(10⁴ rad/s, 5) is 2.0 ms.
    assert!(matches!(verdict("< 3 ms"), Verdict::Holds));
    assert!(matches!(verdict("< 1.9 ms"), Verdict::Fails(_)));
    assert!(matches!(verdict("= 200 ns .. 3 ms"), Verdict::Holds));
    assert!(matches!(verdict("> 100 us"), Verdict::Fails(_)));
}

#[test]
fn over_controls_the_least_and_the_greatest_of_all_positions_are_told() {
    let text = "stage low: in -> out\n  in -- R1 1k -- VR1 9k lin -- out\n  out -- C1 10n -- gnd\n";
    let at = |r: f64, f: f64| r * 10e-9 / (1.0 + (TAU * f * r * 10e-9).powi(2));
    let [least, most] = ends(text, "delay in -> out over 100 Hz .. 10 kHz");
    // Of R·C from 10 µs to 100 µs the slowest falls deepest at the upper end, and lies highest at the lower one.
    close(least, at(10e3, 10e3).min(at(1e3, 10e3)), 1e-9);
    close(most, at(10e3, 100.0), 1e-9);
}

#[test]
fn over_a_null_there_is_no_delay() {
    let text = "stage cell: in -> out\n  in -- R1 1k -- out\n  out -- L1 10m -- C1 100n -- gnd\n";
    let over = reading(text, "delay in -> out over 20 Hz .. 20 kHz");
    assert!(over.unknown().is_some_and(|why| why.contains("nothing arrives")), "{over:?}");
    assert!(reading(text, "delay in -> out over 20 Hz .. 2 kHz").unknown().is_none());
}

#[test]
fn an_end_of_it_that_rests_on_a_typical_figure_marks_it() {
    let text = "stage amp: in -> out\n  in -- R1 10k -- p\n  p -- C1 1u -- gnd\n  p -- R4 1M -- gnd\n  U1a tl072: + p, - m, out out\n  m -- R2 1k -- gnd\n  m -- R3 10k -- out\n";
    assert_eq!(reading(text, "delay in -> out over 1 Hz .. 10 Hz").status, Status::Exact);
    assert!(matches!(reading(text, "delay in -> out over 1 Hz .. 20 kHz").status, Status::Typical(_)));
}
