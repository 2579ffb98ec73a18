//! What the notation says beyond stages and parts: values worked out, copies, included files, presets, concessions. Each design is
//! read as a person writes it; its hints and messages stand beside it.

use std::collections::BTreeMap;

use expect_test::{Expect, expect};
use workbench::{Answer, Workbench};

fn bench(files: &[(&str, &str)]) -> Workbench {
    let mut bench = Workbench::new();
    for (name, text) in files {
        bench.set_text(name, text.to_string());
    }
    for (name, _) in files {
        let found: BTreeMap<String, Result<String, String>> = bench
            .included(name)
            .into_iter()
            .map(|w| {
                let there = files.iter().any(|f| f.0 == w);
                (w.clone(), if there { Ok(w) } else { Err("cannot be read: there is no such file".into()) })
            })
            .collect();
        bench.set_included(name, found);
    }
    bench
}

fn check_files(files: &[(&str, &str)], expected: Expect) {
    let bench = bench(files);
    let (name, text) = files[0];
    let snapshot = bench.snapshot();
    let (hints, problems) = (snapshot.hints(name, None), snapshot.problems(name));
    let mut out = String::new();
    for (i, line) in text.lines().enumerate() {
        let said: Vec<&str> = hints.iter().filter(|h| h.line as usize == i).map(|h| h.label.as_str()).collect();
        out.push_str(line);
        if !said.is_empty() {
            out.push_str(&format!("  ┆ {}", said.join(" ┆ ")));
        }
        out.push('\n');
        for p in problems.iter() {
            let before = &text[..p.range.start];
            if before.matches('\n').count() == i {
                let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count());
                out.push_str(&format!("{}^ {}: {}\n", " ".repeat(column), p.id, p.message));
            }
        }
    }
    expected.assert_eq(&out);
}

fn check(text: &str, expected: Expect) {
    check_files(&[("a.stage", text)], expected);
}

fn ask(text: &str, phrases: &[&str], expected: Expect) {
    let bench = bench(&[("a.stage", text)]);
    let mut out = String::new();
    for phrase in phrases {
        for answer in bench.snapshot().read("a.stage", phrase) {
            match answer {
                Answer::Reading(r) => out.push_str(&format!("{}\n", r.line(quantity::Style::default()))),
                Answer::Wrong(f) => out.push_str(&format!("{phrase}: {}\n", f.message)),
            }
        }
    }
    expected.assert_eq(&out);
}

