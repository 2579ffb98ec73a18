//! The workbench as its users hold it: edits on one side, readable snapshots on the other.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::Arc;

use salsa::Setter;

use crate::database::{Database, Document, Include, include_headings};
use crate::definition::{Definition, Where};
use crate::plain::{Fix, Hint, Hover, Problem, Symbol, Unfinished, Ways};
use crate::tokens::Token;
use crate::{hints, hover, problems, symbols, tokens, unfinished};

/// Owns the database. Edits are applied at once; a computation on a snapshot that an edit overtakes unwinds (see
/// [`cancelled`]).
#[derive(Default)]
pub struct Workbench {
    database: Database,
    documents: HashMap<String, Document>,
}

/// A state of the files that nothing changes any more. Clones are cheap; drop them soon, since an edit waits for them.
#[derive(Clone)]
pub struct Snapshot {
    pub(crate) database: Database,
    documents: HashMap<String, Document>,
}

impl Workbench {
    /// An empty workbench.
    pub fn new() -> Self {
        Workbench::default()
    }

    /// One that tells the name of each of the database's questions that it works out, for tests and meters.
    pub fn telling(tell: impl Fn(String) + Send + Sync + 'static) -> Self {
        Workbench { database: Database::telling(tell), documents: HashMap::new() }
    }

    /// Opens a file or changes its text.
    pub fn set_text(&mut self, path: &str, text: String) {
        let _running = analysis::meter::stage("text taken in");
        let text: Arc<str> = text.into();
        match self.documents.get(path) {
            Some(document) => {
                if **document.text(&self.database) != *text {
                    document.set_text(&mut self.database).to(text);
                }
            }
            None => {
                let document = Document::new(&self.database, text, Default::default());
                self.documents.insert(path.to_string(), document);
            }
        }
    }

    /// The words in the quotes of a file's `include` headings.
    pub fn included(&self, path: &str) -> Vec<String> {
        let Some(document) = self.documents.get(path) else { return Vec::new() };
        include_headings(&self.database, *document).into_iter().map(|(_, w)| w.text.to_string()).collect()
    }

    /// Whether a file includes any of some others, over all steps.
    pub fn includes_one_of(&self, path: &str, others: &[&str]) -> bool {
        let Some(document) = self.documents.get(path) else { return false };
        let others: Vec<Document> = others.iter().filter_map(|other| self.documents.get(*other).copied()).collect();
        let taken_in = crate::database::included(&self.database, *document);
        taken_in.files.iter().any(|(_, _, file)| others.contains(file))
    }

    /// Tells what a file's `include` headings name: by the words in their quotes, the path of a file that has been set, or why
    /// there is none, as a clause behind those words.
    pub fn set_included(&mut self, path: &str, named: BTreeMap<String, Result<String, String>>) {
        let Some(document) = self.documents.get(path).copied() else { return };
        let found = named.into_iter().map(|(written, what)| {
            let include = match what {
                Ok(path) => match self.documents.get(&path) {
                    Some(other) => Include::File(*other, written.as_str().into()),
                    None => Include::Missing("has not been read".into()),
                },
                Err(why) => Include::Missing(why),
            };
            (written, include)
        });
        let found: BTreeMap<String, Include> = found.collect();
        if **document.includes(&self.database) != found {
            document.set_includes(&mut self.database).to(Arc::new(found));
        }
    }

    /// Forgets a file.
    pub fn close(&mut self, path: &str) {
        if let Some(document) = self.documents.remove(path) {
            document.set_text(&mut self.database).to("".into());
        }
    }

    /// The files as they are now.
    pub fn snapshot(&self) -> Snapshot {
        Snapshot { database: self.database.clone(), documents: self.documents.clone() }
    }
}

impl Snapshot {
    pub(crate) fn document(&self, path: &str) -> Option<Document> {
        self.documents.get(path).copied()
    }

    /// A file's text.
    pub fn text(&self, path: &str) -> Option<Arc<str>> {
        self.document(path).map(|d| d.text(&self.database).clone())
    }

    /// Everything to say about a file, in the order of its places.
    pub fn problems(&self, path: &str) -> Arc<Vec<Problem>> {
        self.document(path).map(|d| problems::problems(&self.database, d)).unwrap_or_default()
    }

    /// Everything to say about a file, what shows over tolerance only with it: it draws builds, and takes its time.
    pub fn problems_over_tolerance(&self, path: &str) -> Arc<Vec<Problem>> {
        self.document(path).map(|d| problems::problems_over_tolerance(&self.database, d)).unwrap_or_default()
    }

