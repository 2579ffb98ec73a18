//! Entries that can be misread: nothing is computed from what they were perhaps meant to say.

mod said;

use said::{bench, divider, hints, read, rules};
use workbench::Answer;

#[test]
fn a_figure_apart_from_its_value_leaves_the_value_in_doubt() {
    for (part, why) in [
        ("R5 10 000", "R5's value cannot be read"),
        ("R5 1 000 000", "R5's value cannot be read"),
        ("R5 10k 22k", "R5's value cannot be read"),
        ("VR1 10k log 15", "VR1's value cannot be read"),
        ("VR1 10k log50", "an attribute of VR1 cannot be read"),
        ("R5 (2*7.13 kohm) 12", "R5's value cannot be read"),
        ("V1 10k", "what V1 is cannot be read"),
        ("D1", "what D1 is cannot be read"),
    ] {
        let text = divider(part);
        assert_eq!(read(&text, "gain in -> out"), format!("unknown: {why}"), "{part}");
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{part}");
        assert_eq!(rules(&text).len(), 1, "{part}");
    }
    // A tolerance that cannot be read moves no nominal figure.
    assert_eq!(read(&divider("R5 1k ±5"), "gain in -> out"), "−6.0 dB");
    for (value, whole) in [("10 000", "10k"), ("1 000 000", "1M"), ("22 500", "22500")] {
        let problems = bench(&divider(&format!("R5 {value}"))).snapshot().problems("a");
        let fixes: Vec<_> = problems.iter().flat_map(|p| &p.fixes).map(|f| f.title.as_str()).collect();
        assert_eq!(fixes, [format!("write {whole}")], "{value}");
    }
    let problems = bench(&divider("R5 10 000 ohm")).snapshot().problems("a");
    let fixes: Vec<_> = problems.iter().flat_map(|p| &p.fixes).map(|f| f.title.as_str()).collect();
    assert_eq!(fixes, ["write 10000 ohm", "write 10 kohm"]);
    // What is rated is not a second half of the value.
    assert_eq!(rules(&divider("R5 1k 250 V")), Vec::<&str>::new());
    assert_eq!(rules(&divider("R5 100 250 V")), Vec::<&str>::new());
}

#[test]
fn a_replacement_that_cannot_be_read_replaces_all_the_same() {
    let copied = |entry: &str| format!("{}\nuse pad as second: far -> end\n  {entry}\n", divider("R5 1k"));
    for entry in ["R5 22;", "R5 22k fim", "R55k", "R55k 22k", "second.R5 22k", "R7 22k"] {
        let said = read(&copied(entry), "gain far -> end");
        assert!(said.starts_with("unknown: "), "{entry}: {said}");
        assert_eq!(read(&copied(entry), "gain in -> out"), "−6.0 dB", "{entry}");
        assert_eq!(rules(&copied(entry)).len(), 1, "{entry}");
    }
    let inline = format!("{}\nuse pad as second: far -> end R5 22k\n", divider("R5 1k"));
    assert_eq!(read(&inline, "gain far -> end"), "unknown: the heading of second cannot be read");
    assert_eq!(rules(&inline).len(), 1);
}

/// A follower with that row in its amplifier's data sheet, and more rows.
fn follower(row: &str, more: &str) -> String {
    format!(
        "design\n  supply vp +9 V, vn -9 V\n  source in 0.1 V\n\ndatasheet weak: opamp\n  {row}\n{more}\nstage follower: in -> out\n  in -- R1 10k -- gnd\n  U1 weak: + in, - out, out x\n  x -- R2 1k -- out\n  out -- R3 1k -- gnd\n"
    )
}

#[test]
fn a_row_of_a_data_sheet_that_cannot_be_read_is_not_left_out() {
    let more = "  gain bandwidth 1 MHz\n  open loop gain 100 dB\n  swing from rails 1 V\n";
    for (row, why) in [
        ("ouput resistance 100 ohm", "weak's output resistance cannot be read"),
        ("output resistance 100", "weak's output resistance cannot be read"),
        ("output resistance 100 V", "weak's output resistance cannot be read"),
        ("output resistance", "weak's output resistance cannot be read"),
        ("minimum gian 5", "weak's minimum gain cannot be read"),
        ("gain 60 dB", "weak's row gain cannot be read"),
        ("min 3 MHz", "a row of weak does not say what it gives"),
        ("open loop gain -20 dB", "weak's open loop gain cannot be read"),
        ("gain bandwidth min 3 MHz, typ 1 MHz, max 0.5 MHz", "weak's gain bandwidth cannot be read"),
    ] {
        for phrase in ["gain in -> out", "impedance of out", "clip level of out"] {
            assert_eq!(read(&follower(row, ""), phrase), format!("unknown: {why}"), "{row}");
        }
        assert_eq!(rules(&follower(row, "")).len(), 1, "{row}");
    }
    // Without these limits the output clips at its swing; one that is written may be reached first.
    assert_eq!(read(&follower("slew rate 9 V/us", more), "clip level of out"), "11.2 dBu (2.83 V) typ.");
    for (row, datum) in [
        ("slewrate 0.1 V/us", "slew rate"),
        ("slew rate 5 V", "slew rate"),
        ("output curent 1 mA", "output current"),
        ("input range from lo rail 2 V", "input range from low rail"),
        ("swing from rail 3 V", "swing from rails"),
    ] {
        let more = if datum.starts_with("swing") { "  gain bandwidth 1 MHz\n" } else { more };
        let text = follower(row, more);
        assert_eq!(read(&text, "clip level of out"), format!("unknown: weak's {datum} cannot be read"), "{row}");
        assert!(read(&text, "gain in -> out").starts_with("0.0 dB"), "{row}");
    }
}

