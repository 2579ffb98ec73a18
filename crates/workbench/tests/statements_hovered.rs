//! A hover on a line of the argument: what it comes to, and what its words mean.

mod said;

use said::bench;

const DESIGN: &str = "design \"Bird box\"
  band 100 Hz .. 10 kHz

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 10k -- fb
  fb  -- R3 1k -- C2 10u -- gnd

assume
  C2 short above 100 Hz

formula
  gain in -> out = 1 + R2 / R3

require
  gain in -> out at 1 kHz > 20 dB
";

fn hovered(text: &str, line: &str, word: &str) -> String {
    let start = text.find(line).expect("the line is there");
    let at = start + line.find(word).expect("the word is there");
    let hover = bench(text).snapshot().hover("a", at).expect("something stands there");
    assert!(hover.range.contains(&at));
    hover.plain
}

#[test]
fn a_requirement_tells_its_verdict_its_working_and_its_words() {
    let said = hovered(DESIGN, "gain in -> out at 1 kHz", "gain");
    assert!(said.starts_with("gain in -> out at 1 kHz > 20 dB\n20.8 dB holds, 0.8 dB to spare"), "{said}");
    let word = hovered(DESIGN, "in  -- R1", "--");
    assert!(word.contains("part"), "{word}");
    // The page of the word follows.
    assert!(said.contains("V(B)/V(A)") || said.to_lowercase().contains("voltage"), "{said}");
}

#[test]
fn an_assumption_tells_what_it_costs_and_where() {
    let said = hovered(DESIGN, "C2 short above 100 Hz", "100 Hz");
    assert!(said.starts_with("C2 short above 100 Hz\n0.11 dB at 100 Hz"), "{said}");
    assert!(said.contains("each neglect alone"), "{said}");
}

#[test]
fn a_formula_tells_both_comparisons() {
    let said = hovered(DESIGN, "gain in -> out = 1", "=");
    assert!(said.starts_with("gain in -> out = 1 + R2 / R3\n"), "{said}");
}

#[test]
fn a_part_in_a_statement_is_still_the_part() {
    let said = hovered(DESIGN, "C2 short above", "C2");
    assert!(said.starts_with("C2"), "{said}");
    assert!(!said.contains("each neglect alone"), "{said}");
}
