//! What an `include` may name: a file of the workspace, by a way that never leaves it.

use std::fs;
use std::path::Path;

use stagewright::includes::{open, resolve, workspace};
use workbench::{Answer, Workbench};

fn put(root: &Path, name: &str, text: &str) {
    let path = root.join(name);
    fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
    fs::write(path, text).expect("a file");
}

#[test]
fn the_way_is_relative_and_stays_in_the_workspace() {
    let outer = tempfile::tempdir().expect("a folder");
    let root = outer.path().join("weir");
    put(outer.path(), "secret.stage", "stage s: a -> b\n");
    put(&root, ".git/HEAD", "");
    put(&root, "designs/river.stage", "");
    put(&root, "shelf/buffer.stage", "stage buffer: a -> b\n");
    put(&root, "shelf/folder.stage/x", "");
    let from = root.join("designs/river.stage");
    assert_eq!(workspace(&from), root);
    let found = |written: &str| {
        resolve(&root, &from, written)
            .map(|p| p.strip_prefix(root.canonicalize().unwrap()).unwrap().display().to_string())
    };
    assert_eq!(found("../shelf/buffer.stage"), Ok("shelf/buffer.stage".into()));
    assert_eq!(found("./river.stage"), Ok("designs/river.stage".into()));
    for (written, said) in [
        ("", "names no file"),
        ("gone.stage", "cannot be read: there is no such file"),
        ("../shelf/folder.stage", "is a folder, not a plain file"),
        ("../../secret.stage", "lies outside the workspace"),
        ("../../weir/designs/river.stage", "lies outside the workspace"),
        ("/etc/hostname", "is not relative to this file"),
        ("..\\shelf\\buffer.stage", "is not relative to this file"),
    ] {
        let why = found(written).expect_err(written);
        assert!(why.starts_with(said), "{written}: {why}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_does_not_lead_out_either() {
    let outer = tempfile::tempdir().expect("a folder");
    let root = outer.path().join("weir");
    put(outer.path(), "secret.stage", "stage s: a -> b\n");
    put(&root, ".git/HEAD", "");
    put(&root, "river.stage", "");
    std::os::unix::fs::symlink(outer.path().join("secret.stage"), root.join("link.stage")).expect("a link");
    std::os::unix::fs::symlink(outer.path(), root.join("up")).expect("a link");
    std::os::unix::fs::symlink("/dev/zero", root.join("endless.stage")).expect("a link");
    for written in ["link.stage", "up/secret.stage", "endless.stage"] {
        let why = resolve(&root, &root.join("river.stage"), written).expect_err(written);
        assert!(why.starts_with("lies outside the workspace"), "{written}: {why}");
    }
}

#[test]
fn a_command_reads_what_a_design_includes_over_several_steps() {
    let root = tempfile::tempdir().expect("a folder");
    put(root.path(), "river.stage", "include \"shelf/pair.stage\"\n\nuse buffer as first: in -> out\n  U1 quiet\n");
    put(
        root.path(),
        "shelf/pair.stage",
        "include \"sheets.stage\"\n\nstage buffer: a -> b\n  U1 : + a, - b, out b\n  a -- R1 22k -- gnd\n",
    );
    put(root.path(), "shelf/sheets.stage", "datasheet quiet: opamp\n  gain bandwidth 8 MHz\n  open loop gain 120 dB\n");
    let path = root.path().join("river.stage");
    let mut bench = Workbench::new();
    open(&mut bench, &path, fs::read_to_string(&path).expect("the design"));
    let key = path.to_string_lossy();
    assert_eq!(
        bench.snapshot().problems(&key).iter().map(|p| p.message.clone()).collect::<Vec<_>>(),
        Vec::<String>::new()
    );
    let Some(Answer::Reading(reading)) = bench.snapshot().read(&key, "high corner in -> out").pop() else {
        panic!("a reading")
    };
    assert!(reading.short(Default::default()).starts_with("8.00 MHz"), "{reading:?}");
}

#[test]
fn a_chain_of_files_ends_somewhere_and_says_so() {
    let root = tempfile::tempdir().expect("a folder");
    for i in 0..1_003 {
        let text = format!("include \"weir{}.stage\"\nstage pad{i}: a -> b\n  a -- R1 1k -- b\n", i + 1);
        put(root.path(), &format!("weir{i}.stage"), &text);
    }
    let first = root.path().join("weir0.stage");
    let mut bench = Workbench::new();
    open(&mut bench, &first, fs::read_to_string(&first).expect("a file"));
    let said = bench.snapshot().problems(&first.to_string_lossy()).to_vec();
    let told =
        |p: &workbench::Problem| p.message.contains("weir1001.stage is not read: this design includes 1000 files");
    assert!(said.iter().any(told), "{} characters", said.first().map_or(0, |p| p.message.len()));
}

#[test]
fn all_copies_of_an_included_pattern_go_by_its_designators() {
    let root = tempfile::tempdir().expect("a folder");
    let pattern = "stage pad: a -> b\n  a -- R1 1k -- m\n  VR1a 10k: cw m, wiper b, ccw gnd\n";
    put(root.path(), "shelf/pad.stage", pattern);
    let good = "\
include \"shelf/pad.stage\"

design
  supply vpos +12 V
  source in 1 V
  setting up: all VR1 100 %

use pad as first: in -> mid
use pad as second: mid -> out

assume within 1 dB
  all R1 open

require
  gain in -> out when up
  power of all R1 < 1 W
";
    let text = good
        .replace(
            "\nuse pad as first",
            "  setting odd: all VR1 closed\n  trim all R1: gain in -> out\n\nuse pad as first",
        )
        .replace("  power of all R1", "  power of R1\n  gain in -> out when VR1 100 %\n  power of all R1");
    put(root.path(), "river.stage", &text);
    let path = root.path().join("river.stage");
    let mut bench = Workbench::new();
    let key = path.to_string_lossy();
    open(&mut bench, &path, text);
    let said: Vec<String> =
        bench.snapshot().problems(&key).iter().map(|p| format!("{}: {}", p.id, p.message)).collect();
    assert_eq!(
        said,
        [
            "unknown-position: first.VR1 turns from 0 % to 100 %.",
            "fixed-part-set: R1 does not turn: a preset is a variable resistor.",
            "unknown-name: There is no R1 but in copies: first.R1 is one of them, and `all R1` means them all.",
            "unknown-name: There is no VR1 but in copies: first.VR1a is one of them, and `all VR1` means them all.",
        ]
    );
    let mut bench = Workbench::new();
    open(&mut bench, &path, good.into());
    let snapshot = bench.snapshot();
    assert_eq!(snapshot.problems(&key).iter().map(|p| p.message.clone()).collect::<Vec<_>>(), Vec::<String>::new());
    let read = |phrase: &str| -> Vec<String> {
        let one = |a: Answer| match a {
            Answer::Reading(r) => format!("{}: {}", r.phrase, r.short(Default::default())),
            other => format!("{other:?}"),
        };
        snapshot.read(&key, phrase).into_iter().map(one).collect()
    };
    // Turned up, each divides by R1 and its track of 10k; the first has 10k || 11k behind R1.
    let both = "−2.3 dB";
    assert_eq!(read("gain in -> out when all VR1 100 %"), [format!("gain in -> out when all VR1 100 %: {both}")]);
    assert_eq!(read("gain in -> out when up"), [format!("gain in -> out when up: {both}")]);
    let named: Vec<String> = read("power of all R1").iter().map(|r| r.split(':').next().unwrap_or("").into()).collect();
    assert_eq!(named, ["power of first.R1", "power of second.R1"]);
}
