//! What the reviewer's rules found last, for the time until they are asked again: they are asked when the typist pauses, and what
//! they said goes on being said where it stood.

use std::ops::Range;

use workbench::Problem;

/// The findings of the last review, at their places in the text as it is now.
#[derive(Clone, Debug, Default)]
pub struct Reviewed {
    /// The version that they were found in.
    pub version: i32,
    /// The findings.
    pub problems: Vec<Problem>,
}

impl Reviewed {
    /// Follows an edit: what stands behind it moves, and what it touches is not said any more.
    pub fn follow(&mut self, gone: &Range<usize>, come: usize) {
        let moved = |at: usize| at + come - gone.len();
        self.problems.retain_mut(|p| {
            if p.range.end <= gone.start {
                return true;
            }
            if p.range.start < gone.end || p.range.start < gone.start {
                return false;
            }
            p.range = moved(p.range.start)..moved(p.range.end);
            true
        });
        // A way out is for the text that it was found in.
        self.problems.iter_mut().for_each(|p| p.fixes.clear());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(range: Range<usize>) -> Problem {
        Problem {
            range,
            severity: workbench::Severity::Warning,
            id: "loop-gain-low",
            message: String::new(),
            names: Vec::new(),
            fixes: Vec::new(),
            unfinished: false,
        }
    }

    #[test]
    fn findings_go_where_their_text_goes() {
        let mut reviewed = Reviewed { version: 1, problems: vec![at(2..5), at(10..13), at(20..23)] };
        reviewed.follow(&(11..12), 4);
        let places: Vec<_> = reviewed.problems.iter().map(|p| p.range.clone()).collect();
        assert_eq!(places, [2..5, 23..26]);
    }
}
