//! Formulas: the algebra against the hand model, and what the assumptions cost against the exact circuit.

use std::f64::consts::SQRT_2;

use analysis::compare::Difference;
use analysis::reading::Kind;
use circuit::Name;
use num_complex::Complex64;
use quantity::{Style, Unit};

use crate::assume::{at, fine};

/// How far algebra that is right may lie from the hand model, as a share: nothing but rounding.
pub const RIGHT: f64 = 1e-9;

/// Within this share a formula for one value (a corner, a natural frequency, a Q) is right.
pub const WITHIN: f64 = 0.05;

/// The formula beside the hand model, at one position and one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// In hertz.
    pub hertz: f64,
    /// The position; empty where none matters.
    pub position: Name,
    /// The hand model.
    pub hand: Complex64,
    /// What the formula comes to.
    pub formula: Complex64,
}

/// What was found of a formula.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// The algebra is right for the hand model.
    Right {
        /// What the assumptions cost at most where they are stated to hold, the hand model beside the exact circuit.
        cost: Result<Difference, String>,
        /// It is right as long as values that are equal stay equal, or only with these values.
        when: Condition,
    },
    /// It is right for the exact circuit, and neglects less than the assumptions do.
    Exact,
    /// It is not.
    Wrong {
        /// Where it is furthest off.
        worst: Sample,
        /// The slip that explains it everywhere, if one does: a clause.
        slip: Option<String>,
        /// The expression without that slip, where one place changed makes it right.
        instead: Option<String>,
        /// What would have to be neglected besides for it to be right, as assumptions say it: `U1a ideal`.
        unsaid: Vec<Name>,
        /// The assumptions that it does not make: it keeps what they neglect, and is right so.
        kept: Vec<Name>,
    },
    /// A single value beside the exact circuit's.
    Value {
        /// What the formula comes to, in base units.
        formula: f64,
        /// The circuit.
        exact: f64,
        /// The slip with which the formula would come to that: a clause.
        slip: Option<String>,
        /// The expression without it.
        instead: Option<String>,
        /// The frequency, in hertz, against whose level the corner is what the formula says.
        against: Option<f64>,
    },
}

/// What the rightness of a formula hangs on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Nothing: it is right with other values, too.
    None,
    /// Parts of equal value stay equal.
    EqualStayEqual {
        /// Which, by value.
        alike: Vec<Vec<Name>>,
        /// The slip without which it would be right whatever they are, if one is found: a clause.
        slip: Option<String>,
        /// The expression without it.
        instead: Option<String>,
    },
    /// These values and no others.
    TheseValues,
    /// It was not tried with others.
    NotTried,
}

/// Whether a formula agrees with the hand model.
pub fn agrees(sample: &Sample) -> bool {
    off(sample) <= RIGHT
}

fn off(sample: &Sample) -> f64 {
    let size = sample.hand.norm().max(sample.formula.norm());
    if size == 0.0 { 0.0 } else { (sample.formula - sample.hand).norm() / size }
}

/// The sample in which the algebra is furthest off; the first of equals.
pub fn furthest(samples: &[Sample]) -> Option<&Sample> {
    samples.iter().reduce(|a, b| if off(b) > off(a) * (1.0 + 1e-6) { b } else { a })
}

