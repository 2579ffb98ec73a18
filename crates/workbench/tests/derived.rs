//! The hand working of stages in whole files.

use expect_test::{Expect, expect};
use workbench::{Snapshot, Workbench, page};

fn opened(text: &str) -> Snapshot {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    bench.snapshot()
}

fn derived(text: &str, stage: &str) -> String {
    let snapshot = opened(text);
    let at = snapshot.stages("a.stage").iter().position(|s| s == stage).expect("the stage is there");
    page::text(&snapshot.derivation("a.stage", at).expect("it is derived").page)
}

#[track_caller]
fn check(text: &str, stage: &str, expected: Expect) {
    expected.assert_eq(&derived(text, stage));
}

/// A quay's tide microphone: one of each thing that a working has to say.
const QUAY: &str = "\
design
  band 50 Hz .. 10 kHz
  supply vpos +12 V, vneg -12 V

stage preamp: in -> drive
  in -- R1 1M -- gnd
  U1a fet_dual: + in, - fb, out drive
  drive -- R2 1k -- VR1 10k lin -- fb
  drive -- C3 22p -- fb
  fb -- R3 1k -- C2 100u polar -- gnd

stage pad: drive -> out
  drive -- R4 10k -- out
  out -- SW1 open -- R5 10k -- gnd

stage meter: out
  out -- R6 100k external -- gnd

assume within 0.2 dB
  C2 short above 50 Hz
  C3 open below 10 kHz
";

