//! All entries of a file together: the circuit, where its names stand, and what only shows when entries meet.

use notation::Name;
use rustc_hash::{FxHashMap as HashMap, FxHashSet};
use smallvec::SmallVec;
use std::sync::Arc;

use notation::tree::{BlockKind, Fault, Grade, Heading, HeadingEntry, Span, Word};

use crate::circuit::{Circuit, Control, ControlId, GROUND, Node, NodeId, Sheet, StageId};
use crate::env::{self, Env};
use crate::piece::{self, PathStep, Piece, PieceKind, Weight};
use crate::{argued, blocks, design, lets, library, rules, sheets};

/// A file's entries, read.
pub struct File<'a> {
    /// Its blocks in the order written.
    pub blocks: Vec<FileBlock<'a>>,
    /// What it includes, each file once.
    pub includes: Vec<Included<'a>>,
    /// Something that it includes is not there, as a clause: what is missing is said at the heading, and not once more where it
    /// is used.
    pub incomplete: Option<Name>,
    /// Its first line that belongs to no block yet and may hold a piece of the circuit: a heading under way, or entries whose
    /// heading is gone. Block and entry; such an entry itself adds nothing.
    pub astray: Option<(u32, u32)>,
}

/// An included file: its stages are patterns, and its data sheets may be named.
pub struct Included<'a> {
    /// How the file is called in messages.
    pub name: Name,
    /// The block of the `include` heading, in the including file, that it came by.
    pub block: u32,
    /// Its blocks.
    pub blocks: Vec<FileBlock<'a>>,
}

/// A block's heading and entries, read.
#[derive(Clone)]
pub struct FileBlock<'a> {
    /// `None` for entries in front of the first heading.
    pub kind: Option<BlockKind>,
    /// The heading.
    pub heading: Option<&'a HeadingEntry>,
    /// The entries.
    pub entries: Vec<&'a Piece>,
}

/// A place in a file: a block, one of its entries (or its heading), and a span in that entry's text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Place {
    /// The block.
    pub block: u32,
    /// The entry; `None` for the heading.
    pub entry: Option<u32>,
    /// Bytes from the entry's first.
    pub span: Span,
}

/// Where the circuit's names stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places {
    /// Of each part: its designator, its value and its attributes.
    pub parts: Vec<Place>,
    /// Of each part: its designator alone.
    pub part_names: Vec<Place>,
    /// Of each stage: its name in the heading.
    pub stages: Vec<Place>,
    /// Of each node: where it first stands.
    pub nodes: Vec<Place>,
    /// Of each setting: its name.
    pub settings: Vec<Place>,
    /// Of each trim: its control.
    pub trims: Vec<Place>,
    /// Of each `matched` entry: its first part.
    pub matched: Vec<Place>,
    /// Of each accepted rule: its words.
    pub accepted: Vec<Place>,
    /// Of each source: its name; `None` where it is implied.
    pub sources: Vec<Option<Place>>,
    /// The first entry of the circuit that is torn.
    pub torn: Option<Place>,
}

/// Something to say that no entry shows by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How much it matters.
    pub weight: Weight,
    /// In which block and entry.
    pub block: u32,
    /// `None` for the heading.
    pub entry: Option<u32>,
    /// What, and where in the entry.
    pub fault: Fault,
    /// The parts, nodes or stages that it names.
    pub names: Vec<String>,
}

/// A file's circuit with its places and findings.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembled {
    /// The circuit, shared, since all that computes holds on to it.
    pub circuit: Arc<Circuit>,
    /// Where its names stand.
    pub places: Places,
    /// What only shows when entries meet.
    pub findings: Vec<Finding>,
}

/// A circuit under construction.
pub(crate) struct Assembly {
    pub circuit: Circuit,
    pub places: Places,
    pub findings: Vec<Finding>,
    /// Nodes by name.
    pub named: HashMap<Name, NodeId>,
    /// Controls by name.
    pub controlled: HashMap<Name, ControlId>,
    /// How many misspelt names have been compared with all others.
    pub guesses: u32,
    /// Data sheets of the file by name.
    pub sheets: HashMap<Name, Arc<Sheet>>,
    /// Stages by name.
    pub staged: HashMap<Name, StageId>,
    /// Of each node: the part ends at it.
    pub ends: Vec<u32>,
    /// Of each node: the stages whose parts stand at it.
    pub users: Vec<SmallVec<[u32; 2]>>,
    /// Nodes that may be shared freely: rails and sources.
    pub free: Vec<NodeId>,
    /// What names in expressions mean.
    pub env: Env,
    /// Something that the file includes is not there: a clause.
    pub incomplete: Option<Name>,
}

