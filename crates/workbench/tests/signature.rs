//! The shape of what is being typed, with the place at the cursor (`¦`) between ‹ and ›.

mod said;

use said::bench;

const DESIGN: &str = "\
stage pre: in -> mid
  in  -- R1 10k -- gnd
  U1a tl072: + in, - fb, out mid
  mid -- R2 1k -- fb
  fb  -- R3 4k7 -- gnd

";

fn shown(marked: &str) -> String {
    let at = marked.find('¦').expect("a cursor");
    let text = marked.replacen('¦', "", 1);
    let Some(found) = bench(&text).snapshot().signature("a", at) else { return "nothing".into() };
    let Some(active) = found.active else { return found.label };
    let range = &found.places[active].range;
    format!("{}‹{}›{}", &found.label[..range.start], &found.label[range.clone()], &found.label[range.end..])
}

fn below(heading: &str, line: &str) -> String {
    shown(&format!("{DESIGN}{heading}\n  {line}"))
}

#[test]
fn a_device_asks_for_the_terminals_that_it_lacks() {
    let stage = |line| below("stage next: mid -> out", line);
    let supply = "[, supply RAIL RAIL]";
    assert_eq!(stage("U2a ¦"), format!("U2a ‹TYPE›: + NODE, - NODE, out NODE{supply}"));
    assert_eq!(stage("U2a tl072: ¦"), format!("U2a tl072: ‹+ NODE›, - NODE, out NODE{supply}"));
    assert_eq!(stage("U2a tl072: + mid, ¦"), format!("U2a tl072: + NODE, ‹- NODE›, out NODE{supply}"));
    assert_eq!(stage("U2a tl072: + mid, out ¦"), format!("U2a tl072: + NODE, - NODE, ‹out NODE›{supply}"));
    assert_eq!(stage("U2a tl072: out out, - fb, ¦"), format!("U2a tl072: ‹+ NODE›, - NODE, out NODE{supply}"));
    assert_eq!(
        stage("U2a tl072: + mid, - fb, out out, ¦"),
        "U2a tl072: + NODE, - NODE, out NODE[, ‹supply RAIL RAIL›]"
    );
    assert_eq!(stage("VR1 10k lin: cw mid, ¦"), "VR1 OHMS [TAPER] [at POSITION]: cw NODE, ‹wiper NODE›, ccw NODE");
    assert_eq!(stage("VR1 ¦"), "VR1 ‹OHMS [TAPER] [at POSITION]›: cw NODE, wiper NODE, ccw NODE");
    assert_eq!(stage("SW1 at 1: pole mid, 1 a, 2 ¦"), "SW1 [at POSITION]: pole NODE, 1 NODE, ‹2 NODE›, …");
}

#[test]
fn a_part_asks_for_its_value_and_takes_attributes() {
    let stage = |line| below("stage next: mid -> out", line);
    assert_eq!(stage("mid -- R4 ¦"), "R4 ‹OHMS› [1% 0.25W metal external …]");
    assert_eq!(stage("mid -- R4 10k ¦"), "R4 OHMS [‹1% 0.25W metal external …›]");
    assert_eq!(stage("mid -- C4 ¦ -- out"), "C4 ‹FARADS› [5% 25V film polar external …]");
    assert_eq!(stage("mid -- ¦"), "nothing");
}

