//! What a current source drives, against what can be worked out by hand: everything from its own node is told per ampere.

mod said;

use std::f64::consts::TAU;

use said::{bench, reading};
use workbench::{Status, Value};

/// A photodiode in front of an ideal amplifier with R1 = 1 MΩ and C1 = 1.5 pF around it: V/I = −R1 / (1 + s·R1·C1).
const DIODE: &str = "design \"Glow-worm counter\"\n  source pd 1 uA\nstage front: pd -> out\n  U1: + gnd, - pd, out out\n  out -- R1 1M || C1 1.5p -- pd\n  pd -- C2 10p external -- gnd\nstage load: out\n  out -- R2 10k -- gnd\n";

/// An inverting stage around an ideal amplifier: what arrives at `sum` is exactly nothing.
const EARTH: &str = "design \"Virtual earth\"\n  source in 1 V\nstage inverter: in -> out\n  in -- R1 10k -- sum\n  U1: + gnd, - sum, out out\n  out -- R2 10k -- sum\nstage other: far\n  far -- R9 1k -- gnd\n";

fn size(text: &str, phrase: &str) -> f64 {
    let reading = reading(text, phrase);
    reading.magnitude().unwrap_or_else(|| panic!("{phrase}: {reading:?}"))
}

fn unknown(text: &str, phrase: &str) -> String {
    reading(text, phrase).unknown().unwrap_or_else(|| panic!("{phrase} is known")).to_string()
}

fn close(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs(), "{a} is not {b}");
}

#[test]
fn a_photodiode_stage_is_read_per_ampere() {
    let (ohms, seconds) = (1e6, 1e6 * 1.5e-12);
    let size_at = |f: f64| ohms / (TAU * f * seconds).hypot(1.0);
    for f in [20.0, 1e3, 100e3] {
        close(size(DIODE, &format!("transimpedance pd -> out at {f:e} Hz")), -size_at(f), 1e-9);
        let angle = 180.0 - (TAU * f * seconds).atan().to_degrees();
        close(size(DIODE, &format!("phase pd -> out at {f:e} Hz")), angle, 1e-9);
        let delay = seconds / (1.0 + (TAU * f * seconds).powi(2));
        close(size(DIODE, &format!("delay pd -> out at {f:e} Hz")), delay, 1e-9);
    }
    // 3.01 dB below the size at 1 kHz, which is a little down the slope already.
    let corner = (2.0 * (1.0 + (TAU * 1e3 * seconds).powi(2)) - 1.0).sqrt() / (TAU * seconds);
    close(size(DIODE, "high corner pd -> out"), corner, 1e-9);
    assert_eq!(reading(DIODE, "low corner pd -> out").value, Value::Never);
    close(size(DIODE, "flatness pd -> out"), 20.0 * (size_at(1e3) / size_at(20e3)).log10(), 1e-9);
}

#[test]
fn over_a_band_the_sign_is_told_where_it_holds_throughout() {
    let size_at = |f: f64| 1e6 / (TAU * f * 1.5e-6).hypot(1.0);
    let ends = |phrase: &str| reading(DIODE, phrase).range.expect("a range").ends.map(|e| e.value.expect("a value"));
    let [low, high] = ends("transimpedance pd -> out over 20 Hz .. 20 kHz");
    close(low, -size_at(20.0), 1e-9);
    close(high, -size_at(20e3), 1e-9);
    // At 200 kHz it lags by 62° more.
    let [low, high] = ends("transimpedance pd -> out over 20 Hz .. 200 kHz");
    close(low, size_at(200e3), 1e-9);
    close(high, size_at(20.0), 1e-9);
}

#[test]
fn a_heading_tells_the_transimpedance_and_its_corner() {
    let hints = bench(DIODE).snapshot().hints("a", None);
    let front = hints.iter().find(|h| h.key == "stage front").expect("a hint");
    assert_eq!(front.label, "−1.00 MΩ · to 106 kHz · Zin 0 Ω");
}

#[test]
fn an_amplifier_with_a_bandwidth_has_its_corner_read_per_ampere() {
    let typed = DIODE.replace("U1:", "U1 fet_single:");
    let corner = reading(&typed, "high corner pd -> out");
    assert!(matches!(corner.status, Status::Typical(_)), "{corner:?}");
    let level = size(&typed, "transimpedance pd -> out").abs() / 2f64.sqrt();
    let f = corner.magnitude().expect("a corner");
    close(size(&typed, &format!("transimpedance pd -> out at {f:e} Hz")).abs(), level, 1e-9);
}

#[test]
fn a_sensor_that_is_no_current_source_has_no_transimpedance() {
    let volts = DIODE.replace("1 uA", "1 mV");
    assert!(unknown(&volts, "transimpedance pd -> out").starts_with("no current stands at pd"));
}

#[test]
fn nothing_arrives_at_a_virtual_earth() {
    for phrase in ["gain in -> sum", "gain in -> sum at 10 kHz"] {
        let reading = reading(EARTH, phrase);
        assert_eq!((reading.magnitude(), reading.unknown()), (Some(0.0), None), "{phrase}");
        assert_eq!(reading.short(Default::default()), "no signal");
    }
    assert_eq!(unknown(EARTH, "phase in -> sum"), "nothing arrives there, so it has no phase");
    assert_eq!(unknown(EARTH, "high corner in -> sum"), "there is no gain at the reference");
    // What no part leads to is another matter: nobody asks for that.
    assert_eq!(unknown(EARTH, "gain in -> far"), "nothing leads from in to far");
}