/// The slip that turns the formula into what the hand model says at every sample.
pub fn slip(samples: &[Sample]) -> Option<&'static str> {
    let one = Complex64::new(1.0, 0.0);
    let tau = std::f64::consts::TAU;
    type Mended = fn(Complex64) -> Complex64;
    // What is added takes size away from what is negative: there too much and too little change places.
    let smaller = samples.iter().all(|s| s.hand.norm() < s.formula.norm());
    let slips: [(&'static str, Mended); 13] = [
        ("the sign is the other way round", |f| -f),
        ("it is upside down: the ratio is the other way round", |f| f.inv()),
        ("it is upside down, and its sign is the other way round", |f| -f.inv()),
        (if smaller { "`1 +` is too much" } else { "`1 +` is missing" }, |f| f + 1.0),
        (if smaller { "`1 +` is too much" } else { "`1 +` is missing" }, |f| f - 1.0),
        ("`1 +` is missing, and the ratio is the other way round", |f| f.inv() + 1.0),
        ("it is off by exactly 2: a factor of 2 is missing", |f| f * 2.0),
        ("it is off by exactly 2: a factor of 2 is too much", |f| f / 2.0),
        ("j is missing or too much: it is a quarter turn off", |f| f * Complex64::i()),
        ("the ratio behind `1 +` is the other way round", |f| (f - 1.0).inv() + 1.0),
        ("the sign behind `1` is the other way round", |f| 2.0 - f),
        ("`1 +` is too much, and the sign is the other way round", |f| {
            if f.im == 0.0 { 1.0 - f } else { Complex64::new(f64::NAN, 0.0) }
        }),
        ("the sign of s is the other way round", |f| f.conj()),
    ];
    let all = |mend: &dyn Fn(Complex64) -> Complex64| {
        samples.iter().all(|s| {
            let sample = Sample { formula: mend(s.formula), ..s.clone() };
            sample.formula.is_finite() && agrees(&sample)
        })
    };
    let known = slips.iter().find(|(_, mend)| all(mend)).map(|s| s.0);
    let by = |factor: f64| all(&|f| f * factor);
    let sizes = samples.iter().all(|s| {
        let (a, b) = (s.formula.norm(), s.hand.norm());
        s.formula.im == 0.0 && (a - b).abs() <= RIGHT * a.max(b)
    });
    known
        .or_else(|| (by(tau) || by(1.0 / tau)).then_some("it is off by exactly 2π"))
        .or_else(|| sizes.then_some("its size is right, and its phase is not: a response has both, with s in it"))
        // Beside a gain of 1 all over, several slips look alike.
        .filter(|_| samples.iter().any(|s| (s.hand - one).norm() > RIGHT))
}

/// A value of the formula's kind: decibels of a gain, ohms, hertz.
fn value(kind: Kind, z: Complex64) -> String {
    match kind {
        Kind::Impedance => ohms(z),
        _ => gain(z),
    }
}

/// `×2.00 (6.0 dB)`, with its sign where it has one.
fn gain(z: Complex64) -> String {
    let said = |x: f64| quantity::ratio_with_decibels(x, Style::default()).unwrap_or_else(|| "nothing".into());
    match analysis::print::signed(z) {
        Some(x) => said(x),
        None => format!("{} at {}", said(z.norm()), degrees(z)),
    }
}

fn ohms(z: Complex64) -> String {
    let size = quantity::computed(z.norm(), Unit::Ohm, Style::default()).unwrap_or_default();
    if z.im.abs() <= 0.02 * z.re.abs() && z.re >= 0.0 { size } else { format!("{size} at {}", degrees(z)) }
}

fn degrees(z: Complex64) -> String {
    quantity::degrees(z.arg().to_degrees(), Style::default()).unwrap_or_default()
}

fn place(sample: &Sample) -> String {
    format!("at {}", at(sample.hertz, &sample.position))
}

impl Found {
    /// Whether the algebra itself is at fault; what is only not assumed, or right with these values only, is less.
    pub fn is_error(&self) -> bool {
        match self {
            Found::Right { .. } | Found::Exact => false,
            Found::Wrong { unsaid, kept, .. } => unsaid.is_empty() && kept.is_empty(),
            Found::Value { .. } => true,
        }
    }

    /// Whether the formula holds.
    pub fn holds(&self) -> bool {
        match self {
            Found::Right { when, .. } => {
                !matches!(when, Condition::TheseValues | Condition::EqualStayEqual { slip: Some(_), .. })
            }
            Found::Exact => true,
            Found::Wrong { .. } => false,
            Found::Value { formula, exact, .. } => near(*formula, *exact),
        }
    }

    /// A value and nothing else to say of it.
    pub fn plain(formula: f64, exact: f64) -> Found {
        Found::Value { formula, exact, slip: None, instead: None, against: None }
    }

    /// What the expression should be, where a slip explains it.
    pub fn instead(&self) -> Option<&str> {
        match self {
            Found::Wrong { instead, .. }
            | Found::Value { instead, .. }
            | Found::Right { when: Condition::EqualStayEqual { instead, .. }, .. } => instead.as_deref(),
            _ => None,
        }
    }

    /// The frequency, in hertz, against whose level a corner is what the formula says.
    pub fn against(&self) -> Option<f64> {
        match self {
            Found::Value { against, .. } => *against,
            _ => None,
        }
    }

