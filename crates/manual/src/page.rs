//! A page and how it is written.

/// A page of the manual.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// What it speaks of, as it is written in a design or printed by the program: `low corner`, `polar`, `no-bias-return`.
    pub title: &'static str,
    /// Which part of the manual it belongs to.
    pub kind: Kind,
    /// Other words that lead here.
    pub also: Vec<&'static str>,
    /// Pages to read next, by their titles or other words.
    pub see_also: Vec<&'static str>,
    /// The text below the title, in Markdown.
    pub text: &'static str,
}

/// The parts of the manual.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// What one has to know before the words.
    Guide,
    /// A word that opens a block.
    Heading,
    /// An entry of `design` or a line of a data sheet.
    Entry,
    /// What can be asked of a circuit.
    Quantity,
    /// Any other word or mark of the notation.
    Word,
    /// Something that the program looks for without being asked.
    Rule,
}

impl Kind {
    /// All kinds, in the order of the contents.
    pub const ALL: [Kind; 6] = [Kind::Guide, Kind::Heading, Kind::Entry, Kind::Quantity, Kind::Word, Kind::Rule];

    /// What the pages of this kind are called together.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Guide => "to begin with",
            Kind::Heading => "headings",
            Kind::Entry => "entries of design and of data sheets",
            Kind::Quantity => "quantities",
            Kind::Word => "words and marks",
            Kind::Rule => "rules",
        }
    }
}

impl Page {
    /// Reads a page's file.
    ///
    /// # Panics
    ///
    /// If it does not begin with a title. The pages are part of the program, and a test reads them all.
    pub(crate) fn read(kind: Kind, file: &'static str) -> Page {
        let (title, mut rest) = file.strip_prefix("# ").and_then(|f| f.split_once('\n')).expect("a page has a title");
        let (mut also, mut see_also) = (Vec::new(), Vec::new());
        while let Some((line, below)) = rest.split_once('\n') {
            let (list, words) = match line.split_once(": ") {
                Some(("also", words)) => (&mut also, words),
                Some(("see", words)) => (&mut see_also, words),
                _ => break,
            };
            list.extend(words.split(", ").map(str::trim));
            rest = below;
        }
        Page { title: title.trim(), kind, also, see_also, text: rest.trim() }
    }

    /// All words that lead here, the title first.
    pub fn words(&self) -> impl Iterator<Item = &'static str> + '_ {
        std::iter::once(self.title).chain(self.also.iter().copied())
    }

    /// The text in front of the first example, in Markdown.
    pub fn lead(&self) -> &'static str {
        self.text.split("```").next().unwrap_or_default().trim_end()
    }

    /// The same in plain text, a blank line between paragraphs.
    pub fn lead_plain(&self) -> String {
        self.lead().split("\n\n").map(crate::plain::plain).collect::<Vec<_>>().join("\n\n")
    }

    /// The first paragraph in plain text: what the page's word is, for a hover.
    pub fn short(&self) -> String {
        crate::plain::plain(self.text.split("\n\n").next().unwrap_or_default())
    }
}
