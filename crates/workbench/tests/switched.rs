//! Switches that leave a part of the circuit open: what floats carries nothing, and leaves everything else as it is.

use workbench::{Answer, Workbench};

fn read(text: &str, phrase: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    match &bench.snapshot().read("a", phrase)[..] {
        [Answer::Reading(r)] => r.short(Default::default()),
        other => panic!("one reading is asked for: {other:?}"),
    }
}

/// C1 or C2 between a and out, by two poles: the one that is not chosen hangs on nothing.
const BOTH_ENDS: &str = "stage sw: in -> out\n  in -- R2 1k -- a\n  a -- R3 100k -- gnd\n  SW1a at 1: pole a, 1 p1, 2 p2\n  \
                         SW1b at 1: pole out, 1 q1, 2 q2\n  p1 -- C1 10n -- q1\n  p2 -- C2 22n -- q2\n  out -- R1 10k -- gnd\n";

#[test]
fn a_part_that_no_contact_chooses_is_not_there() {
    // At 1 kHz C1 has 15.9 kΩ: R1 and it make 10/√(10² + 15.9²) = −5.5 dB of a, which 1 kΩ feeds.
    assert_eq!(read(BOTH_ENDS, "gain in -> out when SW1 1"), "−5.8 dB");
    assert_eq!(read(BOTH_ENDS, "gain in -> a when SW1 1"), "−0.3 dB");
    // The same with what floats tied down by 1 GΩ, at either position.
    let tied = BOTH_ENDS.to_string() + "  p1 -- R8 1G -- gnd\n  p2 -- R9 1G -- gnd\n";
    for phrase in ["gain in -> out", "phase in -> out", "low corner in -> out", "input impedance of sw"] {
        assert_eq!(read(BOTH_ENDS, phrase), read(&tied, phrase), "{phrase}");
    }
}

#[test]
fn what_floats_itself_is_not_known() {
    assert_eq!(read(BOTH_ENDS, "gain in -> p2 when SW1 1"), "unknown: at these values nothing settles p2 and q2");
}

#[test]
fn feedback_is_chosen_by_two_poles() {
    for amplifier in ["ideal", "tl072"] {
        let text = format!(
            "stage inv: in -> out\n  in -- R1 10k -- sum\n  U1a {amplifier}: + gnd, - sum, out out\n  SW1a at 1: pole sum, 1 p1, 2 p2\n  \
             SW1b at 1: pole out, 1 q1, 2 q2\n  p1 -- R2 10k -- q1\n  p2 -- R3 100k -- q2\n"
        );
        let typical = if amplifier == "ideal" { "" } else { " typ." };
        assert_eq!(read(&text, "gain in -> out"), format!("0.0 … 20.0 dB over SW1{typical}"));
        assert_eq!(read(&text, "gain in -> out when SW1 2"), format!("20.0 dB{typical}"));
    }
}

/// Two-way switching from two places: a lead that neither switch chooses floats at both of its ends.
#[test]
fn two_way_switching_joins_where_both_agree() {
    let text =
        "stage sw: in -> out\n  SW1 at 1: pole in, 1 p, 2 q\n  SW2 at 1: pole out, 1 p, 2 q\n  out -- R1 10k -- gnd\n";
    assert_eq!(read(text, "gain in -> out when SW1 1, SW2 1"), "0.0 dB");
    assert_eq!(read(text, "gain in -> out when SW1 1, SW2 2"), "no signal");
    assert_eq!(read(text, "gain in -> out when SW1 2, SW2 2"), "0.0 dB");
}

/// Bypassed, the effect's input floats between C1 and the open contact; its output drives nothing that is asked for.
#[test]
fn a_true_bypass_passes() {
    let text = "stage fx: in -> out\n  SW1a at 1: pole in, 1 fin, 2 byp\n  SW1b at 1: pole out, 1 fout, 2 byp\n  fin -- C1 100n -- g\n  \
                g -- R1 1M -- gnd\n  U1a tl072: + g, - fb, out o\n  o -- R2 10k -- fb\n  fb -- R3 1k -- gnd\n  o -- C2 1u -- fout\n  \
                fout -- R4 100k -- gnd\n  out -- R5 1M external -- gnd\n";
    assert_eq!(read(text, "gain in -> out when SW1 2"), "0.0 dB");
    assert_eq!(read(text, "gain in -> out when SW1 1"), "20.8 dB typ.");
}

/// With both switches open C1 hangs on nothing at either end, and with both closed it shunts R2.
#[test]
fn a_capacitor_between_two_open_switches_is_not_there() {
    let text = "stage sw: in -> out\n  in -- R2 1k -- out\n  in -- SW1 open -- C1 1u -- SW2 open -- out\n  out -- R1 1k -- gnd\n";
    assert_eq!(read(text, "gain in -> out when SW1 open, SW2 open"), "−6.0 dB");
    // 1 µF has 159 Ω at 1 kHz: beside 1 kΩ that is 25 − j155 Ω, and 1/|1.025 − j0.155| is −0.3 dB.
    assert_eq!(read(text, "gain in -> out when SW1 closed, SW2 closed"), "−0.3 dB");
    assert_eq!(read(text, "gain in -> out when SW1 closed, SW2 open"), "−6.0 dB");
}
