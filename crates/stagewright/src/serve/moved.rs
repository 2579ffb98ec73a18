//! Where the lines of a text stand after an edit, so that what was last said of a line goes on being said of the same one.

use std::collections::{HashMap, HashSet, VecDeque};
use std::ops::Range;
use std::time::{Duration, Instant};

use similar::{Algorithm, DiffTag, capture_diff_slices_deadline};

use super::position::Text;

/// How long the lines of a text that was replaced are compared at most; what is not matched by then goes by its name.
const LONGEST: Duration = Duration::from_millis(20);

/// How an edit, or several, moved the lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Moved {
    /// The old lines that were touched.
    old: Range<u32>,
    /// What stands in their place.
    new: Range<u32>,
    /// Where each of the old ones went.
    went: Vec<Option<u32>>,
    /// Lines of the new text that are none of the old.
    strangers: Vec<u32>,
}

impl Moved {
    /// Compares two texts line by line. Lines are the same if they are but for their blanks, in whatever order they stand now; of lines
    /// that were replaced by as many others, each became the one in its place.
    pub fn between<'t>(old: &'t Text, new: &'t Text) -> Self {
        let (before, after) = (lines(old), lines(new));
        let same = |(a, b): &(&&str, &&str)| a == b;
        let first = before.iter().zip(&after).take_while(same).count();
        let most = before.len().min(after.len()) - first;
        let last = before.iter().rev().zip(after.iter().rev()).take(most).take_while(same).count();
        let (old, new) = (first..before.len() - last, first..after.len() - last);
        let mut moved = Self {
            old: old.start as u32..old.end as u32,
            new: new.start as u32..new.end as u32,
            went: vec![None; old.len()],
            strangers: Vec::new(),
        };
        let words = |lines: &[&'t str]| -> Vec<Vec<&'t str>> {
            lines.iter().map(|line| line.split_whitespace().collect()).collect()
        };
        let (before, after) = (words(&before[old]), words(&after[new]));
        let enough = Some(Instant::now() + LONGEST);
        let mut replaced = Vec::new();
        // Lines that came, by their words.
        let mut came: HashMap<&[&str], VecDeque<usize>> = HashMap::new();
        for op in capture_diff_slices_deadline(Algorithm::Patience, &before, &after, enough) {
            let (tag, old, new) = op.as_tag_tuple();
            if tag == DiffTag::Equal {
                old.zip(new).for_each(|(old, new)| moved.went[old] = Some((first + new) as u32));
                continue;
            }
            new.clone().for_each(|new| came.entry(&after[new]).or_default().push_back(new));
            replaced.push((old, new));
        }
        let mut taken = HashSet::new();
        // Lines that changed their order.
        for old in replaced.iter().flat_map(|(old, _)| old.clone()).filter(|&old| !before[old].is_empty()) {
            if let Some(new) = came.get_mut(&*before[old]).and_then(VecDeque::pop_front) {
                taken.insert(new);
                moved.went[old] = Some((first + new) as u32);
            }
        }
        for (old, new) in replaced {
            let stranger = |new: &usize| !taken.contains(new);
            moved.strangers.extend(new.clone().filter(stranger).map(|new| (first + new) as u32));
            if old.len() == new.len() {
                for (old, new) in old.zip(new).filter(|(_, new)| stranger(new) && !after[*new].is_empty()) {
                    moved.went[old].get_or_insert((first + new) as u32);
                }
            }
        }
        moved
    }

    /// Whether every line stands where it stood.
    pub fn is_nothing(&self) -> bool {
        self.old == self.new && self.strangers.is_empty()
    }

    /// Where an old line stands now; `None` if it is no more.
    pub fn line(&self, line: u32) -> Option<u32> {
        if line < self.old.start {
            Some(line)
        } else if line < self.old.end {
            self.went[(line - self.old.start) as usize]
        } else {
            Some(line - self.old.end + self.new.end)
        }
    }

    /// Whether an old line is one of the new text's, but for its blanks.
    pub fn stayed(&self, line: u32) -> bool {
        self.line(line).is_some_and(|line| self.strangers.binary_search(&line).is_err())
    }

