//! Requirements: a reading against its limit, at nominal values.

use analysis::{Kind, Reading, Value};
use circuit::{LimitPiece, Name};
use quantity::{Style, Unit};

/// What was decided.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// It keeps to the limit at every position examined.
    Holds,
    /// It does not.
    Fails,
    /// It cannot be told: a clause.
    Unknown(String),
}

/// A verdict with what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Decision {
    /// The verdict.
    pub verdict: Verdict,
    /// The value that comes nearest to the limit or lies furthest beyond it, in the limit's unit.
    pub value: Option<f64>,
    /// How far inside the limit that is (below 0: outside), in the limit's unit; of a level in dBu or dBV in decibels.
    pub margin: Option<f64>,
    /// The position at which it was found; empty where none matters.
    pub position: Name,
    /// The limit that it is nearest to, in the limit's unit.
    pub limit: Option<f64>,
}

impl Decision {
    fn unknown(why: impl Into<String>) -> Decision {
        Decision { verdict: Verdict::Unknown(why.into()), value: None, margin: None, position: "".into(), limit: None }
    }
}

/// Decides a limit. A corner that is never met lies beyond every frequency on its side.
pub fn decide(reading: &Reading, limit: &LimitPiece) -> Decision {
    if let Some(why) = reading.unknown() {
        return Decision::unknown(why);
    }
    if let Some(why) = &reading.gap {
        return Decision::unknown(why.clone());
    }
    let found = match values(reading, limit) {
        Ok(found) => found,
        Err(why) => return Decision::unknown(why),
    };
    let worst = found.into_iter().map(|(x, position)| {
        let (mut margin, end) = margin(x, limit);
        // A circuit that grows by itself has no margin that any limit could be content with.
        if reading.kind == Kind::Margin && x == f64::NEG_INFINITY {
            margin = f64::NEG_INFINITY;
        }
        (x, margin, end, position)
    });
    let Some((value, margin, end, position)) = worst.reduce(|a, b| if b.1 < a.1 { b } else { a }) else {
        return Decision::unknown("there is no value to hold against the limit");
    };
    Decision {
        verdict: if inside(value, margin, end, limit) { Verdict::Holds } else { Verdict::Fails },
        value: Some(value),
        margin: Some(margin),
        position,
        limit: Some(end),
    }
}

/// Whether a value with this margin keeps to the end that it is nearest to.
pub(crate) fn inside(value: f64, margin: f64, end: f64, limit: &LimitPiece) -> bool {
    // Rounding in the last place is no failure where the limit's end belongs to it.
    let slack = if limit.ends && value.is_finite() { 1e-12 * end.abs().max(value.abs()) } else { 0.0 };
    if limit.ends { margin >= -slack } else { margin > 0.0 }
}

/// How far inside its limit a value is, and the end that it is nearest to.
pub(crate) fn margin(x: f64, limit: &LimitPiece) -> (f64, f64) {
    let below = limit.high.map(|h| (h - x, h));
    let above = limit.low.map(|l| (x - l, l));
    match (below, above) {
        (Some(a), Some(b)) => {
            if a.0 < b.0 {
                a
            } else {
                b
            }
        }
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => (f64::INFINITY, 0.0),
    }
}

/// The values to hold against a limit, in its unit, with the positions at which they stand.
fn values(reading: &Reading, limit: &LimitPiece) -> Result<Vec<(f64, Name)>, String> {
    if let Some(found) = apart(reading, limit)? {
        return Ok(found);
    }
    let never = |kind| if kind == Kind::LowCorner { f64::NEG_INFINITY } else { f64::INFINITY };
    let mut found: Vec<(f64, Name)> = Vec::new();
    match &reading.range {
        Some(range) => {
            for end in &range.ends {
                found.push((end.value.unwrap_or_else(|| never(reading.kind)), end.position.clone()));
            }
        }
        None => {
            let at: Name = "".into();
            match reading.value {
                Value::Never => found.push((never(reading.kind), at)),
                _ => found.push((reading.magnitude().ok_or("there is no single value")?, at)),
            }
        }
    }
    let sign = match (reading.kind, limit.unit, reading.value) {
        // A ratio has the sign of the gain.
        (Kind::Gain, Unit::One, Value::Complex(z)) => analysis::print::signed(z)
            .ok_or("it is neither in nor out of phase: a limit in decibels would do")?
            .signum(),
        _ => 1.0,
    };
    // An impedance is held against its size, unless the limit itself is a negative one.
    let negative = [limit.low, limit.high].into_iter().flatten().any(|x| x < 0.0);
    if reading.kind == Kind::Impedance && !negative {
        let (below, above) = (found.iter().any(|f| f.0 < 0.0), found.iter().any(|f| f.0 > 0.0));
        if below && above && limit.low.is_some() {
            return Err("its sign changes over the positions: a limit `when` they stand somewhere would do".into());
        }
        found.iter_mut().for_each(|f| f.0 = f.0.abs());
    }
    for (x, _) in &mut found {
        *x = in_unit(reading.kind, sign * *x, limit);
    }
    Ok(found)
}