#[test]
fn a_stage_with_assumptions_and_a_control() {
    check(
        QUAY,
        "preamp",
        expect![[r#"
        stage preamp: in → drive

        Assumed
          C2 is a short above 50 Hz (assumed); alone that costs 0.0043 dB at 50 Hz, VR1 100 %, SW1 open.
          C3 is open below 10 kHz (assumed); alone that costs 0.0058 dB at 10 kHz, VR1 100 %, SW1 closed.
          U1a is taken as ideal, which no assumption says: `U1a ideal below …` under assume would hold it to a band and tell what it costs.
          The stage by itself: in driven, nothing drawn from drive.

        Redrawn
          U1a is a non-inverting amplifier: R2 + VR1 from its output back to its − input, R3 from there to gnd.
          R1 from in to gnd draws current and changes nothing: in is driven.

        Working
          U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(in).
          At fb, where U1a's − input draws nothing, what flows in flows on:
            (V(drive) − V(in))/(R2 + VR1) = V(in)/R3
            V(drive)/V(in) = 1 + (R2 + VR1)/R3

        In numbers
            VR1 0 %: V(drive)/V(in) = 1 + (1 kΩ + 0 Ω)/1 kΩ = ×2.00 (6.0 dB)
            VR1 100 %: V(drive)/V(in) = 1 + (1 kΩ + 10 kΩ)/1 kΩ = ×12.0 (21.6 dB)

        Conditions
          U1a's loop gain is large and its feedback negative: only then are its inputs at one voltage.
          U1a is linear while drive keeps within −10.5 V … 10.5 V (its rails less its swing, typ.).
          At its greatest gain that is up to 875 mV peak at in, where nothing but the swing counts.
          The neglects are stated to hold together from 50 Hz to 10 kHz.

        As a formula
          Right with U1a ideal, which no assumption says yet:
            gain in -> drive = 1 + (R2 + VR1) / R3
    "#]],
    );
}

#[test]
fn a_switch_has_a_working_in_each_position_and_a_load_to_gnd_is_taken_in() {
    check(
        QUAY,
        "pad",
        expect![[r#"
        stage pad: drive → out

        Assumed
          The stage by itself: drive driven, with R6 of meter on out.

        Redrawn, SW1 open
          From drive to out this is a divider: R4 above, R6 to gnd below.
          R5 carries no current.

        Working, SW1 open
          At out, what flows in flows on:
            (V(drive) − V(out))/R4 = V(out)/R6
            V(out)/V(drive) = R6/(R4 + R6)

        In numbers, SW1 open
            V(out)/V(drive) = 100 kΩ/(10 kΩ + 100 kΩ) = ×0.909 (−0.8 dB)

        Redrawn, SW1 closed
          From drive to out this is a divider: R4 above, R5 || R6 to gnd below.

        Working, SW1 closed
          At out, what flows in flows on:
            (V(drive) − V(out))/R4 = V(out)/(R5 || R6)
            V(out)/V(drive) = (R5 || R6)/(R4 + (R5 || R6))

        In numbers, SW1 closed
            V(out)/V(drive) = (10 kΩ || 100 kΩ)/(10 kΩ + (10 kΩ || 100 kΩ)) = ×0.476 (−6.4 dB)

        As a formula
            gain drive -> out when SW1 open = R6 / (R4 + R6)
            gain drive -> out when SW1 closed = (R5 || R6) / (R4 + (R5 || R6))
    "#]],
    );
}

#[test]
fn a_stage_without_an_output_has_nothing_to_work_out() {
    check(
        QUAY,
        "meter",
        expect![[r#"
        stage meter: out

        Working
          Unknown: meter has no output, and so no gain to work out.
    "#]],
    );
}

#[test]
fn a_balance_of_values_is_told() {
    check(
        "stage apart: p, q -> out\n  p -- R1 10k -- m\n  m -- R2 22k -- out\n  q -- R3 10k -- n\n  n -- R4 22k -- gnd\n  U1a ideal: + n, - m, out out\n",
        "apart",
        expect![[r#"
            stage apart: p, q → out

            Assumed
              The stage by itself: p and q driven, nothing drawn from out.

            Redrawn
              U1a is a difference amplifier: R1 from p to its − input, R2 from its output back to there.

            Working
              U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(m) = V(n).
              At n, where U1a's + input draws nothing, what flows in flows on:
                (V(q) − V(n))/R3 = V(n)/R4
                V(n) = (R4/(R3 + R4))·V(q)
              At m, where U1a's − input draws nothing, what flows in flows on:
                (V(p) − V(n))/R1 = (V(n) − V(out))/R2
                V(out) = −(R2/R1)·V(p) + (1 + R2/R1)·V(n)
              So, each input by itself and the others at 0, added up:
                V(out) = −(R2/R1)·V(p) + (1 + R2/R1)·(R4/(R3 + R4))·V(q)
              With R1·R4 = R2·R3, as here, the two are equal and opposite:
                V(out) = (R2/R1)·(V(q) − V(p))

            In numbers
                V(out)/V(p) = −22 kΩ/10 kΩ = ×−2.20 (6.8 dB)
                V(out)/V(q) = (1 + 22 kΩ/10 kΩ)·(22 kΩ/(10 kΩ + 22 kΩ)) = ×2.20 (6.8 dB)

            Conditions
              U1a's loop gain is large and its feedback negative: only then are its inputs at one voltage.
              R1·R4 = R2·R3: what V(out) is of V(q) − V(p), and the formula of that, hold only so.

            As a formula
                gain p -> out = -R2 / R1
                gain q -> out = (1 + R2 / R1)*(R4 / (R3 + R4))
                gain p - q -> out = -R2 / R1    # with R1·R4 = R2·R3
        "#]],
    );
}

#[test]
fn beyond_a_hand_there_are_poles_and_zeros() {
    let rungs: String =
        (0..7).map(|k| format!("  n{k} -- R{0} 1k -- n{1}\n  n{1} -- C{0} 10n -- gnd\n", k + 1, k + 1)).collect();
    check(
        &format!("stage line: n0 -> n7\n{rungs}"),
        "line",
        expect![[r#"
        stage line: n0 → n7

        Assumed
          The stage by itself: n0 driven, nothing drawn from n7.

        Working
          This is past a hand derivation. From the solver, with the controls at rest:
          V(n7)/V(n0): poles 696 Hz, 6.08 kHz, 15.9 kHz, 28.5 kHz, 41.7 kHz, 53.1 kHz, 60.9 kHz; zeros none.
            its constant, before Π(s − zero)/Π(s − pole) with s in rad/s, 1e35
            at 1 kHz it is ×0.562 (−5.0 dB)
    "#]],
    );
}

#[test]
fn an_open_loop_has_none() {
    check(
        "stage comparator: in -> out\n  in -- R1 1k -- gnd\n  U1a ideal: + in, - gnd, out out\n",
        "comparator",
        expect![[r#"
        stage comparator: in → out

        Assumed
          The stage by itself: in driven, nothing drawn from out.

        Working
          The equations of the stage by itself, its amplifiers ideal, have no unique answer: a loop is open, or a source meets a virtual earth.
    "#]],
    );
}

#[test]
fn what_is_unfinished_is_unknown() {
    check(
        "stage amp: in -> out\n  in -- R1 -- out\n  out -- R2 1k -- gnd\n",
        "amp",
        expect![[r#"
        stage amp: in → out

        Assumed
          The stage by itself: in driven, nothing drawn from out.

        Working
          Unknown: R1 has no value.
    "#]],
    );
    check(
        "stage amp: in -> out\n  in -- R1 1k --\n  out -- R2 1k -- gnd\n",
        "amp",
        expect![[r#"
        stage amp: in → out

        Working
          Unknown: line 2 is unfinished.
    "#]],
    );
}

/// The fix writes what the file then confirms.
#[test]
fn the_written_formula_is_right() {
    for (text, stage) in [
        (QUAY, "stage preamp"),
        (QUAY, "stage pad"),
        ("stage low: in -> out\n  in -- R1 1k -- out\n  out -- C1 1u -- gnd", "stage low"),
    ] {
        let at = text.find(stage).expect("the heading is there");
        let fix = opened(text).proposals("a.stage", at..at, None).pop().expect("there is a fix");
        let mut written = text.to_string();
        for edit in fix.edits.iter().rev() {
            written.replace_range(edit.range.clone(), &edit.text);
        }
        let snapshot = opened(&written);
        let formulas: Vec<_> = snapshot.statements("a.stage").into_iter().filter(|s| s.kind == "formula").collect();
        assert!(!formulas.is_empty(), "{written}");
        for formula in formulas {
            assert_eq!(formula.verdict, workbench::Verdict::Holds, "{}\n{written}", formula.text);
        }
        // What stands there is not offered again.
        assert_eq!(snapshot.proposals("a.stage", at..at, None), [], "{written}");
    }
}

/// What the written formula takes as ideal is assumed where that keeps to the budget.
#[test]
fn what_a_written_formula_assumes_holds() {
    let text = "design\n  band 20 Hz .. 20 kHz\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a tl072: + in, - fb, out out\n  out -- R2 100k -- fb\n  fb -- R3 1k -- gnd\n";
    let at = text.find("stage amp").expect("the heading is there");
    let fix = opened(text).proposals("a.stage", at..at, None).pop().expect("there is a fix");
    assert_eq!(fix.title, "write amp's formula, and assume U1a ideal below 4.4 kHz");
    let mut written = text.to_string();
    for edit in fix.edits.iter().rev() {
        written.replace_range(edit.range.clone(), &edit.text);
    }
    let statements = opened(&written).statements("a.stage");
    assert!(statements.iter().all(|s| s.verdict == workbench::Verdict::Holds), "{statements:?}\n{written}");
}

#[test]
fn off_a_heading_there_is_no_fix() {
    let at = QUAY.find("drive -- R2").expect("it is there");
    let all = opened(QUAY).proposals("a.stage", at..at, None);
    assert!(all.iter().all(|fix| !fix.title.contains("formula")), "{all:?}");
}

#[test]
fn the_hover_of_a_heading_has_the_short_working() {
    let at = QUAY.find("preamp").expect("the heading is there");
    let hover = opened(QUAY).hover("a.stage", at).expect("there is a hover");
    assert!(hover.plain.contains("by hand:"), "{}", hover.plain);
    assert!(hover.markdown.contains("`V(drive)/V(in) = 1 + (R2 + VR1)/R3`"), "{}", hover.markdown);
}

/// A null is no place to find algebra wrong: both sides are rounding there.
#[test]
fn a_formula_with_a_null_is_right() {
    let notch = "stage notch: in -> out
  in -- R1 10k -- a -- R2 10k -- out
  a  -- C3 20n -- gnd
  in -- C1 10n -- b -- C2 10n -- out
  b  -- R3 5k -- gnd
";
    let fix = opened(notch).proposals("a.stage", 0..0, None).pop().expect("there is a fix");
    let written = format!("{notch}{}", fix.edits[0].text);
    let statements = opened(&written).statements("a.stage");
    assert_eq!(statements.len(), 1, "{written}");
    assert_eq!(statements[0].verdict, workbench::Verdict::Holds, "{written}");
}

/// More comes back to + than to −: there is a point of balance, but nothing that holds the output there.
#[test]
fn a_stage_that_latches_has_no_working() {
    let turned = "\
stage d: in -> out
  in -- R1 10k -- p -- R2 100k -- out
  U1 SHEET: + p, - n, out out
  n -- R3 1k -- gnd
  n -- R4 1M -- out
datasheet dsx: opamp
  gain bandwidth 3 MHz
  open loop gain 100 dB
";
    for sheet in ["ideal", "dsx"] {
        let text = derived(&turned.replace("SHEET", sheet), "d");
        assert!(
            text.contains("U1 latches: at rest more of out comes back to its + input than to its − input"),
            "{text}"
        );
        assert!(!text.contains("negative") && !text.contains("non-inverting") && !text.contains("10.1"), "{text}");
    }
    // Exchanged it holds; and where both sides are in balance it is not told to latch.
    let held = turned.replace("SHEET: + p, - n", "ideal: + n, - p");
    assert!(!derived(&held, "d").contains("latches"), "{}", derived(&held, "d"));
    let even = turned.replace("SHEET", "ideal").replace("R4 1M", "R4 10k");
    assert!(!derived(&even, "d").contains("latches"), "{}", derived(&even, "d"));
}

/// Two amplifiers that turn nothing over between them latch together; a third behind them is not named.
#[test]
fn a_loop_of_two_that_latches_is_named() {
    let text = derived(
        "\
stage d: in -> out
  in -- R1 10k -- n1
  y -- R2 10k -- n1
  n1 -- R3 100k -- x
  U1 ideal: + gnd, - n1, out x
  x -- R4 10k -- n2
  n2 -- R5 100k -- y
  U2 ideal: + gnd, - n2, out y
  y -- R6 10k -- n3
  n3 -- R7 10k -- out
  U3 ideal: + gnd, - n3, out out
",
        "d",
    );
    assert!(text.contains("The loop of U1 and U2 latches: at rest"), "{text}");
}

/// Exactly in balance this is an integrator, 2/(s·R1·C1): 20000/s, which is 1/(2π·1 kHz) of that at 1 kHz, 3.18. The formula that holds off
/// balance divides by nothing there, and poles, zeros and constant stand in its place.
#[test]
fn an_integrator_in_balance_has_its_pole_at_least() {
    let text = derived(
        "\
stage d: in -> out
  in -- R1 10k -- p
  p -- C1 10n -- gnd
  p -- R2 10k -- out
  gnd -- R3 10k -- n
  n -- R4 10k -- out
  U1 ideal: + p, - n, out out
",
        "d",
    );
    // Its standard form divides by R2·R3 − R1·R4, which is 0 here; multiplied out it is what it is.
    assert!(text.contains("V(out)/V(in) = R2·(R3 + R4)/(R2·R3 − R1·R4 + s·R1·R2·R3·C1)"), "{text}");
    assert!(text.contains("V(out)/V(in) = 2/(s·R1·C1)"), "{text}");
    assert!(text.contains("V(out)/V(in): poles 0 Hz; zeros none."), "{text}");
    assert!(text.contains("rad/s, 20000") && text.contains("at 1 kHz it is ×3.18 (10.1 dB)"), "{text}");
    assert!(!text.contains("latches"), "{text}");
}

/// Three amplifiers with equal parts end in the ratio that everybody knows; where parts differ it is left as it is.
#[test]
fn three_amplifiers_for_instruments_end_in_their_ratio() {
    let text = "stage front: a, b -> out\n  U1a ideal: + a, - fa, out oa\n  U1b ideal: + b, - fb, out ob\n  oa -- R3 22k -- fa\n  ob -- R4 22k -- fb\n  fa -- R5 1k -- fb\n  oa -- R6 10k -- m\n  m -- R7 47k -- out\n  ob -- R8 10k -- p\n  p -- R9 47k -- gnd\n  U1c ideal: + p, - m, out out\n";
    let told = derived(text, "front");
    assert!(told.contains("With R3 = R4, R6 = R8 and R7 = R9, as here:"), "{told}");
    assert!(told.contains("V(out) = (1 + 2·R3/R5)·(R7/R6)·(V(b) − V(a))"), "{told}");
    let one = derived(&text.replace("47k", "10k").replace("22k", "10k"), "front");
    assert!(one.contains("V(out) = (1 + 2·R3/R5)·(V(b) − V(a))"), "{one}");
    let other = derived(&text.replace("R4 22k", "R4 24k"), "front");
    assert!(!other.contains("R3 = R4"), "{other}");
}

/// A half-rail that a follower of another stage holds is gnd for a signal; a bare divider loads the node that it makes; what another stage
/// drives is an input; and where two stages hang together in one node the way out is named.
#[test]
fn what_other_stages_do_at_a_stage_s_nodes_is_taken_in_or_told() {
    let half = |follower: &str| {
        format!(
            "design\n  supply vcc +9 V\n  source in 0.3 V\nstage half: vcc -> vref\n  vcc -- R1 10k -- mid\n  mid -- R2 10k || C1 100u polar -- gnd\n{follower}\nstage amp: in -> x\n  in -- C2 1u -- a\n  a -- R3 100k -- vref\n  U1a tl072: + a, - fb, out x\n  x -- R4 4k7 -- fb\n  fb -- R5 2k2 -- vref\n"
        )
    };
    let held = derived(&half("  U1b tl072: + mid, - vref, out vref\n"), "amp");
    assert!(held.contains("U1b of half holds vref, and no signal moves it: for a signal it lies at gnd."), "{held}");
    assert!(held.contains("V(x) = (1 + R4/R5)·V(a)") && held.contains("f0 = 1/(2·π·R3·C2)"), "{held}");
    assert!(held.contains("Right with U1b and U1a ideal, which no assumption says yet:"), "{held}");

    let bare =
        derived(&half("  mid -- R6 0 -- vref\n").replace("vref", "mid").replace("  mid -- R6 0 -- mid\n", ""), "amp");
    assert!(bare.contains("with R1, R2 and C1 of half on mid."), "{bare}");
    assert!(bare.contains("V(mid) = "), "{bare}");

    let meets = derived(&half("  mid -- R6 100 -- vref\n"), "amp");
    let told = "Unknown: R3 ends at vref, where R6 of half does more than load it, and amp by itself ends there. As an input of its own, `stage amp: in, vref -> …`, vref is taken as driven; or the parts of both may stand in one stage.";
    assert!(meets.contains(told), "{meets}");

    let servo = "design\n  supply vpos +12 V, vneg -12 V\n  source in 0.3 V\nstage amp: in -> x\n  in -- R3 10k -- a\n  U1a ideal: + gnd, - a, out x\n  x -- R4 47k -- a\n  ser -- R5 1M -- a\nstage servo: x -> ser\n  x -- R6 1M -- sn\n  sn -- C1 1u -- ser\n  U1b ideal: + gnd, - sn, out ser\n";
    let driven = derived(servo, "amp");
    assert!(driven.contains("V(x) = −(R4/R3)·V(in) − (R4/R5)·V(ser)"), "{driven}");
}

/// Each equality that a simplified form needs is named, where it stands, in the conditions and beside the formula: with any part moved that is
/// named the form is gone, and with any other moved it stays.
#[test]
fn a_form_for_equal_parts_names_all_that_must_be_equal() {
    let two = "stage amp: a, b -> out\n  gnd -- R1 10k -- x\n  x -- R2 1k -- o1\n  o1 -- R3 1k -- y\n  y -- R4 10k -- out\n  x -- R5 2k -- y\n  U1a ideal: + a, - x, out o1\n  U1b ideal: + b, - y, out out\n";
    let told = derived(two, "amp");
    assert!(told.contains("With R1·R3 = R2·R4, as here, the two are equal and opposite:"), "{told}");
    let rows = "R1 = R4 and R2 = R3";
    assert!(
        told.contains(&format!("With {rows}, as here:\n    V(out) = (1 + 2·R4/R5 + R4/R2)·(V(b) − V(a))")),
        "{told}"
    );
    assert!(
        told.contains(&format!("{rows}: what V(out) is of V(b) − V(a), and the formula of that, hold only so.")),
        "{told}"
    );
    assert!(told.contains(&format!("gain b - a -> out = 1 + 2*R4 / R5 + R4 / R2    # with {rows}")), "{told}");
    for (part, value) in [("R1", "10k"), ("R2", "1k"), ("R3", "1k"), ("R4", "10k")] {
        let other = derived(&two.replace(&format!("{part} {value} "), &format!("{part} 3k3 ")), "amp");
        assert!(!other.contains("gain b - a") && !other.contains("as here"), "{part}: {other}");
    }
    let other = derived(&two.replace("R5 2k", "R5 3k3"), "amp");
    assert!(other.contains(&format!("With {rows}, as here:")), "{other}");

    // Of a difference amplifier only the ratios count.
    let one = "stage amp: a, b -> out\n  a -- R1 10k -- x\n  x -- R2 47k -- out\n  b -- R3 20k -- y\n  y -- R4 94k -- gnd\n  U1a ideal: + y, - x, out out\n";
    let told = derived(one, "amp");
    assert!(
        told.contains(
            "With R1·R4 = R2·R3, as here, the two are equal and opposite:\n    V(out) = (R2/R1)·(V(b) − V(a))"
        ),
        "{told}"
    );
    assert!(told.contains("gain a - b -> out = -R2 / R1    # with R1·R4 = R2·R3"), "{told}");
    let bridged = "stage amp: a, b -> out\n  a -- R1 10k -- x\n  x -- R2 47k || C1 1n -- out\n  b -- R3 10k -- y\n  y -- R4 47k || C2 1n -- gnd\n  U1a ideal: + y, - x, out out\n";
    let told = derived(bridged, "amp");
    assert!(told.contains("the two are equal and opposite:") && told.contains("hold only so."), "{told}");
}

/// What a formula is written with says as much behind it.
#[test]
fn a_written_formula_says_which_parts_must_be_equal() {
    let text = "stage amp: a, b -> out\n  a -- R1 10k -- x\n  x -- R2 47k -- out\n  b -- R3 10k -- y\n  y -- R4 47k -- gnd\n  U1a ideal: + y, - x, out out\n";
    let told = derived(text, "amp");
    let formulas = told.split("As a formula").nth(1).expect("formulas");
    let entry = formulas.lines().find(|l| l.contains("a - b")).expect("of the difference");
    assert!(entry.ends_with("# with R1·R4 = R2·R3") || entry.ends_with("# with R1 = R3 and R2 = R4"), "{entry}");
}

/// A filter tuned by two dividers has its working; a tone control with both bands is past one, and has its poles and zeros.
#[test]
fn dividers_on_the_way_are_worked_out_and_too_long_a_form_is_past_a_hand() {
    let filter = "stage svf: in -> hp, bp, lp\n  in -- R1 10k -- a\n  lp -- R2 10k -- a\n  hp -- R3 10k -- a\n  U1a ideal: + p, - a, out hp\n  bp -- R7 10k -- p\n  p -- R8 10k -- gnd\n  VR1a 10k lin: cw hp, wiper h1, ccw gnd\n  h1 -- R5 10k -- m1\n  m1 -- C1 10n -- bp\n  U1b ideal: + gnd, - m1, out bp\n  VR1b 10k lin: cw bp, wiper h2, ccw gnd\n  h2 -- R6 10k -- m2\n  m2 -- C2 10n -- lp\n  U2a ideal: + gnd, - m2, out lp\n";
    let told = derived(filter, "svf");
    assert!(told.contains("V(lp)/V(in) = −(R2/R1)·1/(1 + s·"), "{told}");
    // At its lower end a divider passes nothing on, and the form divides by it.
    assert!(told.contains("At VR1 0 % it divides by 0, and this form of it has no value."), "{told}");
    assert!(!told.contains("VR1 0 %: G"), "{told}");

    let tone = "stage tone: in -> out\n  in -- R1 10k -- b1\n  VR1 100k lin: cw b1, wiper bw, ccw b2\n  b2 -- R2 10k -- out\n  bw -- R3 10k -- x\n  b1 -- C1 47n -- bw\n  bw -- C2 47n -- b2\n  in -- R4 4k7 -- t1\n  VR2 100k lin: cw t1, wiper tw, ccw t2\n  t2 -- R5 4k7 -- out\n  tw -- C3 2n2 -- x\n  U1a ideal: + gnd, - x, out out\n";
    let told = derived(tone, "tone");
    assert!(told.contains("This is past a hand derivation. From the solver, with the controls at rest:"), "{told}");
    assert!(told.contains("V(out)/V(in) at VR2 0 %: poles"), "{told}");
}

/// A divider in front of another stage's virtual earth feels that stage's input resistor.
#[test]
fn what_ends_at_a_virtual_earth_loads_the_stage_in_front() {
    let text = "stage div: in -> eq\n  in -- R1 10k || C1 10n -- eq\n  eq -- R2 2k2 -- gnd\nstage mix: eq -> out\n  eq -- R4 10k -- m\n  m -- R5 100k -- out\n  U1a ideal: + gnd, - m, out out\n";
    let told = derived(text, "div");
    assert!(told.contains("with R4 of mix on eq, which ends at U1a's virtual earth m."), "{told}");
    // 2.2 kΩ beside 10 kΩ is 1.803 kΩ: 1.803/11.803 is −16.3 dB.
    assert!(told.contains("×0.153 (−16.3 dB), far below all corners"), "{told}");
    assert!(told.contains("As a formula\n    gain in -> eq = "), "{told}");
    // A feedback of several parts leads back as well; without one there is no virtual earth.
    let several = text.replace("m -- R5 100k -- out", "m -- R5 100k -- n -- R6 10k -- out");
    assert!(derived(&several, "div").contains("virtual earth m"), "{}", derived(&several, "div"));
    let none = text.replace("m -- R5 100k -- out", "m -- R5 100k -- gnd");
    assert!(!derived(&none, "div").contains("virtual earth"), "{}", derived(&none, "div"));
    // A + input that a signal moves keeps no earth.
    let moved = text.replace("+ gnd, - m", "+ in, - m");
    assert!(!derived(&moved, "div").contains("virtual earth"), "{}", derived(&moved, "div"));
}

/// Into a virtual earth a source drives a current: what the stage makes of it is told per ampere.
#[test]
fn a_photodiode_s_stage_is_worked_out_per_ampere() {
    let text = "design\n  band 1 Hz .. 20 kHz\n  supply vpos +5 V, vneg -5 V\n  source pd 10 nA\nstage diode: pd\n  pd -- C9 70p external -- gnd\nstage tia: pd -> out\n  pd -- R1 1M || C1 10p -- out\n  U1a ideal: + gnd, - pd, out out\n";
    let told = derived(text, "tia");
    assert!(
        told.contains("U1a is an amplifier whose input is a current: I(pd) to its − input, R1 beside C1"),
        "{told}"
    );
    assert!(
        told.contains("I(pd) = −V(out)/(R1 || 1/(s·C1))\n    V(out)/I(pd) = −(R1 || 1/(s·C1)) = −R1/(1 + s·R1·C1)"),
        "{told}"
    );
    assert!(told.contains("G0 = −R1 = −1 MΩ"), "{told}");
    assert!(told.contains("f0 = 1/(2·π·R1·C1) = 1/(2·π·1 MΩ·10 pF) = 15.9 kHz, a pole"), "{told}");
    assert!(told.contains("As a formula\n    transimpedance pd -> out = -R1 / (1 + s*R1*C1)\n"), "{told}");
    let tee = derived(
        &text.replace("pd -- R1 1M || C1 10p -- out", "pd -- R1 1M -- t\n  t -- R2 1k -- gnd\n  t -- R3 10k -- out"),
        "tia",
    );
    assert!(tee.contains("transimpedance pd -> out = -"), "{tee}");
}

/// A half-rail that is a port and that another stage's follower holds is gnd for a signal, and the formula that is right with that follower
/// ideal is offered.
#[test]
fn a_half_rail_at_a_port_is_still() {
    let text = "design\n  band 20 Hz .. 20 kHz\n  supply vcc +9 V\n  source in 0.1 V\nstage bias: vcc -> half\n  vcc -- R1 100k -- b\n  b -- R2 100k -- gnd\n  U1b tl072: + b, - half, out half\nstage amp: in, half -> out\n  in -- C2 1u -- p\n  p -- R3 100k -- half\n  U1a tl072: + p, - m, out out\n  out -- R4 10k -- m\n  m -- R5 1k -- half\n";
    let told = derived(text, "amp");
    assert!(told.contains("U1b of bias holds half, and no signal moves it: for a signal it lies at gnd."), "{told}");
    assert!(told.contains("Right with U1b and U1a ideal, which no assumption says yet:"), "{told}");
    assert!(!told.contains("gain half"), "{told}");
    let at = text.find("stage amp").expect("the heading is there");
    let fix = opened(text).proposals("a.stage", at..at, None).pop().expect("there is a fix");
    assert!(fix.title.starts_with("write amp's formula, and assume U1b, U1a ideal"), "{}", fix.title);
    let mut written = text.to_string();
    for edit in fix.edits.iter().rev() {
        written.replace_range(edit.range.clone(), &edit.text);
    }
    let statements = opened(&written).statements("a.stage");
    assert!(statements.iter().all(|s| s.verdict == workbench::Verdict::Holds), "{statements:?}\n{written}");
}