    /// The line of the new text, none of the old, that what `key` speaks of stands in: `part C2`, `stage preamp`, `setting low`.
    pub fn named(&self, key: &str, new: &Text) -> Option<u32> {
        let (kind, name) = key.split_once(' ').filter(|(_, name)| !name.contains(' '))?;
        let here = |line: &&u32| {
            let text = &new.as_str()[new.line(**line)];
            let mut words = text.split(|c: char| c.is_whitespace() || matches!(c, ':' | ','));
            match kind {
                // A part's own entry: behind a link, or in front of its terminals.
                "part" => {
                    let mut fresh = text.contains(':');
                    text.split_whitespace().any(|word| {
                        let own = fresh && word.trim_end_matches(':') == name;
                        fresh = matches!(word, "--" | "||");
                        own
                    })
                }
                _ => {
                    words.find(|word| !word.is_empty()) == Some(kind)
                        && words.find(|word| !word.is_empty()) == Some(name)
                }
            }
        };
        self.strangers.iter().find(here).copied()
    }
}

fn lines(text: &Text) -> Vec<&str> {
    (0..text.lines() as u32).map(|line| &text.as_str()[text.line(line)]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::serve::position::Encoding;
    use proptest::prelude::*;

    fn text(text: &str) -> Text {
        Text::new(text, Encoding::Utf8)
    }

    fn moved(old: &str, new: &str) -> Vec<Option<u32>> {
        let moved = Moved::between(&text(old), &text(new));
        (0..old.split('\n').count() as u32).map(|line| moved.line(line)).collect()
    }

    #[test]
    fn lines_move_with_what_comes_and_goes_above_them() {
        assert_eq!(moved("a\nb\nc", "a\n\nb\nc"), [Some(0), Some(2), Some(3)]);
        assert_eq!(moved("a\nb\nc", "a\nc"), [Some(0), None, Some(1)]);
        assert_eq!(moved("a\nb\nc", "a\nbx\nc"), [Some(0), Some(1), Some(2)], "a line that changes is the same line");
        assert_eq!(moved("a\nb\nc", "c\na\nb"), [Some(1), Some(2), Some(0)]);
        assert_eq!(moved("a\nb", "a\nb"), [Some(0), Some(1)]);
    }

    #[test]
    fn a_text_that_is_laid_out_anew_keeps_its_lines() {
        assert_eq!(moved(" a--b\nx\n  c\n d", "\n  a--b\n\nx\n  c\n  d"), [Some(1), Some(3), Some(4), Some(5)]);
    }

    #[test]
    fn what_is_replaced_is_found_by_its_name() {
        let old = text("let\n a = 1\nstage bell: in -> out\n in -- R1 1k -- C2 1u -- out");
        let new = text("stage bell: in -> o\n  C2 short above 1 Hz\n  in -- R1 2k\n    -- C2 1u -- o");
        let moved = Moved::between(&old, &new);
        assert_eq!(moved.named("stage bell", &new), Some(0));
        assert_eq!(moved.named("part C2", &new), Some(3));
        assert_eq!(moved.named("part R1", &new), Some(2));
        assert_eq!(moved.named("part R9", &new), None);
        assert_eq!(moved.named("require gain in -> out", &new), None);
    }

    proptest! {
        /// Whatever the edit, a line that is said to have stayed is one that was there.
        #[test]
        fn what_stays_is_the_same(old in "[ab \n]{0,24}", new in "[ab \n]{0,24}") {
            let (old, new) = (text(&old), text(&new));
            let moved = Moved::between(&old, &new);
            let words = |text: &Text, line: u32| text.as_str()[text.line(line)].split_whitespace().map(str::to_string).collect::<Vec<_>>();
            let mut taken = std::collections::HashSet::new();
            for line in 0..old.lines() as u32 {
                let Some(now) = moved.line(line) else { continue };
                prop_assert!((now as usize) < new.lines() && taken.insert(now), "two lines became one");
                if moved.stayed(line) {
                    prop_assert_eq!(words(&old, line), words(&new, now));
                }
            }
        }
    }
}
