//! Published worked examples, derived: each ends in the formula of its source and in its number. The sources stand in the files below
//! `tests/outside`, beside what the solver is held against.

use std::path::Path;

use workbench::{Workbench, page};

/// File, stage, the formula as the notation writes it, the numbers.
const EXAMPLES: &[(&str, &str, &str, &[&str])] = &[
    // GA01, GA02
    ("amplifier-noninverting", "amp", "gain in -> out = 1 + R1 / R2", &["×22.3 "]),
    ("amplifier-inverting", "amp", "gain in -> out = -R2 / R1", &["×−100 "]),
    // GA03: −Rf/Rk of each input, added up.
    ("summer-four-inputs", "summer", "gain v2 -> out = -R5 / R1", &["×−1.00 ", "×−0.667 ", "×−0.455 ", "×−0.200 "]),
    // GA04: −4x + 3y
    ("difference-unequal", "difference", "gain y -> out = (1 + R2 / R1)*(R4 / (R3 + R4))", &["×−4.00 ", "×3.00 "]),
    // GA05: 1 + 2·25.25k/510
    ("instrumentation-amplifier", "front", "gain p - n -> fp - fn = 1 + (R1 + R3) / R2", &["×100 (40.0 dB)"]),
    ("instrumentation-amplifier", "difference", "gain fn - fp -> out = -R5 / R4", &["×1.00 (0.0 dB)"]),
    // SK02 … SK06, CH1, LR01: the standard forms of a unity-gain section
    (
        "sallen-key-10khz",
        "section",
        "gain in -> out = 1 / (1 + s*C2*(R1 + R2) + s^2*R1*R2*C1*C2)",
        &["= 10.0 kHz, the pair of poles", "Q = √(R1·R2·C1·C2)/(C2·(R1 + R2)) = ", "= 2.00"],
    ),
    (
        "sallen-key-high-pass",
        "section",
        "gain in -> out = s^2*R1*R2*C1*C2 / (1 + s*R1*(C1 + C2) + s^2*R1*R2*C1*C2)",
        &["= 200 Hz, the pair of poles", "= 1.50"],
    ),
    // SK07: f0 = 1/(2πRC), Q = 1/(3 − K) with equal parts
    (
        "sallen-key-equal-parts",
        "section",
        "gain in -> out = (1 + R3 / R4)*(1 / (1 + s*(C2*(R1 + R2) - R1*R3*C1 / R4) + s^2*R1*R2*C1*C2))",
        &["×1.59 (4.0 dB), far below all corners", "= 7.23 kHz", "= 0.707"],
    ),
    // MF01, MF02: the centre gain is −R3/(2·R1) with equal capacitors
    (
        "multiple-feedback-band-pass",
        "section",
        "gain in -> out = -s*R2*R3*C2 / ((R1 + R2)*(1 + s*(R1 || R2)*(C1 + C2) + s^2*R3*C1*C2*(R1 || R2)))",
        &["Gc = −R3·C2/(R1·(C1 + C2)) = ", "×−1.32 ", "= 736 Hz, the pair of poles", "= 4.16"],
    ),
    // MF04, MF05
    (
        "multiple-feedback-low-pass",
        "section",
        "gain in -> out = -(R2 / R1)*(1 / (1 + s*C2*(R2 + R3 + R2*R3 / R1) + s^2*R2*R3*C1*C2))",
        &["×−2.00 ", "= 10.0 kHz, the pair of poles", "= 4.00"],
    ),
    // SV01: its integrators
    ("state-variable", "first", "gain hp -> bp = -1 / (s*R4*C1)", &["= 7.23 kHz, where its size is 1"]),
    // NO01: the notch of the twin-T
    (
        "twin-t-passive",
        "notch",
        "gain in -> out = (1 + s*R3*(C1 + C2) + s^2*R3*C1*C2*(R1 + R2) + s^3*R1*R2*R3*C1*C2*C3) / (1 + s*(R1*C3 + R1*C2 + R2*C2 + R3*C1 + R3*C2) + s^2*(R1*R2*C2*C3 + R1*R3*C1*C3 + R1*R3*C2*C3 + R1*R3*C1*C2 + R2*R3*C1*C2) + s^3*R1*R2*R3*C1*C2*C3)",
        &["zeros a pair at 60.0 Hz on the axis"],
    ),
    // AP01
    (
        "all-pass-first-order",
        "shifter",
        "gain in -> out = (1 - s*R2*R3*C1 / R1) / (1 + s*R3*C1)",
        &["= 1.00 kHz, a pole", "at −90°"],
    ),
    // OS01: 1/(2πRC), Q ⅓
    (
        "wien-network",
        "network",
        "gain in -> out = s*R2*C1 / (1 + s*(R1*C1 + R2*C1 + R2*C2) + s^2*R1*R2*C1*C2)",
        &["= 1.59 kHz, the pair of poles", "= 0.333"],
    ),
    // OS02, OS03
    ("wien-gain", "three", "gain in -> out = 1 + R1 / R2", &["×3.00 "]),
    ("wien-gain", "low", "gain in -> out2 = 1 + R3 / R4", &["×2.83 "]),
    // TC01, TC02: (R1 + R2)/R1 at full boost
    (
        "tone-control-bass",
        "bass",
        "gain in -> out = -((R2 + ccw(VR1)) / (R1 + cw(VR1)))*((1 + s*cw(VR1)*C1)*(1 + s*C2*(R2 || ccw(VR1))) / ((1 + s*C1*(R1 || cw(VR1)))*(1 + s*ccw(VR1)*C2)))",
        &["×−10.1 (20.1 dB), far below all corners", "= 33.9 Hz, a pole"],
    ),
    // RI03, RI04: 3180, 318 and 75 µs
    (
        "riaa-network",
        "network",
        "gain in -> out = (1 + s*R2*C1) / (1 + s*(R1*C2 + R1*C1 + R2*C1) + s^2*R1*R2*C1*C2)",
        &["= 500 Hz, a zero", "two real poles, at 50.0 Hz and 2.12 kHz"],
    ),
    // PT01, PT05
    ("potentiometers", "linear", "gain in -> lin50 = ccw(VR1) / (cw(VR1) + ccw(VR1))", &["×1.00 (0.0 dB)"]),
    (
        "potentiometers",
        "burdened",
        "gain in -> loaded = (ccw(VR4) || R1) / (cw(VR4) + (ccw(VR4) || R1))",
        &["×1.00 (0.0 dB)"],
    ),
    // BW04b: a lag
    ("lag-phase", "lag", "gain in -> out = 1 / (1 + s*R1*C1)", &["= 100 Hz, a pole"]),
];