    /// Everything to say with what the reviewer's rules find; `tolerance` asks for what shows over tolerance only.
    pub fn problems_reviewed(&self, path: &str, tolerance: bool) -> Arc<Vec<Problem>> {
        self.document(path).map(|d| problems::problems_reviewed(&self.database, d, tolerance)).unwrap_or_default()
    }

    /// The ways out of a problem: those that it came with, and those that take their time to find, such as another value of a part.
    pub fn ways_out(&self, path: &str, problem: &Problem) -> Ways {
        let document = self.document(path);
        let mut ways = document.map(|d| crate::ways::of_problem(&self.database, d, problem)).unwrap_or_default();
        ways.fixes.splice(0..0, problem.fixes.iter().cloned());
        ways
    }

    /// What could be written for the sake of the argument about what stands in a range of bytes: a stage's formula, and assumptions that
    /// would hold.
    pub fn proposals(&self, path: &str, range: Range<usize>) -> Vec<Fix> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let assumed = crate::proposals::proposals(&self.database, document, &range);
        crate::derived::fix(&self.database, document, range).into_iter().chain(assumed).collect()
    }

    /// What a file concedes: its `accept` entries with their reasons.
    pub fn accepted(&self, path: &str) -> Vec<crate::Conceded> {
        self.document(path).map(|d| crate::accept::conceded(&self.database, d)).unwrap_or_default()
    }

    /// The hints of a range of bytes (all without one), in the order of their places. Only what the range shows is computed.
    pub fn hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        self.document(path).map(|d| hints::hints(&self.database, d, range, hints::Which::All)).unwrap_or_default()
    }

    /// The same without those of statements whose readings may take their time.
    pub fn quick_hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        self.document(path).map(|d| hints::hints(&self.database, d, range, hints::Which::Quick)).unwrap_or_default()
    }

    /// Whether the readings of the file's statements may take so long that nothing else should wait for them.
    pub fn takes_long(&self, path: &str) -> bool {
        self.document(path).is_some_and(|d| hints::takes_long(&self.database, d))
    }

    /// What stands at a byte, and what it means.
    pub fn hover(&self, path: &str, offset: usize) -> Option<Hover> {
        hover::hover(&self.database, self.document(path)?, offset)
    }

    /// Where the name at a byte is made.
    pub fn definition(&self, path: &str, offset: usize) -> Option<Definition> {
        use crate::definition::Found;
        let (word, found) = crate::definition::definition(&self.database, self.document(path)?, offset)?;
        let (place, name) = match found {
            Found::Here(name) => (Where::Here, name),
            Found::Other(other, name) => {
                let path = self.documents.iter().find(|(_, d)| **d == other)?.0.clone();
                (Where::File(path, other.text(&self.database).clone()), name)
            }
            Found::Library(origin) => (Where::Library(origin.volume.file, origin.volume.text), origin.name),
        };
        Some(Definition { word, place, name })
    }

    /// The circuit as it is drawn: `drawing` lays it out and makes a picture of it.
    pub fn drawn_out(&self, path: &str) -> Option<Arc<drawing::Circuit>> {
        self.document(path).map(|d| crate::drawn_out::drawn_out(&self.database, d))
    }

    /// The outline.
    pub fn symbols(&self, path: &str) -> Vec<Symbol> {
        self.document(path).map(|d| symbols::symbols(&self.database, d)).unwrap_or_default()
    }

    /// The words of a file with what they are, or of a range of its bytes, in the order of their places.
    pub fn tokens(&self, path: &str, range: Option<Range<usize>>) -> Vec<Token> {
        self.document(path).map(|d| tokens::tokens(&self.database, d, range)).unwrap_or_default()
    }

    /// The first line (from 0) that is unfinished, so that no figure of the circuit can be had.
    pub fn torn(&self, path: &str) -> Option<u32> {
        problems::torn(&self.database, self.document(path)?)
    }

    /// What is unfinished in a file and in those that it includes: figures may be missing until it is whole.
    pub fn unfinished(&self, path: &str) -> Vec<Unfinished> {
        self.document(path).map(|d| unfinished::unfinished(&self.database, d)).unwrap_or_default()
    }
}

/// Whether a caught panic is a computation that an edit overtook: nothing is wrong, and the question may be asked again.
pub fn cancelled(payload: &(dyn std::any::Any + Send)) -> bool {
    payload.is::<salsa::Cancelled>()
}
