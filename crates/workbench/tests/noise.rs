//! Noise beside the closed forms that a person would use; figures from them in double precision, k = 1.380649e-23 J/K and
//! 25 °C unless a line says otherwise.

use num_complex::Complex64;
use workbench::{Answer, Reading, Style, Unit, Workbench};

const BOLTZMANN: f64 = 1.380_649e-23;
const KELVIN: f64 = 298.15;

fn read(text: &str, phrase: &str) -> Reading {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    match bench.snapshot().read("a.stage", phrase).as_slice() {
        [Answer::Reading(r)] => (**r).clone(),
        [Answer::Wrong(fault)] => panic!("{phrase}: {}", fault.message),
        other => panic!("{phrase}: {} answers", other.len()),
    }
}

fn near(text: &str, phrase: &str, expected: f64, tolerance: f64) {
    let reading = read(text, phrase);
    assert_eq!(reading.unknown(), None, "{phrase}");
    let found = reading.magnitude().unwrap();
    assert!((found / expected - 1.0).abs() < tolerance, "{phrase}: {found:e} against {expected:e}");
}

/// The density of a resistance, V/√Hz.
fn thermal(ohms: f64) -> f64 {
    (4.0 * BOLTZMANN * KELVIN * ohms).sqrt()
}

#[test]
fn a_divider_sounds_like_its_two_resistors_side_by_side() {
    let text = "stage pad: in -> out\n  in -- R1 10k -- out\n  out -- R2 15k external -- gnd\n  out -- R3 1k unfitted -- gnd\n";
    near(text, "noise density of out at 1 kHz", thermal(6e3), 1e-10);
    near(text, "noise of out over 20 Hz .. 20 kHz", thermal(6e3) * 19_980f64.sqrt(), 1e-9);
    near(text, "input noise density in -> out at 1 kHz", thermal(6e3) / 0.6, 1e-10);
    let working = read(text, "noise density of out at 1 kHz").working.join("\n");
    // R1's share is that of its conductance: 15/25.
    assert!(
        working.find("R1: 10 kΩ makes 12.8 nV/√Hz; 7.7 nV/√Hz at out, 60.0 % of the power") < working.find("R2"),
        "{working}"
    );
}

#[test]
fn both_parts_of_a_track_sound_and_the_wiper_moves_them() {
    let text = "design\n  setting low: VR1 0 %\n\nstage level: in -> out\n  VR1 10k lin at 30 %: cw in, wiper out, ccw gnd\n  out -- R1 1G -- gnd\n";
    let beside = |r: f64| 1.0 / (1.0 / r + 1e-9);
    near(text, "noise density of out at 1 kHz when VR1 30 %", thermal(beside(2.1e3)), 1e-9);
    near(text, "noise density of out at 1 kHz when VR1 50 %", thermal(beside(2.5e3)), 1e-9);
    assert_eq!(read(text, "noise density of out when low").magnitude(), Some(0.0));
    let range = read(text, "noise density of out").range.expect("the control moves it");
    let most = range.ends.iter().filter_map(|e| e.value).fold(0.0, f64::max);
    assert!((most / thermal(beside(2.5e3)) - 1.0).abs() < 1e-9, "{most:e}");
}

#[test]
fn a_pair_has_the_noise_of_the_difference() {
    let text = "design\n  balanced line: hot, cold\n\nstage pads: a, b -> hot, cold\n  a -- R1 1k -- hot\n  b -- R2 3k -- cold\n  hot -- R3 1M -- cold\n";
    near(text, "noise density of line at 1 kHz", thermal(1.0 / (1.0 / 4e3 + 1e-6)), 1e-10);
}

const AMP: &str = "datasheet block: opamp
  voltage noise        5 nV/√Hz
  voltage noise corner 100 Hz
  current noise        0.7 pA/√Hz
  current noise corner 1 kHz

stage amp: in -> out
  in  -- R1 10k -- plus
  U1a block: + plus, - fb, out out
  out -- R2 9k -- fb
  fb  -- R3 1k -- gnd
";

/// A non-inverting amplifier's output density squared: each of its six makers by the gain that it meets.
fn amp(f: f64) -> f64 {
    let (source, feedback, ground, gain) = (10e3_f64, 9e3, 1e3, 10.0_f64);
    let voltage = 5e-9f64.powi(2) * (1.0 + 100.0 / f) * 100.0;
    let current = 0.7e-12f64.powi(2) * (1.0 + 1e3 / f);
    voltage
        + current * ((source * gain).powi(2) + feedback * feedback)
        + thermal(source).powi(2) * gain * gain
        + thermal(ground).powi(2) * 81.0
        + thermal(feedback).powi(2)
}

