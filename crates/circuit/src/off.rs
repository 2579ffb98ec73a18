//! How far parts may be off: what `tolerance` and `matched` say, and what becomes of it where they cannot be read.
//!
//! Nominal readings hang on none of this. What is decided over tolerance does, so a line that cannot be read leaves it
//! unknown how far those parts are off that the line may have spoken of.

use notation::Name;
use notation::tree::{PartName, PartRef, Span, Word};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::assemble::{Assembly, Place};
use crate::circuit::{Given, Matched, Part, PartId};
use crate::design::{parts_of, unknown_part};
use crate::piece::Weight;

/// The classes whose parts have a value that may be off.
pub(crate) const CLASSES: [&str; 4] = ["R", "VR", "C", "L"];

/// A `matched` entry: its parts, its share, whether a part of it is missing, and where it stands.
struct Written {
    parts: Vec<PartRef>,
    share: Option<f64>,
    vague: bool,
    place: Place,
}

/// What the entries of a file say so far.
#[derive(Default)]
pub(crate) struct Off {
    matched: Vec<Written>,
    /// Tolerances of a class that cannot be read.
    lost: Vec<Name>,
    /// Parts whose `matched` is misspelt; none of them where it names none.
    misspelt: Vec<(Vec<PartName>, Name)>,
}

impl Off {
    /// Takes a `tolerance` entry in; `lost` says that more stands in it than could be read.
    pub fn tolerance(
        &mut self,
        a: &mut Assembly,
        shares: &[(Word, Option<f64>)],
        lost: bool,
        at: impl Fn(Span) -> Place,
    ) {
        for (word, share) in shares {
            let Some(class) = class_of(&word.text) else {
                self.lost.push(format!("whose tolerance {} is cannot be read", word.text).into());
                continue;
            };
            let known = a.circuit.tolerances.iter_mut().find(|t| &*t.0 == class);
            match (known, share) {
                (Some((_, first)), Some(_)) => {
                    if first.number() != *share && first.number().is_some() {
                        *first = Given::Unknown(format!("{class} has two tolerances").into());
                    }
                    let message = format!("{class} has a tolerance already: take one of the two away");
                    a.find(Weight::Error, at(word.span), "repeated-tolerance", message, &[class]);
                }
                (Some((_, first)), None) => *first = unread(class),
                (None, Some(share)) if &*word.text == class => {
                    a.circuit.tolerances.push((class.into(), Given::Number(*share)));
                }
                (None, _) => a.circuit.tolerances.push((class.into(), unread(class))),
            }
        }
        if lost {
            self.lost.push("a tolerance cannot be read".into());
        }
    }

    /// Takes a `matched` entry in; `vague` says that not all of its parts could be read.
    pub fn matched(&mut self, parts: &[PartRef], share: Option<f64>, vague: bool, place: Place) {
        self.matched.push(Written { parts: parts.to_vec(), share, vague, place });
    }

    /// Takes an entry in whose first word is a slip away from `tolerance` or `matched`, with the names in it.
    pub fn misspelt(&mut self, a: &mut Assembly, word: &Word, meant: &str, names: &[Word], parts: &[PartName]) {
        let why: Name = format!("what {} says cannot be read", word.text).into();
        if meant == "matched" {
            return self.misspelt.push((parts.to_vec(), why));
        }
        let named = names.iter().map(|w| &w.text).chain(parts.iter().map(|p| &p.class));
        let classes: Vec<&str> = named.filter_map(|n| class_of(n)).collect();
        if classes.is_empty() {
            self.lost.push(why.clone());
        }
        for class in classes {
            a.circuit.tolerances.retain(|t| &*t.0 != class);
            a.circuit.tolerances.push((class.into(), Given::Unknown(why.clone())));
        }
    }

    /// Takes all in that hangs on the parts, which are there by now.
    pub fn settle(self, a: &mut Assembly) {
        // Nobody knows of which class they speak: of none that has a tolerance already.
        if let Some(why) = self.lost.first() {
            for class in CLASSES {
                if !a.circuit.tolerances.iter().any(|t| &*t.0 == class) {
                    a.circuit.tolerances.push((class.into(), Given::Unknown(why.clone())));
                }
            }
        }
        for written in self.matched {
            group(a, written);
        }
        contradictions(a);
        misspelt(a, &self.misspelt);
    }
}

/// Takes in what lines say whose `matched` is misspelt, all of them at once: of the parts that they name it is not known how far
/// they match, and of all parts where a line names none that is there.
fn misspelt(a: &mut Assembly, lines: &[(Vec<PartName>, Name)]) {
    let Some((_, why)) = lines.first() else { return };
    let parts = &a.circuit.parts;
    // Whether `all` stood in front of a name is lost with the line.
    let there: FxHashSet<&Name> = parts.iter().flat_map(|p| [Some(&p.name), p.copy_of.as_ref()]).flatten().collect();
    let blind = lines.iter().any(|(names, _)| !names.iter().any(|n| there.contains(&n.text)));
    let named: FxHashSet<&Name> = lines.iter().flat_map(|(names, _)| names.iter().map(|n| &n.text)).collect();
    let meant = |p: &Part| blind || named.contains(&p.name) || p.copy_of.as_ref().is_some_and(|n| named.contains(n));
    let parts = ids(a, meant);
    a.circuit.matched.push(Matched { parts, share: Given::Unknown(why.clone()) });
}