    /// Behind the line: `right, 0.11 dB off at 20 kHz, high`.
    pub fn hint(&self, kind: Kind, unit: Unit) -> String {
        match self {
            Found::Right { cost, when } => {
                let mut said = match when {
                    Condition::TheseValues => "right with these values only".to_string(),
                    Condition::EqualStayEqual { alike, .. } => format!("right while {}", equal(alike)),
                    _ => "right".to_string(),
                };
                if let Ok(d) = cost
                    && d.decibels.abs() >= 1e-3
                {
                    said += &format!(", {} off at {}", amount(d.decibels), at(d.hertz, &d.position));
                }
                said
            }
            Found::Exact => "right for the exact circuit".into(),
            Found::Wrong { kept, .. } if !kept.is_empty() => format!("right without {}", listed(kept)),
            Found::Wrong { unsaid, .. } if !unsaid.is_empty() => format!("right with {}", listed(unsaid)),
            Found::Wrong { worst, .. } => format!("{} {}", beside(kind, worst), place(worst)),
            Found::Value { formula, exact, .. } => {
                let text = |x: f64| quantity::computed(x, unit, Style::default()).unwrap_or_default();
                let share = fine((formula / exact - 1.0).abs() * 100.0, "%");
                if near(*formula, *exact) {
                    format!("{}, {share} off", text(*formula))
                } else {
                    format!("{}, and it is {}", text(*formula), text(*exact))
                }
            }
        }
    }

    /// What is to be said of a formula that does not hold, about the quantity that it is for.
    pub fn failure(&self, phrase: &str, kind: Kind, unit: Unit) -> Option<String> {
        match self {
            Found::Right { when: Condition::TheseValues, .. } => Some(format!(
                "the formula for {phrase} is right with these values only: with others the hand model goes another way"
            )),
            Found::Right { when: Condition::EqualStayEqual { alike, slip: Some(slip), .. }, .. } => {
                Some(format!("the formula for {phrase} is right only while {}: with other values {slip}", equal(alike)))
            }
            Found::Right { .. } | Found::Exact => None,
            Found::Wrong { kept, unsaid, .. } if !kept.is_empty() => {
                let besides = match &unsaid[..] {
                    [] => String::new(),
                    some => format!(", with {}, which no assumption says", listed(some)),
                };
                let parts: Vec<String> =
                    kept.iter().map(|n| n.split(' ').next().unwrap_or_default().to_string()).collect();
                let (s, them) = if kept.len() == 1 { ("", "it") } else { ("s", "them") };
                let neglect = if kept.len() == 1 { "neglects" } else { "neglect" };
                Some(format!(
                    "the assumption{s} {} {neglect} {}, and the formula for {phrase} keeps {them}: without the assumption{s} the algebra is right{besides}",
                    list(kept),
                    quantity::list(&parts, "and"),
                ))
            }
            Found::Wrong { unsaid, .. } if !unsaid.is_empty() => {
                Some(format!("the algebra for {phrase} is right with {}, which no assumption says", listed(unsaid)))
            }
            Found::Wrong { worst, slip, .. } => {
                let slip = slip.as_ref().map_or_else(String::new, |slip| format!(": {slip}"));
                Some(format!("the algebra for {phrase} comes to {} {}{slip}", beside(kind, worst), place(worst)))
            }
            Found::Value { formula, exact, .. } if near(*formula, *exact) => None,
            Found::Value { formula, exact, slip: found, against, .. } => {
                let text = |x: f64| quantity::computed(x, unit, Style::default()).unwrap_or_default();
                let ratio = (exact / formula).abs();
                let is = |x: f64| (ratio / x - 1.0).abs() <= WITHIN;
                let hertz = |f: f64| quantity::computed(f, Unit::Hertz, Style::default()).unwrap_or_default();
                let told = match (against, found) {
                    (Some(f), _) => format!(
                        ": the reference lies on the slope, and against {} it would be right: write `{phrase} against {}`",
                        hertz(*f),
                        hertz(*f)
                    ),
                    (None, Some(slip)) => format!(": {slip}"),
                    (None, None) => String::new(),
                };
                let slip = match () {
                    _ if against.is_some() => &told,
                    _ if exact * formula < 0.0 => ": its sign is the other way round",
                    _ if is(std::f64::consts::TAU) || is(1.0 / std::f64::consts::TAU) => {
                        ": they are 2π apart, as radians a second and hertz are"
                    }
                    _ if found.is_some() => &told,
                    _ if is(2.0) || is(0.5) => ": a factor of 2 lies between them",
                    _ if is(SQRT_2) || is(1.0 / SQRT_2) => ": √2 lies between them, as between RMS and peak",
                    _ if is(1e3) || is(1e-3) => ": a thousand lies between them, as where a kilo is forgotten",
                    _ => "",
                };
                Some(format!(
                    "the formula for {phrase} comes to {}, and the circuit has {}{slip}",
                    text(*formula),
                    text(*exact)
                ))
            }
        }
    }

