//! Data sheets, stages and copies.

use notation::Name;
use std::borrow::Cow;
use std::sync::Arc;

use rustc_hash::{FxHashMap as HashMap, FxHashSet};

use notation::tree::{BlockKind, Grade, Heading, Span, Word};

use crate::assemble::{Assembly, File, FileBlock, Place, stage_heading};
use crate::circuit::{
    Circuit, Control, ControlId, ControlKind, Given, NodeId, Part, PartKind, Position, Sheet, Stage, StageId,
};
use crate::copies::{self, Copy, NoPattern, Patterns};
use crate::datum::Key;
use crate::device::DevicePiece;
use crate::element::{Class, Elem};
use crate::library;
use crate::piece::{PathStep, Piece, PieceKind, Weight, WrittenPosition};

/// Gathers the file's own data sheets.
pub(crate) fn datasheets(a: &mut Assembly, file: &File) {
    for (b, block) in file.blocks.iter().enumerate() {
        let Some(Heading::Datasheet { name: Some(name), kind }) = block.heading.map(|h| &h.tree) else { continue };
        let place = Place { block: b as u32, entry: None, span: name.span };
        if let Some(kind) = kind
            && &*kind.text != "opamp"
        {
            let place = Place { span: kind.span, ..place };
            a.find(
                Weight::Error,
                place,
                "unknown-datasheet-kind",
                format!("a data sheet describes an opamp; {} is no kind that this edition knows", kind.text),
                &[&name.text],
            );
        }
        let mut sheet = sheet(&name.text, block);
        repeated_data(a, b as u32, &name.text, block);
        if &*name.text == "ideal" {
            a.find(
                Weight::Error,
                place,
                "ideal-redefined",
                "ideal is the amplifier that lacks nothing: give this data sheet another name".into(),
                &["ideal"],
            );
            continue;
        }
        if a.sheets.contains_key(&name.text) {
            a.find(
                Weight::Error,
                place,
                "repeated-datasheet",
                format!("there are two data sheets called {}: give one another name", name.text),
                &[&name.text],
            );
            // Neither is sure to be the one that is meant.
            sheet.unknown = Some(format!("there are two data sheets called {}", name.text).into());
            a.sheets.insert(name.text.clone(), Arc::new(sheet));
            continue;
        }
        sheet.ideal = false;
        a.sheets.insert(name.text.clone(), Arc::new(sheet));
    }
    included_sheets(a, file);
}

/// Takes the data sheets of included files over; the file's own go before them.
fn included_sheets(a: &mut Assembly, file: &File) {
    let own: FxHashSet<Name> = a.sheets.keys().cloned().collect();
    let mut from: HashMap<Name, Name> = HashMap::default();
    for included in &file.includes {
        for block in &included.blocks {
            let Some(Heading::Datasheet { name: Some(name), .. }) = block.heading.map(|h| &h.tree) else { continue };
            if &*name.text == "ideal" {
                continue;
            }
            let mut sheet = sheet(&name.text, block);
            let place = include_place(file, included.block);
            if own.contains(&name.text) {
                let message = format!(
                    "{} has a data sheet {}, and so has this file: amplifiers take the one of this file",
                    included.name, name.text
                );
                a.find(Weight::Warning, place, "repeated-datasheet", message, &[&name.text]);
                continue;
            }
            if let Some(first) = from.insert(name.text.clone(), included.name.clone()) {
                let message = format!(
                    "{} and {} each have a data sheet {}: which one is meant is not said",
                    first, included.name, name.text
                );
                a.find(Weight::Error, place, "repeated-datasheet", message, &[&name.text]);
                sheet.unknown = Some(format!("two included files have a data sheet {}", name.text).into());
            }
            a.sheets.insert(name.text.clone(), Arc::new(sheet));
        }
    }
}

