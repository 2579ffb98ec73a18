//! A stage's own impedances: what a neighbour holds is lifted, and with it all that the neighbour's amplifier enforced.

use workbench::{Answer, Workbench};

fn heading(text: &str, stage: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let line = text.lines().position(|l| l.starts_with(&format!("stage {stage}:"))).expect("the stage is there") as u32;
    let hints = bench.snapshot().hints("a", None);
    hints.into_iter().find(|h| h.line == line).expect("its heading says something").label
}

/// From `y` through R3 to `x`; beside it an inverting stage leads from `x` to `y`.
fn around(amplifier: &str) -> String {
    format!(
        "design \"Feedback\"\n  source in 5 mV\n\nstage feed: in -> x\n  in -- R4 1k -- x\n\nstage back: y, x\n  y -- R3 10k -- x\n\n\
         stage inverter: x -> y\n  x -- R1 1k -- m -- R2 1k -- y\n{amplifier}"
    )
}

/// With the output lifted nothing holds `m` at 0 any more: R1 and R2 in series lie beside R3, and R4 leads home. By the divider,
/// V(x) = 1/(1 + (10 ∥ 2)) of V(y), and Zin = 10 kΩ / (1 − V(x)/V(y)) = 16 kΩ.
#[test]
fn a_lifted_amplifier_keeps_no_virtual_short() {
    for amplifier in ["  U1 ideal: + gnd, - m, out y\n", "  U1 tl072: + gnd, - m, out y\n", ""] {
        assert_eq!(heading(&around(amplifier), "back"), "Zin 16 kΩ", "with {amplifier:?}");
    }
}

/// The same where the held node is two followers away from what it held: V(q) follows V(m), and R5 lies between `x` and `q`.
#[test]
fn nor_does_one_behind_it() {
    let text = |amplifier: &str| {
        around(amplifier) + "\nstage copy: m -> q\n  U2 ideal: + m, - q, out q\n\nstage load: q, x\n  q -- R5 1k -- x\n"
    };
    let held = heading(&text("  U1 ideal: + gnd, - m, out y\n"), "back");
    let free = heading(&text(""), "back");
    assert_eq!(held, free);
    // I(R5) = (V(m) − V(x))/R5, and no current into U2: with V(y) = 1, (1 − x)/10 + (1 − x)/2 + (m − x) = x, m = (1 + x)/2.
    let x = 1.1 / 2.1;
    assert_eq!(held, format!("Zin {:.0} kΩ", 10.0 / (1.0 - x)));
}

fn read(text: &str, phrase: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    match &bench.snapshot().read("a", phrase)[..] {
        [Answer::Reading(r)] => r.line(Default::default()),
        other => panic!("one reading is asked for: {other:?}"),
    }
}

#[test]
fn through_a_closed_contact_an_impedance_is_nothing() {
    let text = "stage x: a -> out\n  a -- SW1 closed -- out\n  out -- R4 10k -- gnd\n";
    assert_eq!(read(text, "output impedance of x"), "output impedance of x = 0 Ω, 10 kΩ … 0 Ω over SW1");
}

/// V(m) = V(in), so o stands (1 + R2/R3) times as high, and R1 drives a current into `in` that falls as `in` rises: Zin = −R1·R3/R2.
#[test]
fn a_negative_resistance_has_its_sign() {
    let text =
        "stage nic: in -> o\n  U1a ideal: + in, - m, out o\n  o -- R1 10k -- in\n  o -- R2 10k -- m -- R3 4k7 -- gnd\n";
    assert_eq!(read(text, "input impedance of nic"), "input impedance of nic = −4.7 kΩ");
    assert!(heading(text, "nic").ends_with("Zin −4.7 kΩ"));
}

