//! What rests on a typical figure of a data sheet says so, responses of the whole circuit too.

mod said;

use workbench::Status;

const AMP: &str = "\
design
  supply vpos +12 V, vneg -12 V
  source in 10 mV

stage amp: in -> out
  in -- R1 100k -- gnd
  U1a tl072: + in, - m, out out
  m -- R2 1k -- gnd
  m -- R3 10k -- out
  out -- R4 10k -- gnd
";

fn typical(phrase: &str) -> bool {
    match said::reading(AMP, phrase).status {
        Status::Typical(_) => true,
        Status::Exact => false,
        Status::Unknown(why) => panic!("{phrase}: {why}"),
    }
}

#[test]
fn what_the_gain_bandwidth_moves_is_typical() {
    for phrase in [
        "level of out at 100 kHz",
        "delay in -> out at 1 kHz",
        "flatness in -> out over 20 Hz .. 100 kHz",
        "power of R4 at 100 kHz",
        "current of R4 at 100 kHz",
        "voltage of R4 at 100 kHz",
    ] {
        assert!(typical(phrase), "{phrase}");
    }
}

#[test]
fn what_it_does_not_move_is_exact() {
    for phrase in ["level of in", "power of R1", "voltage of R1 at 100 kHz", "flatness in -> out over 20 Hz .. 100 Hz"]
    {
        assert!(!typical(phrase), "{phrase}");
    }
}