impl Assembly {
    /// The node of that name, made where it is new.
    pub fn node(&mut self, word: &Word, block: u32, entry: Option<u32>) -> NodeId {
        if let Some(&id) = self.named.get(&word.text) {
            return id;
        }
        let id = self.new_node(word.text.clone(), false, Place { block, entry, span: word.span });
        self.named.insert(word.text.clone(), id);
        id
    }

    /// A node without a name of its own.
    pub fn unnamed(&mut self, name: String, place: Place) -> NodeId {
        self.new_node(name.into(), true, place)
    }

    fn new_node(&mut self, name: Name, unnamed: bool, place: Place) -> NodeId {
        let id = NodeId(self.circuit.nodes.len() as u32);
        self.circuit.nodes.push(Node { name, unnamed });
        self.places.nodes.push(place);
        self.ends.push(0);
        self.users.push(SmallVec::new());
        id
    }

    /// The control of that shaft, made where it is new.
    pub fn control(&mut self, control: Control) -> ControlId {
        match self.controlled.get(&control.name) {
            Some(&id) => {
                use crate::circuit::ControlKind::Steps;
                if let (Steps { positions, .. }, Steps { positions: more, .. }) =
                    (&mut self.circuit.controls[id.at()].kind, control.kind)
                {
                    positions.extend(more);
                    positions.sort_unstable();
                    positions.dedup();
                }
                id
            }
            None => {
                let id = ControlId(self.circuit.controls.len() as u32);
                self.controlled.insert(control.name.clone(), id);
                self.circuit.controls.push(control);
                id
            }
        }
    }

    /// Whether one more misspelt name may be compared with all others.
    pub fn may_guess(&mut self) -> bool {
        self.guesses += 1;
        self.guesses <= notation::near::GUESSES
    }

    /// The nodes whose voltage is given: `gnd` and the rails.
    pub fn held(&self) -> FxHashSet<NodeId> {
        self.circuit.supplies.iter().flat_map(|s| s.rails.iter().map(|r| r.0)).chain([GROUND]).collect()
    }

    /// Adds a finding.
    pub fn find(
        &mut self,
        weight: Weight,
        place: Place,
        id: &'static str,
        message: String,
        names: &[&str],
    ) -> &mut Fault {
        self.findings.push(Finding {
            weight,
            block: place.block,
            entry: place.entry,
            fault: crate::piece::fault(id, place.span, message),
            names: names.iter().map(|n| n.to_string()).collect(),
        });
        &mut self.findings.last_mut().expect("one was just pushed").fault
    }

    /// The data sheet of that name: the file's own, else the library's.
    pub fn sheet(&self, name: &str) -> Option<Arc<Sheet>> {
        self.sheets.get(name).cloned().or_else(|| library::sheet(name))
    }
}

/// Makes a circuit of a file's entries.
pub fn assemble(file: &File) -> Assembled {
    let ground = Node { name: "gnd".into(), unnamed: false };
    // An entry makes one part or two, and a part about one node: growing by steps would copy all of them several times at each key.
    let entries: usize = file.blocks.iter().map(|b| b.entries.len()).sum();
    let nowhere = Place { block: 0, entry: None, span: Span::default() };
    let mut named = HashMap::with_capacity_and_hasher(entries, Default::default());
    named.insert("gnd".into(), GROUND);
    let mut a = Assembly {
        circuit: Circuit {
            title: None,
            band: (20.0, 20e3),
            reference: 1e3,
            nodes: with_room(entries, [ground]),
            parts: with_room(entries, []),
            stages: Vec::new(),
            supplies: Vec::new(),
            sources: Vec::new(),
            pairs: Vec::new(),
            lost_pairs: Vec::new(),
            controls: Vec::new(),
            settings: Vec::new(),
            lets: Vec::new(),
            temperature: 25.0,
            tolerances: Vec::new(),
            matched: Vec::new(),
            trims: Vec::new(),
            accepted: Vec::new(),
            unknown: None,
        },
        places: Places {
            nodes: with_room(entries, [nowhere]),
            parts: with_room(entries, []),
            part_names: with_room(entries, []),
            ..Places::default()
        },
        findings: Vec::new(),
        named,
        controlled: HashMap::default(),
        guesses: 0,
        sheets: HashMap::default(),
        staged: HashMap::default(),
        ends: with_room(entries, [0]),
        users: with_room(entries, [SmallVec::new()]),
        free: vec![GROUND],
        env: env::of(file),
        incomplete: file.incomplete.clone(),
    };
    a.places.torn = torn(file);
    // Entries with expressions are read again, now that all names are there.
    let again = read_again(&mut a, file);
    let replaced;
    let file = if again.is_empty() {
        file
    } else {
        replaced = with(file, &again);
        &replaced
    };
    sheets::datasheets(&mut a, file);
    blocks::stages(&mut a, file);
    design::design(&mut a, file);
    crate::supply::exchanged(&mut a, file);
    lets::check(&mut a, file);
    argued::check(&mut a, file);
    one_a_circle(&mut a);
    rules::check(&mut a);
    wait_for_torn(&mut a, file);
    wait_for_pasted(&mut a);
    Assembled { circuit: Arc::new(a.circuit), places: a.places, findings: a.findings }
}