#[test]
fn a_quantity_tells_its_clauses() {
    let require = |line| below("require", line);
    let rest = "[at FREQUENCY] [over FREQUENCY .. FREQUENCY] [when SETTING, …] [from SOURCE]";
    let limit = "[< GAIN] [> GAIN] [= GAIN ± GAIN]";
    assert_eq!(require("gain ¦"), format!("gain ‹NODE› -> NODE {rest} {limit}"));
    assert_eq!(require("gain in -> ¦"), format!("gain NODE -> ‹NODE› {rest} {limit}"));
    let at = rest.replace("at FREQUENCY", "‹at FREQUENCY›");
    assert_eq!(require("gain in -> mid at ¦"), format!("gain NODE -> NODE {at} {limit}"));
    assert_eq!(
        require("gain in -> mid at 1 kHz = ¦"),
        format!("gain NODE -> NODE {rest} [< GAIN] [> GAIN] [‹= GAIN ± GAIN›]")
    );
    assert_eq!(
        require("noise of ¦"),
        "noise of ‹NODE, …› [over FREQUENCY .. FREQUENCY] [when SETTING, …] [A-weighted] [< LEVEL] [> LEVEL] [= LEVEL ± LEVEL]"
    );
    assert_eq!(below("formula", "gain in -> mid = ¦"), format!("gain NODE -> NODE {rest} = ‹EXPRESSION›"));
    assert_eq!(require("¦"), "nothing");
}

#[test]
fn headings_sheets_and_design_entries_have_their_places() {
    assert_eq!(shown("stage ¦"), "stage ‹NAME›: INPUT, … -> OUTPUT, …");
    assert_eq!(shown("stage pre: in -> ¦"), "stage NAME: INPUT, … -> ‹OUTPUT, …›");
    assert_eq!(shown(&format!("{DESIGN}use pre as second: mid -> ¦")), "use pre as NAME: in -> ‹mid›");
    assert_eq!(shown(&format!("{DESIGN}use pre as ¦")), "use pre as ‹NAME›: in -> mid");
    assert_eq!(shown("datasheet wren: ¦"), "datasheet NAME: ‹opamp›");
    assert_eq!(shown("assume within ¦"), "assume within ‹ERROR›");
    assert_eq!(
        below("datasheet wren: opamp", "gain bandwidth typ 3 MHz, min ¦"),
        "gain bandwidth [typ FREQUENCY][, ‹min FREQUENCY›][, max FREQUENCY]"
    );
    assert_eq!(below("datasheet wren: opamp", "supply range 7 V .. ¦"), "supply range VOLTAGE .. ‹VOLTAGE›");
    assert_eq!(below("design", "band 20 Hz .. ¦"), "band FREQUENCY .. ‹FREQUENCY›");
    assert_eq!(below("design", "supply vpos +12 V, ¦"), "supply RAIL VOLTAGE, ‹RAIL› VOLTAGE");
    assert_eq!(below("design", "accept no bias return for ¦"), "accept RULE for ‹NAME›: \"REASON\"");
    assert_eq!(
        below("assume", "C2 short above ¦"),
        "PART, … short [‹above FREQUENCY›] [below FREQUENCY] [over FREQUENCY .. FREQUENCY] [on QUANTITY] [within ERROR]"
    );
}

#[test]
fn functions_have_theirs_and_comments_none() {
    assert_eq!(below("formula", "gain in -> mid = max(R2, ¦"), "max(VALUE, ‹VALUE›)");
    assert_eq!(below("formula", "gain in -> mid = Z(¦"), "Z(‹PART›)");
    assert_eq!(below("stage next: mid -> out", "U2a tl072: + mid # ¦"), "nothing");
}

#[test]
fn what_it_tells_has_a_page_and_a_blank_is_answered_where_a_place_begins() {
    let found = |marked: &str| {
        let at = marked.find('¦').expect("a cursor");
        let text = format!("{DESIGN}require\n  {}", marked.replacen('¦', "", 1));
        let bench = bench(&text);
        let snapshot = bench.snapshot();
        let found = snapshot.signature("a", DESIGN.len() + "require\n  ".len() + at).expect("a signature");
        assert!(snapshot.told("a", &found.about).is_some_and(|t| t.markdown.contains("stagewright explain")));
        found.fresh
    };
    assert!(found("gain ¦") && found("gain in -> ¦") && found("noise of ¦"));
    assert!(!found("gain in ¦") && !found("gain in -> mid ¦"));
}
