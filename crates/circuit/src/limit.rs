//! What a requirement wants: a limit read into numbers.

use notation::tree::{Amount, Limit, QuantityPhrase, Tolerated, Word};
use quantity::{Unit, Want};

use crate::piece::{Reader, fault};
use crate::resolve::want_of;

/// A requirement as its entry gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct RequirePiece {
    /// The quantity.
    pub quantity: QuantityPhrase,
    /// What it has to keep to; `None` where the entry only shows it, or where the limit is not there yet.
    pub limit: Option<LimitPiece>,
    /// A limit is written, readable or not.
    pub limited: bool,
    /// The limit is written as a sine's `peak`, or from peak to peak.
    pub sine: bool,
    /// Something is wrong with the quantity as it is written, so that its reading would be a guess at what is meant.
    pub doubtful: bool,
}

/// A limit: the quantity lies between these, both in `unit` as it is written (decibels in decibels, dBu in dBu).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitPiece {
    /// Not below this.
    pub low: Option<f64>,
    /// Not above this.
    pub high: Option<f64>,
    /// The ends belong to it (`=`); with `<` and `>` they do not.
    pub ends: bool,
    /// What it is written in.
    pub unit: Unit,
    /// Whether it is given to a hundredth of a decibel, so that the reading is shown to one too.
    pub fine: bool,
}

/// Reads a limit of a quantity.
pub(crate) fn limit(reader: &mut Reader, phrase: &QuantityPhrase, limit: &Limit) -> Option<LimitPiece> {
    let want = want_of(phrase);
    reader.subject = "the limit".into();
    let fine = |amount: &Option<Amount>| match amount {
        Some(Amount::Figure(f)) => {
            f.text.split_once('.').is_some_and(|(_, d)| d.chars().take_while(char::is_ascii_digit).count() >= 2)
        }
        _ => false,
    };
    let found = match limit {
        Limit::Below(a) => {
            let (x, unit) = reader.amount(a, want)?;
            // Inverted fifty times or more: that is hardly ever asked for, and a loss of 50 dB is.
            if let Some(Amount::Figure(f)) = a
                && want == Want::Gain
                && unit == Unit::One
                && x <= -20.0
            {
                let fix = format!("-{} dB", f.text);
                let said = format!(
                    "a gain below -{} is one that inverts and is greater than {}: a loss is {fix}",
                    f.text, f.text
                );
                let mut wrong = fault("unlikely-value", f.span, said);
                wrong.fixes.push(notation::tree::Fix { title: format!("write {fix}"), edits: vec![(f.span, fix)] });
                reader.warn(wrong);
            }
            LimitPiece { low: None, high: Some(x), ends: false, unit, fine: fine(a) }
        }
        Limit::Above(a) => {
            let (x, unit) = reader.amount(a, want)?;
            LimitPiece { low: Some(x), high: None, ends: false, unit, fine: fine(a) }
        }
        Limit::Between(a, b) => {
            let (x, unit) = reader.amount(a, want)?;
            let (y, other) = reader.amount(b, want)?;
            let span = b.as_ref().map_or(phrase.span, Amount::span);
            if unit != other {
                reader.open(fault("limits-differ", span, "both ends of a range have one unit"));
                return None;
            }
            if x > y {
                reader.open(fault(
                    "limit-order",
                    span,
                    "the range ends below its beginning: the lesser figure stands first",
                ));
                return None;
            }
            LimitPiece { low: Some(x), high: Some(y), ends: true, unit, fine: fine(a) || fine(b) }
        }
        Limit::Equal(tolerated) => return equal(reader, want, tolerated.as_ref()?, &fine),
    };
    Some(found)
}

/// `= 12 dB ± 0.5 dB`, `= 12 ± 0.5 dB`, `= 10 kohm ± 5 %`
/// A limit that is written as a sine's peak, or from peak to peak, as an rms value. What is no level of a sine has none.
pub(crate) fn of_a_sine(
    reader: &mut Reader,
    phrase: &QuantityPhrase,
    limit: LimitPiece,
    word: &Word,
) -> Option<LimitPiece> {
    let words = phrase.phrase.unwrap_or_default();
    let why = match (words, limit.unit) {
        ("level" | "clip level", Unit::Volt) => None,
        ("level" | "clip level", _) => Some("a level in decibels is rms".to_string()),
        ("voltage" | "current", _) => Some(format!("{words} of a part is a peak value already")),
        _ => Some(format!("{words} is no level of a sine")),
    };
    if let Some(why) = why {
        let mut wrong = fault("leftover", word.span, format!("`{}` has no meaning here: {why}", word.text));
        let title = format!("delete {}", word.text);
        wrong.fixes.push(notation::tree::Fix { title, edits: vec![(word.span, String::new())] });
        reader.open(wrong);
        return None;
    }
    // (What several sources make is no sine: that is told where the sources are known.)
    let rms = |x: f64| if &*word.text == "pp" { quantity::rms_of_peak_to_peak(x) } else { quantity::rms_of_peak(x) };
    Some(LimitPiece { low: limit.low.map(rms), high: limit.high.map(rms), ..limit })
}

fn equal(reader: &mut Reader, want: Want, t: &Tolerated, fine: &dyn Fn(&Option<Amount>) -> bool) -> Option<LimitPiece> {
    let mut amount = t.amount.clone();
    // A bare figure takes the unit of its tolerance.
    if let (Amount::Figure(a), Some(Amount::Figure(b))) = (&mut amount, &t.tolerance)
        && a.unit.is_none()
        && b.unit.as_deref().is_some_and(|u| u != "%")
    {
        a.unit = b.unit.clone();
    }
    let (x, unit) = reader.amount(&Some(amount.clone()), want)?;
    let off = t.tolerance.clone()?;
    let span = off.span();
    let (by, of) = reader.amount(&Some(off), Want::Tolerance(unit))?;
    if by < 0.0 {
        reader.open(fault("tolerance-out-of-range", span, "a tolerance goes both ways, and has no sign of its own"));
        return None;
    }
    let by = if of == Unit::Percent { x.abs() * by / 100.0 } else { by.abs() };
    let fine = fine(&Some(amount)) || fine(&t.tolerance);
    Some(LimitPiece { low: Some(x - by), high: Some(x + by), ends: true, unit, fine })
}
