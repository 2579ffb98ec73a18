//! What an editor shows when the cursor rests on a word of the notation.

use workbench::{Hover, Workbench};

const TEXT: &str = "# supply and noise are words of a comment here
design \"a band of carillon players\"
  band      20 Hz .. 20 kHz
  supply    vpos +12 V, vneg -12 V
  source    in -40 dBu
  tolerance R 1 %
  setting   full: VR1 100 %

datasheet quiet: opamp
  gain bandwidth             typ 10 MHz, min 7 MHz
  voltage noise corner       50 Hz
  input range from high rail 2 V

stage amp: in -> drive
  in -- R1 100k -- gnd
  U1a quiet: + in, - fb, out drive, supply vpos vneg
  drive -- VR1 50k log -- fb
  fb -- R3 1k -- C1 22u polar -- gnd

stage load: drive
  drive -- R4 10k external -- gnd

assume
  C1 short above 100 Hz
  stage load open

require
  noise of drive A-weighted when full < 1 mV
  input noise in -> drive
  phase margin of U1a > 45 deg
";

/// The hover on the `nth` place where `word` stands.
fn on(word: &str, nth: usize) -> Option<Hover> {
    let mut bench = Workbench::new();
    bench.set_text("a", TEXT.into());
    let (at, _) = TEXT.match_indices(word).nth(nth).expect("the word stands there");
    bench.snapshot().hover("a", at)
}

/// Which words a hover speaks of, and the first five words of what it says.
fn said(word: &str, nth: usize) -> String {
    let hover = on(word, nth).unwrap_or_else(|| panic!("nothing is said on {word}"));
    // Above the word's page stands what its statement comes to, in a paragraph of its own.
    let page = hover.plain.rsplit("\n\n").next().unwrap_or_default();
    let first: Vec<&str> = page.split_whitespace().take(5).collect();
    format!("{}: {}", &TEXT[hover.range], first.join(" "))
}

#[test]
fn a_word_says_what_it_is() {
    assert_eq!(said("design", 0), "design: design opens the block that");
    assert_eq!(said("band ", 1), "band: band is the range of");
    assert_eq!(said("polar", 0), "polar: polar says that a capacitor");
    assert_eq!(said("short", 0), "short: short is a part that");
    assert_eq!(said("when", 0), "when: when says at which position");
    assert_eq!(said("dBu", 0), "dBu: A level is an rms");
}

#[test]
fn the_longest_phrase_is_meant() {
    let corner = "voltage noise corner: voltage noise corner is the";
    assert_eq!(said("voltage noise corner", 0), corner);
    assert_eq!(said("noise corner", 0), corner);
    assert_eq!(said("corner", 0), corner);
    assert_eq!(said("margin", 0), "phase margin: phase margin of U1a is");
    assert_eq!(said("noise of", 0), "noise: noise of N is the");
    assert_eq!(said("input noise", 0), "input noise: input noise A -> B");
    assert_eq!(said("from high rail", 0).split(':').next(), Some("input range from high rail"));
    assert_eq!(said("A-weighted", 0).split(':').next(), Some("A-weighted"));
}

#[test]
fn a_name_of_the_circuit_goes_before_a_word() {
    assert!(said("R4", 0).starts_with("R4: R4, 10 kΩ"));
    assert!(said("vpos", 0).starts_with("vpos: vpos, a rail"));
    assert!(said("full:", 0).starts_with("full: setting full"));
}

#[test]
fn comments_and_titles_are_no_words_of_the_notation() {
    assert_eq!(on("noise", 0), None);
    assert_eq!(on("supply", 0), None);
    assert_eq!(on("band", 0), None, "in the title");
}

#[test]
fn the_way_to_the_whole_page_is_shown() {
    let hover = on("polar", 0).expect("a word");
    assert!(hover.markdown.starts_with("`polar` says that a capacitor"), "{}", hover.markdown);
    assert!(hover.markdown.ends_with("`stagewright explain polar`"), "{}", hover.markdown);
    assert!(!hover.plain.contains('`'), "{}", hover.plain);
}

#[test]
fn no_hover_has_two_blank_lines_in_a_row() {
    let mut bench = Workbench::new();
    bench.set_text("a", TEXT.into());
    let bench = bench.snapshot();
    let hovers: Vec<Hover> = TEXT.match_indices(' ').filter_map(|(at, _)| bench.hover("a", at + 1)).collect();
    assert!(hovers.len() > 50, "{} hovers", hovers.len());
    for hover in hovers {
        assert!(!hover.markdown.contains("\n\n\n"), "{:?}", hover.markdown);
        assert!(!hover.plain.contains("\n\n\n"), "{:?}", hover.plain);
    }
}
