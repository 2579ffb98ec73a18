//! The commands at their edges: output that cannot be written, files that cannot be read, characters that no terminal should get, and
//! what is said of a slip on the command line.

use std::fs::File;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// A bell's pick-up and what follows it.
const DESIGN: &str = "\
stage bell: in -> out
  in  -- R1 10M -- gnd
  in  -- R2 10k -- out
  out -- C1 1n -- gnd
";

fn program(folder: &Path, arguments: &[&str]) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_stagewright"));
    program.args(arguments).current_dir(folder).stdin(Stdio::null());
    program
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    program(folder, arguments).output().expect("the program starts")
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

/// A folder with a design in it.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bell.stage"), DESIGN).unwrap();
    folder
}

#[test]
fn a_file_that_could_not_be_read_is_counted_in_the_last_line() {
    let folder = folder();
    let output = run(folder.path(), &["check", "missing.stage"]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(text(&output.stdout), "no design was checked: 1 file could not be read\n");
    assert!(text(&output.stderr).contains("missing.stage cannot be read: there is no such file"));
    let output = run(folder.path(), &["check", "missing.stage", "bell.stage", "gone.stage"]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(text(&output.stdout).lines().last(), Some("1 design: no problems; 2 files could not be read"));
}

#[test]
fn a_layout_of_a_file_that_could_not_be_read_says_so_at_the_end() {
    let folder = folder();
    let output = run(folder.path(), &["format", "--check", "missing.stage"]);
    assert_eq!((output.status.code(), text(&output.stdout)), (Some(2), "no design; 1 file could not be laid out\n"));
}

/// All that print something.
const PRINTING: [&[&str]; 12] = [
    &["show", "bell.stage"],
    &["show", "bell.stage", "--format", "json"],
    &["check", "bell.stage"],
    &["check", "bell.stage", "--format", "json"],
    &["check", "bell.stage", "--format", "sarif"],
    &["read", "bell.stage", "gain in -> out at 1 kHz"],
    &["read", "bell.stage", "gain in -> out at 1 kHz", "--format", "json"],
    &["format", "--check", "bell.stage"],
    &["explain"],
    &["explain", "gain"],
    &["--help"],
    &["--version"],
];

#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_noticed() {
    let folder = folder();
    for arguments in PRINTING {
        let full = File::options().write(true).open("/dev/full").expect("a device that is always full");
        let output = program(folder.path(), arguments).stdout(full).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = text(&output.stderr);
        assert_eq!(said.lines().count(), 1, "{arguments:?}: {said}");
        assert!(said.starts_with("stagewright: the output could not be written: "), "{arguments:?}: {said}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_message_that_cannot_be_written_breaks_nothing() {
    let folder = folder();
    for arguments in [&["show", "gone.stage"][..], &["check", "gone.stage"], &["sevre"], &["serve", "--socket", "owl"]]
    {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let output = program(folder.path(), arguments).stderr(full).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_reader_that_has_had_enough_is_no_fault() {
    let folder = folder();
    for arguments in PRINTING {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = program(folder.path(), arguments).stdout(writer).output().unwrap();
        assert_eq!(text(&output.stderr), "", "{arguments:?}");
        assert!(matches!(output.status.code(), Some(0)), "{arguments:?}: {:?}", output.status);
    }
}

#[test]
fn characters_that_steer_a_terminal_are_shown_and_not_sent() {
    let folder = tempfile::tempdir().unwrap();
    let design = "stage bell: in -> out # \u{1b}[31m\u{0}\u{7f}\u{202e}\u{85}\n  in -- R1 1k \"\u{2066}x\" -- o\u{0}ut\r  x\n\tin -- R2 \u{202e}q\n";
    std::fs::write(folder.path().join("bell.stage"), design).unwrap();
    let told = |arguments: &[&str]| {
        let output = run(folder.path(), arguments);
        let all = format!("{}{}", text(&output.stdout), text(&output.stderr));
        let raw = |c: &char| (c.is_control() && *c != '\n' && *c != '\t') || "\u{202e}\u{2066}".contains(*c);
        assert_eq!(all.chars().find(raw), None, "{arguments:?}: {all:?}");
        all
    };
    let shown = told(&["show", "bell.stage"]);
    assert!(shown.contains("# ␛[31m␀␡U+202EU+0085"), "{shown}");
    assert!(shown.contains("\"U+2066x\""), "{shown}");
    let checked = told(&["check", "bell.stage"]);
    assert!(checked.contains("o␀ut␍"), "{checked}");
    told(&["read", "bell.stage", "gain \u{202e}in -> out\u{0007}"]);
    told(&["format", "--check", "bell.stage"]);
    told(&["show", "b\u{1b}]0;owl\u{7}\u{202e}.stage"]);
    told(&["check", "b\u{1b}[2J\n.stage"]);
    told(&["show", "bell.stage", "--form\u{1b}[2Jat"]);
    told(&["\u{202e}show"]);
}

#[cfg(unix)]
#[test]
fn json_holds_no_character_that_steers_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let design = "stage bell: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k # a \u{202e}note\n";
    std::fs::write(folder.path().join("b\u{202e}ell.stage"), design).unwrap();
    for arguments in [
        ["check", "--format", "json", "b\u{202e}ell.stage"],
        ["check", "--format", "sarif", "b\u{202e}ell.stage"],
        ["show", "--format", "json", "b\u{202e}ell.stage"],
    ] {
        let output = run(folder.path(), &arguments);
        let json = text(&output.stdout);
        assert!(!json.contains('\u{202e}') && json.contains("b\\u202eell.stage"), "{arguments:?}: {json}");
        let read: Value = serde_json::from_str(json).unwrap();
        assert!(read.to_string().contains('\u{202e}'), "a reader of it gets the character back");
    }
    let output = run(folder.path(), &["read", "--format", "json", "b\u{202e}ell.stage", "gain in\u{202e} -> out"]);
    assert!(!text(&output.stdout).contains('\u{202e}'), "{}", text(&output.stdout));
}

#[test]
fn a_files_name_is_shown_as_visibly_as_its_text() {
    let folder = tempfile::tempdir().unwrap();
    let name = "b\u{202e}\u{1b}[2J.stage";
    std::fs::write(folder.path().join(name), "stage bell: in -> out\n  in -- R1 -- out\n").unwrap();
    let output = run(folder.path(), &["check", name]);
    assert!(text(&output.stdout).starts_with("bU+202E␛[2J.stage:2:"), "{}", text(&output.stdout));
    let json: Value = serde_json::from_slice(&run(folder.path(), &["check", name, "--format", "json"]).stdout).unwrap();
    assert_eq!(json["problems"][0]["file"], name, "a program gets the name itself");
}

/// The mark under a word stands under it, whatever is written in front: signs of double width, none, and those that are spelt out.
#[test]
fn marks_stand_under_what_they_speak_of() {
    let folder = tempfile::tempdir().unwrap();
    for (front, columns) in [("abc", 3), ("鐘楼", 4), ("e\u{301}", 1), ("\u{0}", 1), ("\u{202e}", 6), ("🔔", 2)] {
        let design = format!("stage bell: in -> out\n  in -- R1 1k \"{front}\" -- out -- -- gnd\n");
        std::fs::write(folder.path().join("bell.stage"), &design).unwrap();
        let checked = run(folder.path(), &["check", "bell.stage"]);
        let plain = design.replace(front, "");
        std::fs::write(folder.path().join("bell.stage"), &plain).unwrap();
        let mark = |output: &Output| {
            let line = text(&output.stdout).lines().find(|line| line.trim_end().ends_with('^')).map(str::to_string);
            line.unwrap_or_else(|| panic!("no mark in {}", text(&output.stdout))).chars().count()
        };
        let without = mark(&run(folder.path(), &["check", "bell.stage"]));
        assert_eq!(mark(&checked), without + columns, "{front:?}:\n{}", text(&checked.stdout));
    }
}

#[test]
fn a_tab_keeps_the_mark_in_its_column() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bell.stage"), "stage bell: in -> out\n\tin -- R1 -- out\n").unwrap();
    let output = run(folder.path(), &["check", "bell.stage"]);
    let lines: Vec<_> = text(&output.stdout).lines().collect();
    assert_eq!(lines[1], "    2 │ \tin -- R1 -- out");
    assert!(lines[2].starts_with("      │ \t      ^"), "{lines:#?}");
}

fn slip(arguments: &[&str]) -> String {
    let output = run(Path::new("."), arguments);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    assert_eq!(text(&output.stdout), "", "{arguments:?}");
    let said = text(&output.stderr).to_string();
    assert!(said.starts_with("stagewright"), "{said}");
    for word in ["error:", "invalid", "Usage", "unexpected", "unrecognized", "tip:", "!"] {
        assert!(!said.contains(word), "{arguments:?}: {said}");
    }
    said
}

#[test]
fn a_slip_on_the_command_line_is_told_with_a_way_out() {
    for (arguments, said) in [
        (&["sevre"][..], "stagewright: there is no command sevre. Did you mean serve?\n"),
        (
            &["owl"],
            "stagewright: there is no command owl. The commands are serve, show, check, read, derive, plot, draw, parts, format and explain; stagewright --help \
             tells what each does.\n",
        ),
        (&["--verison"], "stagewright: there is no option --verison. Did you mean --version?\n"),
        (
            &["check", "--fromat", "json", "a"],
            "stagewright check: there is no option --fromat. Did you mean --format?\n",
        ),
        (
            &["check", "--owl", "a"],
            "stagewright check: there is no option --owl. stagewright check --help names those that there are.\n",
        ),
        (&["check", "a", "--format", "xml"], "stagewright check: --format is text, json or sarif, not xml.\n"),
        (
            &["check", "a", "--format", "jsn"],
            "stagewright check: --format is text, json or sarif, not jsn. Did you mean json?\n",
        ),
        (&["check", "a", "--format"], "stagewright check: --format wants text, json or sarif behind it.\n"),
        (&["show"], "stagewright show: a FILE is missing, as in: stagewright show FILE\n"),
        (&["read", "a.stage"], "stagewright read: a PHRASE is missing, as in: stagewright read FILE PHRASE...\n"),
        (&["show", "a", "b"], "stagewright show: b is one argument too many, as in: stagewright show FILE\n"),
        (
            &["serve", "--socket", "99999"],
            "stagewright serve: --socket cannot be 99999: a port is a number from 0 to 65535.\n",
        ),
        (&["serve", "--socket"], "stagewright serve: --socket wants PORT behind it.\n"),
        (
            &["serve", "--stdio", "--socket", "3"],
            "stagewright serve: --stdio and --socket exclude each other: leave one out.\n",
        ),
        (&["show", ""], "stagewright show: FILE is empty: a word is missing there.\n"),
        (
            &["read", "a.stage", "-1"],
            "stagewright read: there is no option -1. If it is no option, write -- in front of it.\n",
        ),
        (&["help", "shw"], "stagewright: there is no command shw. Did you mean show?\n"),
        (
            &["show", "a", "--format", "text", "--format", "json"],
            "stagewright show: --format is given twice: leave one out.\n",
        ),
    ] {
        assert_eq!(slip(arguments), said, "{arguments:?}");
    }
}

#[test]
fn every_object_of_read_has_all_its_fields() {
    let folder = folder();
    let phrases = ["gain in -> out at 1 kHz", "gian in -> out", "noise of", "noise of out", "gain in -> nowhere", "  "];
    let output = run(folder.path(), &[&["read", "bell.stage", "--format", "json"][..], &phrases].concat());
    assert_eq!(output.status.code(), Some(1));
    let objects: Vec<Value> = text(&output.stdout).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(objects.len(), phrases.len());
    for (object, phrase) in objects.iter().zip(phrases) {
        for field in ["phrase", "value", "unit", "setting", "status", "reason", "range", "tolerance", "text"] {
            assert!(object.get(field).is_some(), "{phrase} has no {field}: {object}");
        }
        let known = object["status"] != "unknown";
        assert_eq!(known, !object["value"].is_null(), "{object}");
        assert_eq!(known, object["unit"].is_string(), "what is not known has no unit: {object}");
        assert!(known || object["reason"].is_string(), "{object}");
    }
    assert_eq!(objects[0]["status"], "exact");
    assert_eq!(objects[1]["reason"], "At character 1, `gian`: gian is no quantity: did you mean gain?");
    assert_eq!(objects[1]["text"], "gian in -> out is unknown: gian is no quantity: did you mean gain?");
    let reason = objects[2]["reason"].as_str().unwrap();
    assert!(reason.starts_with("At the end of the phrase: "), "{reason}");
    let reason = objects[4]["reason"].as_str().unwrap();
    assert!(reason.starts_with("At character 12, `nowhere`: "), "{reason}");
}

#[cfg(unix)]
#[test]
fn a_pipe_or_a_device_is_not_waited_for() {
    let folder = folder();
    let made = Command::new("mkfifo").arg(folder.path().join("pipe.stage")).status().expect("mkfifo");
    assert!(made.success());
    let _socket = std::os::unix::net::UnixListener::bind(folder.path().join("socket.stage")).expect("a socket");
    std::os::unix::fs::symlink("/dev/zero", folder.path().join("device.stage")).expect("a link");
    std::fs::create_dir(folder.path().join("shelf.stage")).expect("a folder");
    for (name, kind) in [("pipe", "a pipe"), ("socket", "a socket"), ("device", "a device")] {
        let file = format!("{name}.stage");
        for command in [&["check"][..], &["show"], &["format", "--check"], &["read"]] {
            let arguments: Vec<&str> = if command[0] == "read" {
                vec!["read", &file, "gain in -> out"]
            } else {
                command.iter().copied().chain([file.as_str()]).collect()
            };
            let output = run(folder.path(), &arguments);
            let said = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
            assert!(said.contains(&format!("{file} is {kind}, not a plain file")), "{arguments:?}: {said}");
        }
        std::fs::write(folder.path().join("including.stage"), format!("include \"{file}\"\n{DESIGN}")).unwrap();
        let output = run(folder.path(), &["check", "including.stage"]);
        let said = text(&output.stdout);
        let outside = name == "device" && said.contains("lies outside the workspace");
        assert!(outside || said.contains(&format!("{file} is {kind}, not a plain file")), "{said}");
    }
    let output = run(folder.path(), &["show", "shelf.stage"]);
    assert!(text(&output.stderr).contains("shelf.stage is a folder, not a plain file"), "{}", text(&output.stderr));
}

#[test]
fn a_file_beyond_reason_and_one_that_is_no_text_are_told_of() {
    let folder = folder();
    let file = std::fs::File::create(folder.path().join("long.stage")).unwrap();
    file.set_len(17 << 20).unwrap();
    std::fs::write(folder.path().join("latin.stage"), b"# caf\xe9\n").unwrap();
    let said = |name: &str| text(&run(folder.path(), &["check", name]).stderr).to_string();
    assert!(said("long.stage").contains("long.stage is 17 megabytes long: a design of more than 16 is not read"));
    assert!(said("latin.stage").contains("latin.stage is not UTF-8 text: byte 5 is the first that is not"));
}

#[test]
fn a_line_without_end_is_shown_around_its_fault() {
    let folder = folder();
    let line = format!("  in{}\n", " -- R1 1k -- in".repeat(20_000));
    std::fs::write(folder.path().join("long.stage"), format!("stage bell: in -> in\n{line}")).unwrap();
    let output = run(folder.path(), &["check", "long.stage"]);
    let longest = text(&output.stdout).lines().map(|l| l.chars().count()).max();
    assert!(longest.is_some_and(|n| n < 1_000), "{longest:?}");
    assert!(text(&output.stdout).contains('…'));
}

#[test]
fn a_circuit_is_drawn_into_a_file_whole_or_not_at_all() {
    let folder = tempfile::tempdir().expect("a folder");
    let design = "stage pad: in -> out\n  in -- R1 10k -- out -- R2 1k -- gnd\n";
    std::fs::write(folder.path().join("pad.stage"), design).expect("written");
    let found = run(folder.path(), &["draw", "pad.stage", "-o", "pad.svg"]);
    assert_eq!((found.status.code(), text(&found.stdout), text(&found.stderr)), (Some(0), "", ""));
    let picture = std::fs::read_to_string(folder.path().join("pad.svg")).expect("it is there");
    assert!(picture.starts_with("<svg ") && picture.ends_with("</svg>\n"), "{picture}");
    assert!(picture.contains("id=\"part-R1\"") && picture.contains("id=\"stage-pad\""), "{picture}");
    let found = run(folder.path(), &["draw", "pad.stage", "pad", "-o", "-"]);
    assert_eq!((found.status.code(), text(&found.stdout).starts_with("<svg ")), (Some(0), true));
    let found = run(folder.path(), &["draw", "pad.stage", "pda", "-o", "-"]);
    assert_eq!(found.status.code(), Some(2));
    assert!(text(&found.stderr).contains("did you mean pad?"), "{}", text(&found.stderr));
    let found = run(folder.path(), &["draw", "pad.stage", "-o", "pad.gif"]);
    assert_eq!(
        text(&found.stderr),
        "stagewright: pad.gif: the picture is SVG or PNG, so its name ends in .svg or .png\n"
    );
    let found = run(folder.path(), &["draw", "pad.stage", "-o", "pad.png"]);
    assert_eq!((found.status.code(), text(&found.stdout), text(&found.stderr)), (Some(0), "", ""));
    let pixels = std::fs::read(folder.path().join("pad.png")).expect("it is there");
    assert!(pixels.starts_with(b"\x89PNG\r\n\x1a\n"));
    // Two pixels for each of the sheet's: width and height are the first that a PNG says (ISO/IEC 15948, IHDR).
    let sheet = |edge: &str| -> u32 {
        let (_, behind) = picture.split_once(&format!("{edge}=\"")).expect("its edge");
        behind.split_once('"').expect("a number").0.parse().expect("a number")
    };
    let edge = |at: usize| u32::from_be_bytes(pixels[at..at + 4].try_into().expect("four bytes"));
    assert_eq!([edge(16), edge(20)], [2 * sheet(" width"), 2 * sheet(" height")]);
    let found = run(folder.path(), &["draw", "pad.stage", "-o", "nowhere/pad.svg"]);
    assert_eq!(found.status.code(), Some(2));
    assert!(text(&found.stderr).contains("nowhere/pad.svg cannot be written"), "{}", text(&found.stderr));
    std::fs::write(folder.path().join("torn.stage"), format!("{design}  out -- R3\n")).expect("written");
    let found = run(folder.path(), &["draw", "torn.stage", "-o", "-"]);
    assert_eq!(found.status.code(), Some(1));
    assert!(text(&found.stdout).contains("line 3 is unfinished"), "{}", text(&found.stdout));
}

#[cfg(unix)]
#[test]
fn a_picture_is_written_by_the_rules_of_a_design() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("pad.stage"), "stage pad: in -> out\n  in -- R1 10k -- out -- R2 1k -- gnd\n").unwrap();
    let drawn = |name: &str| run(folder.path(), &["draw", "pad.stage", "-o", name]);
    let plotted = |name: &str| run(folder.path(), &["plot", "pad.stage", "gain in -> out", "-o", name]);
    for write in [&drawn as &dyn Fn(&str) -> Output, &plotted] {
        std::fs::write(at("real.svg"), "old").unwrap();
        std::fs::set_permissions(at("real.svg"), std::fs::Permissions::from_mode(0o640)).unwrap();
        for (link, target) in [("link.svg", "real.svg"), ("astray.svg", "nothing.svg")] {
            let _ = std::fs::remove_file(at(link));
            symlink(target, at(link)).unwrap();
        }
        let mode = |name: &str| std::fs::metadata(at(name)).unwrap().permissions().mode() & 0o777;
        assert_eq!(write("link.svg").status.code(), Some(0));
        assert!(std::fs::read_to_string(at("real.svg")).unwrap().starts_with("<svg"));
        assert!(std::fs::symlink_metadata(at("link.svg")).unwrap().is_symlink());
        assert_eq!(mode("real.svg"), 0o640);
        let astray = write("astray.svg");
        assert_eq!(astray.status.code(), Some(2), "{}", text(&astray.stderr));
        assert!(std::fs::symlink_metadata(at("astray.svg")).unwrap().is_symlink());
        // A new one is for everyone whom the mask lets, as one that anybody writes.
        assert_eq!(write("new.svg").status.code(), Some(0));
        std::fs::File::create(at("any")).unwrap();
        assert_eq!(mode("new.svg"), mode("any"));
        std::fs::remove_file(at("new.svg")).unwrap();
        std::fs::create_dir_all(at("dir.svg")).unwrap();
        assert_eq!(text(&write("dir.svg").stderr), "stagewright: dir.svg cannot be written: it is a folder\n");
        // Who may write anything (a container's root) is not kept from it.
        std::fs::set_permissions(at("real.svg"), std::fs::Permissions::from_mode(0o440)).unwrap();
        let forbidden = std::fs::OpenOptions::new().write(true).open(at("real.svg")).is_err();
        let kept = write("real.svg");
        assert_eq!(kept.status.code(), Some(if forbidden { 2 } else { 0 }), "{}", text(&kept.stderr));
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().flatten().map(|e| e.file_name()).collect();
        assert_eq!(left.len(), 6, "nothing is left lying about: {left:?}");
        std::fs::remove_file(at("real.svg")).unwrap();
    }
}

#[test]
fn a_stage_is_derived_by_its_name_and_a_slip_names_those_that_there_are() {
    let folder = folder();
    let design = "stage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n";
    std::fs::write(folder.path().join("pad.stage"), design).unwrap();
    let found = run(folder.path(), &["derive", "pad.stage", "pad"]);
    assert_eq!(found.status.code(), Some(0));
    assert!(
        text(&found.stdout).ends_with("As a formula\n    gain in -> out = R2 / (R1 + R2)\n"),
        "{}",
        text(&found.stdout)
    );
    for (format, mark) in [("markdown", "## stage pad: in → out\n"), ("tex", "\\documentclass{article}\n")] {
        let found = run(folder.path(), &["derive", "pad.stage", "--format", format]);
        assert_eq!(found.status.code(), Some(0));
        assert!(text(&found.stdout).starts_with(mark), "{}", text(&found.stdout));
    }
    let found = run(folder.path(), &["derive", "pad.stage", "pda"]);
    assert_eq!(found.status.code(), Some(2));
    assert_eq!(text(&found.stdout), "");
    assert_eq!(text(&found.stderr), "stagewright: there is no stage pda: did you mean pad? the stages are pad.\n");
    std::fs::write(folder.path().join("torn.stage"), "stage pad: in -> out\n  in -- R1 1k --\n").unwrap();
    let found = run(folder.path(), &["derive", "torn.stage"]);
    assert_eq!(found.status.code(), Some(1));
    assert!(text(&found.stdout).contains("Unknown: line 2 is unfinished."), "{}", text(&found.stdout));
}

#[test]
fn concessions_that_have_a_say_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let design = "design\n  accept over voltage for C1: \"a short pulse\"\n  supply vp +30 V\nstage pad: in -> a\n  in -- R2 10k -- a\n  vp -- R1 1k -- a\n  a -- C1 10u 25V -- gnd\n";
    std::fs::write(folder.path().join("pad.stage"), design).unwrap();
    let output = run(folder.path(), &["check", "pad.stage"]);
    let said = text(&output.stdout);
    assert!(said.contains("pad.stage:2: accepted: over voltage for C1: a short pulse\n"), "{said}");
    let output = run(folder.path(), &["check", "pad.stage", "--format", "sarif"]);
    let log: Value = serde_json::from_slice(&output.stdout).unwrap();
    let results = log["runs"][0]["results"].as_array().unwrap();
    let one = results.iter().find(|r| r["ruleId"] == "over-voltage").expect("the concession");
    assert_eq!(one["suppressions"][0]["kind"], "inSource");
    assert_eq!(one["suppressions"][0]["justification"], "a short pulse");
}

