//! What an unfinished line is: its tree, its grade, and the one thing to say. One test a state that a typist goes through; what is said in
//! its file stands in the workbench's test of that name.

mod show;

use notation::read_entry;
use notation::tree::{BlockKind, Grade};

/// Checks grade, tree, and message of an entry; a message with `…` behind it is *unfinished*.
fn check(kind: BlockKind, text: &str, grade: Grade, tree: &str, message: &str) {
    let entry = read_entry(kind, text);
    let said =
        entry.fault.as_ref().map_or("none".to_string(), |f| f.message.clone() + if f.unfinished { " …" } else { "" });
    assert_eq!((entry.grade, show::entry(&entry).as_str(), said.as_str()), (grade, tree, message), "{text}");
}

fn stage(text: &str, grade: Grade, tree: &str, message: &str) {
    check(BlockKind::Stage, text, grade, tree, message);
}

fn require(text: &str, grade: Grade, tree: &str, message: &str) {
    check(BlockKind::Require, text, grade, tree, message);
}

/// Checks that the preferred fix makes the given text, and that nothing is left to say about it.
fn mends(kind: BlockKind, text: &str, mended: &str) {
    let fault = read_entry(kind, text).fault.unwrap();
    let fix = fault.fixes.first().unwrap_or_else(|| panic!("no fix for {text}"));
    assert_eq!(show::fixed(text, fix), mended);
    assert_eq!(read_entry(kind, mended).fault, None);
}

use Grade::{Open, Torn, Whole};

#[test]
fn row_01_a_node() {
    stage("fb", Torn, "path fb", "Behind fb a `--` and a part are missing. …");
}

#[test]
fn row_02_half_a_link() {
    stage("fb -", Torn, "path fb | ?", "`--` connects, and only half of it stands here. …");
}

#[test]
fn row_03_a_link() {
    stage("fb --", Torn, "path fb | ?", "A part or a node is missing behind `--`. …");
}

#[test]
fn row_04_class_letters() {
    stage("fb -- R", Torn, "path fb | [R#? ?]", "R has no number yet: a part is called R1, R2 and so on. …");
    // Behind a part the letter may be a node's name.
    stage("fb -- R3 1k -- R", Whole, "path fb | [R3 1k] | R", "none");
    stage(
        "fb -- R3 1k || R",
        Torn,
        "path fb | [R3 1k] || [R#? ?]",
        "R has no number yet: a part is called R1, R2 and so on. …",
    );
}

#[test]
fn row_05_no_value_yet() {
    stage("fb -- R3", Torn, "path fb | [R3 ?]", "R3 has no value yet. …");
    stage("fb -- R3 -- gnd", Open, "path fb | [R3 ?] | gnd", "R3 has no value yet.");
}

#[test]
fn row_05_a_code_without_its_digit() {
    let said = "R47 is the name of a part: as R3's value it has its digit in front, 0R47.";
    stage("fb -- R3 R47 -- gnd", Open, "path fb | [R3 ?] | gnd  strays R47", said);
    mends(BlockKind::Stage, "fb -- R3 R47 1% -- gnd", "fb -- R3 0R47 1% -- gnd");
    mends(BlockKind::Stage, "fb -- C1 n47 film -- gnd", "fb -- C1 0n47 film -- gnd");
    mends(BlockKind::Stage, "fb -- L1 u5 -- gnd", "fb -- L1 0u5 -- gnd");
    mends(BlockKind::Stage, "fb -- VR1 k5 lin -- gnd", "fb -- VR1 0k5 lin -- gnd");
    // With a value of its own it is a part, and with a part's value in front a node.
    stage("fb -- R3 R47 1k -- gnd", Torn, "path fb | [R3 ?] | [R47 1k] | gnd", "R3 has no value yet.");
    stage("fb -- C1 1n n47", Torn, "path fb | [C1 1n] | n47", "A `--` is missing before n47.");
}

