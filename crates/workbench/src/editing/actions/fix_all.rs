//! All at once that mends what cannot be meant otherwise: misspelt words of the notation, units, marks of typeset pages, indents.

use crate::desk::Snapshot;
use crate::plain::{Problem, Severity};

use super::laid::{applied, between};
use super::{ActionKind, Offer, Place};
use crate::trial::{HERE, Trial};

/// What has one way out that says what was meant. Names that the author made are not among them: what `ouut` means is a guess.
const PLAIN: [&str; 8] = [
    "decimal-comma",
    "entry-unindented",
    "heading-indented",
    "heading-misspelt",
    "look-alike",
    "terminal-unknown",
    "unknown-datum",
    "unreadable-figure",
];

/// An entry tells its leftmost fault only, so that mending one may show the next; a line has no more than this many.
const ROUNDS: usize = 12;

/// The action, where there is something to mend.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let problems = crate::problems::problems(place.db, place.document);
    let count = problems.iter().filter(|p| is_plain(p)).count();
    if count == 0 {
        return Vec::new();
    }
    let title = "mend all that cannot be meant otherwise";
    vec![Offer::new(ActionKind::FixAll, title, move || Some(mended(place)))]
}

/// Whether a problem is an error with one way out that cannot be meant otherwise.
fn is_plain(problem: &Problem) -> bool {
    let [fix] = &problem.fixes[..] else { return false };
    // A figure's fix writes the figure; what leaves a word out is a judgement.
    let figure = |title: &str| {
        let written = title.strip_prefix("write ").unwrap_or_default();
        written.trim_start_matches(['-', '+', '±']).starts_with(|c: char| c.is_ascii_digit())
    };
    problem.severity == Severity::Error
        && PLAIN.contains(&problem.id)
        && (problem.id != "unreadable-figure" || figure(&fix.title))
}

fn mended(place: &Place) -> Vec<crate::plain::Edit> {
    let mut text = place.text.to_string();
    let mut trial = Trial::of(place.db, place.document);
    for _ in 0..ROUNDS {
        let then = trial.holding(text.clone());
        let Some(next) = round(&then, &text) else { break };
        text = next;
    }
    between(place.text, &text)
}

/// The text with all that is plain mended once; `None` where there is nothing.
fn round(snapshot: &Snapshot, text: &str) -> Option<String> {
    let problems = snapshot.problems(HERE);
    let mut edits: Vec<_> = problems.iter().filter(|p| is_plain(p)).flat_map(|p| p.fixes[0].edits.clone()).collect();
    edits.sort_by_key(|e| (e.range.start, e.range.end));
    let mut apart: Vec<crate::plain::Edit> = Vec::new();
    for edit in edits {
        if apart.last().is_none_or(|last| last.range.end < edit.range.start) {
            apart.push(edit);
        }
    }
    let next = applied(text, &apart);
    (next != text).then_some(next)
}
