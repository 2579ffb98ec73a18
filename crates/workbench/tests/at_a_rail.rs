//! An amplifier without feedback stands at a rail, and no figure of its own is made up for it.

mod said;

use said::read;

const OPEN: &str = "\
design
  supply vpos +12 V, vneg -12 V
  source in 10 mV

stage gate: in -> out
  in -- R1 100k -- gnd
  U1a tl072: + in, - m, out o
  m -- R2 1k -- gnd
  o -- R3 1k -- out
  out -- R4 10k -- gnd
  U1b tl072: + in, - follow, out follow
  follow -- R5 10k -- gnd
";

#[test]
fn what_it_drives_has_no_offset_and_no_direct_voltage_to_speak_of() {
    for phrase in ["offset of out", "offset of o", "dc of out"] {
        assert_eq!(read(OPEN, phrase), "unknown: U1a has no feedback, so its output rests at a rail", "{phrase}");
    }
    assert!(!read(OPEN, "offset of follow").contains("unknown"));
    assert!(!read(OPEN, "dc of in").contains("unknown"));
}

#[test]
fn an_ideal_one_that_feeds_its_plus_input_latches_unless_another_turns_the_sign_over() {
    let plus = "\
stage loop: in -> out
  in -- R1 1k -- p
  U1a ideal: + p, - gnd, out out
  out -- R2 10k -- p
";
    assert_eq!(
        read(plus, "gain in -> out"),
        "unknown: U1a's only feedback goes to its + input, so it latches at a rail"
    );
    let turned = "\
stage loop: in -> out
  in -- R1 1k -- p
  U1a ideal: + p, - gnd, out out
  out -- R3 10k -- m
  U1b ideal: + gnd, - m, out back
  m -- R4 10k -- back
  back -- R2 10k -- p
";
    // The loop's sign is turned over once, and the amplifier's own: in all the signal is not.
    assert_eq!(read(turned, "gain in -> out at 1 kHz"), "20.0 dB");
    let both = "\
stage loop: in -> out
  in -- R1 10k -- p
  U1a ideal: + p, - m, out out
  out -- R2 10k -- p
  out -- R3 1k -- m
  m -- R4 10k -- gnd
";
    assert!(!read(both, "gain in -> out").contains("latches"));
}
