//! What may be done at a place at one go: code actions, one file each.
//!
//! An action is offered with a title that says what comes of it; its edits are worked out when somebody takes it, since most that are
//! offered never are. What takes a search to be told at all is left out where nobody asked by hand.
//!
//! Invariants: an action's result reads with no error that was not there before; its lines are laid out as the formatter lays them out;
//! what promises to change no reading changes none.

mod accept;
pub(crate) mod bias_return;
mod combined;
mod extract;
mod fix_all;
mod laid;
mod nearest;
mod place;
mod ratio;
mod renumber;
mod respell;
mod turn;

use std::ops::Range;

use notation::tree::BlockKind;

pub(crate) use laid::{applied, laid};
pub(crate) use place::{Place, elements, want_of};
pub(crate) use turn::reversed;

use crate::database::Document;
use crate::desk::Snapshot;
use crate::plain::{Edit, Fix};
use crate::trial::{HERE, Trial};

/// What kind of action it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ActionKind {
    /// A way out of a problem.
    QuickFix,
    /// The text says something else, or the same in another way.
    Rewrite,
    /// Lines go into a stage of their own.
    Extract,
    /// All at once that mends what cannot be meant otherwise.
    FixAll,
    /// The parts of the file are numbered anew.
    Renumber,
}

/// One thing that may be done.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// What comes of it.
    pub title: String,
    /// Its kind.
    pub kind: ActionKind,
    /// The edits, in order, which do not overlap; `None` where they have not been worked out.
    pub edits: Option<Vec<Edit>>,
    /// Why it cannot be taken: a clause.
    pub disabled: Option<String>,
    /// No reading changes by it.
    pub same: bool,
    /// A word of what it writes that the author is to replace.
    pub placeholder: Option<&'static str>,
}

/// How much is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asking<'a> {
    /// The kinds that are wanted.
    pub kinds: &'a [ActionKind],
    /// Somebody asked by hand, so that a search may take its time.
    pub by_hand: bool,
    /// Edits are wanted at once.
    pub edits: bool,
    /// What a neglect that is proposed may cost, in decibels, where the file says nothing of it.
    pub budget: Option<f64>,
}

/// An offer: an action whose edits wait.
pub(crate) struct Offer<'a> {
    title: String,
    kind: ActionKind,
    disabled: Option<String>,
    same: bool,
    placeholder: Option<&'static str>,
    edits: Box<dyn Fn() -> Option<Vec<Edit>> + 'a>,
}

impl<'a> Offer<'a> {
    fn new(kind: ActionKind, title: impl Into<String>, edits: impl Fn() -> Option<Vec<Edit>> + 'a) -> Offer<'a> {
        let edits = Box::new(edits);
        Offer { title: title.into(), kind, disabled: None, same: false, placeholder: None, edits }
    }

    /// One that changes no reading.
    fn same(mut self) -> Offer<'a> {
        self.same = true;
        self
    }

    /// One that cannot be taken, and why.
    fn disabled(kind: ActionKind, title: impl Into<String>, why: impl Into<String>) -> Offer<'a> {
        let mut offer = Offer::new(kind, title, || None);
        offer.disabled = Some(why.into());
        offer
    }

    fn action(&self, place: &Place, edits: bool) -> Option<Action> {
        let edits = if edits && self.disabled.is_none() {
            Some(laid(place.text, &(self.edits)().filter(|all| !all.is_empty())?))
        } else {
            None
        };
        Some(Action {
            title: self.title.clone(),
            kind: self.kind,
            edits,
            disabled: self.disabled.clone(),
            same: self.same,
            placeholder: self.placeholder,
        })
    }
}

