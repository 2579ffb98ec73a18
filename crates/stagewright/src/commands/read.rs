//! `read`: single readings.

use std::process::ExitCode;

use notation::tree::Fault;
use serde_json::{Value as Json, json};
use workbench::{Answer, Found, Kind, Reading, Status, Style, Tolerance, Value, Workbench};

use super::output::{blanks, complain, escaped, finish, visible};
use super::{CLEAN, FAILED, Format, PROBLEMS, Read, files};

/// Runs the command.
pub fn run(args: &Read) -> ExitCode {
    let text = match files::text(&args.file) {
        Ok(text) => text,
        Err(why) => {
            complain(&why);
            return ExitCode::from(FAILED);
        }
    };
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text);
    let snapshot = bench.snapshot();
    let (mut out, mut open) = (String::new(), false);
    for phrase in &args.phrases {
        let answers = if args.tolerance {
            snapshot.read_over_tolerance(&path, phrase)
        } else {
            snapshot.read(&path, phrase).into_iter().map(|answer| (answer, None)).collect()
        };
        for (answer, tolerance) in answers {
            open |= !matches!(&answer, Answer::Reading(r) if r.unknown().is_none());
            out.push_str(&match args.format {
                Format::Text => as_text(phrase, &answer, tolerance.as_ref()),
                Format::Json => escaped(&format!("{}\n", as_json(phrase, &answer, tolerance.as_ref()))).into_owned(),
            });
        }
    }
    finish(&out, if open { PROBLEMS } else { CLEAN })
}

fn as_text(phrase: &str, answer: &Answer, tolerance: Option<&Tolerance>) -> String {
    match answer {
        Answer::Reading(r) => {
            let mut out = format!("{}\n", visible(&r.line(Style::default())));
            for line in tolerance.iter().flat_map(|t| t.lines(r)) {
                out.push_str(&format!("  {}\n", visible(&line)));
            }
            out
        }
        Answer::Wrong(fault) => {
            // On its own line a tab would stand elsewhere than in the phrase.
            let front = phrase.get(..fault.span.start as usize).unwrap_or(phrase);
            format!("{}\n{}^ {}\n", visible(phrase), blanks(&visible(front)), visible(&fault.message))
        }
    }
}

fn as_json(phrase: &str, answer: &Answer, tolerance: Option<&Tolerance>) -> Json {
    match answer {
        Answer::Reading(r) => reading(r, tolerance),
        Answer::Wrong(fault) => json!({
            "phrase": phrase, "value": null, "unit": null, "setting": null, "status": "unknown", "reason": reason(phrase, fault), "range": null, "tolerance": null,
            "text": format!("{phrase} is unknown: {}", fault.message),
        }),
    }
}

/// What is wrong with a phrase, and where in it.
fn reason(phrase: &str, fault: &Fault) -> String {
    let front = phrase.get(..fault.span.start as usize).unwrap_or(phrase);
    let place = match phrase.get(fault.span.range()) {
        Some(word) if !word.trim().is_empty() => format!("character {}, `{word}`", front.chars().count() + 1),
        _ if front.trim_end() == phrase.trim_end() => "the end of the phrase".to_string(),
        _ => format!("character {}", front.chars().count() + 1),
    };
    format!("At {place}: {}", fault.message)
}

/// A reading over tolerance: of a gain its magnitude, as in `range`. JSON has no number for what has no bound.
fn over(tolerance: &Tolerance) -> Json {
    let study = match &tolerance.study {
        Ok(study) => study,
        Err(why) => return json!({ "range": null, "reason": why }),
    };
    let finite = |x: f64| Some(x).filter(|x| x.is_finite());
    let end = |e: &workbench::Extreme| {
        let (corner, build) = match &e.at {
            Found::Nominal => (Json::Null, Json::Null),
            Found::Build(number) => (Json::Null, json!(number)),
            Found::Corner(off) => {
                (off.iter().map(|(name, share)| json!({ "name": &**name, "off": share })).collect(), Json::Null)
            }
        };
        json!({ "value": finite(e.value), "position": &*e.position, "corner": corner, "build": build })
    };
    let weights = |all: &[workbench::Weight]| -> Vec<Json> {
        all.iter().map(|w| json!({ "name": &*w.name, "slope": w.slope, "share": w.share })).collect()
    };
    let held = tolerance.held.as_ref().map(|(over, _)| {
        json!({
            "verdict": if over.verdict == workbench::Held::Holds { "holds" } else { "fails" },
            "share": over.share.value(), "confidence": over.share.interval,
        })
    });
    json!({
        "range": [finite(study.low.value), finite(study.high.value)], "low": end(&study.low), "high": end(&study.high),
        "rss": study.rss.map(finite), "builds": study.builds, "points": study.points.map(|x| x.and_then(finite)),
        "unread": study.unread.as_ref().map_or(0, |u| u.0), "matters": weights(&study.low_weights),
        "matters_high": weights(&study.high_weights), "limit": held, "reason": null,
    })
}

fn reading(r: &Reading, tolerance: Option<&Tolerance>) -> Json {
    let value = match r.value {
        Value::Real(x) => json!(x),
        Value::Complex(z) => json!([z.re, z.im]),
        Value::None | Value::Never => Json::Null,
    };
    let beyond = matches!(r.value, Value::Real(x) if x.is_infinite());
    let (status, reason) = match &r.status {
        Status::Exact if r.value == Value::Never => {
            ("exact", json!("none: the response never falls by 3.01 dB on that side"))
        }
        // JSON has no word for what is beyond every number.
        Status::Exact if beyond => ("exact", json!(r.value_text(Style::default()))),
        Status::Typical(_) if beyond => ("typical", json!(r.value_text(Style::default()))),
        Status::Exact => ("exact", Json::Null),
        Status::Typical(sheets) => ("typical", json!(format!("rests on typical figures of {}", sheets.join(", ")))),
        Status::Unknown(why) => ("unknown", json!(why)),
    };
    let unit = match r.kind {
        // What was not computed is in no unit.
        _ if r.unknown().is_some() => Json::Null,
        Kind::Gain => json!("V/V"),
        _ => json!(r.unit.symbol(true)),
    };
    let range = r.range.as_ref().map(|range| {
        let [a, b] = [range.ends[0].value, range.ends[1].value];
        match (a, b) {
            (Some(a), Some(b)) => json!([a.min(b), a.max(b)]),
            _ => json!([a, b]),
        }
    });
    let tolerance = tolerance.map(over);
    json!({
        "phrase": &*r.phrase, "value": value, "unit": unit, "setting": r.setting.as_deref(), "status": status, "reason": reason,
        "range": range, "tolerance": tolerance, "text": r.line(Style::default()),
    })
}