/// Where the ends of a range, as they are printed, are not what is held against a limit: each position's gain has a sign of its own, and each
/// position's phase is taken in the turn of the limit before any of them counts as the least.
fn apart(reading: &Reading, limit: &LimitPiece) -> Result<Option<Vec<(f64, Name)>>, String> {
    let Some(range) = &reading.range else { return Ok(None) };
    Ok(match (reading.kind, limit.unit) {
        (Kind::Gain, Unit::One) => {
            let ends = range.ratio.as_ref().ok_or("its sign over the positions is not known")?.as_ref()?;
            Some(ends.iter().map(|e| (e.value.unwrap_or(f64::NAN), e.position.clone())).collect())
        }
        (Kind::Phase, _) => {
            let each = range.angles.iter().map(|(ends, position)| (in_turn(*ends, limit), position));
            Some(each.flat_map(|([a, b], position)| [(a, position.clone()), (b, position.clone())]).collect())
        }
        _ => None,
    })
}

/// The angle that a limit is about.
fn centre(limit: &LimitPiece) -> f64 {
    limit.low.zip(limit.high).map(|(a, b)| 0.5 * (a + b)).or(limit.low).or(limit.high).unwrap_or(0.0)
}

/// The least and the greatest of all angles between two, in degrees, each in the turn nearest to what a limit is about. Where they cross over to
/// the next turn, that is as far off as an angle can be, on both sides.
pub(crate) fn in_turn([low, high]: [f64; 2], limit: &LimitPiece) -> [f64; 2] {
    let centre = centre(limit);
    let turn = |x: f64| 360.0 * ((centre - x) / 360.0).round();
    let by = turn(0.5 * (low + high));
    let [low, high] = [low + by, high + by];
    if low < centre - 180.0 || high > centre + 180.0 { [centre - 180.0, centre + 180.0] } else { [low, high] }
}

/// A value (of a gain its magnitude, or its ratio with the sign) in a limit's unit.
pub(crate) fn in_unit(kind: Kind, x: f64, limit: &LimitPiece) -> f64 {
    match (kind, limit.unit) {
        (Kind::Gain, Unit::Decibel) => quantity::db(x),
        (_, Unit::Dbu) => quantity::dbu(x),
        (_, Unit::Dbv) => quantity::dbv(x),
        (Kind::Phase, _) => in_turn([x; 2], limit)[0],
        _ => x,
    }
}

/// A value in a limit's unit, as it is shown beside it.
pub fn text(x: f64, limit: &LimitPiece) -> String {
    longer(x, limit, 0)
}

/// How many digits more than usual tell these values apart, which are not the same and would look it.
pub fn digits_more(values: &[f64], limit: &LimitPiece) -> u8 {
    let told = |more: u8| {
        values
            .iter()
            .enumerate()
            .all(|(i, a)| values[..i].iter().all(|b| a == b || longer(*a, limit, more) != longer(*b, limit, more)))
    };
    (0..6).find(|more| told(*more)).unwrap_or(0)
}

