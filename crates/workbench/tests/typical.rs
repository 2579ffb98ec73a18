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

/// A photodiode whose amplifier lifts the delay below the loop's own resonance and lowers it above: somewhere between it is what an ideal
/// one would give.
#[test]
fn where_it_crosses_the_ideal_one_a_delay_is_typical_too() {
    let stage = |amplifier: &str| {
        format!(
            "design\n  source pd 1 uA\nstage front: pd -> out\n  U1a {amplifier}: + gnd, - pd, out out\n  out -- R1 1M || C1 1.5p -- pd\n  pd -- C2 100p external -- gnd\n"
        )
    };
    let delay = |amplifier: &str, f: f64| {
        said::reading(&stage(amplifier), &format!("delay pd -> out at {f:e} Hz")).magnitude().expect("a delay")
    };
    let above = |f: f64| delay("tl072", f) > delay("ideal", f);
    let (mut low, mut high) = (20e3, 1e6);
    assert!(above(low) && !above(high));
    while high / low > 1.0 + 1e-9 {
        let middle = f64::sqrt(low * high);
        if above(middle) { low = middle } else { high = middle }
    }
    let crossing = said::reading(&stage("tl072"), &format!("delay pd -> out at {low:e} Hz"));
    assert!(matches!(crossing.status, Status::Typical(_)), "{crossing:?}");
}
