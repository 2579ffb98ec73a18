//! The statements of a file with their verdicts.

use notation::tree::{BlockKind, EntryTree};

use crate::database::{Chunk, Desk, Document, Read, assembled, layout, reads};
use crate::desk::Snapshot;

/// A statement and what was decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// The line, from 0.
    pub line: u32,
    /// `require`, `assume`, `formula` or `trim`.
    pub kind: &'static str,
    /// As written, comments left out.
    pub text: String,
    /// The verdict.
    pub verdict: Verdict,
    /// What a requirement's verdict rests on, with the unit in ASCII.
    pub decided: Option<(argument::Decision, &'static str)>,
    /// What a requirement comes to over tolerance, or a clause that says why it is not decided; `None` where nothing is decided
    /// nominally either.
    pub tolerance: Option<Result<argument::Over, String>>,
    /// What the neglects of an assumption cost, each by its name, as far as that is known; empty for other statements.
    pub costs: Vec<NeglectCost>,
}

/// What one neglect costs where it costs most.
#[derive(Clone, Debug, PartialEq)]
pub struct NeglectCost {
    /// What is neglected: `C3`, `stage recorder`.
    pub name: String,
    /// The quantity in which it costs most, as a phrase.
    pub on: String,
    /// In decibels, without its sign; infinite where all of it is gone.
    pub decibels: f64,
    /// What is allowed, in decibels.
    pub limit: f64,
    /// Where, in hertz.
    pub hertz: f64,
    /// At which position; empty where none matters.
    pub position: String,
}

/// The costs of an assumption's neglects.
fn costs(found: &argument::assume::Costs) -> Vec<NeglectCost> {
    let limit = found.limit();
    let each = found.all.iter().filter_map(|c| {
        let d = c.found.as_ref().ok()?;
        let (decibels, position) = (d.decibels.abs(), d.position.to_string());
        Some(NeglectCost { name: c.name.clone(), on: c.on.clone(), decibels, limit, hertz: d.hertz, position })
    });
    each.collect()
}

/// What was decided.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// It holds.
    Holds,
    /// It fails: a sentence that says how.
    Fails(String),
    /// Nothing yet: a clause that says why.
    Unknown(String),
}

/// The word of a block.
pub(crate) fn word(kind: BlockKind) -> &'static str {
    match kind {
        BlockKind::Design => "design",
        BlockKind::Let => "let",
        BlockKind::Stage => "stage",
        BlockKind::Use => "use",
        BlockKind::Include => "include",
        BlockKind::Datasheet => "datasheet",
        BlockKind::Assume => "assume",
        BlockKind::Formula => "formula",
        BlockKind::Require => "require",
    }
}

/// The verdict of the trim that an entry states.
fn trim(db: &dyn Desk, document: Document, block: usize, entry: usize) -> Verdict {
    let (all, trimmed) = (assembled(db, document), crate::trim::trimmed(db, document));
    let here = |p: &circuit::Place| (p.block as usize, p.entry) == (block, Some(entry as u32));
    if let Some(why) = crate::hints::blank(db, document) {
        return Verdict::Unknown(why);
    }
    let Some(i) = all.places.trims.iter().position(here) else { return Verdict::Unknown("it cannot be read".into()) };
    match trimmed.faults.iter().find(|f| f.0 == i).map(|f| &f.1) {
        Some(why) => match &why.fault {
            Some(fault) if !why.unknown => Verdict::Fails(fault.message.clone()),
            _ => Verdict::Unknown(why.clause.clone()),
        },
        None => Verdict::Holds,
    }
}

impl Snapshot {
    /// The statements of a file in the order written.
    pub fn statements(&self, path: &str) -> Vec<Statement> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let db = &self.database;
        let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
        let mut found = Vec::new();
        for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
            for (e, (lines, read)) in block.entries.iter().zip(&read.entries).enumerate() {
                let Read::Entry(entry, _) = &**read else { continue };
                let kind = match &entry.tree {
                    EntryTree::Require(_) => "require",
                    EntryTree::Assume(_) => "assume",
                    EntryTree::Formula(_) => "formula",
                    EntryTree::Design(notation::tree::DesignEntry::Trim(..)) => "trim",
                    _ => continue,
                };
                let first = text[lines.range.clone()].lines().next().unwrap_or_default();
                let said = crate::line::said(first);
                let mut cost = Vec::new();
                let verdict = match kind {
                    "assume" => match &*crate::assumed::of(db, document, b, e) {
                        Ok(found) => {
                            cost = costs(found);
                            match found.verdict() {
                                argument::Verdict::Holds => Verdict::Holds,
                                argument::Verdict::Fails => {
                                    Verdict::Fails(found.all.iter().find_map(|c| found.failure(c)).unwrap_or_default())
                                }
                                argument::Verdict::Unknown(why) => Verdict::Unknown(why),
                            }
                        }
                        Err(why) => Verdict::Unknown(why.clone()),
                    },
                    "formula" => {
                        let all = crate::formulas::of(db, document, b, e);
                        let failure =
                            all.iter().find_map(|f| f.found.as_ref().ok()?.failure(&f.phrase, f.kind, f.unit));
                        let unknown = all.iter().find_map(|f| f.found.as_ref().err());
                        match (failure, unknown) {
                            (Some(how), _) => Verdict::Fails(how),
                            (None, Some(why)) => Verdict::Unknown(why.clone()),
                            (None, None) => Verdict::Holds,
                        }
                    }
                    "require" => {
                        let chunk = Chunk::new(db, block.kind, false, &text[lines.range.clone()]);
                        let all = crate::decided::decided(db, document, chunk);
                        let held = crate::over::held(db, document, chunk);
                        for (d, held) in all.iter().zip(held.iter()) {
                            let (verdict, decision) = match &d.decision {
                                // Without a limit it is a meter, and nothing is decided.
                                None => continue,
                                Some(d) => (
                                    match &d.verdict {
                                        argument::Verdict::Holds => Verdict::Holds,
                                        argument::Verdict::Fails => Verdict::Fails("".into()),
                                        argument::Verdict::Unknown(why) => Verdict::Unknown(why.clone()),
                                    },
                                    d.clone(),
                                ),
                            };
                            let unit = d.limit.map_or("", |l| l.unit.symbol(true));
                            let phrase = d.reading.as_ref().map_or(said.clone(), |r| r.phrase.to_string());
                            let decided = Some((decision, unit));
                            let tolerance = held.clone();
                            let line = lines.line;
                            found.push(Statement {
                                line,
                                kind,
                                text: phrase,
                                verdict,
                                decided,
                                tolerance,
                                costs: Vec::new(),
                            });
                        }
                        continue;
                    }
                    _ => trim(db, document, b, e),
                };
                let line = lines.line;
                found.push(Statement { line, kind, text: said, verdict, decided: None, tolerance: None, costs: cost });
            }
        }
        found
    }
}