/// What is bought alike stands on one row, and a table for a program has every designator.
#[test]
fn parts_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let design = "design\n  tolerance R 1 %\n  supply vpos +12 V, vneg -12 V\nstage amp: in -> out\n  in -- R1 1M -- gnd\n  U1a tl072: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- R3 10k 0.1% \"R-77\" -- gnd\n  out -- R4 10k external -- gnd\n  out -- C1 10n unfitted -- gnd\n";
    std::fs::write(folder.path().join("amp.stage"), design).unwrap();
    let found = run(folder.path(), &["parts", "amp.stage"]);
    assert_eq!(found.status.code(), Some(0), "{}", text(&found.stderr));
    let rows: Vec<&str> = text(&found.stdout).lines().collect();
    assert!(rows[2].starts_with("    1  R2") && rows[2].ends_with("10 kΩ  1 %"), "{rows:?}");
    assert!(rows[3].contains("R3") && rows[3].contains("0.1 %") && rows[3].ends_with("R-77"), "{rows:?}");
    assert!(rows.iter().all(|r| !r.contains("R4")), "{rows:?}");
    assert!(rows[6].contains("C1") && rows[6].ends_with("not fitted"), "{rows:?}");
    assert_eq!(rows[8], "4 devices of 4 kinds");
    assert_eq!(
        rows[9],
        "U1b is to spare in its package: with its + input at gnd and its - input at its output it stays quiet."
    );

    let found = run(folder.path(), &["parts", "amp.stage", "-o", "amp.csv"]);
    assert_eq!(found.status.code(), Some(0), "{}", text(&found.stderr));
    let csv = std::fs::read_to_string(folder.path().join("amp.csv")).unwrap();
    assert!(csv.starts_with("count,designators,part,value,made,tolerance,rating,order code,fitted\r\n"), "{csv}");
    assert!(csv.contains("1,R3,resistor,10 kΩ,,0.1 %,,R-77,fitted\r\n"), "{csv}");
    let found = run(folder.path(), &["parts", "amp.stage", "-o", "amp.xls"]);
    assert_eq!(found.status.code(), Some(2));
    assert!(text(&found.stderr).contains("its name ends in .txt, .md or .csv"), "{}", text(&found.stderr));
}