/// A datum that is given twice: which of the two holds is not for a tool to say.
fn repeated_data(a: &mut Assembly, b: u32, name: &str, block: &FileBlock) {
    let mut seen: HashMap<&str, u32> = HashMap::default();
    for (e, piece) in block.entries.iter().enumerate() {
        let PieceKind::Datum(d) = &piece.kind else { continue };
        if d.key == Key::Unread || seen.insert(&d.words, e as u32).is_none() {
            continue;
        }
        let place = Place { block: b, entry: Some(e as u32), span: d.span };
        let message = format!("{name} gives its {} twice: take one of the two away", d.words);
        a.find(Weight::Error, place, "repeated-datum", message, &[name]);
    }
}

/// The sheet that a block's entries make.
pub(crate) fn sheet(name: &str, block: &FileBlock) -> Sheet {
    let mut sheet = Sheet { name: name.into(), ..Sheet::default() };
    let mut given: Vec<&str> = Vec::new();
    for piece in &block.entries {
        if let PieceKind::Datum(d) = &piece.kind {
            if d.key != Key::Unread && given.contains(&&*d.words) {
                sheet.unknown.get_or_insert(format!("{name} gives its {} twice", d.words).into());
            }
            given.push(&d.words);
            sheet.take(d);
        }
    }
    sheet.complete();
    sheet
}

/// Makes the stages with their nodes and parts, copies in their turn.
pub(crate) fn stages(a: &mut Assembly, file: &File) {
    let mut seen: HashMap<Name, u32> = HashMap::default();
    let mut rested = Rested::default();
    let mut firsts: HashMap<Name, usize> = HashMap::default();
    let copied = file.blocks.iter().any(|b| b.kind == Some(BlockKind::Use));
    let shared = if copied { copies::shared(file) } else { Default::default() };
    let patterns = Patterns::new(file);
    for (b, block) in file.blocks.iter().enumerate() {
        let b = b as u32;
        match block.kind {
            Some(BlockKind::Stage) => {
                let nameless =
                    Word { text: format!("stage {}", a.circuit.stages.len() + 1).into(), span: Span::default() };
                let (name, ports) = stage_heading(block).unwrap_or((&nameless, None));
                let id = open_stage(a, b, name, ports);
                let mut repeats = Vec::new();
                fill(
                    a,
                    id,
                    b,
                    &block.entries,
                    None,
                    &mut Kept { seen: &mut seen, repeats: &mut repeats, rested: &mut rested, firsts: &mut firsts },
                );
                say_repeats(a, b, &name.text, repeats);
            }
            Some(BlockKind::Use) => {
                let mut kept =
                    Kept { seen: &mut seen, repeats: &mut Vec::new(), rested: &mut rested, firsts: &mut firsts };
                copy(a, (file, &patterns), b, block, &shared, &mut kept);
            }
            _ => {}
        }
    }
    doubled_patterns(a, file);
    rested.settle(a);
}

/// Adds a stage with its ports.
fn open_stage(a: &mut Assembly, b: u32, name: &Word, ports: Option<&notation::tree::Ports>) -> StageId {
    let id = StageId(a.circuit.stages.len() as u32);
    let place = Place { block: b, entry: None, span: name.span };
    if a.staged.contains_key(&name.text) {
        a.find(
            Weight::Error,
            place,
            "repeated-stage",
            format!("there are two stages called {}: give one another name", name.text),
            &[&name.text],
        );
    }
    a.staged.entry(name.text.clone()).or_insert(id);
    a.circuit.stages.push(Stage { name: name.text.clone(), inputs: Vec::new(), outputs: Vec::new() });
    a.places.stages.push(place);
    if let Some(ports) = ports {
        let inputs: Vec<NodeId> = ports.inputs.iter().map(|w| a.node(w, b, None)).collect();
        let outputs: Vec<NodeId> = ports.outputs.iter().map(|w| a.node(w, b, None)).collect();
        let stage = &mut a.circuit.stages[id.at()];
        (stage.inputs, stage.outputs) = (inputs, outputs);
    }
    id
}

/// What is kept from entry to entry: who has a name already, and which shafts say where they rest.
struct Kept<'k> {
    seen: &'k mut HashMap<Name, u32>,
    repeats: &'k mut Vec<(Place, Name, u32)>,
    rested: &'k mut Rested,
    firsts: &'k mut HashMap<Name, usize>,
}