#[test]
fn a_non_inverting_amplifier_has_its_closed_form() {
    for (f, phrase) in [(10.0, "10 Hz"), (1e3, "1 kHz"), (50e3, "50 kHz")] {
        near(AMP, &format!("noise density of out at {phrase}"), amp(f).sqrt(), 1e-9);
        near(AMP, &format!("input noise density in -> out at {phrase}"), amp(f).sqrt() / 10.0, 1e-9);
    }
    // White parts by the width of the band, 1/f parts by the logarithm of its ends' ratio.
    let white = amp(f64::INFINITY);
    let whole = white * 19_980.0 + (amp(1.0) - white) * 1e3f64.ln();
    near(AMP, "noise of out over 20 Hz .. 20 kHz", whole.sqrt(), 1e-9);
    near(AMP, "input noise in -> out over 20 Hz .. 20 kHz", whole.sqrt() / 10.0, 1e-9);
    let reading = read(AMP, "noise of out over 20 Hz .. 20 kHz");
    assert!(reading.working.iter().any(|l| l == "rests on typical figures of block"), "{:?}", reading.working);
}

#[test]
fn weightings_pass_their_noise_bandwidth() {
    // 20 Hz … 20 kHz by Simpson's rule over 200,000 points of the standards' formulas: A passes 12,467.1837 Hz, the
    // network of BS.468 107,334.4997 Hz.
    let text = "stage one: in -> out\n  in -- R1 10k -- out\n";
    near(text, "noise of out over 20 Hz .. 20 kHz A-weighted", thermal(10e3) * 12_467.183_67_f64.sqrt(), 1e-7);
    near(text, "noise of out over 20 Hz .. 20 kHz 468-weighted", thermal(10e3) * 107_334.499_69_f64.sqrt(), 1e-7);
}

#[test]
fn a_resonance_is_not_passed_over() {
    // Across a parallel tuned circuit with a resistor the mean square is kT/C over all frequencies, however sharp: Q here is
    // 10 MΩ·√(C/L) = 100,000 at 1.59 kHz. The band leaves out less than a part in 1e9 of it.
    let text = "design\n  source in 1 nA\n\nstage tank: in -> out\n  in -- R1 10M -- gnd\n  in -- L1 10m || C1 1u -- gnd\n  in -- R2 0R -- out\n";
    near(text, "noise of out over 1 uHz .. 1 GHz", (BOLTZMANN * KELVIN / 1e-6).sqrt(), 1e-6);
}

#[test]
fn the_noise_at_a_current_source_is_a_current() {
    let text = "design\n  source in 10 nA\n\nstage shunt: in -> out\n  in -- R1 100k -- gnd\n  in -- R2 1k -- out\n  out -- R3 1G -- gnd\n";
    let reading = read(text, "input noise density in -> in at 1 kHz");
    assert_eq!(reading.unit, Unit::AmperePerRootHertz);
    let ohms = 1.0 / (1e-5 + 1.0 / (1e9 + 1e3));
    near(text, "input noise density in -> in at 1 kHz", thermal(ohms) / ohms, 1e-9);
    assert_eq!(read(text, "input noise in -> in over 20 Hz .. 20 kHz").unit, Unit::Ampere);
}

#[test]
fn from_0_hz_resistors_have_a_sum_and_1_over_f_has_none() {
    // √(4kTR · fc · atan(b/fc)), which over all frequencies is √(kT/C).
    let text = "stage low: in -> out\n  in -- R1 1k -- out\n  out -- C1 1n -- gnd\n";
    let corner = 1.0 / (std::f64::consts::TAU * 1e3 * 1e-9);
    let sum = |b: f64| thermal(1e3) * (corner * (b / corner).atan()).sqrt();
    near(text, "noise of out over 0 Hz .. 20 kHz", sum(20e3), 1e-8);
    near(text, "noise of out over 0 Hz .. 1 THz", (BOLTZMANN * KELVIN / 1e-9).sqrt(), 1e-6);
    near(text, "input noise in -> out over 0 Hz .. 20 kHz", sum(20e3) * (1.0 + (1e3 / corner).powi(2)).sqrt(), 1e-8);
    let said = read(AMP, "noise of out over 0 Hz .. 20 kHz");
    let why = said.unknown().unwrap_or_default();
    assert!(why.contains("rises as 1/f, and the band reaches 0 Hz"), "{why}");
}