/// A list that begins with these and has room for so many more.
fn with_room<T, const N: usize>(more: usize, first: [T; N]) -> Vec<T> {
    let mut all = Vec::with_capacity(more + N);
    all.extend(first);
    all
}

/// A circle of values is one thing to mend, and is told where it first stands.
fn one_a_circle(a: &mut Assembly) {
    let circles = a.findings.iter().filter(|f| f.fault.id == "value-of-itself");
    let mut first: HashMap<String, (u32, Option<u32>)> = HashMap::default();
    for f in circles {
        let here = (f.block, f.entry);
        first.entry(f.fault.message.clone()).and_modify(|p| *p = here.min(*p)).or_insert(here);
    }
    a.findings.retain(|f| {
        f.fault.id != "value-of-itself" || first.get(&f.fault.message).is_none_or(|p| *p == (f.block, f.entry))
    });
}

/// Reads the entries that hold expressions again, and tells what is wrong with those.
fn read_again(a: &mut Assembly, file: &File) -> Vec<(usize, usize, Piece)> {
    let mut again = Vec::new();
    let env = std::mem::take(&mut a.env);
    for (b, block) in file.blocks.iter().enumerate() {
        let prefix: Name = match block.heading.map(|h| &h.tree) {
            Some(Heading::Use { name: Some(n), .. }) => format!("{}.", n.text).into(),
            _ => "".into(),
        };
        for (e, entry) in block.entries.iter().enumerate().filter_map(|(e, p)| Some((e, p.pending.as_ref()?))) {
            let piece = piece::read_in(entry, Some(&env.scope(0, &prefix)));
            let known = &block.entries[e].findings;
            for (weight, fault) in piece.findings.iter().filter(|f| !known.contains(f)) {
                a.findings.push(Finding {
                    weight: *weight,
                    block: b as u32,
                    entry: Some(e as u32),
                    fault: fault.clone(),
                    names: Vec::new(),
                });
            }
            again.push((b, e, piece));
        }
    }
    a.env = env;
    again
}

/// The file with these entries in place of its own.
fn with<'a>(file: &'a File<'a>, again: &'a [(usize, usize, Piece)]) -> File<'a> {
    let mut blocks = file.blocks.clone();
    for (b, e, piece) in again {
        blocks[*b].entries[*e] = piece;
    }
    let includes =
        file.includes.iter().map(|i| Included { name: i.name.clone(), block: i.block, blocks: i.blocks.clone() });
    File { blocks, includes: includes.collect(), incomplete: file.incomplete.clone(), astray: file.astray }
}

/// What other entries have to say about a name waits while the entry that holds it is torn: half a switch has half its
/// positions, and half a node's name may be another's.
fn wait_for_torn(a: &mut Assembly, file: &File) {
    // Each name with the torn entry that holds it; `None` where several do, and whoever speaks of it waits for one of them.
    type Here = (u32, Option<u32>);
    let mut held: HashMap<&str, Option<Here>> = HashMap::default();
    for (b, block) in file.blocks.iter().enumerate().filter(|(_, b)| of_circuit(b.kind)) {
        let heading = block.heading.filter(|h| h.grade == Grade::Torn);
        let heading = heading.into_iter().flat_map(|h| names_of_heading(&h.tree)).map(|n| (None, n));
        let torn = block.entries.iter().enumerate().filter(|(_, p)| p.grade == Grade::Torn);
        let entries = torn.flat_map(|(e, p)| names_in(p).into_iter().map(move |n| (Some(e as u32), n)));
        for (entry, name) in heading.chain(entries) {
            let here = (b as u32, entry);
            held.entry(name).and_modify(|h| *h = h.filter(|h| *h == here)).or_insert(Some(here));
        }
    }
    if held.is_empty() {
        return;
    }
    a.findings.retain(|f| f.names.iter().all(|n| held.get(&**n).is_none_or(|h| *h == Some((f.block, f.entry)))));
}