/// Takes a stage's entries in.
fn fill(a: &mut Assembly, stage: StageId, block: u32, entries: &[&Piece], copy: Option<&Copy>, kept: &mut Kept) {
    for (e, piece) in entries.iter().enumerate() {
        let mut stage = InStage {
            a,
            stage,
            block,
            entry: e as u32,
            copy,
            seen: kept.seen,
            repeats: kept.repeats,
            rested: kept.rested,
            firsts: kept.firsts,
            joint: None,
        };
        match &piece.kind {
            PieceKind::Path(steps) => stage.path(steps),
            PieceKind::Device(device) => stage.device(device),
            _ => {}
        }
    }
}

/// Makes the copy of a `use` block.
fn copy(
    a: &mut Assembly,
    (file, patterns): (&File, &Patterns),
    b: u32,
    block: &FileBlock,
    shared: &FxHashSet<Name>,
    kept: &mut Kept,
) {
    let Some(Heading::Use { stage: Some(stage), name: Some(name), ports: Some(ports) }) =
        block.heading.map(|h| &h.tree)
    else {
        return;
    };
    let at = |span| Place { block: b, entry: None, span };
    let id = open_stage(a, b, name, Some(ports));
    let pattern = match patterns.of(&stage.text) {
        Ok(pattern) => pattern,
        Err(none) => {
            let all = if a.may_guess() { copies::names(file) } else { Vec::new() };
            let near =
                notation::near::nearest(&stage.text, all.iter().map(String::as_str).filter(|n| **n != *name.text));
            let (rule, message) = match none {
                NoPattern::Unknown => (
                    "unknown-stage",
                    format!(
                        "there is no stage called {} to copy{}",
                        stage.text,
                        near.map_or_else(String::new, |n| format!(": did you mean {n}"))
                    ),
                ),
                NoPattern::Circle => ("copy-of-itself", format!("{} is in the end a copy of itself", stage.text)),
                NoPattern::Twice => (
                    "ambiguous-stage",
                    format!("two included files have a stage {}: which one is meant is not said", stage.text),
                ),
            };
            let fixes = near
                .filter(|_| rule == "unknown-stage")
                .map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(stage.span, n.into())] });
            if !(a.incomplete && rule == "unknown-stage") {
                a.find(Weight::Error, at(stage.span), rule, message, &[&stage.text]).fixes.extend(fixes);
            }
            a.circuit.unknown.get_or_insert(format!("{} copies no stage that is known", name.text).into());
            return;
        }
    };
    if let Some(message) = copies::misfit(&pattern, ports) {
        a.find(Weight::Error, at(stage.span), "ports-differ", message, &[&stage.text, &name.text]);
        a.circuit.unknown.get_or_insert(format!("{} is not wired as {} is", name.text, stage.text).into());
        return;
    }
    if let Some(bad) = pattern.entries.iter().find(|p| p.grade == Grade::Torn).filter(|_| pattern.file > 0) {
        let _ = bad;
        let from = &file.includes[pattern.file as usize - 1].name;
        a.circuit.unknown.get_or_insert(format!("{from} has an unfinished line in {}", stage.text).into());
    }
    let none = notation::tree::Ports { inputs: Vec::new(), outputs: Vec::new() };
    let own = pattern.ports.unwrap_or(&none);
    let wired = own.inputs.iter().zip(&ports.inputs).chain(own.outputs.iter().zip(&ports.outputs));
    let mut copy = Copy {
        prefix: format!("{}.", name.text).into(),
        place: at(name.span),
        ports: wired.map(|(inner, outer)| (inner.text.clone(), outer.text.clone())).collect(),
        shared,
        overrides: HashMap::default(),
        doubt: None,
        doubts: HashMap::default(),
    };
    if block.heading.is_some_and(|h| h.fault.is_some()) {
        copy.doubt = Some(format!("the heading of {} cannot be read", name.text).into());
    }
    let parts: FxHashSet<&Name> = pattern.entries.iter().flat_map(|p| copies::elems(p)).map(|e| &e.name).collect();
    for (block, elem) in pattern.overrides.iter() {
        if !parts.contains(&elem.name) {
            copy.doubt_what(&elem.name, &parts);
        }
        copy.overrides.entry(elem.name.clone()).or_default().push((*block, elem, None));
    }
    for (e, piece) in block.entries.iter().enumerate() {
        let PieceKind::Override(elem) = &piece.kind else { continue };
        let place = Place { block: b, entry: Some(e as u32), span: elem.span };
        if !parts.contains(&elem.name) {
            copy.doubt_what(&elem.name, &parts);
            let near = if a.may_guess() { in_order(&pattern) } else { Vec::new() };
            let near = notation::near::nearest(&elem.name, near);
            let hint = near.map_or_else(String::new, |n| format!(": did you mean {n}"));
            let message = format!("{} has no {} to replace{hint}", stage.text, elem.name);
            let place = Place { span: elem.name_span, ..place };
            let fixes = near
                .map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(elem.name_span, n.into())] });
            a.find(Weight::Error, place, "unknown-part", message, &[&elem.name, &stage.text]).fixes.extend(fixes);
            continue;
        }
        let all = copy.overrides.entry(elem.name.clone()).or_default();
        if all.iter().any(|o| o.0 == b) {
            let message = format!("{} is replaced twice here: take one of the two away", elem.name);
            let place = Place { span: elem.name_span, ..place };
            a.find(Weight::Error, place, "repeated-replacement", message, &[&elem.name, &stage.text]);
        }
        all.push((b, elem, Some(place)));
    }
    fill(a, id, b, pattern.entries, Some(&copy), kept);
}

