//! Published values against the program: each `.stage` file beside this one carries what to read and what its source expects.
//! The markers are described in `README.md` beside it.

mod marker;
mod pages;

use std::collections::BTreeSet;
use std::path::Path;

use marker::{Check, End, Half, Side};
use workbench::{Answer, Kind, Reading, Snapshot, Unit, Value, Workbench};

/// What a reading gives in the unit of an expectation; `None` where it has no such figure.
fn figure(reading: &Reading, unit: &str, half: Half, side: Option<Side>) -> Option<f64> {
    if let Some(side) = side {
        let [a, b] = reading.range.as_ref()?.ends.clone().map(|e| e.value);
        let (a, b) = (a?, b?);
        let end = if side == Side::Least { a.min(b) } else { a.max(b) };
        return in_unit(end, reading, unit);
    }
    match (reading.value, unit, half) {
        (Value::Complex(z), "ohm", Half::Real) => Some(z.re),
        (Value::Complex(z), "ohm", Half::Imaginary) => Some(z.im),
        // A signed ratio needs a gain that is in phase or out of phase, within 45°.
        (Value::Complex(z), "ratio", _) => (z.im.abs() <= z.re.abs()).then(|| z.norm().copysign(z.re)),
        (Value::Complex(z), _, _) => in_unit(z.norm(), reading, unit),
        (Value::Real(x), _, _) => in_unit(x, reading, unit),
        (Value::None | Value::Never, _, _) => None,
    }
}

fn in_unit(x: f64, reading: &Reading, unit: &str) -> Option<f64> {
    match (reading.kind, unit) {
        (Kind::Gain, "dB") => Some(20.0 * x.log10()),
        (Kind::Gain, "ratio")
        | (Kind::Phase, "deg")
        | (Kind::Impedance, "ohm")
        | (Kind::LowCorner | Kind::HighCorner, "Hz") => Some(x),
        (Kind::Plain | Kind::Level | Kind::Margin, _) => match (reading.unit, unit) {
            (Unit::Volt, "V")
            | (Unit::Ampere, "A")
            | (Unit::Watt, "W")
            | (Unit::Decibel, "dB")
            | (Unit::Degree, "deg")
            | (Unit::Hertz, "Hz")
            | (Unit::One, "ratio") => Some(x),
            (Unit::Volt, "mV") | (Unit::Ampere, "mA") | (Unit::Watt, "mW") => Some(x * 1e3),
            (Unit::Volt, "uV") | (Unit::Second, "us") => Some(x * 1e6),
            (Unit::VoltPerRootHertz, "nV/rtHz") => Some(x * 1e9),
            // Of two voltages it is their difference that has a meaning without saying what 0 dB is.
            (Unit::Volt, "dB") => Some(20.0 * x.log10()),
            _ => None,
        },
        _ => None,
    }
}

/// A phrase's figure, or why there is none.
fn read(
    snapshot: &Snapshot,
    path: &str,
    phrase: &str,
    unit: &str,
    half: Half,
    side: Option<Side>,
) -> Result<f64, String> {
    match snapshot.read(path, phrase).as_slice() {
        [Answer::Reading(r)] => match r.unknown() {
            Some(why) => Err(format!("unknown: {why}")),
            None => figure(r, unit, half, side)
                .ok_or_else(|| format!("no figure in {unit}: {}", r.line(workbench::Style::default()))),
        },
        [Answer::Wrong(fault)] => Err(fault.message.clone()),
        other => Err(format!("{} answers", other.len())),
    }
}

/// A phrase's figure over tolerance, or why there is none.
fn read_over(snapshot: &Snapshot, path: &str, phrase: &str, unit: &str, end: End) -> Result<f64, String> {
    match snapshot.read_over_tolerance(path, phrase).as_slice() {
        [(Answer::Reading(r), Some(over))] => {
            let study = over.study.as_ref().map_err(|why| format!("unknown over tolerance: {why}"))?;
            let x = match end {
                End::Lowest => study.low.value,
                End::Highest => study.high.value,
                End::RootLowest => study.rss[0],
                End::RootHighest => study.rss[1],
            };
            in_unit(x, r, unit).ok_or_else(|| format!("no figure in {unit}"))
        }
        [(Answer::Reading(r), None)] => Err(format!("unknown: {}", r.unknown().unwrap_or("nothing over tolerance"))),
        [(Answer::Wrong(fault), _)] => Err(fault.message.clone()),
        other => Err(format!("{} answers", other.len())),
    }
}

/// What came of one check.
enum Outcome {
    Passed,
    Waiting,
    Failed(String),
}