#[test]
fn values_are_worked_out_and_rounded_to_their_series() {
    check(
        "let
  f_low = 7 Hz
  gain  = 20 dB
  tau   = R3 * C2

stage preamp: in -> drive
  U1a fet_dual: + in, - fb, out drive
  in -- R1 1M -- gnd
  drive -- R2 (R3 * (gain - 1)) E24 -- fb
  fb -- R3 1k -- C2 (1 / (2*pi*R3*f_low)) E6 -- gnd
",
        expect![[r#"
            let
              f_low = 7 Hz  ┆ 7 Hz
              gain  = 20 dB  ┆ ×10.0 (20.0 dB)
              tau   = R3 * C2  ┆ 22 ms

            stage preamp: in -> drive  ┆ 20.1 dB · 7.16 Hz … 297 kHz · Zin 999 kΩ typ.
              U1a fet_dual: + in, - fb, out drive
              in -- R1 1M -- gnd
              drive -- R2 (R3 * (gain - 1)) E24 -- fb  ┆ = 9 kΩ → 9.1 kΩ
              fb -- R3 1k -- C2 (1 / (2*pi*R3*f_low)) E6 -- gnd  ┆ = 22.7 µF → 22 µF ┆ 7.23 Hz with R3
        "#]],
    );
}

#[test]
fn dimensions_are_checked() {
    check(
        "let
  sum    = R1 + C1
  twice  = 2 * f_law
  f_low  = 10 Hz
  here   = there
  there  = here
  curve  = 1 / (1 + s * R1 * C1)
  whole  = curve * 2
  odd    = ln(R1)
  over   = 1 / (R1 - R1)
  s      = 3

stage low: in -> out
  in  -- R1 10k -- out
  out -- C1 (R1) -- gnd
  out -- R2 (curve) -- gnd
  out -- R3 (f_low * 1 s) -- gnd
",
        expect![[r#"
            let
              sum    = R1 + C1  ┆ unknown: C1's value cannot be worked out
              twice  = 2 * f_law  ┆ unknown: twice cannot be worked out
                           ^ unknown-name: f_law has no value: did you mean f_low?
              f_low  = 10 Hz  ┆ 10 Hz
              here   = there  ┆ unknown: there's value is worked out from itself
                       ^ value-of-itself: here and there are worked out from each other, so none of them has a value.
              there  = here  ┆ unknown: here's value is worked out from itself
              curve  = 1 / (1 + s * R1 * C1)  ┆ unknown: C1's value cannot be worked out
              whole  = curve * 2  ┆ unknown: C1's value cannot be worked out
              odd    = ln(R1)  ┆ unknown: odd cannot be worked out
                         ^ argument-with-unit: ln is of a plain number, and this is in ohms.
              over   = 1 / (R1 - R1)  ┆ unknown: over cannot be worked out
              ^ reserved-name: `over` is a word of the notation: a `let` needs another name.
              s      = 3  ┆ 3
              ^ reserved-name: `s` has its meaning in every expression already: a `let` needs another name.

            stage low: in -> out  ┆ unknown: C1's value cannot be worked out
              in  -- R1 10k -- out
              out -- C1 (R1) -- gnd
                        ^ wrong-dimension: C1: a capacitor's value is wanted here, and this is in ohms.
              out -- R2 (curve) -- gnd
                        ^ curve-for-value: curve is a curve over frequency: one value is wanted here.
              out -- R3 (f_low * 1 s) -- gnd  ┆ = 10 Ω
        "#]],
    );
}

#[test]
fn copies_have_parts_and_inner_nodes_of_their_own() {
    let text = "design
  balanced line: hot, cold
  setting full: all VR1 100 %
  matched R2, cold.R2 0.1 %

stage leg: in -> hot
  U1 : + in, - fb, out hot
  in  -- R1 100k -- gnd
  hot -- R2 10k -- fb
  fb  -- R3 1k -- VR1 10k -- gnd

use leg as cold: in -> cold
  R3 2k
  R9 1k

use lag as other: in -> x

use leg as narrow: in -> y, z

use cold as third: in -> far
  R2 (2 * R3) E24
";
    check(
        text,
        expect![[r#"
            design
              balanced line: hot, cold
              setting full: all VR1 100 %
              matched R2, cold.R2 0.1 %

            stage leg: in -> hot  ┆ unknown: other copies no stage that is known
              U1 : + in, - fb, out hot  ┆ ideal
              in  -- R1 100k -- gnd
              hot -- R2 10k -- fb
              fb  -- R3 1k -- VR1 10k -- gnd  ┆ 5 kΩ at 50 %

            use leg as cold: in -> cold  ┆ unknown: other copies no stage that is known
              R3 2k
              R9 1k
              ^ unknown-part: leg has no R9 to replace: it has R1, R2 and R3.

            use lag as other: in -> x  ┆ unknown: other copies no stage that is known
                ^ unknown-stage: There is no stage called lag to copy: did you mean leg?

            use leg as narrow: in -> y, z  ┆ unknown: other copies no stage that is known
                ^ ports-differ: leg has 1 input and 1 output (in -> hot); this copy is given 1 input and 2 outputs.

            use cold as third: in -> far  ┆ unknown: other copies no stage that is known
              R2 (2 * R3) E24
        "#]],
    );
    let clean = text
        .replace("  R9 1k\n", "")
        .replace("use lag as other: in -> x\n\n", "")
        .replace("use leg as narrow: in -> y, z\n\n", "");
    ask(
        &clean,
        &[
            "gain in -> hot when full",
            "gain in -> cold when full",
            "gain in -> far when full",
            "gain in -> line when full",
            "impedance of cold.fb when cold.VR1 0 %",
            "gain in -> cold.fb",
        ],
        expect![[r#"
            gain in -> hot when full = ×1.91 (5.6 dB)
            gain in -> cold when full = ×1.83 (5.3 dB)
            gain in -> far when full = ×1.32 (2.4 dB)
            gain in -> line when full = ×0.0758 (−22.4 dB)
            impedance of cold.fb when cold.VR1 0 % = 0 Ω
            gain in -> cold.fb = ×1.00 (0.0 dB)
        "#]],
    );
}

#[test]
fn a_fault_in_an_included_file_is_told_with_file_and_line() {
    let shelf = "let
  x = cw(R1) / 2

stage pad: a -> b
  a -- R1 1q -- b
  b -- R2 (x) -- gnd

stage other: a -> b
  a -- R1 1q -- b

datasheet loud: opamp
  gain bandwidth 3 V
";
    let using = "include \"shelf.stage\"

use pad as first: in -> out
  R2 3k

use pad as second: out -> end
  R1 4k
  R2 4k

require
  gain in -> out > 1 dB
  gain out -> end
";
    check_files(
        &[("a.stage", using), ("shelf.stage", shelf)],
        expect![[r#"
        include "shelf.stage"
                ^ fault-in-include: shelf.stage, line 2: R1 has no wiper, and one more line there is at fault.

        use pad as first: in -> out  ┆ unknown: first.R1's value cannot be read (shelf.stage)
          R2 3k

        use pad as second: out -> end  ┆ −6.0 dB · Zin 8 kΩ
          R1 4k
          R2 4k

        require
          gain in -> out > 1 dB  ┆ unknown: first.R1's value cannot be read (shelf.stage)
          gain out -> end  ┆ −6.0 dB
    "#]],
    );
    let alone = "include \"shelf.stage\"

stage own: in -> out
  U1 ideal: + in, - out, out out
";
    check_files(
        &[("a.stage", alone), ("shelf.stage", shelf)],
        expect![[r#"
            include "shelf.stage"

            stage own: in -> out  ┆ 0.0 dB
              U1 ideal: + in, - out, out out  ┆ ideal
        "#]],
    );
    let missing = "include \"gone.stage\"

use pad as first: in -> out

require
  gain in -> out > 1 dB
  noise of out
";
    check_files(
        &[("a.stage", missing)],
        expect![[r#"
        include "gone.stage"
                ^ include-missing: gone.stage cannot be read: there is no such file.

        use pad as first: in -> out  ┆ unknown: what first copies is not known: gone.stage cannot be read

        require
          gain in -> out > 1 dB  ┆ unknown: what first copies is not known: gone.stage cannot be read
          noise of out  ┆ unknown: what first copies is not known: gone.stage cannot be read
    "#]],
    );
}

#[test]
fn an_included_stage_is_a_pattern_and_its_data_sheets_serve() {
    let shelf = "let
  r = 22 kohm

stage buffer: a -> b
  U1 quiet: + a, - b, out b
  a -- R1 (r) -- gnd

datasheet quiet: opamp
  gain bandwidth  8 MHz
  open loop gain  120 dB
";
    check_files(
        &[
            (
                "a.stage",
                "include \"shelf.stage\"

include \"gone.stage\"

include \"a.stage\"

include \"round.stage\"

stage own: in -> mid
  in -- R1 1k -- mid
  U2 quiet: + mid, - out, out out

use buffer as first: out -> next
",
            ),
            ("shelf.stage", shelf),
            ("round.stage", "include \"a.stage\"\n"),
        ],
        expect![[r#"
            include "shelf.stage"

            include "gone.stage"
                    ^ include-missing: gone.stage cannot be read: there is no such file.

            include "a.stage"
                    ^ include-circle: a.stage is this file: a file cannot include itself.

            include "round.stage"
                    ^ include-circle: round.stage includes another file: a.stage is included by what it includes: the circle has no beginning.

            stage own: in -> mid  ┆ 0.0 dB
              in -- R1 1k -- mid
              U2 quiet: + mid, - out, out out
              ^ held-twice: U2 and out hold the same voltage and nothing tells how they share the current: take one away, or put a resistance between them.

            use buffer as first: out -> next  ┆ unknown: U2 and out hold the same node · Zin 22 kΩ
        "#]],
    );
    check_files(
        &[
            (
                "a.stage",
                "include \"shelf.stage\"\n\nuse buffer as first: in -> out\n  R1 47k\n\nuse buffer as second: out -> next\n",
            ),
            ("shelf.stage", shelf),
        ],
        expect![[r#"
            include "shelf.stage"

            use buffer as first: in -> out  ┆ 0.0 dB · to 8.00 MHz · Zin 47 kΩ typ.
              R1 47k

            use buffer as second: out -> next  ┆ 0.0 dB · to 8.00 MHz · Zin 22 kΩ typ.
        "#]],
    );
}

#[test]
fn a_preset_is_set_and_is_no_control() {
    let text = |trim: &str| {
        format!(
            "design
  trim VR1: {trim}

stage amp: in -> out
  U1: + in, - fb, out out
  in  -- R4 100k -- gnd
  out -- R1 8k2 -- VR1 5k -- fb
  fb  -- R2 1k -- gnd
"
        )
    };
    check(
        &text("gain in -> out = 20 dB"),
        expect![[r#"
        design
          trim VR1: gain in -> out = 20 dB  ┆ set to 16 % (800 Ω)

        stage amp: in -> out  ┆ 20.0 dB · Zin 100 kΩ
          U1: + in, - fb, out out  ┆ ideal
          in  -- R4 100k -- gnd
          out -- R1 8k2 -- VR1 5k -- fb  ┆ 800 Ω at 16 %
          fb  -- R2 1k -- gnd
    "#]],
    );
    check(
        &text("gain in -> out = 40 dB"),
        expect![[r#"
            design
              trim VR1: gain in -> out = 40 dB  ┆ unknown: VR1 cannot be trimmed
                        ^ trim-unreached: VR1 cannot bring gain in -> out to 40.0 dB: it reaches 19.3 dB at 0 % and 23.0 dB at 100 %.

            stage amp: in -> out  ┆ unknown: VR1 cannot be trimmed · Zin 100 kΩ
              U1: + in, - fb, out out  ┆ ideal
              in  -- R4 100k -- gnd
              out -- R1 8k2 -- VR1 5k -- fb
              fb  -- R2 1k -- gnd
        "#]],
    );
    check(
        &text("gain in -> out"),
        expect![[r#"
        design
          trim VR1: gain in -> out  ┆ set to 100 % (5 kΩ)

        stage amp: in -> out  ┆ 23.0 dB · Zin 100 kΩ
          U1: + in, - fb, out out  ┆ ideal
          in  -- R4 100k -- gnd
          out -- R1 8k2 -- VR1 5k -- fb  ┆ 5 kΩ at 100 %
          fb  -- R2 1k -- gnd
    "#]],
    );
    check(
        &text("gain in -> nowhere = 3"),
        expect![[r#"
            design
              trim VR1: gain in -> nowhere = 3  ┆ unknown: VR1 cannot be trimmed
                                   ^ unknown-name: There is no node or pair called nowhere.

            stage amp: in -> out  ┆ unknown: VR1 cannot be trimmed · Zin 100 kΩ
              U1: + in, - fb, out out  ┆ ideal
              in  -- R4 100k -- gnd
              out -- R1 8k2 -- VR1 5k -- fb
              fb  -- R2 1k -- gnd
        "#]],
    );
    check(
        &text("input impedance of amp = 10 kohm"),
        expect![[r#"
            design
              trim VR1: input impedance of amp = 10 kohm  ┆ unknown: VR1 cannot be trimmed
                        ^ trim-unreached: VR1 does not move input impedance of amp.

            stage amp: in -> out  ┆ unknown: VR1 cannot be trimmed · Zin 100 kΩ
              U1: + in, - fb, out out  ┆ ideal
              in  -- R4 100k -- gnd
              out -- R1 8k2 -- VR1 5k -- fb
              fb  -- R2 1k -- gnd
        "#]],
    );
}

#[test]
fn a_concession_silences_its_rule_and_no_other() {
    check(
        "design
  accept no bias return for U1: \"the recorder's own input gives one\"
  accept no bias return for U2: \"as above\"
  accept no bias for U1: \"a slip\"
  accept no dc path for nowhere: \"nothing there\"

stage buffer: in -> out
  in -- C1 100n -- a
  U1: + a, - out, out out
",
        expect![[r#"
            design
              accept no bias return for U1: "the recorder's own input gives one"
              accept no bias return for U2: "as above"
                     ^ unknown-name: There is no part, node or stage called U2.
              accept no bias for U1: "a slip"
                     ^ unknown-rule: There is no rule `no bias` to accept: did you mean no bias return?
              accept no dc path for nowhere: "nothing there"
                     ^ unknown-name: There is no part, node or stage called nowhere.

            stage buffer: in -> out  ┆ 0.0 dB
              in -- C1 100n -- a
              U1: + a, - out, out out  ┆ ideal
        "#]],
    );
}

#[test]
fn tolerances_temperature_and_ratings_are_read() {
    check(
        "design
  tolerance R 1 %, C 5 %, X 3 %
  tolerance R 2 %
  temperature -300 degC
  matched R1, C1 1 %
  matched R1, R7 1 %

stage low: in -> out
  in  -- R1 10k 1% 0.25W E24 -- out
  out -- C1 10n ±1nF 63V film E6 \"the blue ones\" -- gnd
  out -- R2 4k8 E24 external -- gnd
  out -- R3 1k 120% unfitted -- gnd
",
        expect![[r#"
            design
              tolerance R 1 %, C 5 %, X 3 %
                                      ^ class-wanted: X is no class of part: those are R, VR, C and L.
              tolerance R 2 %
                        ^ repeated-tolerance: R has a tolerance already: take one of the two away.
              temperature -300 degC
                          ^ temperature-out-of-range: Nothing is colder than −273.15 °C.
              matched R1, C1 1 %
                      ^ unlike-parts: R1 and C1 are parts of different kinds: only like parts can match.
              matched R1, R7 1 %
                          ^ unknown-name: There is no part called R7.

            stage low: in -> out  ┆ −10.0 dB · to 5.11 kHz · Zin 14.5 kΩ
              in  -- R1 10k 1% 0.25W E24 -- out
              out -- C1 10n ±1nF 63V film E6 "the blue ones" -- gnd  ┆ 4.91 kHz
              out -- R2 4k8 E24 external -- gnd
                            ^ not-in-series: R2 4.8 kΩ is no value of E24: the nearest is 4.7 kΩ.
              out -- R3 1k 120% unfitted -- gnd
                           ^ tolerance-out-of-range: R3's tolerance is 0 % or more and less than 100 %.
        "#]],
    );
}

#[test]
fn a_hover_takes_neither_of_two_tolerances() {
    let text = "stage pad: in -> out
  in  -- R1 4k7 1% 5% -- out
  out -- R2 4k7 1% 1% 25V 50V -- gnd
";
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    let hover =
        |word: &str| bench.snapshot().hover("a.stage", text.find(word).expect("it is there")).expect(word).plain;
    let first = hover("R1 4k7");
    assert!(first.contains("two tolerances are stated: which of them is meant is not known"), "{first}");
    assert!(!first.contains("1 %") && !first.contains("5 %") && !first.contains("bands"), "{first}");
    let second = hover("R2 4k7");
    assert!(second.contains("± 1 %") && second.contains("two ratings of one kind are stated"), "{second}");
    assert!(!second.contains("25 V") && !second.contains("50 V"), "{second}");
}

#[test]
fn a_hover_tells_how_a_part_is_marked_and_what_stands_beside_it() {
    let text = "design
  tolerance R 1 %

let
  f_low = 7 Hz

stage low: in -> out
  in  -- R1 4k7 0.25W -- out
  out -- C1 (1 / (2*pi*R1*f_low)) E6 63V film -- gnd
  out -- R2 51k 5% -- gnd
  out -- R3 1234 -- gnd
";
    let bench = bench(&[("a.stage", text)]);
    let hover =
        |word: &str| bench.snapshot().hover("a.stage", text.find(word).expect("it is there")).expect(word).plain;
    let all = ["R1 4k7", "C1 (", "R2 51k", "R3 12", "f_low ="].map(hover).join("\n\n");
    expect![[r#"
        R1, 4.7 kΩ
          between in and out
          ± 1 %: 4.65 … 4.75 kΩ
          E12, between 3.9 kΩ and 5.6 kΩ
          bands: yellow, violet, black, brown, brown
          rated 250 mW

        C1, 4.7 µF
          between out and gnd
          C1 sees 959 Ω and makes a corner with it: 35.3 Hz
          worked out: 4.84 µF; fitted: 4.7 µF
          E6, between 3.3 µF and 6.8 µF
          rated 63 V

        R2, 51 kΩ
          between out and gnd
          ± 5 %: 48.4 … 53.6 kΩ
          E24, between 47 kΩ and 56 kΩ
          bands: green, brown, orange, gold

        R3, 1.234 kΩ
          between out and gnd
          ± 1 %: 1.22 … 1.25 kΩ
          in no series of IEC 60063; the nearest of E24 is 1.2 kΩ

        f_low
          7 Hz"#]]
    .assert_eq(&all);
}