/// The names of a pattern's parts in the order written.
fn in_order<'p>(pattern: &copies::Pattern<'p>) -> Vec<&'p str> {
    pattern.entries.iter().flat_map(|p| copies::elems(p)).map(|e| &*e.name).collect()
}

/// Two files that are included, or one and the file itself, with a stage of one name: which of them a copy means is not clear.
fn doubled_patterns(a: &mut Assembly, file: &File) {
    for included in &file.includes {
        for (name, _) in included.blocks.iter().filter_map(stage_heading) {
            if a.staged.get(&name.text).is_some_and(|id| a.places.stages[id.at()].block != included.block) {
                let place = include_place(file, included.block);
                let message = format!(
                    "{} has a stage {}, and so has this file: copies mean the one of this file",
                    included.name, name.text
                );
                a.find(Weight::Warning, place, "repeated-stage", message, &[&name.text]);
            }
        }
    }
}

/// Where an `include` heading names its file.
pub(crate) fn include_place(file: &File, block: u32) -> Place {
    let span = match file.blocks.get(block as usize).and_then(|b| b.heading).map(|h| &h.tree) {
        Some(Heading::Include { path: Some(path) }) => path.span,
        _ => Span::default(),
    };
    Place { block, entry: None, span }
}

/// A block that was pasted twice gets one message, a single slip one at its place.
fn say_repeats(a: &mut Assembly, block: u32, stage: &str, repeats: Vec<(Place, Name, u32)>) {
    match &repeats[..] {
        [] => {}
        [(place, name, _)] => {
            a.find(
                Weight::Error,
                *place,
                "repeated-designator",
                format!("{name} is there already: a designator names one part"),
                &[name],
            );
        }
        [(_, first, other), ..] => {
            let of = a
                .places
                .stages
                .iter()
                .position(|p| p.block == *other)
                .map_or("", |i| &*a.circuit.stages[i].name)
                .to_string();
            let place = a.places.stages.iter().find(|p| p.block == block).copied();
            let place = place.unwrap_or(Place { block, entry: None, span: Span::default() });
            let all: Vec<&str> = repeats.iter().map(|r| &*r.1).collect();
            let message = if &*of == stage && *other == block {
                format!("{stage} repeats {} of its own designators, {first} first", repeats.len())
            } else {
                format!("repeats {} designators of {of}, {first} first: number these parts anew", repeats.len())
            };
            a.find(Weight::Error, place, "repeated-designator", message, &all);
        }
    }
}

