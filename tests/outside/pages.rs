//! The figures in the manual's examples, by the same markers as in the files beside this one: what a page says, the program reads.

use workbench::Workbench;

use super::{Outcome, decide, marker};

#[test]
fn figures_in_the_manual_hold() {
    let (mut held, mut failures) = (0, Vec::new());
    for page in manual::pages() {
        for example in page.examples() {
            // A page is its own source: its text says how its figure is worked out.
            let text = format!("# source: COMPUTED the page's own text\n{}", example.text);
            let checks = marker::checks(&text).unwrap_or_else(|why| panic!("{}: {why}", page.title));
            let mut bench = Workbench::new();
            bench.set_text("example.stage", example.text.into());
            let snapshot = bench.snapshot();
            for check in checks {
                match decide(&snapshot, "example.stage", &check) {
                    Outcome::Passed => held += 1,
                    Outcome::Waiting => {}
                    Outcome::Failed(why) => failures.push(format!("{}: {}: {why}", page.title, check.phrase)),
                }
            }
        }
    }
    println!("{held} figures of the manual's examples hold");
    assert!(failures.is_empty(), "{} figures of the manual do not hold:\n{}", failures.len(), failures.join("\n"));
    assert!(held >= 60, "only {held} figures were compared");
}
