//! What `assume` and `formula` speak of: names that are there, errors in dB or %, and dimensions that fit.

use notation::tree::{
    Amount, AssumeClause, AssumeEntry, BlockKind, Expr, Fault, Fix, FormulaEntry, Heading, QuantityPhrase, Span,
    Subject, Word,
};
use num_complex::Complex64;
use quantity::{Unit, Want};

use crate::assemble::{Assembly, File, Place};
use crate::circuit::PartKind;
use crate::expr::{self, Failure};
use crate::piece::{self, PieceKind, Weight, fault};
use crate::resolve::{Refusal, resolve, want_of};

/// Checks the entries and headings of `assume` and `formula`. They wait while a line of the circuit is unfinished: the name that
/// they speak of may be on its way.
pub(crate) fn check(a: &mut Assembly, file: &File) {
    let torn = a.places.torn.is_some();
    for (b, block) in file.blocks.iter().enumerate() {
        if let (Some(BlockKind::Assume), Some(Heading::Assume { within: Some(error) })) =
            (block.kind, block.heading.map(|h| &h.tree))
            && let Some(wrong) = error_fault(a, error)
        {
            tell(a, Place { block: b as u32, entry: None, span: wrong.span }, wrong);
        }
        for (e, piece) in block.entries.iter().enumerate() {
            let found = match &piece.kind {
                PieceKind::Assume(entry) => assumed(a, entry, torn),
                PieceKind::Formula(entry) if !torn => formula(a, entry),
                _ => None,
            };
            if let Some(wrong) = found {
                tell(a, Place { block: b as u32, entry: Some(e as u32), span: wrong.span }, wrong);
            }
        }
    }
}

fn tell(a: &mut Assembly, place: Place, wrong: Fault) {
    let fixes = wrong.fixes.clone();
    a.find(Weight::Error, place, wrong.id, wrong.message, &[]).fixes = fixes;
}

/// What is wrong with an error that is allowed: it is a span in decibels or a share.
fn error_fault(a: &Assembly, error: &Amount) -> Option<Fault> {
    let figure = match error {
        Amount::Figure(figure) => figure,
        Amount::Expression(expr) => {
            let scope = a.env.scope(0, &"".into());
            // A span in decibels that is written as one, or a plain share.
            let decibels = expr::wanted(expr, &scope, Want::Decibels);
            return match decibels.or_else(|_| expr::wanted(expr, &scope, Want::Percentage)) {
                Err(Failure::Here(wrong)) => Some(wrong),
                _ => None,
            };
        }
    };
    match piece::decode(figure, Want::Any) {
        Err(wrong) => Some(wrong),
        Ok((_, Unit::One, _)) if figure.unit.is_none() => {
            let text = &figure.text;
            let mut wrong = fault("unit-missing", figure.span, format!("{text} of what? dB or %"));
            for unit in ["dB", "%"] {
                let fix = format!("{text} {unit}");
                wrong.fixes.push(Fix { title: format!("write {fix}"), edits: vec![(figure.span, fix)] });
            }
            Some(wrong)
        }
        Ok((x, Unit::Decibel | Unit::Percent, _)) if x > 0.0 => None,
        Ok((_, Unit::Decibel | Unit::Percent, _)) => {
            Some(fault("error-not-positive", figure.span, "An error that is allowed is greater than 0"))
        }
        Ok((_, unit, _)) => {
            let message = format!("An error is in dB or in %, and this is {}", unit.measures());
            Some(fault("unreadable-figure", figure.span, message))
        }
    }
}

/// The leftmost thing that is wrong with an assumption; while the circuit is `torn`, of its figures alone.
fn assumed(a: &mut Assembly, entry: &AssumeEntry, torn: bool) -> Option<Fault> {
    let subjects = entry.subjects.iter().filter(|_| !torn);
    let neglect = entry.neglect.as_ref();
    if let Some(wrong) = subjects.filter_map(|s| subject_fault(a, s, neglect)).next() {
        return Some(wrong);
    }
    let mut found: Vec<Fault> = Vec::new();
    let (mut above, mut below) = (None, None);
    for clause in &entry.clauses {
        match clause {
            AssumeClause::Above(at) => above = frequency(a, at, &mut found),
            AssumeClause::Below(at) => below = frequency(a, at, &mut found),
            AssumeClause::Over(low, high) => {
                let (x, y) = (frequency(a, low, &mut found), frequency(a, high, &mut found));
                if let (Some((x, _)), Some((y, span))) = (x, y)
                    && x >= y
                {
                    let said = "the band ends below its beginning: the lower frequency stands first";
                    found.push(fault("band-order", span, said));
                }
            }
            AssumeClause::On(quantity) => found.extend(quantity.as_ref().filter(|_| !torn).and_then(|q| phrase(a, q))),
            AssumeClause::Within(error) => found.extend(error.as_ref().and_then(|e| error_fault(a, e))),
        }
    }
    if let (Some((x, first)), Some((y, second))) = (above, below)
        && x >= y
    {
        let said = "no frequency is above the one and below the other: the lower one stands behind `above`";
        found.push(fault("band-order", first.to(second), said));
    }
    found.into_iter().min_by_key(|f| f.span.start)
}