#[test]
fn what_is_missing_is_named() {
    let said = |text: &str, phrase: &str| read(text, phrase).unknown().map(str::to_string);
    let without = AMP.replace("  current noise        0.7 pA/√Hz\n", "");
    assert_eq!(said(&without, "noise of out").as_deref(), Some("block has no current noise"));
    // In front of the amplifier its figures have no say.
    near(
        &format!("{without}\nstage other: in -> far\n  in -- R5 10k -- far\n"),
        "noise density of far",
        thermal(10e3),
        1e-10,
    );
    let ideal = AMP.replace("U1a block", "U1a");
    assert_eq!(
        said(&ideal, "noise of out").as_deref(),
        Some(
            "U1a is ideal and has no noise to speak of: a type with voltage noise and current noise would give it some"
        )
    );
    let unreadable = AMP.replace("noise corner 100 Hz", "noise corner 100 V");
    assert_eq!(said(&unreadable, "noise of out").as_deref(), Some("block's voltage noise corner cannot be read"));
    let open = AMP.replace("R2 9k", "R2");
    assert!(said(&open, "noise of out").is_some_and(|s| s.contains("R2")), "a value is missing");
}

#[test]
fn it_is_told_in_volts_and_dbu() {
    let text = "stage one: in -> out\n  in -- R1 10k -- out\n";
    assert!(read(text, "noise of out over 20 Hz .. 20 kHz").line(Style::default()).contains("1.81 µV"));
}

#[test]
fn what_makes_nothing_is_a_plain_zero() {
    // The resistor stands across the source, which makes no noise; without an amplifier there is no offset either.
    let text = "stage one: in -> out\n  in -- R1 10k -- gnd\n  in -- R2 0R -- out\n";
    for phrase in ["noise of out", "noise density of out", "offset of out"] {
        let found = read(text, phrase).magnitude().expect("it is known");
        assert_eq!(found.to_bits(), 0, "{phrase}: {found:?}");
    }
}

/// 4kT·∫Re Z df of a coil, a capacitor and a resistor side by side: Z = (s/C) / (s² + s·ω₀/Q + ω₀²), by partial fractions.
fn resonator(l: f64, c: f64, r: f64, low: f64, high: f64) -> f64 {
    let (omega, half) = (1.0 / (l * c).sqrt(), 0.5 / (r * c));
    let pole = Complex64::new(-half, (omega * omega - half * half).sqrt());
    let sum = |f: f64| {
        let s = Complex64::new(0.0, std::f64::consts::TAU * f);
        let share = |p: Complex64, other: Complex64| p / (c * (p - other)) * (s - p).ln();
        (share(pole, pole.conj()) + share(pole.conj(), pole)) / Complex64::i()
    };
    4.0 * BOLTZMANN * KELVIN * (sum(high) - sum(low)).re / std::f64::consts::TAU
}

#[test]
fn a_resonance_is_summed_whole_whatever_else_there_is() {
    // Q is R1 over 1 kΩ.
    for (r, behind) in [(50e3, 1e3), (500e3, 1e3), (50e6, 1e3), (500e3, 10e6), (50e6, 10e6), (900e6, 900e6)] {
        let text = format!(
            "stage cell: in -> far\n  in -- L1 10m -- out\n  out -- C1 10n -- gnd\n  out -- R1 {r:e} -- gnd\n  out -- R2 {behind:e} -- far\n"
        );
        let alone = resonator(10e-3, 10e-9, r, 20.0, 100e3);
        let all = alone + 4.0 * BOLTZMANN * KELVIN * behind * (100e3 - 20.0);
        near(&text, "noise of out over 20 Hz .. 100 kHz", alone.sqrt(), 1e-9);
        near(&text, "noise of far over 20 Hz .. 100 kHz", all.sqrt(), 1e-9);
    }
}

#[test]
fn a_capacitor_holds_the_same_power_whatever_charges_it() {
    // Up to b it is kT/C times 2/π·atan(b/fc).
    for ohms in [1e3, 1e6] {
        let text = format!("stage hold: in -> out\n  in -- R1 {ohms:e} -- out\n  out -- C1 10n -- gnd\n");
        let corner = 1.0 / (std::f64::consts::TAU * ohms * 10e-9);
        let share = std::f64::consts::FRAC_2_PI * (1e9 / corner).atan();
        near(&text, "noise of out over 0 Hz .. 1 GHz", (BOLTZMANN * KELVIN / 10e-9 * share).sqrt(), 1e-9);
    }
}
