//! Parts in a path: class, value and attributes.

use notation::Name;
use std::sync::Arc;

use notation::tree::{Amount, Attribute, Element, Expr, ExprKind, Path, Span, Step, Word};
use quantity::{Series, Want};

use crate::attribute;
use crate::circuit::{Given, Ratings, Taper, Tolerance};
use crate::piece::{PathStep, Reader, Weight, WrittenPosition, fault, in_reach, out_of_reach};

/// The classes of part that have a meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Class {
    /// `R`
    Resistor,
    /// `VR`
    Variable,
    /// `C`
    Capacitor,
    /// `L`
    Inductor,
    /// `U`
    Amplifier,
    /// `SW`
    Switch,
    /// The shape of a designator, but no class of this edition.
    Unknown,
}

impl Class {
    /// The class of these letters.
    pub fn of(letters: &str) -> Class {
        match letters {
            "R" => Class::Resistor,
            "VR" => Class::Variable,
            "C" => Class::Capacitor,
            "L" => Class::Inductor,
            "U" => Class::Amplifier,
            "SW" => Class::Switch,
            _ => Class::Unknown,
        }
    }
}

/// A part as an entry gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct Elem {
    /// Its designator.
    pub name: Name,
    /// The designator's place.
    pub name_span: Span,
    /// The place of the designator and all that follows it.
    pub span: Span,
    /// Its class.
    pub class: Class,
    /// Without its unit letter: what is set together.
    pub shaft: Name,
    /// Its value in SI units.
    pub value: Given,
    /// A value is written, readable or not.
    pub valued: bool,
    /// What the value is worked out from, and the series that it is rounded to.
    pub expression: Option<Arc<Expr>>,
    /// The series that it is of, or is rounded to.
    pub series: Option<Series>,
    /// What an expression came to in front of the rounding.
    pub exact: Option<f64>,
    /// An amplifier's type.
    pub kind: Option<Word>,
    /// The taper.
    pub taper: Taper,
    /// The taper is written.
    pub tapered: bool,
    /// How far its value may be off.
    pub tolerance: Option<Tolerance>,
    /// What it may be put to.
    pub ratings: Ratings,
    /// An order code or another quoted note.
    pub note: Option<Name>,
    /// The words that say how it is made.
    pub made_of: Vec<Name>,
    /// Where a control rests.
    pub rest: Option<WrittenPosition>,
    /// Why where it rests is not known though something is written: a clause.
    pub unrest: Option<Name>,
    /// Why the part is not known as a whole, whatever its value: a clause. Its attributes contradict each other, say.
    pub doubt: Option<Name>,
    /// Must not be reversed.
    pub polar: bool,
    /// Its dielectric is an oxide.
    pub electrolytic: bool,
    /// In the circuit, not on the parts list.
    pub external: bool,
    /// On the parts list, not in the circuit.
    pub unfitted: bool,
}

/// Reads a path.
pub(crate) fn path(reader: &mut Reader, path: &Path) -> Vec<PathStep> {
    path.steps
        .iter()
        .map(|step| match step {
            Step::Node(word) => PathStep::Node(word.clone()),
            Step::Missing(_) => PathStep::Missing,
            Step::Parts(parts) => PathStep::Parts(
                parts
                    .iter()
                    .flatten()
                    .map(|e| {
                        let elem = element(reader, e);
                        if elem.class == Class::Amplifier {
                            reader.torn(fault(
                                "amplifier-in-path",
                                elem.span,
                                format!("{0} has three terminals and cannot stand in a path: write a line of its own, `{0} type: + in, - fb, out drive`", elem.name),
                            ));
                        }
                        elem
                    })
                    .collect(),
            ),
        })
        .collect()
}

/// Reads a part with its value and attributes.
pub(crate) fn element(reader: &mut Reader, e: &Element) -> Elem {
    let class = Class::of(&e.part.class);
    let name = &*e.part.text;
    if class == Class::Unknown {
        reader.open(fault(
            "unknown-class",
            e.part.span,
            format!("{name}: this edition knows no class {}. Classes are R, VR, C, L, U and SW; a node's name must not look like a designator", e.part.class),
        ));
    }
    let mut elem = Elem {
        name: name.into(),
        name_span: e.part.span,
        span: e.span,
        class,
        shaft: notation::device_of(name).into(),
        value: Given::Unknown(format!("{name} has no value").into()),
        valued: e.value.is_some(),
        expression: None,
        series: None,
        exact: None,
        kind: None,
        taper: Taper::Linear,
        tapered: false,
        tolerance: None,
        ratings: Ratings::default(),
        note: None,
        made_of: Vec::new(),
        rest: None,
        unrest: None,
        doubt: None,
        polar: false,
        electrolytic: false,
        external: false,
        unfitted: false,
    };
    reader.subject = name.to_string();
    value(reader, e, &mut elem);
    for attribute in &e.attributes {
        attribute::attribute(reader, e, attribute, &mut elem);
    }
    attribute::contradictions(reader, e, &mut elem);
    reader.subject.clear();
    elem
}

