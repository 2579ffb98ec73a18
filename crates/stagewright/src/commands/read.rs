//! `read`: single readings.

use std::process::ExitCode;

use serde_json::{Value as Json, json};
use workbench::{Answer, Kind, Reading, Status, Style, Value, Workbench};

use super::{CLEAN, FAILED, Format, PROBLEMS, Read, files};

/// Runs the command.
pub fn run(args: &Read) -> ExitCode {
    let text = match files::text(&args.file) {
        Ok(text) => text,
        Err(why) => {
            eprintln!("stagewright: {why}");
            return ExitCode::from(FAILED);
        }
    };
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text);
    let snapshot = bench.snapshot();
    let (mut out, mut open) = (String::new(), false);
    for phrase in &args.phrases {
        for answer in snapshot.read(&path, phrase) {
            open |= !matches!(&answer, Answer::Reading(r) if r.unknown().is_none());
            out.push_str(&match args.format {
                Format::Text => as_text(phrase, &answer, args.tolerance),
                Format::Json => format!("{}\n", as_json(phrase, &answer, args.tolerance)),
            });
        }
    }
    super::print(&out);
    ExitCode::from(if open { PROBLEMS } else { CLEAN })
}

fn as_text(phrase: &str, answer: &Answer, tolerance: bool) -> String {
    match answer {
        Answer::Reading(r) => {
            let more =
                if tolerance && r.unknown().is_none() { "; its range over tolerance is not computed yet" } else { "" };
            format!("{}{more}\n", r.line(Style::default()))
        }
        Answer::Wrong(fault) => {
            let at = phrase[..(fault.span.start as usize).min(phrase.len())].chars().count();
            format!("{phrase}\n{}^ {}\n", " ".repeat(at), fault.message)
        }
    }
}

fn as_json(phrase: &str, answer: &Answer, tolerance: bool) -> Json {
    match answer {
        Answer::Reading(r) => reading(r, tolerance),
        Answer::Wrong(fault) => json!({
            "phrase": phrase, "value": null, "unit": null, "setting": null, "status": "unknown", "reason": fault.message, "range": null, "tolerance": null,
        }),
    }
}

fn reading(r: &Reading, tolerance: bool) -> Json {
    let value = match r.value {
        Value::Real(x) => json!(x),
        Value::Complex(z) => json!([z.re, z.im]),
        Value::None | Value::Never => Json::Null,
    };
    let (status, reason) = match &r.status {
        Status::Exact if r.value == Value::Never => {
            ("exact", json!("none: the response never falls by 3.01 dB on that side"))
        }
        Status::Exact => ("exact", Json::Null),
        Status::Typical(sheets) => ("typical", json!(format!("rests on typical figures of {}", sheets.join(", ")))),
        Status::Unknown(why) => ("unknown", json!(why)),
    };
    let unit = match r.kind {
        Kind::Gain => "V/V",
        _ => r.unit.symbol(true),
    };
    let range = r.range.as_ref().map(|range| {
        let [a, b] = [range.ends[0].value, range.ends[1].value];
        match (a, b) {
            (Some(a), Some(b)) => json!([a.min(b), a.max(b)]),
            _ => json!([a, b]),
        }
    });
    let tolerance = tolerance.then(|| json!({ "range": null, "reason": "not computed yet" }));
    json!({
        "phrase": &*r.phrase, "value": value, "unit": unit, "setting": r.setting.as_deref(), "status": status, "reason": reason,
        "range": range, "tolerance": tolerance, "text": r.line(Style::default()),
    })
}