/// [`text`] with more digits than usual.
pub fn longer(x: f64, limit: &LimitPiece, more: u8) -> String {
    let usual = Style::default();
    let style = Style { digits: usual.digits + more, decimals: usual.decimals + more, ..usual };
    let found = match limit.unit {
        _ if x == f64::NEG_INFINITY => return "none".into(),
        _ if x.is_infinite() => return "without limit".into(),
        Unit::Decibel | Unit::Dbu | Unit::Dbv => {
            let digits = if limit.fine { 2 } else { 1 } + usize::from(more);
            let rounded = format!("{x:.digits$}");
            // What rounds to nothing has no sign.
            let plain = if rounded.trim_start_matches('-').chars().all(|c| matches!(c, '0' | '.')) {
                rounded.trim_start_matches('-').to_string()
            } else {
                rounded.replace('-', "−")
            };
            return format!("{plain} {}", limit.unit.symbol(false));
        }
        Unit::Degree => quantity::degrees(x, style),
        Unit::One => quantity::ratio(x, style).map(|r| r.trim_start_matches('×').to_string()),
        unit => quantity::computed(x, unit, style),
    };
    found.unwrap_or_else(|| "unknown".into())
}

/// A reading's value in a limit's unit, as it is shown beside it, with some digits more than usual.
pub fn value_text(reading: &Reading, x: f64, limit: &LimitPiece, more: u8) -> String {
    match reading.kind {
        Kind::Margin if x.is_infinite() => analysis::print::margin(x, reading.unit, Style::default()),
        Kind::Gain if x == f64::NEG_INFINITY || (x == 0.0 && limit.unit == Unit::One) => "no signal".into(),
        Kind::LowCorner if x.is_infinite() => "no low corner".into(),
        Kind::HighCorner if x.is_infinite() => "no high corner".into(),
        _ => longer(x, limit, more),
    }
}

/// A margin: a difference in the limit's unit, which between levels is in decibels.
pub fn margin_text(x: f64, limit: &LimitPiece, more: u8) -> String {
    let unit = match limit.unit {
        Unit::Dbu | Unit::Dbv => Unit::Decibel,
        other => other,
    };
    // A hundredth of a decibel tells how near it is where a tenth would say 0.
    let fine = limit.fine || x.abs() < 0.1;
    longer(x.abs(), &LimitPiece { unit, fine, ..*limit }, more)
}

#[cfg(test)]
mod tests {
    use analysis::{End, Place, Range, Status};
    use num_complex::Complex64;

    use super::*;

    fn reading(kind: Kind, value: Value, ends: Option<[f64; 2]>) -> Reading {
        Reading {
            phrase: "gain in -> out".into(),
            kind,
            value,
            unit: Unit::One,
            setting: None,
            place: Place::At(1e3),
            status: Status::Exact,
            range: ends.map(|e| Range {
                ends: [
                    End { value: Some(e[0]), position: "VR1 0 %".into() },
                    End { value: Some(e[1]), position: "VR1 100 %".into() },
                ],
                controls: vec!["VR1".into()],
                examined: 3,
                combinations: Some(3),
                ratio: None,
                inverts: analysis::Inverts::Nowhere,
                angles: vec![(e, "".into())],
            }),
            gap: None,
            working: Vec::new(),
        }
    }

    fn limit(low: Option<f64>, high: Option<f64>, ends: bool, unit: Unit) -> LimitPiece {
        LimitPiece { low, high, ends, unit, fine: false }
    }

    #[test]
    fn the_worst_position_decides() {
        let r = reading(Kind::Gain, Value::Complex(Complex64::new(2.0, 0.0)), Some([1.0, 10.0]));
        let d = decide(&r, &limit(Some(0.0), Some(19.0), true, Unit::Decibel));
        assert_eq!((d.verdict, &*d.position), (Verdict::Fails, "VR1 100 %"));
        assert!((d.margin.unwrap() + 1.0).abs() < 1e-12);
        assert_eq!(decide(&r, &limit(Some(0.0), Some(20.0), true, Unit::Decibel)).verdict, Verdict::Holds);
        assert_eq!(decide(&r, &limit(None, Some(20.0), false, Unit::Decibel)).verdict, Verdict::Fails);
    }

    #[test]
    fn a_ratio_has_the_gains_sign() {
        let r = reading(Kind::Gain, Value::Complex(Complex64::new(-2.0, 0.1)), None);
        assert_eq!(decide(&r, &limit(Some(-2.1), Some(-1.9), true, Unit::One)).verdict, Verdict::Holds);
        assert_eq!(decide(&r, &limit(Some(1.9), Some(2.1), true, Unit::One)).verdict, Verdict::Fails);
        let aslant = reading(Kind::Gain, Value::Complex(Complex64::new(1.0, 2.0)), None);
        assert!(matches!(decide(&aslant, &limit(Some(1.0), None, false, Unit::One)).verdict, Verdict::Unknown(_)));
    }

