//! `stagewright plot` as a person uses it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/river-listener.stage")
}

fn plot(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stagewright"))
        .arg("plot")
        .arg(example())
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

#[test]
fn without_a_file_the_terminal_shows_it() {
    let said = plot(&["gain in -> drive"]);
    assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
    let shown = text(&said.stdout);
    assert!(shown.starts_with("gain in -> drive over VR1\n"), "{shown}");
    assert!(shown.contains("VR1 100 %") && shown.contains("7.08 Hz") && shown.contains('⠤'), "{shown}");
    assert!(shown.lines().all(|l| l.chars().count() <= 80) && !shown.contains('\u{1b}'));
    assert_eq!(plot(&["gain in -> drive"]).stdout, said.stdout, "the same each time");
    let small = plot(&["gain in -> drive", "--size", "50x10", "--characters", "ascii"]);
    let shown = text(&small.stdout);
    assert!(shown.is_ascii() && shown.lines().all(|l| l.len() <= 80), "{shown}");
}

#[test]
fn a_file_is_written_by_its_ending() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let run = |name: &str, more: &[&str]| {
        let path = at(name);
        let mut arguments =
            vec!["gain in -> drive", "phase in -> drive", "--setting", "high", "-o", path.to_str().unwrap()];
        arguments.extend(more);
        plot(&arguments)
    };
    assert_eq!(run("a.svg", &[]).status.code(), Some(0));
    let svg = std::fs::read_to_string(at("a.svg")).unwrap();
    assert!(
        svg.starts_with("<svg")
            && svg.contains("prefers-color-scheme")
            && svg.contains("<title>gain and phase in -&gt; drive when high</title>"),
        "{svg}"
    );
    assert_eq!(run("a.svg", &["--ground", "dark"]).status.code(), Some(0), "one that is there is replaced");
    assert!(!std::fs::read_to_string(at("a.svg")).unwrap().contains("prefers-color-scheme"));
    assert_eq!(run("a.png", &["--size", "320x240"]).status.code(), Some(0));
    let png = std::fs::read(at("a.png")).unwrap();
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    // Two pixels for one: width and height stand big-endian behind the head (W3C's PNG, section 11.2.1).
    assert_eq!((&png[16..20], &png[20..24]), (&640u32.to_be_bytes()[..], &480u32.to_be_bytes()[..]));
    assert_eq!(run("a.txt", &[]).status.code(), Some(0));
    assert!(std::fs::read_to_string(at("a.txt")).unwrap().contains('⠤'));
    let odd = run("a.gif", &[]);
    assert_eq!(odd.status.code(), Some(2));
    assert!(text(&odd.stderr).contains(".svg, .png or .txt"), "{}", text(&odd.stderr));
    assert!(!at("a.gif").exists());
    let nowhere = run("no/such/a.svg", &[]);
    assert_eq!(nowhere.status.code(), Some(2));
    assert!(text(&nowhere.stderr).contains("cannot be written"));
}

#[test]
fn a_span_and_a_position_can_be_chosen() {
    let said = plot(&["gain in -> drive", "--over", "100Hz", "1 kHz", "--setting", "VR1 25 %", "--size", "60x14"]);
    let shown = text(&said.stdout);
    assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
    assert!(
        shown.contains("gain in -> drive when VR1 25 %") && shown.contains("100 Hz") && shown.contains("1 kHz"),
        "{shown}"
    );
    let wrong = plot(&["gain in -> drive", "--setting", "loud"]);
    assert_eq!(wrong.status.code(), Some(1));
    assert!(text(&wrong.stderr).contains("loud"), "{}", text(&wrong.stderr));
    assert_eq!(plot(&["gain in -> drive", "--over", "1 kHz", "100 Hz"]).status.code(), Some(1));
    assert_eq!(plot(&["gain in -> drive", "--size", "80"]).status.code(), Some(2));
}

#[test]
fn what_has_no_curve_is_said_in_words() {
    for (phrase, wanted) in [
        ("phase margin of U1a", "has no curve"),
        ("stage nothing", "there is no stage nothing"),
        ("gain in ->", ""),
        ("gain in -> nowhere", "nowhere"),
        ("assumption 99", "there is no assumption 99"),
    ] {
        let said = plot(&[phrase]);
        assert_eq!(said.status.code(), Some(1), "{phrase}");
        assert!(said.stdout.is_empty() && text(&said.stderr).contains(wanted), "{phrase}: {}", text(&said.stderr));
    }
    let none = Command::new(env!("CARGO_BIN_EXE_stagewright"))
        .args(["plot", "no-such.stage", "gain a -> b"])
        .output()
        .unwrap();
    assert_eq!(none.status.code(), Some(2));
}
