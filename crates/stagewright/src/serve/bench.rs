//! What the server asks of the workbench, as a trait, so that tests can put a slow, a torn or a panicking one in its place.

use std::any::Any;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use crate::includes::Neighbour;
use workbench::editing::fold::Fold;
use workbench::editing::links::Link;
use workbench::editing::names;
use workbench::editing::rename::Renamed;
use workbench::{
    Action, ActionKind, Asking, Edit, Hint, Hover, Lens, LensTitle, Lensed, Problem, Sheet, Style, Symbol, Token,
    Unfinished, Ways, Where,
};

use super::work::Stop;

/// The database of open texts. It belongs to the owner's thread alone.
pub trait Bench: Send + 'static {
    /// What the workers compute on.
    type View: View;

    /// Puts a text in place of the one under `path`. It may wait until every view is dropped, and overtakes those that are computing.
    fn set_text(&mut self, path: &str, text: String);
    /// Reads what the text under `path` includes, which lies in `folder` or, without one, in the file's own workspace; `open` tells
    /// which texts the editor holds, which go before the disk's.
    fn include(&mut self, _path: &str, _folder: Option<&Path>, _open: &dyn Fn(&str) -> bool) {}
    /// Whether the text under `path` includes anything.
    fn includes(&self, _path: &str) -> bool {
        false
    }
    /// Whether the text under `path` includes any of the others, over all steps.
    fn includes_one_of(&self, _path: &str, _others: &[&str]) -> bool {
        false
    }
    /// Forgets the text under `path`.
    fn close(&mut self, path: &str);
    /// Sets how figures beside the text are printed.
    fn set_style(&mut self, _style: Style) {}
    /// All texts as they are now.
    fn view(&self) -> Self::View;
}

/// The texts as they were when the view was taken. Every read may unwind when [`Bench::set_text`] overtakes it; see [`View::overtaken`].
///
/// Places are bytes into the file's text, as in [`workbench`].
pub trait View: Clone + Send + 'static {
    /// What there is to say about the file.
    fn problems(&self, path: &str) -> Arc<Vec<Problem>>;
    /// The same with what the reviewer's rules find.
    fn reviewed(&self, path: &str) -> Arc<Vec<Problem>> {
        self.problems(path)
    }
    /// The same with what shows over the parts' tolerances.
    fn built(&self, path: &str) -> Arc<Vec<Problem>> {
        self.reviewed(path)
    }
    /// Looks over the tolerances for what [`View::built`] says, requirement by requirement, and tells how many of how many are done.
    fn build(&self, _path: &str, _told: &mut dyn FnMut(usize, usize)) {}
    /// Whether there is anything to be looked at over tolerances.
    fn states_tolerances(&self, _path: &str) -> bool {
        false
    }
    /// What has the computations on this view unwind as if they were overtaken.
    fn stop(&self) -> Stop {
        Box::new(|| ())
    }
    /// The hints within `range`, or all.
    fn hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint>;
    /// The same without those of statements whose readings may take their time.
    fn quick_hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        self.hints(path, range)
    }
    /// Whether those readings may take so long that nothing else should wait for them.
    fn takes_long(&self, _path: &str) -> bool {
        false
    }
    /// What the place means.
    fn hover(&self, path: &str, offset: usize) -> Option<Hover>;
    /// The same with a picture, where there is one, in place of the plot in its text.
    fn hover_with_picture(&self, path: &str, offset: usize) -> Option<Hover> {
        self.hover(path, offset)
    }
    /// Where the name at a place is made.
    fn definition(&self, _path: &str, _offset: usize) -> Option<workbench::Definition> {
        None
    }
    /// All places of the name at a place, in all files that hang together by `include`.
    fn occurrences(&self, _path: &str, _offset: usize) -> Vec<names::Occurrence> {
        Vec::new()
    }
    /// The places in the file of the name at a place, each with whether it is driven or set there.
    fn highlighted(&self, _path: &str, _offset: usize) -> Vec<(Range<usize>, bool)> {
        Vec::new()
    }
    /// The places in the file that may be typed over together with the name at a place.
    fn linked(&self, _path: &str, _offset: usize) -> Option<names::Linked> {
        None
    }
    /// Where the data sheet of the amplifier at a place is made.
    fn type_definition(&self, _path: &str, _offset: usize) -> Option<workbench::Definition> {
        None
    }
    /// What may be folded away.
    fn folds(&self, _path: &str) -> Vec<Fold> {
        Vec::new()
    }
    /// What encloses a place, from the word to the file.
    fn around(&self, _path: &str, _offset: usize) -> Vec<Range<usize>> {
        Vec::new()
    }
    /// What leads out of the file.
    fn links(&self, _path: &str) -> Vec<Link> {
        Vec::new()
    }
    /// The name at a place with its bytes, if it may be renamed; else a sentence.
    ///
    /// # Errors
    /// Why it keeps its name.
    fn prepare_rename(&self, _path: &str, _offset: usize) -> Result<Option<(Range<usize>, String)>, String> {
        Ok(None)
    }
    /// What changes in which files if the name at a place becomes another; else a sentence.
    ///
    /// # Errors
    /// Why it cannot be called so.
    fn rename(&self, _path: &str, _offset: usize, _new: &str) -> Result<Option<Vec<Renamed>>, String> {
        Ok(None)
    }
    /// Where a name of the file is made.
    fn made(&self, _path: &str, _name: &str) -> Option<(Where, Range<usize>)> {
        None
    }
    /// The outline.
    fn symbols(&self, path: &str) -> Vec<Symbol>;
    /// What can stand at a place.
    fn completions(&self, _path: &str, _offset: usize) -> workbench::Completions {
        workbench::Completions::default()
    }
    /// What there is to read about something that can stand in a file.
    fn told(&self, _path: &str, _about: &workbench::About) -> Option<workbench::Told> {
        None
    }
    /// The shape of what is being typed at a place.
    fn signature(&self, _path: &str, _offset: usize) -> Option<workbench::Signature> {
        None
    }
    /// The designs and folders that a path begun in an `include` of a file can go on with; `folders` are the client's own, and nothing
    /// outside of the innermost that holds the file is looked at.
    fn neighbours(&self, _path: &str, _folders: &[PathBuf], _written: &str) -> Vec<Neighbour> {
        Vec::new()
    }
    /// The words with what they are, within `range`, or all.
    fn tokens(&self, path: &str, range: Option<Range<usize>>) -> Vec<Token>;
    /// The ways out of a problem, those included that take their time to find.
    fn ways_out(&self, _path: &str, problem: &Problem) -> Ways {
        Ways { fixes: problem.fixes.clone(), ..Ways::default() }
    }
    /// What may be done in `range` besides the ways out of problems.
    fn actions(&self, _path: &str, _range: Range<usize>, _asking: &Asking) -> Vec<Action> {
        Vec::new()
    }
    /// Whether a place stands in the line of the heading of the design.
    fn at_design(&self, _path: &str, _offset: usize) -> bool {
        false
    }
    /// One of those with its edits.
    fn action(
        &self,
        _path: &str,
        _range: Range<usize>,
        _named: (ActionKind, &str),
        _budget: Option<f64>,
    ) -> Option<Action> {
        None
    }
    /// Edits with what the layout makes of them.
    fn laid(&self, _path: &str, edits: &[Edit]) -> Vec<Edit> {
        edits.to_vec()
    }
    /// What stands above the headings and can be clicked.
    fn lenses(&self, _path: &str) -> Vec<Lens> {
        Vec::new()
    }
    /// What one of those says.
    fn lens_title(&self, _path: &str, _about: &Lensed) -> Option<LensTitle> {
        None
    }
    /// The page that one of those leads to.
    fn lens_page(&self, _path: &str, _about: &Lensed) -> Option<Sheet> {
        None
    }
    /// What is unfinished in the file and in those that it includes, so that figures may be missing.
    fn unfinished(&self, path: &str) -> Vec<Unfinished>;
    /// Whether the payload of an unwinding says "overtaken by a newer text", as opposed to a fault in the program.
    fn overtaken(payload: &(dyn Any + Send)) -> bool;
}

