//! A moment of each target on inputs that are the same at every run, and on all texts of the corpus.

use stagewright_fuzz::{Seeds, TARGETS, corpus_seeds, run, workspace_seeds};

#[test]
fn every_target_bears_made_up_inputs() {
    for (name, target) in TARGETS {
        // Reading a line costs microseconds, working out a circuit milliseconds.
        let count = match *name {
            "edits" => 5,
            "format" | "entries" => 120,
            _ => 300,
        };
        for seed in [1, 2] {
            let mut seeds = Seeds::new(corpus_seeds(), seed);
            let tally = run(*target, &mut seeds, |tried| tried < count, |_| ());
            assert!(tally.find.is_none(), "{name}, seed {seed}: {:?}", tally.find);
            assert_eq!(tally.tried, count);
        }
    }
}

#[test]
fn every_target_bears_the_texts_of_the_workspace() {
    let texts = workspace_seeds();
    assert!(texts.len() > 150, "{}", texts.len());
    for (name, target) in TARGETS.iter().filter(|(name, _)| *name != "edits") {
        for text in &texts {
            println!("{name}: {:?}", String::from_utf8_lossy(&text[..text.len().min(60)]));
            target(text);
        }
    }
}

/// What a target asserts is asserted: one that bears anything would find nothing.
#[test]
fn a_find_is_made_small() {
    fn no_capital_z(data: &[u8]) {
        assert!(!data.contains(&b'Z'), "a Z");
    }
    let mut seeds = Seeds::new(vec![b"let\n  x = Z(C4)\n".to_vec()], 3);
    let tally = run(no_capital_z, &mut seeds, |tried| tried < 1000, |_| ());
    let find = tally.find.expect("a Z among a thousand inputs");
    assert_eq!(find.input, b"Z");
    assert!(find.said.ends_with("a Z"), "{}", find.said);
}
