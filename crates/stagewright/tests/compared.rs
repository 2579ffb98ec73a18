//! Pairs of revisions, and what is said of each.

use std::process::Command;

use expect_test::{Expect, expect};

const BASE: &str = r#"design "Tide gauge amplifier"
  band       20 Hz .. 20 kHz
  supply     vpos +12 V, vneg -12 V
  tolerance  R 1 %
  source     emf 5 mV

stage sensor: emf -> in
  emf -- R1 600 external -- in

stage preamp: in -> drive
  in    -- R2 100k -- gnd
  U1a ideal: + in, - fb, out drive
  drive -- R3 10k -- fb
  fb    -- R4 1k -- C1 22u -- gnd

stage out: drive -> line
  drive -- R5 47 -- C2 10u film -- line
  line  -- R6 10k external -- gnd

assume within 0.2 dB
  C1 short above 100 Hz

formula
  gain in -> drive = 1 + R3 / R4

require
  gain in -> drive at 1 kHz = 21 dB ± 0.5 dB
  low corner emf -> line    < 20 Hz
"#;

/// Compares the base with what the replacements make of it.
#[track_caller]
fn check(replaced: &[(&str, &str)], code: i32, expected: Expect) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut text = BASE.to_string();
    for (from, to) in replaced {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    std::fs::write(folder.path().join("old.stage"), BASE).expect("it is written");
    std::fs::write(folder.path().join("new.stage"), text).expect("it is written");
    let mut program = Command::new(env!("CARGO_BIN_EXE_stagewright"));
    let done =
        program.args(["compare", "old.stage", "new.stage"]).current_dir(folder.path()).output().expect("it runs");
    expected.assert_eq(&String::from_utf8_lossy(&done.stdout));
    assert_eq!(done.status.code(), Some(code), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn nothing() {
    check(
        &[],
        0,
        expect![[r#"
        nothing of the circuit or its argument changed
    "#]],
    );
}

#[test]
fn a_value() {
    check(
        &[("R3 10k", "R3 12k")],
        1,
        expect![[r#"
            R3 10 kΩ → 12 kΩ  (line 13)

            because of R3
              stage preamp: 20.8 dB → 22.3 dB · from 7.17 Hz → from 7.19 Hz
              assume C1 short above 100 Hz: 0.022 dB at 100 Hz → 0.023 dB at 100 Hz
              formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → right, 0.023 dB off at 100 Hz
            - require gain in -> drive at 1 kHz = 21 dB ± 0.5 dB: 20.8 dB holds, 0.3 dB to spare → 22.3 dB fails by 0.8 dB
              require low corner emf -> line < 20 Hz: 7.50 Hz holds, 12.5 Hz to spare → 7.52 Hz holds, 12.5 Hz to spare

            5 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn two_values() {
    check(
        &[("R3 10k", "R3 10.5k"), ("C1 22u", "C1 4u7")],
        1,
        expect![[r#"
            R3 10 kΩ → 10.5 kΩ  (line 13)
            C1 22 µF → 4.7 µF  (line 14)

            because of R3 and C1, each by itself
              stage preamp: 20.8 dB → 21.2 dB · from 7.17 Hz → from 33.6 Hz
            - require low corner emf -> line < 20 Hz: 7.50 Hz holds, 12.5 Hz to spare → 33.6 Hz fails by 13.6 Hz

            because of C1
              part C1: 7.23 Hz with R4 → 33.9 Hz with R4
            - assume C1 short above 100 Hz: 0.022 dB at 100 Hz → 0.47 dB at 100 Hz
              formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → right, 0.47 dB off at 100 Hz

            because of R3
              require gain in -> drive at 1 kHz = 21 dB ± 0.5 dB: 20.8 dB holds, 0.3 dB to spare → 21.2 dB holds, 0.3 dB to spare

            6 read otherwise: 2 worse, 0 better
        "#]],
    );
}

#[test]
fn two_values_that_make_up_for_each_other() {
    check(
        &[("R3 10k", "R3 20k"), ("R4 1k", "R4 2k")],
        1,
        expect![[r#"
        R3 10 kΩ → 20 kΩ  (line 13)
        R4 1 kΩ → 2 kΩ  (line 14)

        because of R3 and R4, each by itself
          stage preamp: from 7.17 Hz → from 3.59 Hz
          assume C1 short above 100 Hz: 0.022 dB at 100 Hz → 0.0056 dB at 100 Hz
          formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → right, 0.0056 dB off at 100 Hz
          require low corner emf -> line < 20 Hz: 7.50 Hz holds, 12.5 Hz to spare → 4.16 Hz holds, 15.8 Hz to spare

        because of R4
          part C1: 7.23 Hz with R4 → 3.62 Hz with R4

        5 read otherwise: 0 worse, 0 better
    "#]],
    );
}

#[test]
fn a_comment_and_a_moved_line() {
    check(
        &[
            ("  in    -- R2 100k -- gnd\n", ""),
            ("  fb    -- R4", "  in -- R2 100k -- gnd   # home for the bias current\n  fb    -- R4"),
        ],
        0,
        expect![[r#"
            nothing of the circuit or its argument changed
        "#]],
    );
}

#[test]
fn another_name_of_a_part() {
    check(
        &[("R3", "R13")],
        0,
        expect![[r#"
        R3 is called R13 now
        nothing of the circuit or its argument changed
    "#]],
    );
}

#[test]
fn another_name_of_a_node() {
    check(
        &[("drive", "mid")],
        0,
        expect![[r#"
        node drive is called mid now
        nothing of the circuit or its argument changed
    "#]],
    );
}

#[test]
fn another_name_of_a_stage() {
    check(
        &[("stage out:", "stage driver:")],
        0,
        expect![[r#"
        stage out is called driver now
        nothing of the circuit or its argument changed
    "#]],
    );
}

#[test]
fn a_new_part() {
    check(
        &[("R3 10k", "R3 10k || C3 100p")],
        1,
        expect![[r#"
            C3 100 pF is new, at drive and fb  (line 13)

            because of C3
              stage preamp: from 7.17 Hz → 7.17 Hz … 161 kHz
            - formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → right with C3 open

            2 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn a_part_that_is_gone() {
    check(
        &[("  line  -- R6 10k external -- gnd\n", "")],
        1,
        expect![[r#"
            R6 10 kΩ is gone, from line and gnd  (line 18)

            because of R6
              stage out: 0.0 dB · from 1.58 Hz · Zin 10.0 kΩ → 0.0 dB
            - no-dc-path of C2, line, new: line stands between capacitors (C2): nothing sets a DC voltage there. A large resistor to gnd would.
              require low corner emf -> line < 20 Hz: 7.50 Hz holds, 12.5 Hz to spare → 7.17 Hz holds, 12.8 Hz to spare

            3 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn a_part_joined_elsewhere() {
    check(
        &[("in    -- R2 100k -- gnd", "drive -- R2 100k -- gnd")],
        1,
        expect![[r#"
            R2 joins in and gnd → drive and gnd  (line 11)

            because of R2
              stage sensor: −0.1 dB · Zin 101 kΩ → 0.0 dB
              stage preamp: 20.8 dB · from 7.17 Hz · Zin 100 kΩ → 20.8 dB · from 7.17 Hz

            2 read otherwise: 0 worse, 0 better
        "#]],
    );
}

#[test]
fn a_part_turned_round_that_has_no_direction() {
    check(
        &[("drive -- R3 10k -- fb", "fb -- R3 10k -- drive")],
        0,
        expect![[r#"
        nothing of the circuit or its argument changed
    "#]],
    );
}

#[test]
fn another_supply() {
    check(
        &[("vneg -12 V", "vneg -9 V")],
        1,
        expect![[r#"
        supply vpos +12 V, vneg -12 V → supply vpos +12 V, vneg -9 V  (line 3)

        nothing reads otherwise
    "#]],
    );
}

#[test]
fn another_band() {
    check(
        &[("20 Hz .. 20 kHz", "50 Hz .. 20 kHz")],
        1,
        expect![[r#"
        band 20 Hz .. 20 kHz → band 50 Hz .. 20 kHz  (line 2)

        nothing reads otherwise
    "#]],
    );
}

#[test]
fn another_limit() {
    check(
        &[("± 0.5 dB", "± 0.1 dB")],
        1,
        expect![[r#"
            require gain in -> drive at 1 kHz = 21 dB ± 0.5 dB → gain in -> drive at 1 kHz = 21 dB ± 0.1 dB  (line 27)

            because of gain in -> drive at 1 kHz
            - require gain in -> drive at 1 kHz = 21 dB ± 0.1 dB: 20.8 dB holds, 0.3 dB to spare → 20.8 dB fails by 0.07 dB

            1 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn a_requirement_less_and_one_more() {
    check(
        &[("  low corner emf -> line    < 20 Hz\n", "  high corner emf -> line > 20 kHz\n")],
        1,
        expect![[r#"
            require high corner emf -> line > 20 kHz is new  (line 28)
            require low corner emf -> line < 20 Hz is gone  (line 28)

            because of high corner emf -> line
              require high corner emf -> line > 20 kHz, new: no high corner: holds

            because of low corner emf -> line
              require low corner emf -> line < 20 Hz, no longer: 7.50 Hz holds, 12.5 Hz to spare

            2 read otherwise: 0 worse, 0 better
        "#]],
    );
}

#[test]
fn another_type() {
    check(
        &[("U1a ideal", "U1a fet_dual")],
        1,
        expect![[r#"
            U1a ideal → fet_dual  (line 12)

            because of U1a
              stage sensor: −0.1 dB · Zin 101 kΩ → −0.1 dB · to 44.5 MHz · Zin 101 kΩ
              stage preamp: from 7.17 Hz → 7.17 Hz … 270 kHz · Zin 100 kΩ → Zin 100 kΩ typ.
            - formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → right with U1a ideal
              require gain in -> drive at 1 kHz = 21 dB ± 0.5 dB: 20.8 dB holds, 0.3 dB to spare → 20.8 dB holds, 0.3 dB to spare typ.

            4 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn a_formula_that_goes_wrong() {
    check(
        &[("1 + R3 / R4", "R3 / R4")],
        1,
        expect![[r#"
            formula gain in -> drive = 1 + R3 / R4 → gain in -> drive = R3 / R4  (line 24)

            because of gain in -> drive
            - formula gain in -> drive = R3 / R4: right, 0.022 dB off at 100 Hz → ×10.0 (20.0 dB), and the hand model to ×11.0 (20.8 dB) at 20 Hz

            1 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn a_tolerance_and_a_rating() {
    check(
        &[("R4 1k", "R4 1k 0.1%"), ("C1 22u", "C1 22u ±1uF 16V")],
        1,
        expect![[r#"
            R4 tolerance not stated → 0.1 %  (line 14)
            C1 tolerance not stated → ±1 µF, rating not stated → 16 V  (line 14)

            nothing reads otherwise
        "#]],
    );
}

#[test]
fn what_is_not_finished() {
    check(
        &[("R4 1k -- C1 22u -- gnd", "R4 1k -- C1 22u --")],
        1,
        expect![[r#"
            C1 22 µF is gone, from R4.C1 and gnd  (line 14)

            because of C1
              stage sensor: −0.1 dB · Zin 101 kΩ → unknown: line 14 is unfinished
              stage preamp: 20.8 dB · from 7.17 Hz · Zin 100 kΩ → unknown: line 14 is unfinished
            - step-missing, new: A part or a node is missing behind `--`.
              stage out: 0.0 dB · from 1.58 Hz · Zin 10.0 kΩ → unknown: line 14 is unfinished
              assume C1 short above 100 Hz: 0.022 dB at 100 Hz → unknown: line 14 is unfinished
              formula gain in -> drive = 1 + R3 / R4: right, 0.022 dB off at 100 Hz → unknown: line 14 is unfinished
              require gain in -> drive at 1 kHz = 21 dB ± 0.5 dB: 20.8 dB holds, 0.3 dB to spare → unknown: line 14 is unfinished
              require low corner emf -> line < 20 Hz: 7.50 Hz holds, 12.5 Hz to spare → unknown: line 14 is unfinished

            8 read otherwise: 1 worse, 0 better
        "#]],
    );
}

#[test]
fn unfitted() {
    check(
        &[("R5 47 --", "R5 47 -- LATER"), ("LATER", "n1 -- L1 10u unfitted -- n1b\n  n1 -- R7 0 --")],
        1,
        expect![[r#"
            R5 joins R5.C2 and drive → drive and n1  (line 17)
            L1 10 µH is new, at n1 and n1b  (line 17)
            R7 0 Ω is new, at R7.C2 and n1  (line 18)
            C2 joins R5.C2 and line → R7.C2 and line  (line 18)

            because of several of these together, or over tolerance
            - node-used-once of L1, n1b, new: n1b is used once, by L1, and leads nowhere.

            1 read otherwise: 1 worse, 0 better
        "#]],
    );
}

/// A repository with two states of a design and of what it includes.
fn repository() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let git = |arguments: &[&str]| {
        let own = ["-c", "user.name=a", "-c", "user.email=a@localhost", "-c", "commit.gpgsign=false"];
        let done = Command::new("git").args(own).args(arguments).current_dir(folder.path()).output().expect("git runs");
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    };
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("it is written");
    let shelf = |ohms: &str| format!("stage pad: in -> out\n  in -- R1 {ohms} -- out\n  out -- R2 1k -- gnd\n");
    git(&["init", "--quiet"]);
    std::fs::create_dir(folder.path().join("designs")).expect("a folder");
    write("shelf.stage", &shelf("1k"));
    write("designs/top.stage", "include \"../shelf.stage\"\n\nuse pad as left: a -> b\n");
    git(&["add", "."]);
    git(&["commit", "--quiet", "-m", "one"]);
    write("shelf.stage", &shelf("3k"));
    folder
}

#[test]
fn a_revision_of_git_is_read_with_what_it_includes() {
    let folder = repository();
    let run = |arguments: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_stagewright"));
        let done = program.args(arguments).current_dir(folder.path().join("designs")).output().expect("it runs");
        (done.status.code(), String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap())
    };
    let (code, page, _) = run(&["compare", "--git", "HEAD", "top.stage"]);
    assert_eq!(code, Some(1));
    assert!(page.starts_with("left.R1 1 kΩ → 3 kΩ\n\nbecause of left.R1\n"), "{page}");
    assert!(page.contains("−6.0 dB") && page.contains("−12.0 dB"), "{page}");
    // Nothing of the repository was touched.
    let status =
        Command::new("git").args(["status", "--porcelain"]).current_dir(folder.path()).output().expect("git runs");
    assert_eq!(String::from_utf8_lossy(&status.stdout), " M shelf.stage\n");
    let (code, _, said) = run(&["compare", "--git", "nowhere", "top.stage"]);
    assert_eq!((code, &*said), (Some(2), "stagewright: there is no revision nowhere here\n"));
    let (code, _, said) = run(&["compare", "--git", "HEAD", "new.stage"]);
    assert_eq!(code, Some(2));
    assert!(said.contains("new.stage cannot be read"), "{said}");
}

#[test]
fn git_takes_it_as_its_driver() {
    let folder = repository();
    let driver = format!("diff.stage.command='{}' compare --driver", env!("CARGO_BIN_EXE_stagewright"));
    std::fs::write(folder.path().join(".git/info/attributes"), "*.stage diff=stage\n").expect("it is written");
    let done = Command::new("git").args(["-c", &driver, "diff"]).current_dir(folder.path()).output().expect("git runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let page = String::from_utf8_lossy(&done.stdout);
    assert!(page.starts_with("shelf.stage\nR1 1 kΩ → 3 kΩ  (line 2)\n\nbecause of R1\n"), "{page}");
}

#[test]
fn a_program_can_take_it_and_a_server_that_reviews() {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: String| std::fs::write(folder.path().join(name), text).expect("it is written");
    write("old.stage", BASE.into());
    write("new.stage", BASE.replace("R4 1k", "R4 1.1k"));
    write("worse.stage", BASE.replace("R4 1k", "R4 2k"));
    let run = |arguments: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_stagewright"));
        program.args(arguments).current_dir(folder.path()).output().expect("it runs")
    };
    let done = run(&["compare", "--worse", "old.stage", "new.stage"]);
    assert_eq!(done.status.code(), Some(1), "{}", String::from_utf8_lossy(&done.stdout));
    assert_eq!(run(&["compare", "--worse", "new.stage", "old.stage"]).status.code(), Some(0));
    let done = run(&["compare", "--format", "json", "old.stage", "worse.stage"]);
    let page: serde_json::Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(page["changes"][0]["change"], "R4 1 kΩ → 2 kΩ");
    let effects = page["effects"].as_array().expect("a list");
    let gain = effects.iter().find(|e| e["about"].as_str().unwrap().starts_with("require gain")).expect("it changed");
    assert_eq!((&gain["turn"], &gain["because"][0]), (&"worse".into(), &"R4".into()));
}