/// A block that was pasted twice is one thing to mend: that its nodes are in both, and that each part drives what its double
/// drives, follows from it.
fn wait_for_pasted(a: &mut Assembly) {
    let whole = |f: &&Finding| f.fault.id == "repeated-designator" && f.entry.is_none();
    let pasted: Vec<u32> = a.findings.iter().filter(whole).map(|f| f.block).collect();
    if pasted.is_empty() {
        return;
    }
    let stages = a.places.stages.iter().zip(&a.circuit.stages).filter(|(p, _)| pasted.contains(&p.block));
    let names: Vec<&str> = stages.map(|(_, s)| &*s.name).collect();
    a.findings.retain(|f| match f.fault.id {
        "node-crosses-stages" => !f.names.iter().skip(1).any(|n| names.contains(&&**n)),
        "outputs-tied" => f.names.first() != f.names.get(1),
        _ => true,
    });
}

/// What a heading names, its ports included.
fn names_of_heading(heading: &Heading) -> Vec<&str> {
    let (first, second, ports) = match heading {
        Heading::Stage { name, ports } => (name.as_ref(), None, ports.as_ref()),
        Heading::Use { stage, name, ports } => (stage.as_ref(), name.as_ref(), ports.as_ref()),
        Heading::Datasheet { name, .. } => (name.as_ref(), None, None),
        _ => (None, None, None),
    };
    let ports = ports.iter().flat_map(|p| p.inputs.iter().chain(&p.outputs));
    first.into_iter().chain(second).chain(ports).map(|w| &*w.text).collect()
}

/// The parts, controls and nodes of an entry.
fn names_in(piece: &Piece) -> Vec<&str> {
    match &piece.kind {
        PieceKind::Path(steps) => steps
            .iter()
            .flat_map(|step| match step {
                PathStep::Node(word) => vec![&*word.text],
                PathStep::Parts(parts) => parts.iter().flat_map(|p| [&*p.name, &*p.shaft]).collect(),
                PathStep::Missing => Vec::new(),
            })
            .collect(),
        PieceKind::Device(d) => {
            let nodes = d.pins.iter().map(|(_, w)| &*w.text).chain(d.positions.iter().map(|(_, w)| &*w.text));
            nodes.chain([&*d.elem.name, &*d.elem.shaft]).collect()
        }
        _ => Vec::new(),
    }
}

/// The first entry or heading of the circuit that is torn. A torn statement spoils nothing but itself.
fn torn(file: &File) -> Option<Place> {
    let at = |block: u32, entry: Option<u32>| Place { block, entry, span: Span::default() };
    let astray = file.astray.map(|(b, e)| at(b, Some(e)));
    for (b, block) in file.blocks.iter().enumerate() {
        if let Some(place) = astray.filter(|p| (p.block as usize) < b) {
            return Some(place);
        }
        if !of_circuit(block.kind) {
            continue;
        }
        if block.heading.is_some_and(|h| h.grade == Grade::Torn) {
            return Some(at(b as u32, None));
        }
        if let Some(e) = block.entries.iter().position(|p| p.grade == Grade::Torn) {
            let place = at(b as u32, Some(e as u32));
            return Some(astray.filter(|p| p.block as usize == b).map_or(place, |p| p.min(place)));
        }
    }
    astray
}

/// Whether the circuit is made of such a block's entries.
fn of_circuit(kind: Option<BlockKind>) -> bool {
    matches!(kind, None | Some(BlockKind::Design | BlockKind::Stage | BlockKind::Use | BlockKind::Datasheet))
}

/// The block's title, name and ports, where its heading has them.
pub(crate) fn stage_heading<'a>(block: &'a FileBlock) -> Option<(&'a Word, Option<&'a notation::tree::Ports>)> {
    match &block.heading?.tree {
        Heading::Stage { name: Some(name), ports } => Some((name, ports.as_ref())),
        _ => None,
    }
}
