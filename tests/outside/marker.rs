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
    /// What of the reading over tolerance is meant; `None` where the reading itself is.
    pub end: Option<End>,
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

/// What of a reading over tolerance is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// `expect lowest:`
    Lowest,
    /// `expect highest:`
    Highest,
    /// `expect root lowest:`, nominal less the root of the sum of the squares
    RootLowest,
    /// `expect root highest:`, nominal and the root of the sum of the squares
    RootHighest,
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

/// What was asked last, and is still to be told what to be.
struct Asked {
    phrase: String,
    /// The quantity may not exist yet.
    later: bool,
    /// It was asked over tolerance, where it has more than one figure.
    over: bool,
    /// Something was expected of it.
    met: bool,
}

/// The checks of a fixture, or the line that cannot be read.
pub fn checks(text: &str) -> Result<Vec<Check>, String> {
    let (mut case, mut sourced, mut asked) = (String::new(), false, None::<Asked>);
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
            "read" | "later" | "read over tolerance" => {
                let next = Asked {
                    phrase: rest.into(),
                    later: word == "later",
                    over: word == "read over tolerance",
                    met: false,
                };
                unmet(asked.replace(next).as_ref())?;
            }
            "expect difference" => {
                let (phrases, limit) = rest.rsplit_once(" = ").ok_or_else(|| format!("{line}: no ` = `"))?;
                let (a, b) = phrases.split_once(" minus ").ok_or_else(|| format!("{line}: no ` minus `"))?;
                let check = Check { minus: Some(b.trim().into()), ..limited(line, limit)? };
                found.push(Check { case: case.clone(), phrase: a.trim().into(), ..check });
            }
            _ if word == "expect" || word.starts_with("expect ") => {
                let asked = asked.as_mut().ok_or_else(|| format!("{line}: nothing was asked"))?;
                let mut check = limited(line, rest)?;
                match word {
                    "expect" => {}
                    "expect least" => check.side = Some(Side::Least),
                    "expect greatest" => check.side = Some(Side::Greatest),
                    "expect real" => check.half = Half::Real,
                    "expect imaginary" => check.half = Half::Imaginary,
                    "expect lowest" => check.end = Some(End::Lowest),
                    "expect highest" => check.end = Some(End::Highest),
                    "expect root lowest" => check.end = Some(End::RootLowest),
                    "expect root highest" => check.end = Some(End::RootHighest),
                    _ => return Err(format!("{line}: nothing is known by `{word}`")),
                }
                if check.end.is_some() != asked.over || asked.met && !asked.over {
                    return Err(format!("{line}: that is not what was asked"));
                }
                asked.met = true;
                found.push(Check { case: case.clone(), phrase: asked.phrase.clone(), later: asked.later, ..check });
            }
            _ => {}
        }
    }
    if !sourced {
        return Err("no source is named".into());
    }
    unmet(asked.as_ref())?;
    Ok(found)
}

/// A question of which nothing is expected checks nothing.
fn unmet(asked: Option<&Asked>) -> Result<(), String> {
    match asked {
        Some(asked) if !asked.met => Err(format!("nothing is expected of {}", asked.phrase)),
        _ => Ok(()),
    }
}

/// `FIGURE UNIT ± FIGURE [relative]`, of nothing yet.
fn limited(line: &str, limit: &str) -> Result<Check, String> {
    let words: Vec<&str> = limit.split_whitespace().collect();
    let (value, unit, tolerance, relative) = match words[..] {
        [value, unit, "±", tolerance] => (value, unit, tolerance, false),
        [value, unit, "±", tolerance, "relative"] => (value, unit, tolerance, true),
        _ => return Err(format!("{line}: `FIGURE UNIT ± FIGURE`")),
    };
    let number = |t: &str| t.parse::<f64>().map_err(|_| format!("{line}: {t} is no figure"));
    Ok(Check {
        case: String::new(),
        phrase: String::new(),
        minus: None,
        side: None,
        end: None,
        half: Half::Whole,
        value: number(value)?,
        unit: unit.into(),
        tolerance: number(tolerance)?,
        relative,
        later: false,
    })
}

#[test]
fn a_marker_that_is_not_understood_is_told() {
    let told = |text: &str| checks(&format!("# source: COMPUTED here\n{text}")).expect_err(text);
    assert!(told("# read: gain a -> b\n").contains("nothing is expected"));
    assert!(told("# read: gain a -> b\n# read: gain b -> c\n# expect: 1 ratio ± 0\n").contains("nothing is expected"));
    assert!(told("# read: gain a -> b\n# expect lowest: 1 ratio ± 0\n").contains("not what was asked"));
    assert!(told("# read over tolerance: gain a -> b\n# expect: 1 ratio ± 0\n").contains("not what was asked"));
    assert!(told("# read: gain a -> b\n# expect: 1 ratio ± 0\n# expect: 1 ratio ± 0\n").contains("not what was asked"));
    assert!(told("# read: gain a -> b\n# expect about: 1 ratio ± 0\n").contains("nothing is known"));
    let all = checks(
        "# source: COMPUTED here\n# read over tolerance: gain a -> b\n# expect lowest: 1 ratio ± 0\n# expect root highest: 2 dB ± 1 relative\n",
    );
    let ends: Vec<_> = all.expect("it is understood").into_iter().map(|c| c.end).collect();
    assert_eq!(ends, [Some(End::Lowest), Some(End::RootHighest)]);
}
