//! What is said about limits over tolerance, and at the limit itself.

mod said;

use said::{lines_over_tolerance as lines, told_over_tolerance as told};

const SHORT: &str = "design\n  tolerance R 5 %\n  source in 0.1 V\n  trim VR1: gain in -> out at 1 kHz = -6 dB\n\
                     stage one: in -> out\n  in -- R1 10k -- out\n  out -- R2 9k6 -- VR1 1k lin -- gnd\n\
                     require\n  impedance of out < 6 kohm\n";

#[test]
fn builds_in_which_a_preset_falls_short_are_said_and_no_part_is_blamed_for_them() {
    let said = told(SHORT);
    let [one] = &said[..] else { panic!("{said:?}") };
    assert!(one.contains("over tolerance 23.9 % of 10000 builds cannot be read (23."), "{one}");
    assert!(one.contains(" % with 95 % confidence): VR1"), "{one}");
    assert!(one.contains("VR1 does not reach what it is trimmed to"), "{one}");
    assert!(!one.contains("R1 spends"), "{one}");
    let gain = lines(SHORT, "gain in -> out at 1 kHz = -6 dB ± 1 dB");
    assert!(gain.contains("it is the same in every build that can be read: the presets"), "{gain}");
}

#[test]
fn what_must_stay_below_is_wanted_at_most() {
    let all = lines(SHORT, "impedance of out < 6 kohm");
    assert!(all.contains("at most 6 kΩ is wanted") && !all.contains("at least"), "{all}");
}

#[test]
fn a_figure_at_its_limit_is_wanted_less_or_more() {
    let text = |limit| {
        format!("stage one: in -> out\n  in -- R1 3k -- out -- R2 1k -- gnd\nrequire\n  gain in -> out {limit} 0.25\n")
    };
    assert_eq!(told(&text("<")), ["gain in -> out is 0.250, and less than 0.250 is wanted."]);
    assert_eq!(told(&text(">")), ["gain in -> out is 0.250, and more than 0.250 is wanted."]);
}

/// A difference amplifier of four matched resistors.
const MATCHED: &str = "design\n  tolerance R 1 %\n  matched R1, R2, R3, R4 0.1 %\n  balanced line: hot, cold\n\
                       stage one: hot, cold -> out\n  hot -- R1 10k -- p -- R2 10k -- gnd\n  cold -- R3 10k -- n -- R4 10k -- out\n  \
                       U1a ideal: + p, - n, out out\n";

#[test]
fn matched_parts_keep_their_ratio_wherever_they_stand_together() {
    // R2/R1 = R3/R4 = 1.001 at worst: the differential gain over the common one is 1/m + 1/2.
    let all = lines(MATCHED, "rejection line -> out > 60 dB");
    let rejection = 20.0 * 1000.5f64.log10();
    assert!(rejection > 60.0 && all.contains("over tolerance 60.0 dB"), "{all}");
    assert!(!all.contains("presets"), "there are none: {all}");
    assert_eq!(told(&format!("{MATCHED}require\n  rejection line -> out > 60 dB\n")), Vec::<String>::new());
    // One that fails is told, and asked for its ways out.
    let failing = told(&format!("{MATCHED}require\n  rejection line -> out > 70 dB\n"));
    assert!(failing[0].contains("at least 70.0 dB is wanted"), "{failing:?}");
}