#[test]
fn a_source_that_drives_itself_is_not_driven_from_another() {
    let text = "design\n  source a 1 V\n  source b 1 V\n\nstage x: a, b -> out\n  a -- R1 1k -- out\n  b -- R2 2k -- out\n  out -- R4 1k -- gnd\n";
    let said = read(text, "gain a -> out from b");
    assert_eq!(
        said,
        "gain a -> out from b is unknown: a is a source's own, so that source drives: b cannot at the same time"
    );
}

#[test]
fn an_end_inside_the_travel_stands_by_its_size() {
    let text = "stage ch: in -> out\n  VR2 10k lin: cw in, wiper v, ccw gnd\n  v -- R3 10k -- out\n";
    assert_eq!(read(text, "output impedance of ch"), "output impedance of ch = 12.5 kΩ, 10 … 12.5 kΩ over VR2");
}

/// What a short would bring an ideal source to, no ratio of vanishing resistances tells.
#[test]
fn a_short_across_what_is_held_leaves_no_ratio() {
    let mute = "design\n  source x 1 V\n\nstage vol: x -> w\n  VR1 10k lin: cw x, wiper w, ccw gnd\n\nstage mute: w\n  w -- SW1 open -- gnd\n";
    let said = read(mute, "gain x -> w when VR1 100 %, SW1 closed");
    assert!(
        said.contains("unknown: VR1 at 100 % and SW1 closed tie source x to gnd: two voltages on one node"),
        "{said}"
    );
    assert_eq!(
        read(mute, "gain x -> w when VR1 100 %, SW1 open"),
        "gain x -> w when VR1 100 %, SW1 open = ×1.00 (0.0 dB)"
    );
    assert_eq!(read(mute, "gain x -> w when VR1 50 %, SW1 closed"), "gain x -> w when VR1 50 %, SW1 closed = ×0");
    let held = "stage amp: x -> z\n  U1 ideal: + x, - f, out z\n  z -- R1 1k -- f\n  f -- VR1 10k lin -- gnd\n";
    let said = read(held, "gain x -> z when VR1 0 %");
    assert!(said.contains("nothing bounds z and the current of VR1"), "{said}");
    assert_eq!(read(held, "gain x -> z when VR1 100 %"), "gain x -> z when VR1 100 % = ×1.10 (0.8 dB)");
}

#[test]
fn where_two_hold_one_node_no_level_is_told() {
    let text =
        "design\n  source x 1 V\n\nstage pad: x -> z\n  x -- R1 0R -- gnd\n  x -- R2 1k -- z\n  z -- R4 1k -- gnd\n";
    for phrase in ["level of z", "power of R4", "voltage of R4", "dc of z"] {
        assert_eq!(read(text, phrase), format!("{phrase} is unknown: R1 and x hold the same node"));
    }
}

#[test]
fn a_source_behind_a_stage_does_not_drive_what_a_supply_feeds_it_with() {
    let text = "design
  supply vcc +9 V
  source a 100 mV

stage filter: vcc -> vf
  vcc -- R1 100 -- vf -- C1 220n -- gnd

stage bias: vf -> half
  vf -- R2 22k -- half
  half -- R3 22k -- gnd
  half -- C2 1u -- gnd

stage amp: a, half -> out
  a -- C3 1u -- p -- R4 100k -- half
  U1a tl072: + p, - out, out out
";
    // R3, C2 and what the amplifier's input asks for, under R2: 159 Ω of 22 kΩ at 1 kHz.
    assert!(heading(text, "bias").starts_with("−42.8 dB"), "{}", heading(text, "bias"));
    assert_eq!(read(text, "gain vf -> half"), "gain vf -> half = −42.8 dB at −89°");
    // A source in front of the port drives it, as anywhere.
    let driven = text
        .replace("vf -- C1 220n -- gnd", "vf -- C1 220n -- b")
        .replace("source a 100 mV", "source a 100 mV\n  source b 1 V");
    assert!(read(&driven, "gain vf -> half").contains("from"), "{}", read(&driven, "gain vf -> half"));
}