/// Takes a part's value away, for a reason.
pub(crate) fn make_unknown(kind: &mut PartKind, why: &Name) {
    match kind {
        PartKind::Resistor { ohms: given, .. }
        | PartKind::Capacitor { farads: given, .. }
        | PartKind::Inductor { henries: given, .. }
        | PartKind::Variable { ohms: given, .. } => *given = Given::Unknown(why.clone()),
        PartKind::Amplifier { sheet, .. } => {
            *sheet = Arc::new(Sheet { unknown: Some(why.clone()), ideal: false, ..(**sheet).clone() });
        }
        PartKind::Switch { unknown, .. } => drop(unknown.get_or_insert(why.clone())),
    }
}

/// Takes the value from all that moves with a control.
pub(crate) fn unset(a: &mut Assembly, control: ControlId, why: &Name) {
    for part in &mut a.circuit.parts {
        if let PartKind::Variable { control: c, .. } | PartKind::Switch { control: c, .. } = part.kind
            && c == control
        {
            make_unknown(&mut part.kind, why);
        }
    }
}

/// Where shafts and spindles rest, as far as their units say.
#[derive(Default)]
struct Rested {
    /// Those for which it is written.
    written: FxHashSet<Name>,
    /// Those for which it cannot be read, with a clause that says so.
    unknown: Vec<(Name, Name)>,
}

impl Rested {
    /// Takes the value from what moves with a control of which nobody knows where it rests, and tells of switches that say
    /// neither.
    fn settle(mut self, a: &mut Assembly) {
        let stateless = |c: &Control| {
            matches!(c.kind, ControlKind::Steps { plain: true, .. })
                && !self.written.contains(&c.name)
                && !self.unknown.iter().any(|u| u.0 == c.name)
        };
        let silent: Vec<Name> = a.circuit.controls.iter().filter(|c| stateless(c)).map(|c| c.name.clone()).collect();
        for shaft in silent {
            self.unknown.push((shaft.clone(), format!("{shaft} is neither open nor closed").into()));
            let moves = |p: &Part| matches!(&p.kind, PartKind::Switch { control, .. } if a.circuit.controls[control.at()].name == shaft);
            let Some(i) = a.circuit.parts.iter().position(moves) else { continue };
            // In a copy it is as it is in the pattern, where it is said.
            let own = a.circuit.parts[i].copy_of.as_ref();
            if own.is_some_and(|pattern| a.circuit.parts.iter().any(|p| p.name == *pattern)) {
                continue;
            }
            let name = a.circuit.parts[i].name.to_string();
            let message =
                format!("how does {name} rest? `{name} open` or `{name} closed` says so, and a setting moves it");
            let place = a.places.part_names[i];
            a.find(Weight::Error, place, "switch-without-state", message, &[&name]);
        }
        for (shaft, why) in &self.unknown {
            if let Some(i) = a.circuit.controls.iter().position(|c| c.name == *shaft) {
                unset(a, ControlId(i as u32), why);
            }
        }
    }
}

/// A stage while its entries are taken in.
struct InStage<'a, 'b> {
    a: &'a mut Assembly,
    stage: StageId,
    block: u32,
    entry: u32,
    /// The copy that is being made, where it is one.
    copy: Option<&'a Copy<'a>>,
    seen: &'b mut HashMap<Name, u32>,
    repeats: &'b mut Vec<(Place, Name, u32)>,
    /// Where shafts and spindles rest.
    rested: &'b mut Rested,
    /// Where each part stands that no second one shares its name with yet.
    firsts: &'b mut HashMap<Name, usize>,
    /// The latest joint of two parts in a row in this entry, by the step in front of it, with its node.
    joint: Option<(usize, NodeId)>,
}

impl InStage<'_, '_> {
    fn place(&self, span: Span) -> Place {
        if let Some(copy) = self.copy {
            return copy.place;
        }
        Place { block: self.block, entry: Some(self.entry), span }
    }

    fn node(&mut self, word: &Word) -> NodeId {
        if let Some(copy) = self.copy {
            return self.a.node(&Word { span: copy.place.span, ..copy.word(word) }, self.block, None);
        }
        self.a.node(word, self.block, Some(self.entry))
    }

    /// A part end stands at this node.
    fn end(&mut self, node: NodeId) {
        self.a.ends[node.at()] += 1;
        let users = &mut self.a.users[node.at()];
        if users.last() != Some(&self.stage.0) {
            users.push(self.stage.0);
        }
    }