impl Bench for workbench::Workbench {
    type View = workbench::Snapshot;

    fn set_text(&mut self, path: &str, text: String) {
        workbench::Workbench::set_text(self, path, text);
    }
    fn include(&mut self, path: &str, folder: Option<&Path>, open: &dyn Fn(&str) -> bool) {
        let file = Path::new(path);
        if file.is_absolute() && !self.included(path).is_empty() {
            let root = folder.map_or_else(|| crate::includes::workspace(file), Path::to_path_buf);
            crate::includes::load(self, file, &root, &|p| p.to_string_lossy().into_owned(), open);
        }
    }
    fn includes(&self, path: &str) -> bool {
        !self.included(path).is_empty()
    }
    fn includes_one_of(&self, path: &str, others: &[&str]) -> bool {
        workbench::Workbench::includes_one_of(self, path, others)
    }
    fn close(&mut self, path: &str) {
        workbench::Workbench::close(self, path);
    }
    fn set_style(&mut self, style: Style) {
        workbench::Workbench::set_style(self, style);
    }
    fn view(&self) -> workbench::Snapshot {
        self.snapshot()
    }
}

impl View for workbench::Snapshot {
    fn problems(&self, path: &str) -> Arc<Vec<Problem>> {
        workbench::Snapshot::problems(self, path)
    }
    fn reviewed(&self, path: &str) -> Arc<Vec<Problem>> {
        workbench::Snapshot::problems_reviewed(self, path, false)
    }
    fn built(&self, path: &str) -> Arc<Vec<Problem>> {
        workbench::Snapshot::problems_reviewed(self, path, true)
    }
    fn build(&self, path: &str, told: &mut dyn FnMut(usize, usize)) {
        workbench::Snapshot::build(self, path, told);
    }
    fn states_tolerances(&self, path: &str) -> bool {
        workbench::Snapshot::states_tolerances(self, path)
    }
    fn stop(&self) -> Stop {
        Box::new(workbench::Snapshot::stop(self))
    }
    fn hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        workbench::Snapshot::hints(self, path, range)
    }
    fn quick_hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        workbench::Snapshot::quick_hints(self, path, range)
    }
    fn takes_long(&self, path: &str) -> bool {
        workbench::Snapshot::takes_long(self, path)
    }
    fn hover(&self, path: &str, offset: usize) -> Option<Hover> {
        workbench::Snapshot::hover(self, path, offset)
    }
    fn hover_with_picture(&self, path: &str, offset: usize) -> Option<Hover> {
        workbench::Snapshot::hover_with_picture(self, path, offset)
    }
    fn definition(&self, path: &str, offset: usize) -> Option<workbench::Definition> {
        workbench::Snapshot::definition(self, path, offset)
    }
    fn occurrences(&self, path: &str, offset: usize) -> Vec<names::Occurrence> {
        workbench::Snapshot::occurrences(self, path, offset)
    }
    fn highlighted(&self, path: &str, offset: usize) -> Vec<(Range<usize>, bool)> {
        workbench::Snapshot::highlighted(self, path, offset)
    }
    fn linked(&self, path: &str, offset: usize) -> Option<names::Linked> {
        workbench::Snapshot::linked(self, path, offset)
    }
    fn type_definition(&self, path: &str, offset: usize) -> Option<workbench::Definition> {
        workbench::Snapshot::type_definition(self, path, offset)
    }
    fn folds(&self, path: &str) -> Vec<Fold> {
        workbench::Snapshot::folds(self, path)
    }
    fn around(&self, path: &str, offset: usize) -> Vec<Range<usize>> {
        workbench::Snapshot::around(self, path, offset)
    }
    fn links(&self, path: &str) -> Vec<Link> {
        workbench::Snapshot::links(self, path)
    }
    fn prepare_rename(&self, path: &str, offset: usize) -> Result<Option<(Range<usize>, String)>, String> {
        workbench::Snapshot::prepare_rename(self, path, offset)
    }
    fn rename(&self, path: &str, offset: usize, new: &str) -> Result<Option<Vec<Renamed>>, String> {
        workbench::Snapshot::rename(self, path, offset, new)
    }
    fn made(&self, path: &str, name: &str) -> Option<(Where, Range<usize>)> {
        workbench::Snapshot::made(self, path, name)
    }
    fn symbols(&self, path: &str) -> Vec<Symbol> {
        workbench::Snapshot::symbols(self, path)
    }
    fn completions(&self, path: &str, offset: usize) -> workbench::Completions {
        workbench::Snapshot::completions(self, path, offset)
    }
    fn told(&self, path: &str, about: &workbench::About) -> Option<workbench::Told> {
        workbench::Snapshot::told(self, path, about)
    }
    fn signature(&self, path: &str, offset: usize) -> Option<workbench::Signature> {
        workbench::Snapshot::signature(self, path, offset)
    }
    fn neighbours(&self, path: &str, folders: &[PathBuf], written: &str) -> Vec<Neighbour> {
        let file = Path::new(path);
        if !file.is_absolute() {
            return Vec::new();
        }
        let folder = crate::includes::innermost(folders, file);
        let root = folder.map_or_else(|| crate::includes::workspace(file), Path::to_path_buf);
        crate::includes::neighbours(&root, file, written)
    }
    fn tokens(&self, path: &str, range: Option<Range<usize>>) -> Vec<Token> {
        workbench::Snapshot::tokens(self, path, range)
    }
    fn ways_out(&self, path: &str, problem: &Problem) -> Ways {
        workbench::Snapshot::ways_out(self, path, problem)
    }
    fn actions(&self, path: &str, range: Range<usize>, asking: &Asking) -> Vec<Action> {
        workbench::Snapshot::actions(self, path, range, asking)
    }
    fn at_design(&self, path: &str, offset: usize) -> bool {
        workbench::Snapshot::at_design(self, path, offset)
    }
    fn action(
        &self,
        path: &str,
        range: Range<usize>,
        named: (ActionKind, &str),
        budget: Option<f64>,
    ) -> Option<Action> {
        workbench::Snapshot::action(self, path, range, named.0, named.1, budget)
    }
    fn laid(&self, path: &str, edits: &[Edit]) -> Vec<Edit> {
        workbench::Snapshot::laid(self, path, edits)
    }
    fn lenses(&self, path: &str) -> Vec<Lens> {
        workbench::Snapshot::lenses(self, path)
    }
    fn lens_title(&self, path: &str, about: &Lensed) -> Option<LensTitle> {
        workbench::Snapshot::lens_title(self, path, about)
    }
    fn lens_page(&self, path: &str, about: &Lensed) -> Option<Sheet> {
        workbench::Snapshot::lens_page(self, path, about)
    }
    fn unfinished(&self, path: &str) -> Vec<Unfinished> {
        workbench::Snapshot::unfinished(self, path)
    }
    fn overtaken(payload: &(dyn Any + Send)) -> bool {
        workbench::cancelled(payload)
    }
}