/// The class that is meant by a word: by its letters in either case, or by a part's name.
fn class_of(word: &str) -> Option<&'static str> {
    let letters = word.trim_end_matches(|c: char| c.is_ascii_digit());
    CLASSES.into_iter().find(|c| c.eq_ignore_ascii_case(letters))
}

fn unread(class: &str) -> Given {
    Given::Unknown(format!("{class}'s tolerance cannot be read").into())
}

fn ids(a: &Assembly, is: impl Fn(&Part) -> bool) -> Vec<PartId> {
    (0..a.circuit.parts.len()).filter(|i| is(&a.circuit.parts[*i])).map(|i| PartId(i as u32)).collect()
}

/// Takes the group of a `matched` entry in.
fn group(a: &mut Assembly, written: Written) {
    let Written { parts, share, vague, place } = written;
    let mut all = Vec::new();
    let mut why: Option<Name> = None;
    for part in &parts {
        let found = parts_of(&a.circuit, part);
        if found.is_empty() {
            let fault = unknown_part(&a.circuit, &part.part);
            let place = Place { span: part.part.span, ..place };
            let fixes = fault.fixes.clone();
            a.find(Weight::Error, place, fault.id, fault.message, &[&part.part.text]).fixes = fixes;
            why.get_or_insert(format!("there is no {} to match, so what matches is not known", part.part.text).into());
        }
        all.extend(found);
    }
    if vague {
        why.get_or_insert("which parts match cannot be read".into());
    }
    // Any part of its kind may be the one that is missing.
    if why.is_some()
        && let Some(class) = parts.first().map(|p| p.part.class.clone())
    {
        all.extend(ids(a, |p| p.kind.class() == &*class));
    }
    let share = match (why, share) {
        (Some(why), _) => Given::Unknown(why),
        (None, Some(share)) => Given::Number(share),
        (None, None) => Given::Unknown("how far matched parts differ cannot be read".into()),
    };
    let share = match (unlike(a, &parts, &all, place), share) {
        (Some(why), Given::Number(_)) => Given::Unknown(why),
        (_, share) => share,
    };
    all.sort_unstable();
    all.dedup();
    a.places.matched.push(place);
    a.circuit.matched.push(Matched { parts: all, share });
}

/// Says that parts of a group cannot match each other, and why that leaves it unknown.
fn unlike(a: &mut Assembly, parts: &[PartRef], all: &[PartId], place: Place) -> Option<Name> {
    let first = all.first()?;
    let class = |p: &PartId| a.circuit.parts[p.at()].kind.class();
    let name = a.circuit.parts[first.at()].name.to_string();
    let place = Place { span: parts.first()?.part.span, ..place };
    if let Some(odd) = all.iter().find(|p| class(p) != class(first)) {
        let odd = a.circuit.parts[odd.at()].name.to_string();
        let message = format!("{name} and {odd} are parts of different kinds: only like parts can match");
        a.find(Weight::Error, place, "unlike-parts", message, &[&name, &odd]);
        return Some(format!("{name} and {odd} cannot match").into());
    }
    if !CLASSES.contains(&class(first)) {
        let message = format!("{name} has no value that could match another's: parts of R, VR, C and L have");
        a.find(Weight::Error, place, "unlike-parts", message, &[&name]);
    }
    None
}

/// Two entries that match one part by different shares: neither is sure to be meant.
fn contradictions(a: &mut Assembly) {
    let mut first: FxHashMap<PartId, (usize, f64)> = Default::default();
    let mut apart: Vec<(usize, usize, PartId)> = Vec::new();
    for (i, group) in a.circuit.matched.iter().enumerate() {
        let Some(share) = group.share.number() else { continue };
        let mut told = false;
        for part in &group.parts {
            let (other, known) = *first.entry(*part).or_insert((i, share));
            if known != share && !told {
                apart.push((other, i, *part));
                told = true;
            }
        }
    }
    for (one, other, part) in apart {
        let name = a.circuit.parts[part.at()].name.to_string();
        let why: Name = format!("{name} is matched by two different shares").into();
        for group in [one, other] {
            a.circuit.matched[group].share = Given::Unknown(why.clone());
        }
        let message = format!(
            "{name} is matched already, by another share: parts that match each other stand in one line with one share"
        );
        let place = a.places.matched[other];
        a.find(Weight::Error, place, "matched-twice", message, &[&name]);
    }
}