    fn part(&mut self, elem: &Elem, kind: PartKind) {
        let mut kind = kind;
        if let Some(why) = &elem.doubt {
            make_unknown(&mut kind, why);
        }
        if let Some(&first) = self.seen.get(&elem.name) {
            self.repeats.push((self.place(elem.name_span), elem.name.clone(), first));
            // Neither is sure to be the one that is meant.
            let why: Name = format!("two parts are called {}", elem.name).into();
            make_unknown(&mut kind, &why);
            // The first of them; those between are taken already.
            if let Some(part) = self.firsts.remove(&elem.name) {
                make_unknown(&mut self.a.circuit.parts[part].kind, &why);
            }
        } else {
            self.seen.insert(elem.name.clone(), self.block);
            self.firsts.insert(elem.name.clone(), self.a.circuit.parts.len());
        }
        let copy_of = self.copy.map(|c| Name::from(&elem.name[c.prefix.len()..]));
        let part = Part {
            name: elem.name.clone(),
            stage: self.stage,
            unfitted: elem.unfitted,
            external: elem.external,
            kind,
            tolerance: elem.tolerance,
            ratings: elem.ratings,
            note: elem.note.clone(),
            exact: if elem.expression.is_some() { self.a.env.exact(&elem.name) } else { None },
            copy_of,
        };
        for node in part.ends() {
            self.end(node);
        }
        let ends = part.ends();
        if ends.len() == 2 && ends[0] == ends[1] && self.copy.is_none() {
            let name = &elem.name;
            let node = self.a.circuit.node_name(ends[0]).to_string();
            self.a.find(
                Weight::Warning,
                self.place(elem.name_span),
                "both-ends-together",
                format!("{name} has both ends at {node} and does nothing there"),
                &[name, &node],
            );
        }
        let (place, name_place) = match (self.copy, &part.copy_of) {
            (Some(copy), Some(pattern)) => (copy.part_place(pattern), copy.part_place(pattern)),
            _ => (self.place(elem.span), self.place(elem.name_span)),
        };
        self.a.places.parts.push(place);
        self.a.places.part_names.push(name_place);
        self.a.circuit.parts.push(part);
    }

