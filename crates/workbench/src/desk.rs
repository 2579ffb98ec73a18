//! The workbench as its users hold it: edits on one side, readable snapshots on the other.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::Arc;

use salsa::Setter;

use crate::database::{Database, Document, Include, include_headings};
use crate::definition::{Definition, Found, Where};
use crate::editing::{actions, fold, links, names, nest, rename};
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

    /// Sets how figures beside the text are printed.
    pub fn set_style(&mut self, style: quantity::Style) {
        self.database.style = style;
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

    /// Whether the file states tolerances and requirements, so that there is something to be looked at over tolerance.
    pub fn states_tolerances(&self, path: &str) -> bool {
        self.document(path).is_some_and(|d| !problems::built(&self.database, d).is_empty())
    }

    /// Looks at the file's requirements over tolerance one by one, which is most of the work of [`Snapshot::problems_over_tolerance`], and
    /// tells how many of how many are done.
    pub fn build(&self, path: &str, told: &mut dyn FnMut(usize, usize)) {
        let Some(document) = self.document(path) else { return };
        let all = problems::built(&self.database, document);
        for (i, chunk) in all.iter().enumerate() {
            told(i, all.len());
            crate::over::held(&self.database, document, *chunk);
        }
    }

    /// What has the computations on this snapshot unwind, as if an edit had overtaken them (see [`cancelled`]).
    pub fn stop(&self) -> impl Fn() + Send + 'static {
        use salsa::Database;
        let token = self.database.cancellation_token();
        move || token.cancel()
    }

    /// The ways out of a problem: those that it came with, and those that take their time to find, such as another value of a part.
    pub fn ways_out(&self, path: &str, problem: &Problem) -> Ways {
        self.ways_out_until(path, problem, &|| false)
    }

    /// The same, for who waits: once `stop` says so, what was found so far is all, and it says how far it came.
    pub fn ways_out_until(&self, path: &str, problem: &Problem, stop: &dyn Fn() -> bool) -> Ways {
        let document = self.document(path);
        let mut ways = document.map(|d| crate::ways::of_problem(&self.database, d, problem, stop)).unwrap_or_default();
        ways.fixes.splice(0..0, problem.fixes.iter().cloned());
        ways
    }

    /// What could be written for the sake of the argument about what stands in a range of bytes: a stage's formula, and assumptions that
    /// would hold. An assumption that would take from a formula what it is compared with is left out: it would be true and of no use.
    /// `budget` is what a neglect may cost, in decibels, where the file says nothing of it.
    pub fn proposals(&self, path: &str, range: Range<usize>, budget: Option<f64>) -> Vec<Fix> {
        self.document(path).map(|d| actions::proposed(self, d, &range, budget)).unwrap_or_default()
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
        hover::hover(&self.database, self.document(path)?, offset, false)
    }

    /// The same with its plot as a picture, for a client that shows pictures.
    pub fn hover_with_picture(&self, path: &str, offset: usize) -> Option<Hover> {
        hover::hover(&self.database, self.document(path)?, offset, true)
    }

    /// Where the name at a byte is made.
    pub fn definition(&self, path: &str, offset: usize) -> Option<Definition> {
        let (word, found) = crate::definition::definition(&self.database, self.document(path)?, offset)?;
        let (place, name) = self.place(found)?;
        Some(Definition { word, place, name })
    }

    /// Where a name of a file is made: in which file, and where in it.
    pub fn made(&self, path: &str, name: &str) -> Option<(Where, Range<usize>)> {
        self.place(crate::definition::made(&self.database, self.document(path)?, name)?)
    }

    fn place(&self, found: Found) -> Option<(Where, Range<usize>)> {
        Some(match found {
            Found::Here(name) => (Where::Here, name),
            Found::Other(other, name) => {
                let path = self.documents.iter().find(|(_, d)| **d == other)?.0.clone();
                (Where::File(path, other.text(&self.database).clone()), name)
            }
            Found::Library(origin) => (Where::Library(origin.volume.file, origin.volume.text), origin.name),
        })
    }

    /// All files by their names.
    pub(crate) fn known(&self) -> &HashMap<String, Document> {
        &self.documents
    }

    /// All places of the name at a byte, in the file and in those that hang together with it by `include`.
    pub fn occurrences(&self, path: &str, offset: usize) -> Vec<names::Occurrence> {
        self.document(path).map(|d| names::occurrences(&self.database, self.known(), d, offset)).unwrap_or_default()
    }

    /// The places in a file of the name at a byte, each with whether it is driven or set there.
    pub fn highlighted(&self, path: &str, offset: usize) -> Vec<(Range<usize>, bool)> {
        self.document(path).map(|d| names::highlighted(&self.database, self.known(), d, offset)).unwrap_or_default()
    }

    /// The places in a file that may be typed over together with the name at a byte.
    pub fn linked(&self, path: &str, offset: usize) -> Option<names::Linked> {
        names::linked(&self.database, self.known(), self.document(path)?, offset)
    }

    /// Where the data sheet is made that the amplifier at a byte goes by.
    pub fn type_definition(&self, path: &str, offset: usize) -> Option<Definition> {
        names::type_of(&self.database, self.known(), self.document(path)?, offset)
    }

    /// What may be folded away.
    pub fn folds(&self, path: &str) -> Vec<fold::Fold> {
        self.document(path).map(|d| fold::folds(&self.database, d)).unwrap_or_default()
    }

    /// What encloses a byte, from the word to the file, each inside the next.
    pub fn around(&self, path: &str, offset: usize) -> Vec<Range<usize>> {
        self.document(path).map(|d| nest::around(&self.database, d, offset)).unwrap_or_default()
    }

    /// What leads out of a file.
    pub fn links(&self, path: &str) -> Vec<links::Link> {
        self.document(path).map(|d| links::links(&self.database, self.known(), d)).unwrap_or_default()
    }

    /// The name at a byte with its place, if it may be renamed; nothing where no name stands.
    ///
    /// # Errors
    /// A sentence that says why it keeps its name.
    pub fn prepare_rename(&self, path: &str, offset: usize) -> Result<Option<(Range<usize>, String)>, String> {
        let Some(document) = self.document(path) else { return Ok(None) };
        rename::prepare(&self.database, self.known(), document, offset)
    }

    /// What changes in which files if the name at a byte becomes another; nothing where no name stands.
    ///
    /// # Errors
    /// A sentence that says why it cannot be called so.
    pub fn rename(&self, path: &str, offset: usize, new: &str) -> Result<Option<Vec<rename::Renamed>>, String> {
        let Some(document) = self.document(path) else { return Ok(None) };
        rename::rename(self, document, offset, new)
    }

    /// What can stand at a byte.
    pub fn completions(&self, path: &str, offset: usize) -> crate::Completions {
        let document = self.document(path);
        document.map(|d| crate::editing::complete::completions(&self.database, d, offset)).unwrap_or_default()
    }

    /// The shape of what is being typed at a byte, place by place.
    pub fn signature(&self, path: &str, offset: usize) -> Option<crate::Signature> {
        crate::editing::signature::signature(&self.database, self.document(path)?, offset)
    }

    /// What there is to read about something that can stand in a file.
    pub fn told(&self, path: &str, about: &crate::About) -> Option<crate::Told> {
        crate::editing::complete::told(&self.database, self.document(path), about)
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
