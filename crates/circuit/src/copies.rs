//! Stages as patterns: what `use` copies, and what becomes of the names in a copy.

use std::cell::RefCell;
use std::rc::Rc;

use notation::Name;
use notation::tree::{BlockKind, Heading, Ports, Span, Word};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::assemble::{File, FileBlock, Place, stage_heading};
use crate::circuit::Given;
use crate::element::Elem;
use crate::piece::{Piece, PieceKind};

/// A stage that can be copied.
#[derive(Clone)]
pub(crate) struct Pattern<'a> {
    /// Its name as its heading has it.
    pub name: Name,
    /// Its ports.
    pub ports: Option<&'a Ports>,
    /// Its entries.
    pub entries: &'a [&'a Piece],
    /// The file that it stands in: 0 for the file itself.
    pub file: u32,
    /// What copies on the way replace, the latest word last, each with the block that it stands in.
    pub overrides: Rc<Vec<(u32, &'a Elem)>>,
}

/// Why there is no pattern of a name.
#[derive(Clone, Copy)]
pub(crate) enum NoPattern {
    /// Nothing of that name.
    Unknown,
    /// A copy of itself, over one or more steps.
    Circle,
    /// Two included files have one.
    Twice,
    /// The file itself has two of that name.
    Doubled,
}

/// The patterns of a file by name: its stages, the copies in it, and the stages of included files. Each is followed to its stage
/// once, so that a copy of a copy of a copy costs one step each.
pub(crate) struct Patterns<'a> {
    stages: FxHashMap<&'a str, &'a FileBlock<'a>>,
    /// Names that two stages of the file have: neither is sure to be the one that is meant.
    doubled: FxHashSet<&'a str>,
    copies: FxHashMap<&'a str, (u32, &'a FileBlock<'a>, &'a Name)>,
    included: FxHashMap<&'a str, Vec<(usize, &'a FileBlock<'a>)>>,
    found: RefCell<FxHashMap<Name, Result<Pattern<'a>, NoPattern>>>,
}

impl<'a> Patterns<'a> {
    /// Finds what a file has. Of copies of one name the first counts.
    pub fn new(file: &'a File<'a>) -> Self {
        let mut all = Patterns {
            stages: FxHashMap::default(),
            doubled: FxHashSet::default(),
            copies: FxHashMap::default(),
            included: FxHashMap::default(),
            found: RefCell::default(),
        };
        for (b, block) in file.blocks.iter().enumerate() {
            if let Some(name) = stage_name(block)
                && all.stages.insert(name, block).is_some()
            {
                all.doubled.insert(name);
            }
            if let Some(Heading::Use { stage: Some(stage), name: Some(name), .. }) = block.heading.map(|h| &h.tree) {
                all.copies.entry(&name.text).or_insert((b as u32, block, &stage.text));
            }
        }
        for (i, included) in file.includes.iter().enumerate() {
            let mut own: FxHashSet<&str> = FxHashSet::default();
            for block in &included.blocks {
                if let Some(name) = stage_name(block).filter(|n| own.insert(n)) {
                    all.included.entry(name).or_default().push((i, block));
                }
            }
        }
        all
    }

    /// The pattern of a name: a stage of the file, a copy in it, or a stage of an included file.
    pub fn of(&self, name: &str) -> Result<Pattern<'a>, NoPattern> {
        let mut name: Name = name.into();
        let mut way: Vec<(Name, u32, &'a FileBlock<'a>)> = Vec::new();
        let mut passed: FxHashSet<Name> = FxHashSet::default();
        let mut found = loop {
            if let Some(known) = self.found.borrow().get(&name) {
                break known.clone();
            }
            if self.doubled.contains(&*name) {
                break Err(NoPattern::Doubled);
            }
            if let Some(block) = self.stages.get(&*name) {
                break Ok(of(block, 0));
            }
            match self.copies.get(&*name) {
                Some(_) if !passed.insert(name.clone()) => break Err(NoPattern::Circle),
                Some((b, block, stage)) => {
                    way.push((name.clone(), *b, block));
                    name = (*stage).clone();
                }
                None => {
                    break match self.included.get(&*name).map(|all| &all[..]) {
                        None | Some([]) => Err(NoPattern::Unknown),
                        Some([(i, block)]) => Ok(of(block, *i as u32 + 1)),
                        Some(_) => Err(NoPattern::Twice),
                    };
                }
            }
        };
        // What the copies on the way replace, the nearest to the pattern first: the latest word is the last.
        for (name, b, block) in way.into_iter().rev() {
            if let Ok(pattern) = &mut found
                && replaced(&block.entries).next().is_some()
            {
                Rc::make_mut(&mut pattern.overrides).extend(replaced(&block.entries).map(|e| (b, e)));
            }
            self.found.borrow_mut().insert(name, found.clone());
        }
        found
    }
}