#[test]
fn a_node_that_may_be_two_decides_nothing() {
    let text = "stage a: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- fb\n\nstage b: out -> end\n  out -- R3 1k -- end\n  end -- R4 1k -- fb\n  fb -- R5 1k -- gnd\n\nstage c: in -> far\n  in -- R7 1k -- far\n  far -- R8 1k -- gnd\n";
    assert_eq!(rules(text), ["node-crosses-stages"]);
    for phrase in ["gain in -> out", "gain in -> end", "impedance of in"] {
        assert_eq!(read(text, phrase), "unknown: fb is in a and in b, and is one node or two");
    }
    assert_eq!(read(text, "gain in -> far"), "−6.0 dB");
    // No current flows in R1 and R2, and yet it matters whether they meet.
    let idle = "stage a: in -> x\n  in -- R1 1k -- fb\n  in -- R3 1k -- x\n  x -- R4 1k -- gnd\n\nstage b: x -> end\n  fb -- R2 1k -- end\n  x -- R5 1k -- gnd\n";
    assert!(read(idle, "gain in -> end").starts_with("unknown: fb is in a"), "{}", read(idle, "gain in -> end"));
}

#[test]
fn a_source_that_stands_nowhere_leaves_no_level_at_nought() {
    let amplified = "stage amp: in -> o2\n  U1 ideal: + in, - o2, out o2\n  in -- R1 1k -- gnd\n  o2 -- R2 1k -- out\n  out -- R3 1k -- gnd\n";
    for (source, why) in [
        ("inn 10 mV", "where the source inn stands is not known"),
        ("o2 1 V", "U1 and a source both hold o2"),
        ("vp 1 V", "vp has a supply and a source"),
    ] {
        let text = format!("design\n  supply vp 9 V, vn -9 V\n  source {source}\n\n{amplified}");
        for phrase in ["level of out", "power of R3", "gain in -> out"] {
            assert_eq!(read(&text, phrase), format!("unknown: {why}"), "{source}");
        }
        assert_eq!(rules(&text).iter().filter(|r| **r != "one-supply").count(), 1, "{source}: {:?}", rules(&text));
    }
}

#[test]
fn an_entry_of_design_that_is_a_slip_away_is_not_passed_over() {
    let with = |entry: &str| format!("design\n  {entry}\n\n{}", divider("VR1 1k"));
    for (entry, why) in [
        ("refernce 5 kHz", "what refernce says cannot be read"),
        ("bnd 10 Hz .. 20 Hz", "what bnd says cannot be read"),
        ("suply vcc +9 V", "what suply says cannot be read"),
        ("sorce in 1 V", "what sorce says cannot be read"),
        ("trm VR1: gain in -> out = -6 dB", "what trm VR1 says cannot be read"),
        ("trim VR2: gain in -> out = -6 dB", "there is no VR2 to trim, so what is trimmed is not known"),
        ("seting low: VR1 3 %", "what seting sets cannot be read"),
    ] {
        assert_eq!(read(&with(entry), "gain in -> out"), format!("unknown: {why}"), "{entry}");
        assert_eq!(rules(&with(entry)).len(), 1, "{entry}");
    }
    for entry in ["trm VR1: gain in -> out = -6 dB", "trim VR2: gain in -> out = -6 dB", "seting low: VR1 3 %"] {
        assert_eq!(read(&with(entry), "gain in -> far"), "−6.0 dB", "{entry}");
    }
    assert_eq!(read(&with("tempreature 80 degC"), "noise of far"), "unknown: the temperature cannot be read");
    assert_eq!(read(&with("tempreature 80 degC"), "gain in -> far"), "−6.0 dB");
    // What is like no word of the list costs its line alone, and so does a word on its way.
    for entry in ["wibble 3", "ban"] {
        assert_eq!(read(&with(entry), "gain in -> far"), "−6.0 dB", "{entry}");
        assert_eq!(rules(&with(entry)).len(), 1, "{entry}");
    }
}

