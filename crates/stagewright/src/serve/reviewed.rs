//! What the last look found that went further than every key's, for the time until there is another: the reviewer's rules are asked when
//! the typist pauses, builds are drawn after that, and what they said goes on being said where it stood.

use std::ops::Range;

use workbench::Problem;

use super::check::{Depth, Found};

/// The findings of that look, at their places in the text as it is now.
#[derive(Clone, Debug, Default)]
pub struct Reviewed {
    /// The version that they were found in, and how far the look went.
    pub of: (i32, Depth),
    /// What the reviewer's rules said.
    pub review: Vec<Problem>,
    /// What showed over tolerance only.
    pub built: Vec<Problem>,
}

impl Reviewed {
    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.review.is_empty() && self.built.is_empty()
    }

    /// Takes in what a look of that kind found.
    pub fn take(&mut self, of: (i32, Depth), found: Found) {
        self.of = of;
        self.review = found.review;
        if let Some(built) = found.built {
            self.built = built;
        }
    }

    /// Follows an edit: what stands behind it moves, and what it touches is not said any more.
    pub fn follow(&mut self, gone: &Range<usize>, come: usize) {
        let moved = |at: usize| at + come - gone.len();
        for list in [&mut self.review, &mut self.built] {
            list.retain_mut(|p| {
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
            list.iter_mut().for_each(|p| p.fixes.clear());
        }
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
        let mut reviewed = Reviewed { review: vec![at(2..5), at(10..13), at(20..23)], ..Reviewed::default() };
        reviewed.follow(&(11..12), 4);
        let places: Vec<_> = reviewed.review.iter().map(|p| p.range.clone()).collect();
        assert_eq!(places, [2..5, 23..26]);
    }
}