/// A frequency with its place; what is wrong with its size is found. What cannot be read is told with the entry.
fn frequency(a: &Assembly, amount: &Option<Amount>, found: &mut Vec<Fault>) -> Option<(f64, Span)> {
    let amount = amount.as_ref()?;
    let f = match amount {
        Amount::Figure(figure) => piece::decode(figure, Want::Frequency).ok()?.0,
        Amount::Expression(expr) => match expr::wanted(expr, &a.env.scope(0, &"".into()), Want::Frequency) {
            Ok((f, _)) => f,
            Err(Failure::Here(wrong)) => {
                found.push(wrong);
                return None;
            }
            Err(_) => return None,
        },
    };
    match piece::frequency_fault(f, amount.span(), "a frequency above 0 Hz is wanted here") {
        Some(wrong) => {
            found.push(wrong);
            None
        }
        None => Some((f, amount.span())),
    }
}

fn subject_fault(a: &mut Assembly, subject: &Subject, neglect: Option<&Word>) -> Option<Fault> {
    let neglect = neglect.map_or("", |w| &*w.text);
    match subject {
        Subject::Part(part) => {
            let parts = crate::design::parts_of(&a.circuit, part);
            let Some(first) = parts.first() else {
                let word = Word { text: part.part.text.clone(), span: part.part.span };
                let copied = crate::placed::in_copies_only(&a.circuit, &word);
                return Some(copied.unwrap_or_else(|| unknown(a, &word, "part")));
            };
            let amplifier = matches!(a.circuit.parts[first.at()].kind, PartKind::Amplifier { .. });
            let name = &part.part.text;
            match (amplifier, neglect) {
                (true, "short" | "open") => {
                    let said = format!("{name} is an amplifier, and has no two ends to be {neglect}: it may be ideal");
                    Some(fault("neglect-of-other", part.part.span, said))
                }
                (false, "ideal") => {
                    let said =
                        format!("{name} is ideal as it stands: a part with two ends is neglected as short or as open");
                    Some(fault("neglect-of-other", part.part.span, said))
                }
                _ => None,
            }
        }
        Subject::Stage(word) => {
            let word = word.as_ref()?;
            let Some(stage) = a.circuit.stages.iter().find(|s| s.name == word.text) else {
                return Some(unknown(a, word, "stage"));
            };
            let said = match neglect {
                "short" | "ideal" => {
                    format!("{} is a stage, which is neglected as open: its inputs then draw nothing", word.text)
                }
                "open" if stage.inputs.is_empty() => {
                    format!("{} has no input port, so nothing can be drawn by it", word.text)
                }
                _ => return None,
            };
            Some(fault("neglect-of-other", word.span, said))
        }
    }
}

/// What to say of a name that nobody has; the nearest one is looked for only so often.
fn unknown(a: &mut Assembly, word: &Word, kind: &str) -> Fault {
    let guess = a.may_guess();
    let names: Vec<&str> = match kind {
        _ if !guess => Vec::new(),
        "stage" => a.circuit.stages.iter().map(|s| &*s.name).collect(),
        _ => a.circuit.parts.iter().map(|p| &*p.name).collect(),
    };
    crate::placed::unknown(word, kind, names.into_iter())
}

/// What is wrong with a quantity.
fn phrase(a: &Assembly, quantity: &QuantityPhrase) -> Option<Fault> {
    match resolve(&a.circuit, quantity) {
        Err(Refusal::Wrong(wrong)) => Some(wrong),
        _ => None,
    }
}

/// The leftmost thing that is wrong with a formula.
fn formula(a: &Assembly, entry: &FormulaEntry) -> Option<Fault> {
    let quantity = entry.quantity.as_ref()?;
    if let Some(wrong) = phrase(a, quantity) {
        return Some(wrong);
    }
    let expr = entry.value.as_ref()?;
    let words = quantity.phrase?;
    let want = want_of(quantity);
    // A corner or a Q is one value; a response has one at each frequency.
    let one = matches!(want, Want::Frequency | Want::Number | Want::Voltage | Want::Current | Want::Power);
    let at = at_reference(a);
    match expr::evaluate(expr, &a.env.scope(0, &"".into()), (!one).then_some(at)) {
        Err(Failure::Here(wrong)) => Some(wrong),
        Err(Failure::Elsewhere(why)) => Some(fault(why.rule?, expr.span, why.clause)),
        Err(Failure::Unreadable) => None,
        Ok(term) => misfit(words, want, term.dimension, expr),
    }
}

/// The complex frequency at which a curve's dimensions are looked at.
fn at_reference(a: &Assembly) -> Complex64 {
    Complex64::new(0.0, std::f64::consts::TAU * a.circuit.reference)
}

/// What to say of a right side that is no quantity of the left side's kind.
fn misfit(words: &str, want: Want, is: quantity::Dimension, expr: &Expr) -> Option<Fault> {
    let plain = matches!(want, Want::Gain | Want::Decibels | Want::Angle | Want::Number);
    let fits = match is.unit() {
        Some(Unit::One) => plain,
        Some(unit) => want.takes(unit),
        None => false,
    };
    if fits {
        return None;
    }
    let kind = match want {
        Want::Gain | Want::Decibels => "a ratio",
        Want::Level => "a voltage",
        _ => want.words(),
    };
    let said = format!("{words} is {kind}, and this comes to {}", is.name());
    Some(fault("wrong-dimension", expr.span, said))
}
