//! Edits of a design: after each, all that is seen is what a fresh workbench shows of the same text.

use std::fmt::Write;

use workbench::Workbench;

use crate::pieces::PIECES;
use crate::targets::text;

/// Bytes of a design. Many controls in one design multiply into thousands of positions, each of them a solution, and that is no hang.
const LONGEST_DESIGN: usize = 1000;

/// A first byte for how many edits, five for each of them, and the text that is edited.
pub(crate) fn edits(data: &[u8]) {
    let Some((count, data)) = data.split_first() else { return };
    let (orders, rest) = data.split_at(data.len().min(5 * usize::from(count % 8)));
    let mut design = text(&rest[..rest.len().min(LONGEST_DESIGN)]);
    let mut bench = Workbench::new();
    bench.set_text("a", design.clone());
    seen(&bench, &design);
    for order in orders.chunks_exact(5) {
        edit(&mut design, order);
        bench.set_text("a", design.clone());
        let now = seen(&bench, &design);
        let mut scratch = Workbench::new();
        scratch.set_text("a", design.clone());
        assert_eq!(now, seen(&scratch, &design), "incrementally and from scratch, after {design:?}");
    }
}

/// Two bytes for where, one for how many bytes go, two for what comes.
fn edit(design: &mut String, order: &[u8]) {
    let at = (usize::from(order[0]) << 8 | usize::from(order[1])) % (design.len() + 1);
    let start = design.floor_char_boundary(at);
    let gone = [0, 0, 0, 1, 1, 2, 5, 40][usize::from(order[2] % 8)];
    let end = design.ceil_char_boundary((start + gone).min(design.len()));
    let piece = PIECES[(usize::from(order[3]) << 8 | usize::from(order[4])) % PIECES.len()];
    design.replace_range(start..end, piece);
}

/// Everything that a workbench shows of a design, printed, so that a figure which is none equals itself. Every place in it is one of the text.
fn seen(bench: &Workbench, design: &str) -> String {
    let shown = bench.snapshot();
    let place = |start: usize, end: usize| {
        assert!(start <= end && design.get(start..end).is_some(), "{start}..{end} of {design:?}")
    };
    let mut out = String::new();
    for problem in shown.problems("a").iter().chain(shown.problems_reviewed("a", false).iter()) {
        place(problem.range.start, problem.range.end);
        problem.fixes.iter().flat_map(|fix| &fix.edits).for_each(|edit| place(edit.range.start, edit.range.end));
        let _ = writeln!(out, "{problem:?}");
    }
    for hint in shown.hints("a", None) {
        place(hint.at, hint.at);
        let _ = writeln!(out, "{hint:?}");
    }
    for token in shown.tokens("a", None) {
        place(token.range.start, token.range.end);
        let _ = writeln!(out, "{token:?}");
    }
    let _ = writeln!(out, "{:?} {:?}", shown.symbols("a"), shown.torn("a"));
    let _ = writeln!(out, "{:?} {:?}", shown.folds("a"), shown.links("a"));
    for at in (0..=design.len()).step_by(97) {
        let hover = shown.hover("a", at);
        hover.iter().for_each(|hover| place(hover.range.start, hover.range.end));
        let _ = writeln!(out, "{hover:?} {:?}", shown.definition("a", at));
        for found in shown.occurrences("a", at) {
            place(found.range.start, found.range.end);
            let _ = writeln!(out, "{:?} {} {}", found.range, found.makes, found.drives);
        }
        let around = shown.around("a", at);
        around.iter().for_each(|range| place(range.start, range.end));
        // Whatever the text, a rename is refused with a sentence or is made in places of it.
        let renamed = shown.rename("a", at, "renamed_so");
        for edit in renamed.iter().flatten().flatten().flat_map(|file| &file.edits) {
            place(edit.range.start, edit.range.end);
        }
        let _ = writeln!(out, "{around:?} {:?} {renamed:?}", shown.linked("a", at));
    }
    for phrase in ["gain in -> out", "output impedance of out at 1 kHz"] {
        let _ = writeln!(out, "{:?}", shown.read("a", phrase));
    }
    out
}