fn decide(snapshot: &Snapshot, path: &str, check: &Check) -> Outcome {
    let one = |phrase: &str, side| read(snapshot, path, phrase, &check.unit, check.half, side);
    let found = match (&check.minus, check.end) {
        (Some(minus), _) => one(&check.phrase, None).and_then(|a| Ok(a - one(minus, None)?)),
        (None, Some(end)) => read_over(snapshot, path, &check.phrase, &check.unit, end),
        (None, None) => one(&check.phrase, check.side),
    };
    match found {
        Err(_) if check.later => Outcome::Waiting,
        Err(why) => Outcome::Failed(why),
        Ok(x) => {
            let tolerance = if check.relative { check.tolerance * check.value.abs() } else { check.tolerance };
            let mut off = x - check.value;
            if check.unit == "deg" {
                off -= 360.0 * (off / 360.0).round();
            }
            if off.abs() <= tolerance { Outcome::Passed } else { Outcome::Failed(format!("found {x}")) }
        }
    }
}

#[test]
fn published_values_hold() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("outside");
    let mut files: Vec<_> =
        std::fs::read_dir(&here).expect("the fixtures are there").map(|e| e.expect("a file").path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "stage"));
    files.sort();
    let (mut passed, mut waiting, mut cases, mut failures) = (0, 0, BTreeSet::new(), Vec::new());
    for file in files {
        let name = file.file_name().expect("a name").to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&file).expect("UTF-8 text");
        let checks = marker::checks(&text).unwrap_or_else(|why| panic!("{name}: {why}"));
        assert!(!checks.is_empty(), "{name} checks nothing");
        let mut bench = Workbench::new();
        bench.set_text(&name, text);
        let snapshot = bench.snapshot();
        for problem in snapshot.problems(&name).iter().filter(|p| p.severity == workbench::Severity::Error) {
            failures.push(format!("{name}: {}", problem.message));
        }
        for check in checks {
            match decide(&snapshot, &name, &check) {
                Outcome::Passed => {
                    passed += 1;
                    cases.insert(check.case.clone());
                }
                Outcome::Waiting => waiting += 1,
                Outcome::Failed(why) => failures.push(format!(
                    "{name} {}: {}: expected {} {}; {why}",
                    check.case, check.phrase, check.value, check.unit
                )),
            }
        }
    }
    println!("{passed} published figures of {} cases hold, {waiting} wait for their quantity", cases.len());
    assert!(failures.is_empty(), "{} of the published figures do not hold:\n{}", failures.len(), failures.join("\n"));
    assert!(cases.len() >= 40, "only {} cases were decided", cases.len());
}

/// How many published values were collected, those included that no circuit of the notation expresses.
const COLLECTED: usize = 181;

/// `ES01 … ES05, ES02b` as single names.
fn names(cell: &str) -> Vec<String> {
    let one = |piece: &str| match piece.split_once(" … ") {
        Some((from, to)) => {
            let number = |name: &str| name[2..].parse::<u32>().unwrap_or_else(|_| panic!("{name} is no number"));
            assert_eq!(from[..2], to[..2], "{piece} is no row");
            (number(from)..=number(to)).map(|n| format!("{}{n:02}", &from[..2])).collect()
        }
        None => vec![piece.to_string()],
    };
    cell.split(", ").flat_map(|piece| one(piece.trim())).collect()
}

/// Every value that was collected is decided by a file here, or stands in the README with the reason why it is not.
#[test]
fn every_published_value_is_accounted_for() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("outside");
    let readme = std::fs::read_to_string(here.join("README.md")).expect("the list is there");
    let (_, table) = readme.split_once("## Published values that do not fit yet").expect("its heading");
    let rows = table.lines().filter(|l| l.starts_with("| ")).skip(1);
    let mut listed = BTreeSet::new();
    for row in rows {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [cases, value, why] = cells[..] else { panic!("{row} has three cells") };
        assert!(!value.is_empty() && why.len() > 5, "{row} says why");
        for name in names(cases) {
            assert!(listed.insert(name.clone()), "{name} is listed twice");
        }
    }
    let mut decided = BTreeSet::new();
    for file in std::fs::read_dir(&here).expect("the fixtures are there").map(|e| e.expect("a file").path()) {
        if file.extension().is_some_and(|e| e == "stage") {
            let text = std::fs::read_to_string(&file).expect("UTF-8 text");
            let checks = marker::checks(&text).unwrap_or_else(|why| panic!("{}: {why}", file.display()));
            decided.extend(checks.into_iter().map(|c| c.case));
        }
    }
    // A collected value has two letters and a number; what was added here has a name.
    let collected = |name: &&String| {
        let digits = name.trim_end_matches(|c: char| c.is_ascii_lowercase()).get(2..).unwrap_or_default();
        !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit())
    };
    let twice: Vec<&String> = decided.intersection(&listed).collect();
    assert!(twice.is_empty(), "decided, and said to be not: {twice:?}");
    let count = decided.iter().filter(collected).count();
    println!("{count} decided and {} with a reason why not, of {COLLECTED}", listed.len());
    assert_eq!(count + listed.len(), COLLECTED);
}
