//! Designs with a flaw in them: what hangs on the flaw is unknown with its name, what does not keeps its figure.

use workbench::Workbench;

fn hints(text: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let hints = bench.snapshot().hints("a", None);
    hints.iter().map(|h| format!("{}: {}\n", h.line + 1, h.label)).collect()
}

#[test]
fn branches_of_no_resistance_side_by_side_settle_every_voltage() {
    let text = "stage mute: in -> out
  in -- R1 10k -- a
  VR1 10k lin: cw a, wiper w, ccw gnd
  w -- SW1 closed -- gnd
  w -- R2 1k -- out
  out -- R3 10k -- gnd
";
    // At 0 % the lower half of VR1 and the switch share a current that nothing settles; no voltage hangs on how.
    assert!(hints(text).starts_with("1: no signal … −10.1 dB over VR1, SW1 · Zin 10 … 20 kΩ over VR1, SW1\n"));
}

#[test]
fn a_datum_that_cannot_be_read_is_not_taken_for_ideal() {
    let sheet = |line: &str| {
        hints(&format!(
            "datasheet weak: opamp\n  {line}\n  gain bandwidth 1 MHz\n\nstage follower: in -> out\n  U1 weak: + in, - out, out out\n  in -- R1 10k -- gnd\n"
        ))
    };
    assert!(sheet("open loop gain 100 dB").starts_with("5: 0.0 dB"), "{}", sheet("open loop gain 100 dB"));
    for line in ["open loop gain 100 db", "open loop gain 100 V", "open lop gain 100 dB", "open loop gain -3 V"] {
        let said = sheet(line);
        assert!(said.starts_with("5: unknown: weak's open loop gain cannot be read"), "{line}: {said}");
    }
}

#[test]
fn what_hangs_on_an_amplifier_without_feedback_is_unknown() {
    let text = "stage amp: in -> out
  U1: + in, - gnd, out ao
  in -- R1 10k -- out
  ao -- R90 1k -- out
  out -- R2 10k -- gnd

stage beside: in -> far
  in -- R5 10k -- far
  far -- R6 10k -- gnd
";
    let said = hints(text);
    assert!(said.contains("1: unknown: U1"), "{said}");
    assert!(said.contains("7: −6.0 dB"), "{said}");
}

#[test]
fn a_part_that_stands_twice_has_no_value() {
    let said = hints("stage a: in -> out\n  in -- R1 1k -- out\n  out -- R1 1k -- gnd\n");
    assert_eq!(said, "1: unknown: two parts are called R1\n");
}
