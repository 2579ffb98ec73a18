//! `check`: what it says in text, in JSON and in SARIF of the same design, under the same ids.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

/// A ferry's fog signal: a statement that nothing decides, one that fails, one that holds, a rule that speaks and one that is conceded.
const DESIGN: &str = "\
design \"Fog signal\"
  band 20 Hz .. 20 kHz
  supply vpos +12 V, vneg -12 V
  source in 1 mV
  accept loop gain low for U1a: \"the horn is slow\"
stage amp: in -> out
  in -- R1 1k -- gnd
  U1a fet_dual: + in, - fb, out out
  out -- R2 300k -- fb
  fb -- R3 1k -- C1 1u 5V -- gnd
  U3a fet_dual: + fb, - gnd, out rest
  rest -- R5 10k -- gnd
stage coil: out -> horn
  U2 : + out, - horn, out horn
assume within 0.1 dB
  C1 short above 20 Hz
require
  gain in -> out > 20 dB
  headroom of out > 3 dB
  noise of horn < -60 dBu
  low corner in -> out < 1 Hz
";

fn checked(folder: &Path, format: &str) -> String {
    let mut program = Command::new(env!("CARGO_BIN_EXE_stagewright"));
    let output =
        program.args(["check", "fog.stage", "--format", format]).current_dir(folder).stdin(Stdio::null()).output();
    String::from_utf8(output.expect("the program starts").stdout).expect("UTF-8")
}

fn said(design: &str) -> [String; 3] {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("fog.stage"), design).unwrap();
    ["text", "json", "sarif"].map(|format| checked(folder.path(), format))
}

#[test]
fn what_is_not_decided_is_listed_with_its_line_and_what_is_missing() {
    let [text, json, sarif] = said(DESIGN);
    let json: Value = serde_json::from_str(&json).unwrap();
    let unknown: Vec<&Value> =
        json["statements"].as_array().unwrap().iter().filter(|s| s["verdict"] == "unknown").collect();
    assert!(!unknown.is_empty());
    for s in &unknown {
        let (line, phrase) = (s["line"].as_u64().unwrap(), s["phrase"].as_str().unwrap());
        let why = s["reason"].as_str().unwrap().trim_end_matches('.');
        let line = format!("fog.stage:{line}: not decided: {} {phrase}: {why}\n", s["kind"].as_str().unwrap());
        assert!(!why.is_empty() && text.contains(&line), "{line}\nin\n{text}");
    }
    assert_eq!(text.matches(": not decided: ").count(), unknown.len());
    assert!(text.contains(&format!("; {} statement", unknown.len())) && text.ends_with(" not decided\n"), "{text}");
    // The same in SARIF, as what is open and no fault.
    let sarif: Value = serde_json::from_str(&sarif).unwrap();
    let open: Vec<&Value> =
        sarif["runs"][0]["results"].as_array().unwrap().iter().filter(|r| r["kind"] == "open").collect();
    assert_eq!(open.len(), unknown.len());
    for (r, s) in open.iter().zip(&unknown) {
        assert_eq!(r["locations"][0]["physicalLocation"]["region"]["startLine"], s["line"]);
        assert_eq!((&r["ruleId"], &r["level"]), (&"statement-undecided".into(), &"none".into()));
    }
}

#[test]
fn one_design_has_the_same_ids_in_every_format() {
    let [text, json, sarif] = said(DESIGN);
    let (json, sarif): (Value, Value) = (serde_json::from_str(&json).unwrap(), serde_json::from_str(&sarif).unwrap());
    let problems = json["problems"].as_array().unwrap();
    let results = sarif["runs"][0]["results"].as_array().unwrap();
    let ids: Vec<&str> = problems.iter().map(|p| p["id"].as_str().unwrap()).collect();
    for id in ["requirement-fails", "assumption-fails", "no-feedback"] {
        assert!(ids.contains(&id), "{id} in {ids:?}");
    }
    let level = |r: &&Value| r["level"] != "none";
    let logged: Vec<&str> = results.iter().filter(level).map(|r| r["ruleId"].as_str().unwrap()).collect();
    assert_eq!(ids, logged);
    for p in problems {
        let at = format!(
            "fog.stage:{}:{}: {}: {}\n",
            p["line"],
            p["column"],
            p["severity"].as_str().unwrap(),
            p["message"].as_str().unwrap()
        );
        assert!(text.contains(&at), "{at}\nin\n{text}");
    }
    let listed: BTreeSet<&str> = sarif["runs"][0]["tool"]["driver"]["rules"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| r["id"].as_str().unwrap())
        .collect();
    let used: BTreeSet<&str> = results.iter().map(|r| r["ruleId"].as_str().unwrap()).collect();
    assert_eq!(listed, used);
    // What is conceded is no problem, and is in the log all the same, with its reason.
    assert!(!ids.contains(&"loop-gain-low") && text.contains("accepted: loop gain low for U1a: the horn is slow"));
    let conceded = results.iter().find(|r| r["ruleId"] == "loop-gain-low").expect("the concession");
    assert_eq!(conceded["suppressions"][0]["justification"], "the horn is slow");
}