/// Everything that is offered at a place.
fn offers<'a>(place: &'a Place<'a>, asking: &Asking) -> Vec<Offer<'a>> {
    let wants = |kind| asking.kinds.contains(&kind);
    let mut all = Vec::new();
    if wants(ActionKind::QuickFix) {
        all.extend(accept::offers(place));
    }
    if wants(ActionKind::Rewrite) {
        if asking.by_hand {
            let proposed = proposed(place.snapshot, place.document, &place.range, asking.budget);
            all.extend(
                proposed
                    .into_iter()
                    .map(|fix| Offer::new(ActionKind::Rewrite, fix.title, move || Some(fix.edits.clone()))),
            );
            all.extend(ratio::offers(place));
        }
        all.extend(combined::offers(place));
        all.extend(nearest::offers(place));
        all.extend(respell::offers(place));
        all.extend(turn::offers(place));
    }
    if wants(ActionKind::Extract) && asking.by_hand {
        all.extend(extract::offers(place));
    }
    if wants(ActionKind::FixAll) {
        all.extend(fix_all::offers(place));
    }
    if wants(ActionKind::Renumber) {
        all.extend(renumber::offers(place));
    }
    all
}

/// What could be written for the sake of the argument: a stage's formula, and assumptions that would hold. An assumption that would take
/// from a formula what it is compared with is left out: it would be true and of no use.
pub(crate) fn proposed(snapshot: &Snapshot, document: Document, range: &Range<usize>, budget: Option<f64>) -> Vec<Fix> {
    let db = &snapshot.database;
    let formula = crate::derived::fix(db, document, range.clone());
    let mut all: Vec<Fix> =
        formula.into_iter().chain(crate::proposals::proposals(db, document, range, budget)).collect();
    let right = right_formulas(snapshot, document);
    let mut trial = None;
    let keeps = |fix: &Fix| {
        right == 0 || {
            let trial = trial.get_or_insert_with(|| Trial::of(db, document));
            let then = trial.holding(applied(document.text(db), &fix.edits));
            then.document(HERE).is_some_and(|d| right_formulas(&then, d) >= right)
        }
    };
    all.retain(keeps);
    all
}

/// How many of a file's formulas are right.
fn right_formulas(snapshot: &Snapshot, document: Document) -> usize {
    let all = crate::formulas::all(&snapshot.database, document);
    let right = |f: &crate::formulas::Formula| {
        f.found.as_ref().is_ok_and(|found| found.failure(&f.phrase, f.kind, f.unit).is_none())
    };
    all.iter().map(|(.., formulas)| formulas.iter().filter(|f| right(f)).count()).sum()
}

impl Snapshot {
    /// What may be done at a range of bytes besides the ways out of the problems there, the likeliest first.
    pub fn actions(&self, path: &str, range: Range<usize>, asking: &Asking) -> Vec<Action> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let place = Place::new(self, document, range);
        offers(&place, asking).iter().filter_map(|offer| offer.action(&place, asking.edits)).collect()
    }

    /// Whether a place stands in the line of the heading of the design.
    pub fn at_design(&self, path: &str, at: usize) -> bool {
        let Some(document) = self.document(path) else { return false };
        let place = Place::new(self, document, at..at);
        let line = place.text.bytes().take(at).filter(|b| *b == b'\n').count();
        let mut designs = place.layout.blocks.iter().filter(|block| block.kind == Some(BlockKind::Design));
        designs.any(|block| block.heading.as_ref().is_some_and(|heading| heading.line as usize == line))
    }

    /// One of the actions at a range with its edits, by its kind and title; `None` if it is not offered there.
    pub fn action(
        &self,
        path: &str,
        range: Range<usize>,
        kind: ActionKind,
        title: &str,
        budget: Option<f64>,
    ) -> Option<Action> {
        let place = Place::new(self, self.document(path)?, range);
        let found = |by_hand: bool| {
            let asking = Asking { kinds: &[kind], by_hand, edits: true, budget };
            offers(&place, &asking).iter().find(|offer| offer.title == title)?.action(&place, true)
        };
        // Most are found without the searches.
        found(false).or_else(|| found(true))
    }

    /// Edits of a file with what its layout makes of them.
    pub fn laid(&self, path: &str, edits: &[Edit]) -> Vec<Edit> {
        self.text(path).map_or_else(Vec::new, |text| laid(&text, edits))
    }
}