/// Reads what a copy replaces. One that says nothing readable is open: it does not leave the pattern's value standing.
pub(crate) fn replacement(reader: &mut Reader, e: &Element) -> Elem {
    let mut elem = element(reader, e);
    if e.value.is_none() && reader.trouble.is_some() {
        elem.valued = true;
        let said = if e.attributes.is_empty() { "has no value" } else { "has no readable value" };
        elem.value = Given::Unknown(format!("{} {said}", elem.name).into());
        if matches!(elem.class, Class::Amplifier | Class::Switch) {
            elem.doubt = Some(format!("what replaces {} cannot be read", elem.name).into());
        }
    } else if reader.trouble.is_some() && elem.value.number().is_some() {
        elem.doubt.get_or_insert(format!("{}'s value cannot be read", elem.name).into());
    } else if reader.findings.iter().any(|(w, f)| *w == Weight::Error && misplaced(f.id, elem.class)) {
        elem.doubt.get_or_insert(format!("what replaces {} cannot be read", elem.name).into());
    }
    elem
}

/// Whether a fault means that a replacing entry may speak of another part, or of another state, than it seems to. In a stage
/// the rest of the part's own line tells; here the pattern's would stand in its place.
fn misplaced(id: &str, class: Class) -> bool {
    match id {
        "state-of-fixed-part" | "rest-of-fixed-part" | "taper-on-fixed-part" => true,
        "repeated-attribute" => matches!(class, Class::Switch | Class::Variable),
        _ => false,
    }
}

fn value(reader: &mut Reader, e: &Element, elem: &mut Elem) {
    let want = match elem.class {
        Class::Resistor | Class::Variable => Want::ResistorValue,
        Class::Capacitor => Want::CapacitorValue,
        Class::Inductor => Want::InductorValue,
        Class::Amplifier => {
            if let Some(Amount::Figure(f)) = &e.value {
                let text = format!("{}{}", f.text, f.unit.as_deref().unwrap_or(""));
                elem.kind = Some(Word { text: text.into(), span: f.span });
            }
            return;
        }
        Class::Switch => {
            if let Some(value) = &e.value {
                elem.unrest = Some(format!("how {} rests cannot be read", elem.shaft).into());
                reader.open(fault(
                    "switch-with-value",
                    value.span(),
                    format!("{0} has no value: `{0} open`, `{0} closed`, or `{0} at 2: pole a, 1 b, 2 c`", elem.name),
                ));
            }
            return;
        }
        Class::Unknown => {
            elem.value = Given::Unknown(format!("what {} is cannot be read", elem.name).into());
            return;
        }
    };
    match &e.value {
        Some(Amount::Figure(f)) => {
            elem.value = match reader.decode(f, want) {
                Some(_) if f.signed => {
                    let plain = format!("{}{}", f.text, f.unit.as_deref().unwrap_or(""));
                    let mut fault = fault(
                        "value-with-sign",
                        f.span,
                        format!(
                            "{}'s value has no sign: a part is {plain}, and what turns it round is how it is wired",
                            elem.name
                        ),
                    );
                    fault
                        .fixes
                        .push(notation::tree::Fix { title: format!("write {plain}"), edits: vec![(f.span, plain)] });
                    reader.open(fault);
                    Given::Unknown(format!("{}'s value has a sign", elem.name).into())
                }
                Some((x, _)) if !in_reach(x) => {
                    reader.open(out_of_reach(f.span, &format!("{}'s value", elem.name)));
                    Given::Unknown(format!("{}'s value cannot be reckoned with", elem.name).into())
                }
                Some((x, _)) if x.is_finite() => Given::Number(x),
                _ => Given::Unknown(format!("{}'s value cannot be read", elem.name).into()),
            }
        }
        Some(Amount::Expression(expr)) => {
            let series = e.attributes.iter().find_map(|a| match a {
                Attribute::Series(w) => Series::read(&w.text),
                _ => None,
            });
            elem.expression = Some(Arc::new(expr.clone()));
            reader.elsewhere = None;
            elem.value = match reader.expression(expr, want) {
                Some((exact, _)) if !in_reach(exact) => {
                    reader.open(out_of_reach(expr.span, &format!("what {} would have to be", elem.name)));
                    Given::Unknown(format!("{}'s value cannot be reckoned with", elem.name).into())
                }
                Some((exact, _)) if exact > 0.0 || (exact == 0.0 && elem.class == Class::Resistor) => {
                    elem.exact = Some(exact);
                    Given::Number(rounded(exact, series))
                }
                Some((exact, unit)) => {
                    let value =
                        quantity::computed(exact, unit, quantity::Style::default()).unwrap_or_else(|| "0".into());
                    reader.open(fault(
                        "value-not-positive",
                        expr.span,
                        format!("{} would have to be {value}, which no part is", elem.name),
                    ));
                    Given::Unknown(format!("{}'s value comes to {value}", elem.name).into())
                }
                None => Given::Unknown(match reader.elsewhere.take() {
                    Some(why) => why.into(),
                    None if matches!(expr.kind, ExprKind::Spoiled(_)) => {
                        format!("{}'s value cannot be read", elem.name).into()
                    }
                    None => format!("{}'s value cannot be worked out", elem.name).into(),
                }),
            };
        }
        None => {}
    }
}

/// A value rounded to a series, if there is one: the member that is nearest in ratio.
pub(crate) fn rounded(value: f64, series: Option<Series>) -> f64 {
    series.and_then(|s| s.nearest(value)).unwrap_or(value)
}