#[test]
fn row_06_ends_at_a_part() {
    stage("fb -- R3 1", Torn, "path fb | [R3 1]", "The path ends at R3: a node is missing. …");
}

#[test]
fn row_07_a_second_link() {
    stage("fb -- R3 1k --", Torn, "path fb | [R3 1k] | ?", "A part or a node is missing behind `--`. …");
}

#[test]
fn row_08_a_value_half_typed() {
    // That 22 lacks its prefix is for the reader of figures to say.
    stage("fb -- R3 1k -- C2 22", Torn, "path fb | [R3 1k] | [C2 22]", "The path ends at C2: a node is missing. …");
}

#[test]
fn row_09_an_attribute_half_typed() {
    stage(
        "fb -- R3 1k -- C2 22u pol",
        Torn,
        "path fb | [R3 1k] | [C2 22u pol]",
        "The path ends at C2: a node is missing. …",
    );
    let message = "`pol` is no attribute: did you mean polar, polyester, polypropylene or polystyrene?";
    stage("fb -- C2 22u pol -- gnd", Open, "path fb | [C2 22u pol] | gnd", message);
    mends(BlockKind::Stage, "fb -- C2 22u pol -- gnd", "fb -- C2 22u polar -- gnd");
}

#[test]
fn row_10_a_node_half_typed_is_a_node() {
    stage("fb -- C2 22u polar -- g", Whole, "path fb | [C2 22u polar] | g", "none");
}

#[test]
fn row_11_nothing_in_parallel() {
    stage("fb -- R3 1k || -- gnd", Torn, "path fb | [R3 1k] || ? | gnd", "A part is missing behind `||`.");
}

#[test]
fn row_12_nothing_between_two_links() {
    stage("fb -- -- C2 22u -- gnd", Torn, "path fb | ? | [C2 22u] | gnd", "A part is missing between the two `--`.");
}

#[test]
fn row_13_a_parenthesis_stops_at_the_link() {
    stage("fb -- R3 (2*R4 -- gnd", Open, "path fb | [R3 ([2 * R4]!)] | gnd", "`)` is missing.");
    mends(BlockKind::Stage, "fb -- R3 (2*R4 -- gnd", "fb -- R3 (2*R4) -- gnd");
}

#[test]
fn row_14_a_minus_for_a_link() {
    stage("fb - R3 1k -- gnd", Torn, "path fb | [R3 1k] | gnd", "`-` connects nothing: `--` does.");
    mends(BlockKind::Stage, "fb - R3 1k -- gnd", "fb -- R3 1k -- gnd");
}

#[test]
fn row_15_small_letters_for_a_part() {
    stage("in -- r1 10k -- out", Torn, "path in | r1 | out", "A value cannot follow the node r1: did you mean R1?");
    mends(BlockKind::Stage, "in -- r1 10k -- out", "in -- R1 10k -- out");
    mends(BlockKind::Stage, "in -- vr1a 10k -- out", "in -- VR1a 10k -- out");
}

#[test]
fn row_16_two_nodes_in_a_row() {
    stage(
        "in -- out",
        Torn,
        "path in | out",
        "No part stands between in and out: one node too many, or a part missing?",
    );
}

#[test]
fn row_17_begins_with_a_part() {
    stage("R3 1k -- gnd", Torn, "path [R3 1k] | gnd", "A path begins with a node: which one is at R3's left?");
}

#[test]
fn row_18_a_device_without_terminals() {
    stage("U1a", Torn, "device [U1a]:", "`:` and its terminals are missing. …");
    stage("U1a fet_d", Torn, "device [U1a fet_d]:", "`:` and its terminals are missing. …");
}

#[test]
fn row_19_a_terminal_without_node() {
    stage("U1a fet_dual: + in, -", Torn, "device [U1a fet_dual]: + in, - ?", "The - input of U1a has no node yet. …");
}

