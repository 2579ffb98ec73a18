//! The markers of a fixture.

/// One figure to compare.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// The case's short name.
    pub case: String,
    /// What to read.
    pub phrase: String,
    /// What to take from it, for a difference.
    pub minus: Option<String>,
    /// The end of a range that is meant.
    pub side: Option<Side>,
    /// The half of an impedance that is meant.
    pub half: Half,
    /// What is expected …
    pub value: f64,
    /// … in this unit …
    pub unit: String,
    /// … to within this.
    pub tolerance: f64,
    /// The tolerance is a share of the value.
    pub relative: bool,
    /// The quantity may not exist yet.
    pub later: bool,
}

/// An end of a range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// `expect least:`
    Least,
    /// `expect greatest:`
    Greatest,
}

/// What of a complex value is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Half {
    /// Its magnitude, or its only value.
    Whole,
    /// `expect real:`
    Real,
    /// `expect imaginary:`
    Imaginary,
}

/// The checks of a fixture, or the line that cannot be read.
pub fn checks(text: &str) -> Result<Vec<Check>, String> {
    let (mut case, mut sourced, mut asked) = (String::new(), false, None::<(String, bool)>);
    let mut found = Vec::new();
    for line in text.lines() {
        let Some((word, rest)) = line.strip_prefix("# ").and_then(|l| l.split_once(": ")) else { continue };
        let rest = rest.trim();
        match word {
            "case" => case = rest.into(),
            "source" => {
                sourced = true;
                if !["READ ", "COMPUTED ", "MEMORY "].iter().any(|w| rest.starts_with(w)) {
                    return Err(format!("{line}: how was it come by?"));
                }
            }
            "read" | "later" => asked = Some((rest.into(), word == "later")),
            "expect difference" => {
                let (phrases, limit) = rest.rsplit_once(" = ").ok_or_else(|| format!("{line}: no ` = `"))?;
                let (a, b) = phrases.split_once(" minus ").ok_or_else(|| format!("{line}: no ` minus `"))?;
                found.push(limited(line, limit, &case, a.trim(), Some(b.trim().into()), None, Half::Whole, false)?);
            }
            "expect" | "expect least" | "expect greatest" | "expect real" | "expect imaginary" => {
                let (phrase, later) = asked.take().ok_or_else(|| format!("{line}: nothing was asked"))?;
                let side = match word {
                    "expect least" => Some(Side::Least),
                    "expect greatest" => Some(Side::Greatest),
                    _ => None,
                };
                let half = match word {
                    "expect real" => Half::Real,
                    "expect imaginary" => Half::Imaginary,
                    _ => Half::Whole,
                };
                found.push(limited(line, rest, &case, &phrase, None, side, half, later)?);
            }
            _ => {}
        }
    }
    if !sourced {
        return Err("no source is named".into());
    }
    match asked {
        Some((phrase, _)) => Err(format!("nothing is expected of {phrase}")),
        None => Ok(found),
    }
}

/// `FIGURE UNIT ± FIGURE [relative]`
#[allow(clippy::too_many_arguments)]
fn limited(
    line: &str,
    limit: &str,
    case: &str,
    phrase: &str,
    minus: Option<String>,
    side: Option<Side>,
    half: Half,
    later: bool,
) -> Result<Check, String> {
    let words: Vec<&str> = limit.split_whitespace().collect();
    let (value, unit, tolerance, relative) = match words[..] {
        [value, unit, "±", tolerance] => (value, unit, tolerance, false),
        [value, unit, "±", tolerance, "relative"] => (value, unit, tolerance, true),
        _ => return Err(format!("{line}: `FIGURE UNIT ± FIGURE`")),
    };
    let number = |t: &str| t.parse::<f64>().map_err(|_| format!("{line}: {t} is no figure"));
    Ok(Check {
        case: case.into(),
        phrase: phrase.into(),
        minus,
        side,
        half,
        value: number(value)?,
        unit: unit.into(),
        tolerance: number(tolerance)?,
        relative,
        later,
    })
}