#[test]
fn requirements_whose_ways_out_were_not_looked_for_say_so() {
    let mut design = "stage pad: in -> out\n  in -- R1 1k -- out -- R2 1k -- gnd\nrequire\n".to_string();
    for k in 0..42 {
        design += &format!("  gain in -> out at {} Hz < -{} dB\n", 100 + k, 10 + k % 3);
    }
    let [text, ..] = said(&design);
    let errors: Vec<&str> = text.lines().filter(|l| l.contains(": error: ")).collect();
    assert_eq!(errors.len(), 42);
    let unlooked: Vec<&&str> =
        errors.iter().filter(|l| l.ends_with("; ways out were looked for of the first 40 that fail only.")).collect();
    assert_eq!(unlooked.len(), 2, "{text}");
    assert!(errors[..40].iter().all(|l| !l.contains("looked for")), "{text}");
}

/// What an assumption costs, whether it holds or not, with the limit, the frequency and the position; of several neglects each.
#[test]
fn an_assumption_has_its_costs_in_json() {
    let design =
        DESIGN.replace("  C1 short above 20 Hz\n", "  C1 short above 20 Hz\n  U1a ideal below 1 kHz within 3 dB\n");
    let [text, json, _] = said(&design);
    let json: Value = serde_json::from_str(&json).unwrap();
    let all: Vec<&Value> = json["statements"].as_array().unwrap().iter().filter(|s| s["kind"] == "assume").collect();
    assert_eq!(all.len(), 2, "{json}");
    for (s, limit) in all.iter().zip([0.1, 3.0]) {
        let number = |key: &str| s[key].as_f64().unwrap_or_else(|| panic!("{key} of {s}"));
        assert!((number("limit") - limit).abs() < 1e-12 && s["unit"] == "dB", "{s}");
        assert!((number("margin") - (limit - number("value"))).abs() < 1e-9, "{s}");
        assert_eq!(s["verdict"] == "holds", number("margin") >= 0.0, "{s}");
        assert_eq!(s["costs"].as_array().unwrap().len(), 1, "{s}");
        assert!(s.as_object().unwrap().contains_key("position"), "{s}");
    }
    // 1 kΩ with 1 µF turns at 159 Hz, and at 20 Hz nearly all of the gain is gone.
    assert!((all[0]["frequency"].as_f64().unwrap() - 20.0).abs() < 1e-6, "{}", all[0]);
    assert!(all[0]["verdict"] == "fails" && text.contains("C1 is not a short at 20 Hz"), "{text}");
    assert!(all[1]["frequency"].as_f64().unwrap() <= 1000.0, "{}", all[1]);
}

/// What the standard asks of a fix (sections 3.55 to 3.57 of SARIF 2.1.0, from memory): a fix changes at least one file, a change names the
/// file and has at least one replacement, and a replacement has the region that it takes out.
#[test]
fn a_fix_in_the_log_mends_the_file() {
    let design = DESIGN.replace("  noise of horn", "  niose of horn");
    let [_, json, sarif] = said(&design);
    let (json, sarif): (Value, Value) = (serde_json::from_str(&json).unwrap(), serde_json::from_str(&sarif).unwrap());
    let lines: Vec<&str> = design.split_inclusive('\n').collect();
    // By line and column from 1, a column a character, to the byte.
    let offset = |line: &Value, column: &Value| {
        let (line, column) = (line.as_u64().unwrap() as usize, column.as_u64().unwrap() as usize);
        let before: usize = lines[..line - 1].iter().map(|l| l.len()).sum();
        let row = lines.get(line - 1).copied().unwrap_or_default();
        before + row.char_indices().nth(column - 1).map_or(row.len(), |c| c.0)
    };
    let results = sarif["runs"][0]["results"].as_array().unwrap().iter().filter(|r| r["level"] != "none");
    let mut seen = 0;
    for (result, problem) in results.zip(json["problems"].as_array().unwrap()) {
        let offered =
            problem["fixes"].as_array().unwrap().iter().filter(|f| !f["edits"].as_array().unwrap().is_empty());
        let fixes = result["fixes"].as_array().cloned().unwrap_or_default();
        assert_eq!(fixes.len(), offered.count(), "{result}");
        for fix in &fixes {
            assert!(fix["description"]["text"].as_str().is_some_and(|t| !t.is_empty()), "{fix}");
            let changes = fix["artifactChanges"].as_array().unwrap();
            assert!(!changes.is_empty());
            for change in changes {
                assert_eq!(change["artifactLocation"]["uri"], "fog.stage");
                let all = change["replacements"].as_array().unwrap();
                assert!(!all.is_empty());
                let mut mended = design.clone();
                for one in all.iter().rev() {
                    let region = &one["deletedRegion"];
                    let from = offset(&region["startLine"], &region["startColumn"]);
                    let to = offset(&region["endLine"], &region["endColumn"]);
                    mended.replace_range(from..to, one["insertedContent"]["text"].as_str().unwrap());
                }
                assert_ne!(mended, design);
                seen += usize::from(mended.contains("  noise of horn"));
            }
        }
    }
    assert!(seen > 0, "{sarif}");
}