    /// The lines of a hover.
    pub fn working(&self, kind: Kind, unit: Unit) -> Vec<String> {
        match self {
            Found::Right { cost, when } => {
                let mut lines = vec!["the algebra is right for the hand model".to_string()];
                lines.push(match when {
                    Condition::None => "with other values, too".into(),
                    Condition::EqualStayEqual { alike, slip: None, .. } => {
                        format!("with other values, too, as long as {}", equal(alike))
                    }
                    Condition::EqualStayEqual { alike, slip: Some(slip), .. } => {
                        format!("only as long as {}: with other values {slip}", equal(alike))
                    }
                    Condition::TheseValues => "with these values only".into(),
                    Condition::NotTried => "not tried with other values: a `let` stands in it".into(),
                });
                lines.push(match cost {
                    Ok(d) if d.decibels.abs() < 1e-3 => "the exact circuit is the same within 0.001 dB".into(),
                    Ok(d) => format!(
                        "where all of them are stated to hold the assumptions cost at most {}, at {}",
                        amount(d.decibels),
                        at(d.hertz, &d.position)
                    ),
                    Err(why) => format!("what the assumptions cost is unknown: {why}"),
                });
                lines
            }
            Found::Exact => vec!["it is right for the exact circuit, and neglects less than the assumptions do".into()],
            Found::Wrong { .. } => self.failure("this", kind, unit).into_iter().collect(),
            Found::Value { .. } => vec![format!("{}; within 5 % it holds", self.hint(kind, unit))],
        }
    }
}

/// `R1 = R3 and R2 = R4`
fn equal(alike: &[Vec<Name>]) -> String {
    let each: Vec<String> =
        alike.iter().map(|names| names.iter().map(|n| &**n).collect::<Vec<_>>().join(" = ")).collect();
    if each.is_empty() { "equal values stay equal".into() } else { quantity::list(&each, "and") }
}

/// A cost in decibels, without its sign.
fn amount(decibels: f64) -> String {
    if decibels.is_finite() { fine(decibels.abs(), "dB") } else { "all of it".into() }
}

/// `C1 open` and `R2 short`, each as it is written.
fn list(names: &[Name]) -> String {
    quantity::list(&names.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>(), "and")
}

fn listed(names: &[Name]) -> String {
    names.iter().map(|n| &**n).collect::<Vec<_>>().join(", ")
}

/// Both values, `×2.00 (6.0 dB), and the hand model to ×3.00 (9.5 dB)`, or how far they lie apart where they read the same.
fn beside(kind: Kind, sample: &Sample) -> String {
    let (formula, hand) = (value(kind, sample.formula), value(kind, sample.hand));
    if formula != hand {
        return format!("{formula}, and the hand model to {hand}");
    }
    let apart = off(sample) * 100.0;
    let apart = if apart < 1e-3 { "under 0.001 %".to_string() } else { fine(apart, "%") };
    format!("{formula}, and the hand model {apart} beside it")
}

fn near(formula: f64, exact: f64) -> bool {
    exact.is_finite() && (formula - exact).abs() <= WITHIN * exact.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(formula: f64, hand: f64) -> Option<&'static str> {
        let of = |x| Complex64::new(x, 0.0);
        slip(&[Sample { hertz: 1e3, position: "".into(), hand: of(hand), formula: of(formula) }])
    }

    #[test]
    fn a_one_is_too_much_or_missing_on_either_side_of_nothing() {
        assert_eq!(told(2.2, 3.2), Some("`1 +` is missing"));
        assert_eq!(told(-3.2, -2.2), Some("`1 +` is too much"));
        assert_eq!(told(-2.2, -3.2), Some("`1 +` is missing"));
        assert_eq!(told(3.2, -2.2), Some("`1 +` is too much, and the sign is the other way round"));
        assert_eq!(told(1.1, 11.0), Some("the ratio behind `1 +` is the other way round"));
        assert_eq!(told(-9.0, 11.0), Some("the sign behind `1` is the other way round"));
    }
}