fn stage_name<'a>(block: &FileBlock<'a>) -> Option<&'a str> {
    if block.kind != Some(BlockKind::Stage) {
        return None;
    }
    match &block.heading?.tree {
        Heading::Stage { name: Some(name), .. } => Some(&name.text),
        _ => None,
    }
}

fn of<'a>(block: &'a FileBlock<'a>, file: u32) -> Pattern<'a> {
    let (name, ports) = stage_heading(block).expect("found by its name");
    Pattern { name: name.text.clone(), ports, entries: &block.entries, file, overrides: Rc::default() }
}

/// The parts that a `use` block's entries replace.
pub(crate) fn replaced<'a>(entries: &'a [&'a Piece]) -> impl Iterator<Item = &'a Elem> {
    entries.iter().filter_map(|p| match &p.kind {
        PieceKind::Override(elem) => Some(&**elem),
        _ => None,
    })
}

/// All names of stages that can be copied, for "did you mean".
pub(crate) fn names(file: &File) -> Vec<String> {
    let own = file.blocks.iter().filter_map(|b| match b.heading.map(|h| &h.tree) {
        Some(Heading::Stage { name: Some(n), .. } | Heading::Use { name: Some(n), .. }) => Some(n.text.to_string()),
        _ => None,
    });
    let included =
        file.includes.iter().flat_map(|f| &f.blocks).filter_map(|b| stage_heading(b)).map(|s| s.0.text.to_string());
    own.chain(included).collect()
}

/// The nodes that all copies share: ports of the file's stages, rails, sources and `gnd`.
pub(crate) fn shared(file: &File) -> FxHashSet<Name> {
    let mut names: FxHashSet<Name> = FxHashSet::default();
    names.insert("gnd".into());
    for block in &file.blocks {
        let heading = block.heading.map(|h| &h.tree);
        if let Some(Heading::Stage { ports: Some(p), .. } | Heading::Use { ports: Some(p), .. }) = heading {
            names.extend(p.inputs.iter().chain(&p.outputs).map(|w| w.text.clone()));
        }
        for piece in &block.entries {
            match &piece.kind {
                PieceKind::Supply(rails) => names.extend(rails.iter().map(|r| r.0.text.clone())),
                PieceKind::Source { node: Some(node), .. } => drop(names.insert(node.text.clone())),
                PieceKind::Balanced { hot: Some(hot), cold: Some(cold), .. } => {
                    // A source at a pair stands at both of its nodes.
                    names.extend([hot.text.clone(), cold.text.clone()]);
                }
                _ => {}
            }
        }
    }
    names
}

/// A replacing entry's part, with the block that it stands in, and its place where that is the copy's own.
pub(crate) type Replacing<'a> = (u32, &'a Elem, Option<Place>);

/// A copy being made.
pub(crate) struct Copy<'a> {
    /// Its name with the dot behind: `cold.`
    pub prefix: Name,
    /// Where its heading names it.
    pub place: Place,
    /// From the pattern's ports to the nodes that the copy is wired to.
    pub ports: FxHashMap<Name, Name>,
    /// Nodes that it shares with the rest.
    pub shared: &'a FxHashSet<Name>,
    /// What it replaces, by the pattern's designators, each with the block that it stands in and the place of the replacing
    /// entry (`None`: of a copy on the way).
    pub overrides: FxHashMap<Name, Vec<Replacing<'a>>>,
    /// The included file that its pattern stands in.
    pub from: Option<Name>,
    /// Why none of its parts is known: a clause. Its heading has an error in it, or one of its entries replaces nobody knows what.
    pub doubt: Option<Name>,
    /// Why single parts are not, by the pattern's designators.
    pub doubts: FxHashMap<Name, Name>,
}

impl Copy<'_> {
    /// What a node of the pattern is called in the copy.
    pub fn node(&self, name: &Name) -> Name {
        match self.ports.get(name) {
            Some(outer) => outer.clone(),
            None if self.shared.contains(name) => name.clone(),
            None => format!("{}{name}", self.prefix).into(),
        }
    }

    /// A node's word in the copy.
    pub fn word(&self, word: &Word) -> Word {
        Word { text: self.node(&word.text), span: Span::default() }
    }

    /// Where a part of the copy is written: at the entry that replaces it, else at the copy's heading.
    pub fn part_place(&self, pattern: &str) -> Place {
        let all = self.overrides.get(pattern).into_iter().flatten();
        all.filter_map(|(_, _, place)| *place).next_back().unwrap_or(self.place)
    }

    /// An entry replaces a part that the pattern does not have: whichever is meant, its value is not the pattern's. With the
    /// copy's own name in front (`cold.R2`) it is plain which.
    pub fn doubt_what(&mut self, replaced: &str, parts: &FxHashSet<&Name>) {
        let meant = replaced.strip_prefix(&*self.prefix).filter(|n| parts.iter().any(|p| ***p == **n));
        match meant {
            Some(n) => drop(self.doubts.insert(n.into(), format!("what replaces {replaced} cannot be read").into())),
            None => {
                let copy = self.prefix.trim_end_matches('.');
                self.doubt.get_or_insert(format!("what {replaced} replaces in {copy} is not known").into());
            }
        }
    }

    /// A part of the pattern as the copy has it.
    pub fn elem(&self, elem: &Elem) -> Elem {
        let mut own = elem.clone();
        let all = self.overrides.get(&elem.name).into_iter().flatten();
        replace_all(&mut own, all.map(|(block, new, _)| (*block, *new)));
        self.told_of_itself(&mut own, elem);
        own.name = format!("{}{}", self.prefix, elem.name).into();
        own.shaft = format!("{}{}", self.prefix, elem.shaft).into();
        if let Some(why) = self.doubts.get(&elem.name).or(self.doubt.as_ref()) {
            own.doubt.get_or_insert(why.clone());
        }
        own
    }
}