#[test]
fn names_that_mean_two_things_mean_neither() {
    let text = format!("let\n  pi = 3 kohm\n  x = pi\n  y = 2 * pi\n\n{}", divider("R5 (x)"));
    assert_eq!(read(&text, "gain in -> out"), "unknown: pi is given two values");
    assert!(hints(&text).contains("4: unknown: pi is given two values"), "{}", hints(&text));
    assert_eq!(rules(&text).len(), 1);
    let stages = divider("R5 1k").replace("stage beside", "stage pad");
    assert_eq!(rules(&stages), ["repeated-stage"]);
    assert_eq!(read(&stages, "input impedance of pad"), "unknown: there are two stages called pad");
    assert_eq!(read(&stages, "gain in -> far"), "−6.0 dB");
}

#[test]
fn noise_at_one_frequency_is_a_density() {
    let text = divider("R5 1k");
    for phrase in ["noise of out at 1 kHz", "input noise in -> out at 1 kHz"] {
        let said = read(&text, phrase);
        assert!(said.starts_with("wrong: ") && said.contains("noise density"), "{said}");
        assert!(!read(&text, &phrase.replace("noise", "noise density")).starts_with("wrong"));
    }
    let asked = format!("{text}\nrequire\n  noise of out at 1 kHz < 1 V\n");
    assert_eq!(rules(&asked), ["noise-at-frequency"]);
}

#[test]
fn a_position_of_all_copies_is_printed_as_one() {
    let text = format!("{}\nuse pad as second: far -> end\n", divider("VR1 10k"));
    let answers = bench(&text).snapshot().read("a", "gain in -> end when all VR1 100 %");
    assert!(matches!(&answers[..], [Answer::Reading(r)] if r.phrase.ends_with("when all VR1 100 %")));
}

#[test]
fn a_stage_without_ports_is_shown_ports_that_it_can_have() {
    let text = format!("{}\nstage pre\n  in -- R4 1k -- gnd\n", divider("R5 1k"));
    let problems = bench(&text).snapshot().problems("a");
    let said: Vec<&str> = problems.iter().map(|p| p.message.as_str()).collect();
    assert!(said.iter().any(|m| m.contains("`stage pre: in -> out`")), "{said:?}");
}

/// A selector that lacks a number between two others connects nothing there, at rest and in a setting.
#[test]
fn a_position_that_is_not_listed_is_open() {
    let text = |at: u32| {
        format!(
            "design
  setting mute: SW1 2

stage level: in -> out
  in  -- R1 10k -- out
  out -- R2 1k -- a
  out -- R3 3k -- b
  out -- R4 100k -- gnd
  SW1 at {at}: pole gnd, 1 a, 3 b
"
        )
    };
    for at in [1, 2, 3] {
        assert_eq!(rules(&text(at)), [""; 0], "at {at}");
        assert_eq!(read(&text(at), "gain in -> out"), "−20.9 … −0.8 dB over SW1", "at {at}");
        assert_eq!(read(&text(at), "gain in -> out when mute"), "−0.8 dB");
        assert_eq!(read(&text(at), "gain in -> out when SW1 2"), "−0.8 dB");
    }
    assert_eq!(rules(&text(4)), ["unlisted-position"]);
    assert_eq!(rules(&text(1).replace("SW1 2", "SW1 4")), ["unknown-position"]);
}

#[test]
fn what_is_inside_a_copy_is_its_own() {
    let text = "stage amp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 9k -- fb -- R3 1k -- gnd

use amp as two: out -> line

stage meter: probe -> reading
  probe   -- R9 1k -- two.fb
  two.fb  -- R8 1k -- reading
  reading -- R7 1k -- gnd
";
    assert_eq!(rules(text), ["node-crosses-stages"]);
    assert!(read(text, "gain out -> line").starts_with("unknown: two.fb is in two and in meter"));
}

#[test]
fn an_output_does_not_swing_beyond_its_rails() {
    let text = "datasheet wren: opamp
  swing from rails -1 V

stage follower: in -> out
  in -- R1 10k -- gnd
  U1a wren: + in, - out, out out
";
    assert_eq!(rules(text), ["datum-not-positive"]);
    assert_eq!(rules(&text.replace("swing from rails", "input range from low rail")), [""; 0]);
}

#[test]
fn a_concession_that_concedes_nothing_is_not_listed() {
    let text = "design
  accept nonsense for R1: \"x\"
  accept unlikely-value for R2: \"nothing is wrong there\"
  accept unlikely-value for R1: \"the shunt of a meter\"

stage divider: in -> out
  in  -- R1 10m -- out
  out -- R2 1k -- gnd
";
    let snapshot = bench(text).snapshot();
    let listed: Vec<String> = snapshot.accepted("a").into_iter().map(|a| a.reason).collect();
    assert_eq!(listed, ["the shunt of a meter"]);
}