#[test]
fn row_20_a_terminal_is_missing() {
    stage("U1a fet_dual: + in, - fb,", Torn, "device [U1a fet_dual]: + in, - fb, ?", "out and its node are missing. …");
    stage("U1a fet_dual: + in, - fb", Torn, "device [U1a fet_dual]: + in, - fb", "U1a still lacks out. …");
}

#[test]
fn row_21_a_comma_is_missing() {
    let text = "U1a fet_dual: + in, - fb out drive";
    stage(text, Torn, "device [U1a fet_dual]: + in, - fb, out drive", "A `,` is missing before out.");
    mends(BlockKind::Stage, text, "U1a fet_dual: + in, - fb, out drive");
}

#[test]
fn row_22_a_terminal_half_typed() {
    let message = "`wip` is no terminal of VR1 yet: wiper or ccw can follow. …";
    stage("VR1 50k log: cw a, wip", Torn, "device [VR1 50k log]: cw a, wip ?", message);
}

#[test]
fn row_23_a_text_without_its_end() {
    let message = "The closing `\"` is missing: the text runs to the line's end.";
    check(BlockKind::Use, "C1 22u \"47 uF, 63 V", Open, "override [C1 22u \"47 uF, 63 V\"]", message);
    // In a path the text holds whatever stood behind it, the last node included: there the entry is torn as well.
    stage("in -- C1 22u \"47 uF, 63 V -- a", Torn, "path in | [C1 22u \"47 uF, 63 V -- a\"]", message);
}

#[test]
fn row_24_a_quantity_half_typed() {
    require("ga", Torn, "reading ? ? -> ?", "`ga` is no quantity yet: gain or gain margin may be. …");
}

#[test]
fn row_24_a_weighting_half_typed() {
    require("noise of line A-", Open, "reading noise of line (A-)", "`A-` is no weighting: A-weighted is. …");
    require("noise of line A-wei", Open, "reading noise of line (A-wei)", "`A-wei` is no weighting: A-weighted is. …");
}

#[test]
fn row_25_no_far_end() {
    require("gain in ->", Torn, "reading gain in -> ?", "A node is missing behind `->`. …");
}

#[test]
fn row_26_a_reading_without_limit() {
    require("gain in -> line", Whole, "reading gain in -> line", "none");
}

#[test]
fn row_27_a_bare_figure() {
    // "1 of what? Hz, kHz" is for the reader of figures to say.
    require("gain in -> line at 1", Whole, "reading gain in -> line (at 1)", "none");
}

#[test]
fn row_28_a_limit_begun_leaves_the_reading() {
    let tree = "reading gain in -> line (at 1 kHz) = ?";
    require("gain in -> line at 1 kHz =", Open, tree, "A limit is missing, as in 12 dB ± 0.5 dB. …");
}

#[test]
fn row_29_a_limit_without_tolerance() {
    let tree = "reading gain in -> line (at 1 kHz) = 12 dB";
    let message = "`=` wants a tolerance `±`, or a range `..`: no figure is met exactly. …";
    require("gain in -> line at 1 kHz = 12 dB", Open, tree, message);
}

#[test]
fn row_30_half_a_band() {
    let tree = "reading gain in -> line (over 20 Hz .. ?) < 3 dB";
    require("gain in -> line over 20 Hz ..  < 3 dB", Open, tree, "The band's upper end is missing.");
}

#[test]
fn row_31_of_is_missing() {
    require("noise line < -75 dBu", Torn, "reading noise of line < -75 dBu", "`of` is missing before line.");
    mends(BlockKind::Require, "noise line < -75 dBu", "noise of line < -75 dBu");
}

#[test]
fn row_32_a_bare_position() {
    // "30 of what? %" is for the reader of figures to say.
    require("gain a -> b when VR1 30", Whole, "reading gain a -> b (when VR1 30)", "none");
    let message = "Where does VR1 stand? A figure with %, or a switch's position. …";
    require("gain a -> b when VR1", Open, "reading gain a -> b (when VR1 ?)", message);
}