    #[test]
    fn no_corner_meets_what_lies_on_its_side() {
        let low = reading(Kind::LowCorner, Value::Never, None);
        assert_eq!(decide(&low, &limit(None, Some(20.0), false, Unit::Hertz)).verdict, Verdict::Holds);
        assert_eq!(decide(&low, &limit(Some(20.0), None, false, Unit::Hertz)).verdict, Verdict::Fails);
        let high = reading(Kind::HighCorner, Value::Never, None);
        assert_eq!(decide(&high, &limit(Some(20e3), None, false, Unit::Hertz)).verdict, Verdict::Holds);
    }

    #[test]
    fn no_limit_is_content_with_a_circuit_that_grows() {
        let grows = reading(Kind::Margin, Value::Real(f64::NEG_INFINITY), None);
        let steady = reading(Kind::Margin, Value::Real(f64::INFINITY), None);
        for (low, high) in [(Some(45.0), None), (None, Some(60.0)), (Some(0.0), Some(90.0))] {
            assert_eq!(decide(&grows, &limit(low, high, true, Unit::Degree)).verdict, Verdict::Fails);
        }
        assert_eq!(decide(&steady, &limit(Some(45.0), None, false, Unit::Degree)).verdict, Verdict::Holds);
    }

    #[test]
    fn an_angle_is_taken_in_the_turn_of_its_limit() {
        let r = reading(Kind::Phase, Value::Real(-170.0), None);
        assert_eq!(decide(&r, &limit(Some(180.0), Some(200.0), true, Unit::Degree)).verdict, Verdict::Holds);
    }

    #[test]
    fn each_position_has_its_own_sign() {
        let end = |x: f64, position: &str| End { value: Some(x), position: position.into() };
        let mut r = reading(Kind::Gain, Value::Complex(Complex64::new(1.0, 0.0)), Some([1.0, 1.0]));
        let about_one = limit(Some(0.99), Some(1.01), true, Unit::One);
        r.range.as_mut().unwrap().ratio = Some(Ok([end(-1.0, "SW1 2"), end(1.0, "SW1 1")]));
        let d = decide(&r, &about_one);
        assert_eq!((d.verdict, &*d.position, d.value), (Verdict::Fails, "SW1 2", Some(-1.0)));
        r.range.as_mut().unwrap().ratio = Some(Err("at SW1 2: it is aslant".into()));
        assert_eq!(decide(&r, &about_one).verdict, Verdict::Unknown("at SW1 2: it is aslant".into()));
    }

    #[test]
    fn angles_of_a_band_are_wrapped_before_their_ends_are_taken() {
        // Two all-passes in a row: −3° at the low end, −357° at the high one; a limit about 180° meets 3° and 357°.
        let two = reading(Kind::Phase, Value::None, Some([-357.0, -3.0]));
        let d = decide(&two, &limit(Some(160.0), Some(200.0), true, Unit::Degree));
        assert_eq!((d.verdict, d.margin), (Verdict::Fails, Some(-157.0)));
        // About 0° the middle of it is as far away as can be.
        let d = decide(&two, &limit(Some(-20.0), Some(20.0), true, Unit::Degree));
        assert_eq!((d.verdict, d.margin), (Verdict::Fails, Some(-160.0)));
        let half = reading(Kind::Phase, Value::None, Some([170.0, 190.0]));
        assert_eq!(decide(&half, &limit(Some(-195.0), Some(-165.0), true, Unit::Degree)).verdict, Verdict::Holds);
    }

    #[test]
    fn levels_are_held_against_dbu() {
        let r = reading(Kind::Level, Value::Real(0.6f64.sqrt() / 10.0), None);
        let d = decide(&r, &limit(None, Some(-19.0), false, Unit::Dbu));
        assert_eq!(d.verdict, Verdict::Holds);
        assert!((d.margin.unwrap() - 1.0).abs() < 1e-9);
    }
}
