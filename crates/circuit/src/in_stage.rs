//! A stage's entries: paths and devices become parts with their ends, values and controls.

use notation::Name;
use std::borrow::Cow;
use std::sync::Arc;

use rustc_hash::FxHashMap as HashMap;

use notation::tree::{Span, Word};

use crate::assemble::{Assembly, Place};
use crate::circuit::{Circuit, Control, ControlKind, Given, NodeId, Part, PartKind, Position, Sheet, StageId};
use crate::copies::Copy;
use crate::device::DevicePiece;
use crate::element::{Class, Elem};
use crate::library;
use crate::piece::{PathStep, Weight, WrittenPosition};
use crate::rested::{Rested, make_unknown};

/// A stage while its entries are taken in.
pub(crate) struct InStage<'a, 'b> {
    pub(crate) a: &'a mut Assembly,
    pub(crate) stage: StageId,
    pub(crate) block: u32,
    pub(crate) entry: u32,
    /// The copy that is being made, where it is one.
    pub(crate) copy: Option<&'a Copy<'a>>,
    /// In which block each name of a part stands first, and where that part is while no second one shares the name.
    pub(crate) seen: &'b mut HashMap<Name, (u32, Option<usize>)>,
    pub(crate) repeats: &'b mut Vec<(Place, Name, u32)>,
    /// Where shafts and spindles rest.
    pub(crate) rested: &'b mut Rested,
    /// The latest joint of two parts in a row in this entry, by the step in front of it, with its node.
    pub(crate) joint: Option<(usize, NodeId)>,
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
        if let Some((first, part)) = self.seen.get_mut(&elem.name).map(|(first, part)| (*first, part.take())) {
            self.repeats.push((self.place(elem.name_span), elem.name.clone(), first));
            // Neither is sure to be the one that is meant.
            let why: Name = format!("two parts are called {}", elem.name).into();
            make_unknown(&mut kind, &why);
            // The first of them; those between are taken already.
            if let Some(part) = part {
                make_unknown(&mut self.a.circuit.parts[part].kind, &why);
            }
        } else {
            self.seen.insert(elem.name.clone(), (self.block, Some(self.a.circuit.parts.len())));
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
            made_of: elem.made_of.clone(),
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

    pub(crate) fn path(&mut self, steps: &[PathStep]) {
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

    pub(crate) fn device(&mut self, d: &DevicePiece) {
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
        let positions = if plain { positions } else { with_gaps(positions) };
        if !plain && !positions.contains(&rest) {
            let known = Circuit::list(&positions);
            self.a.find(
                Weight::Warning,
                self.place(elem.span),
                "unlisted-position",
                match rest {
                    0 => format!("{} stands open, which is none of its positions: those are {known}", elem.name),
                    _ => format!(
                        "{} stands at position {rest}, which connects nothing: its positions are {known}",
                        elem.name
                    ),
                },
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
            let all: Vec<String> = own.chain(library::names().map(str::to_string)).chain(["ideal".into()]).collect();
            let all = || all.iter().map(String::as_str);
            // A type as it is printed on the part: 5532 is ne5532, LM358A is near lm358.
            let ending = || all().find(|known| kind.text.len() > 2 && known.ends_with(&*kind.text));
            let small = kind.text.to_lowercase();
            let near = notation::near::nearest(&kind.text, all()).or_else(ending);
            near.or_else(|| all().find(|k| **k == small).or_else(|| notation::near::nearest(&small, all())))
                .map(str::to_string)
        };
        let hint = near.as_ref().map_or_else(
            || format!("a block `datasheet {}: opamp` would give it one", kind.text),
            |n| format!("did you mean {n}"),
        );
        let missing = self.a.incomplete.as_ref().map_or_else(String::new, |missing| format!(": {missing}"));
        let unknown = Arc::new(Sheet {
            name: kind.text.clone(),
            unknown: Some(format!("{}'s type {} has no data sheet{missing}", elem.name, kind.text).into()),
            ..Sheet::default()
        });
        // A copy's is said at its pattern, and what a missing file would give is missing there.
        if self.a.incomplete.is_some()
            || self.copy.is_some_and(|c| !c.overrides.contains_key(&elem.name[c.prefix.len()..]))
        {
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

/// So many positions a switch has at most whose gaps are taken for positions that connect nothing.
const MOST_POSITIONS: u32 = 48;

/// A selector's positions with those between them that are not listed: there it connects nothing.
fn with_gaps(mut listed: Vec<u32>) -> Vec<u32> {
    let last = listed.iter().copied().max().unwrap_or(0);
    if last <= MOST_POSITIONS {
        listed.extend(1..=last);
        listed.sort_unstable();
        listed.dedup();
    }
    listed
}