impl Copy<'_> {
    /// A reason that came along from the pattern names the part as the copy calls it, and the file where the cause stands.
    fn told_of_itself(&self, own: &mut Elem, pattern: &Elem) {
        let told = |why: &Name| -> Name {
            match why.strip_prefix(&*pattern.name) {
                Some(rest) => match &self.from {
                    Some(file) => format!("{}{}{rest} ({file})", self.prefix, pattern.name).into(),
                    None => format!("{}{}{rest}", self.prefix, pattern.name).into(),
                },
                None => why.clone(),
            }
        };
        if let Given::Unknown(why) = &own.value
            && own.value == pattern.value
        {
            own.value = Given::Unknown(told(why));
        }
        if own.doubt == pattern.doubt {
            own.doubt = own.doubt.as_ref().map(told);
        }
    }
}

/// What replacing entries say, in their order, each with its block. Of two entries of one block neither is sure to be meant.
pub(crate) fn replace_all<'a>(own: &mut Elem, all: impl Iterator<Item = (u32, &'a Elem)>) {
    let mut before = None;
    for (block, new) in all {
        replace(own, new);
        if before.replace(block) == Some(block) {
            own.doubt = Some(format!("{} is replaced twice", own.name).into());
        }
    }
}

/// What a replacing entry says goes before what the pattern says; what it leaves out stays.
pub(crate) fn replace(own: &mut Elem, new: &Elem) {
    if new.expression.is_some() || new.value.number().is_some() || new.valued {
        own.value = new.value.clone();
        own.expression = new.expression.clone();
        own.exact = new.exact;
        own.series = new.series;
    }
    if new.kind.is_some() {
        own.kind = new.kind.clone();
    }
    if new.tapered {
        (own.taper, own.tapered) = (new.taper, true);
    }
    if new.rest.is_some() || new.unrest.is_some() {
        (own.rest, own.unrest) = (new.rest, new.unrest.clone());
    }
    own.doubt = new.doubt.clone().or(own.doubt.take());
    own.tolerance = new.tolerance.or(own.tolerance);
    own.note = new.note.clone().or(own.note.take());
    own.polar |= new.polar;
    own.electrolytic |= new.electrolytic;
    own.external |= new.external;
    own.unfitted |= new.unfitted;
    let (r, n) = (&mut own.ratings, &new.ratings);
    r.two |= n.two;
    r.volts = n.volts.or(r.volts);
    r.watts = n.watts.or(r.watts);
    r.amperes = n.amperes.or(r.amperes);
    r.celsius = n.celsius.or(r.celsius);
}

/// All parts of an entry.
pub(crate) fn elems(piece: &Piece) -> Vec<&Elem> {
    match &piece.kind {
        PieceKind::Path(steps) => steps
            .iter()
            .flat_map(|s| match s {
                crate::piece::PathStep::Parts(parts) => &parts[..],
                _ => &[],
            })
            .collect(),
        PieceKind::Device(d) => vec![&d.elem],
        _ => Vec::new(),
    }
}

/// What makes names unequal on the two sides of a copy's heading, in words; `None` where they fit.
pub(crate) fn misfit(pattern: &Pattern, ports: &Ports) -> Option<String> {
    let none = Ports { inputs: Vec::new(), outputs: Vec::new() };
    let own = pattern.ports.unwrap_or(&none);
    let count = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let side = |p: &Ports| format!("{} and {}", count(p.inputs.len(), "input"), count(p.outputs.len(), "output"));
    let fits = own.inputs.len() == ports.inputs.len() && own.outputs.len() == ports.outputs.len();
    let list = |all: &[Word]| all.iter().map(|w| &*w.text).collect::<Vec<_>>().join(", ");
    let arrow = if own.outputs.is_empty() { String::new() } else { format!(" -> {}", list(&own.outputs)) };
    (!fits).then(|| {
        format!("{} has {} ({}{arrow}); this copy is given {}", pattern.name, side(own), list(&own.inputs), side(ports))
    })
}