#[test]
fn published_examples_end_in_their_formula_and_number() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside");
    let mut wrong = Vec::new();
    for (file, stage, formula, numbers) in EXAMPLES {
        let text = std::fs::read_to_string(folder.join(format!("{file}.stage"))).expect("the example is there");
        assert!(text.contains("# source: "), "{file} names no source");
        let mut bench = Workbench::new();
        bench.set_text("a.stage", text);
        let snapshot = bench.snapshot();
        let at = snapshot.stages("a.stage").iter().position(|s| s == stage).expect("the stage is there");
        let said = page::text(&snapshot.derivation("a.stage", at).expect("it is derived").page);
        // What a formula needs to be equal stands behind it as a comment.
        let code = |line: &str| line.split_once('#').map_or(line, |(code, _)| code).trim().to_string();
        if !said.lines().any(|line| code(line) == *formula) {
            wrong.push(format!("{file}: {formula} is not what it ends in:\n{said}"));
        }
        let figures = said.split("\nIn numbers\n").nth(1).and_then(|s| s.split("\n\n").next()).unwrap_or_default();
        let missing = numbers.iter().filter(|number| !figures.contains(**number));
        wrong.extend(missing.map(|number| format!("{file}: {number} is not among its numbers:\n{figures}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The solver and the working agree on every stage of the outside fixtures that has a working: none is shown unconfirmed.
#[test]
fn no_fixture_has_a_working_that_the_solver_denies() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside");
    let mut stages = 0;
    for entry in std::fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("a file").path();
        if path.extension().is_none_or(|e| e != "stage") {
            continue;
        }
        let mut bench = Workbench::new();
        bench.set_text("a.stage", std::fs::read_to_string(&path).expect("UTF-8"));
        let snapshot = bench.snapshot();
        for at in 0..snapshot.stages("a.stage").len() {
            let said = page::text(&snapshot.derivation("a.stage", at).expect("it is derived").page);
            assert!(!said.contains("No working was found"), "{}:\n{said}", path.display());
            stages += usize::from(said.contains("\nWorking\n"));
        }
    }
    assert!(stages > 100, "{stages} stages");
}