    /// A part as it is here: in a copy, with the copy's name and what the copy replaces.
    fn own<'e>(&self, elem: &'e Elem) -> Cow<'e, Elem> {
        match self.copy {
            Some(copy) => Cow::Owned(copy.elem(elem)),
            None => Cow::Borrowed(elem),
        }
    }

    /// A part's value, an expression worked out.
    fn value(&self, elem: &Elem) -> Given {
        if elem.expression.is_some() { self.a.env.given(&elem.name) } else { elem.value.clone() }
    }

    fn path(&mut self, steps: &[PathStep]) {
        for (i, step) in steps.iter().enumerate() {
            match step {
                // Names are declared even where the path is torn, so that nothing else stumbles over them.
                PathStep::Node(word) => {
                    self.node(word);
                }
                PathStep::Missing => {}
                PathStep::Parts(parts) => {
                    let (Some(left), Some(right)) = (self.neighbour(steps, i, false), self.neighbour(steps, i, true))
                    else {
                        // A control is declared all the same, so that no setting stumbles over it.
                        for elem in parts {
                            let elem = &*self.own(elem);
                            match elem.class {
                                Class::Variable => drop(self.travel(elem)),
                                Class::Switch => drop(self.steps(elem, vec![0, 1], true)),
                                _ => {}
                            }
                        }
                        continue;
                    };
                    for elem in parts {
                        let own = self.own(elem);
                        self.two_ended(&own, [left, right]);
                    }
                }
            }
        }
    }

    /// The node on one side of a step: a named one, or the unnamed one between two parts in a row.
    fn neighbour(&mut self, steps: &[PathStep], i: usize, right: bool) -> Option<NodeId> {
        let other = if right { steps.get(i + 1)? } else { steps.get(i.checked_sub(1)?)? };
        match other {
            PathStep::Node(word) => Some(self.node(word)),
            PathStep::Missing => None,
            PathStep::Parts(parts) => {
                let PathStep::Parts(own) = &steps[i] else { return None };
                // The second side of a joint finds the node that its first side made just before.
                let joint = if right { i } else { i - 1 };
                if let Some((_, node)) = self.joint.filter(|(at, _)| *at == joint) {
                    return Some(node);
                }
                let (left, right) = if right { (own, parts) } else { (parts, own) };
                let (a, b) = (left.first()?, right.first()?);
                let name = format!("{}{}.{}", self.copy.map_or("", |c| &c.prefix), a.name, b.name);
                let node = self.a.unnamed(name, self.place(b.name_span));
                self.joint = Some((joint, node));
                Some(node)
            }
        }
    }

    fn two_ended(&mut self, elem: &Elem, ends: [NodeId; 2]) {
        let kind = match elem.class {
            Class::Resistor => PartKind::Resistor { ends, ohms: self.value(elem) },
            Class::Capacitor => PartKind::Capacitor { ends, farads: self.value(elem), polar: elem.polar },
            Class::Inductor => PartKind::Inductor { ends, henries: self.value(elem) },
            Class::Variable => PartKind::Variable {
                control: self.travel(elem),
                ohms: self.value(elem),
                taper: elem.taper,
                ccw: Some(ends[0]),
                wiper: ends[1],
                cw: None,
            },
            Class::Switch => {
                let control = self.steps(elem, vec![0, 1], true);
                PartKind::Switch { control, contacts: vec![(1, ends)], unknown: None }
            }
            // Something connects its ends; what, is not known.
            Class::Unknown => PartKind::Resistor { ends, ohms: elem.value.clone() },
            Class::Amplifier => return,
        };
        self.part(elem, kind);
    }

    fn device(&mut self, d: &DevicePiece) {
        let pins: Vec<(&'static str, NodeId)> = d.pins.iter().map(|(p, w)| (*p, self.node(w))).collect();
        let positions: Vec<(u32, NodeId)> = d.positions.iter().map(|(n, w)| (*n, self.node(w))).collect();
        let pin = |name: &str| pins.iter().find(|(p, _)| *p == name).map(|(_, n)| *n);
        let own = self.own(&d.elem);
        let elem = &*own;
        let kind = match elem.class {
            Class::Amplifier => {
                let (Some(plus), Some(minus), Some(out)) = (pin("plus"), pin("minus"), pin("out")) else { return };
                let rails = pin("supply+").zip(pin("supply-")).map(|(p, n)| [p, n]);
                PartKind::Amplifier { sheet: self.sheet(elem), plus, minus, out, rails }
            }
            Class::Variable => {
                let Some(wiper) = pin("wiper") else { return };
                PartKind::Variable {
                    control: self.travel(elem),
                    ohms: self.value(elem),
                    taper: elem.taper,
                    ccw: pin("ccw"),
                    wiper,
                    cw: pin("cw"),
                }
            }
            Class::Switch => {
                let Some(pole) = pin("pole") else { return };
                let mut numbers: Vec<u32> = positions.iter().map(|p| p.0).collect();
                numbers.sort_unstable();
                let control = self.steps(elem, numbers, false);
                let contacts = positions.iter().map(|(n, node)| (*n, [pole, *node])).collect();
                PartKind::Switch { control, contacts, unknown: None }
            }
            _ => return,
        };
        self.part(elem, kind);
    }

    fn travel(&mut self, elem: &Elem) -> crate::circuit::ControlId {
        let rest = match elem.rest {
            Some(WrittenPosition::Share(p)) => p,
            _ => 0.5,
        };
        self.same_rest(elem, Position::Travel(rest));
        self.a.control(Control {
            name: elem.shaft.clone(),
            kind: ControlKind::Travel(elem.taper),
            rest: Position::Travel(rest),
            preset: false,
        })
    }

    /// The units of one shaft rest at one place: where a second unit says otherwise, that is told.
    fn same_rest(&mut self, elem: &Elem, rest: Position) {
        if let Some(why) = &elem.unrest {
            self.rested.unknown.push((elem.shaft.clone(), why.clone()));
        }
        if elem.rest.is_none() {
            return;
        }
        let Some(known) = self.a.controlled.get(&elem.shaft) else {
            self.rested.written.insert(elem.shaft.clone());
            return;
        };
        let known = &mut self.a.circuit.controls[known.at()];
        if self.rested.written.insert(elem.shaft.clone()) {
            // The first unit left it open; this one tells.
            known.rest = rest;
        } else if known.rest != rest {
            let message = format!(
                "{} rests elsewhere than the other units of {}: one {} moves them together",
                elem.name,
                elem.shaft,
                if elem.class == Class::Switch { "spindle" } else { "shaft" }
            );
            let why = format!("{} rests at two places", elem.shaft);
            self.rested.unknown.push((elem.shaft.clone(), why.into()));
            self.a.find(Weight::Error, self.place(elem.span), "gang-apart", message, &[&elem.name, &elem.shaft]);
        }
    }

    fn steps(&mut self, elem: &Elem, positions: Vec<u32>, plain: bool) -> crate::circuit::ControlId {
        let rest = match elem.rest {
            Some(WrittenPosition::Open) => 0,
            Some(WrittenPosition::Number(n)) => n,
            _ => 1,
        };
        if plain && rest > 1 {
            let message = format!("{} is open or closed, and has no position {rest}", elem.name);
            self.rested.unknown.push((elem.shaft.clone(), format!("{} has no position {rest}", elem.shaft).into()));
            self.a.find(Weight::Error, self.place(elem.span), "unknown-position", message, &[&elem.name]);
        }
        if !plain && !positions.contains(&rest) {
            let known = Circuit::list(&positions);
            self.a.find(
                Weight::Warning,
                self.place(elem.span),
                "unlisted-position",
                format!("{} stands at position {rest}, which connects nothing: its positions are {known}", elem.name),
                &[&elem.name],
            );
        }
        self.same_rest(elem, Position::Step(rest));
        self.a.control(Control {
            name: elem.shaft.clone(),
            kind: ControlKind::Steps { positions, plain },
            rest: Position::Step(rest),
            preset: false,
        })
    }

    fn sheet(&mut self, elem: &Elem) -> Arc<Sheet> {
        let ideal = library::ideal();
        let Some(kind) = &elem.kind else { return ideal };
        if &*kind.text == "ideal" {
            return ideal;
        }
        if let Some(sheet) = self.a.sheet(&kind.text) {
            return sheet;
        }
        let guess = self.a.may_guess();
        let near = {
            let own = self.a.sheets.keys().filter(|_| guess).map(|k| k.to_string());
            let all: Vec<String> = own.chain(library::names().map(str::to_string)).collect();
            notation::near::nearest(&kind.text, all.iter().map(String::as_str)).map(str::to_string)
        };
        let hint = near.as_ref().map_or_else(
            || format!("a block `datasheet {}: opamp` would give it one", kind.text),
            |n| format!("did you mean {n}"),
        );
        let unknown = Arc::new(Sheet {
            name: kind.text.clone(),
            unknown: Some(format!("{}'s type {} has no data sheet", elem.name, kind.text).into()),
            ..Sheet::default()
        });
        // A copy's is said at its pattern, and what a missing file would give is missing there.
        if self.a.incomplete || self.copy.is_some_and(|c| !c.overrides.contains_key(&elem.name[c.prefix.len()..])) {
            return unknown;
        }
        let place = self.place(kind.span);
        let fault = self.a.find(
            Weight::Error,
            place,
            "unknown-type",
            format!("{}'s type {} has no data sheet: {hint}", elem.name, kind.text),
            &[&elem.name, &kind.text],
        );
        if let Some(n) = near {
            fault.fixes.push(notation::tree::Fix { title: format!("write {n}"), edits: vec![(kind.span, n)] });
        }
        unknown
    }
}

impl Circuit {
    /// `1, 2 and 3`
    pub(crate) fn list(items: &[impl ToString]) -> String {
        let words: Vec<String> = items.iter().map(|i| i.to_string()).collect();
        match &words[..] {
            [] => "none".into(),
            [one] => one.clone(),
            [head @ .., last] => format!("{} and {last}", head.join(", ")),
        }
    }
}
