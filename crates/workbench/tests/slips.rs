//! A deliberately wrong formula of each kind, in one stage after another: the message names the slip, and the fix makes the formula right.

mod said;

use said::bench;
use workbench::Problem;

/// Stages of a school's tide gauge, each with a quantity, the right formula, and wrong ones with what is to be said of each.
struct Stage {
    text: &'static str,
    quantity: &'static str,
    right: &'static str,
    wrong: &'static [(&'static str, &'static str)],
}

const STAGES: &[Stage] = &[
    Stage {
        text: "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1 ideal: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- R3 1k5 -- gnd\n",
        quantity: "gain in -> out",
        right: "1 + R2 / R3",
        wrong: &[
            ("R2 / R3", "`1 +` is missing"),
            ("1 + R3 / R2", "the ratio behind `1 +` is the other way round"),
            ("1 / (1 + R2 / R3)", "upside down"),
            ("-(1 + R2 / R3)", "the sign is the other way round"),
            ("1 - R2 / R3", "the sign behind `1` is the other way round"),
            ("1 + R2 / R1", "R1 stands where R3 belongs"),
            ("1 + R2 / 1000 / R3", "a kilo is missing at `R2`"),
            ("20 * log10(1 + R2 / R3)", "it is in decibels, and the quantity is a ratio"),
            ("10 * log10(1 + R2 / R3)", "it is in decibels, and of powers besides"),
            ("sqrt(2) * (1 + R2 / R3)", "√2 is too much, as between peak and RMS"),
            ("(1 + R2 / R3) / sqrt(2)", "√2 is missing, as between RMS and peak"),
            ("2 * (1 + R2 / R3)", "a factor of 2 is too much"),
            ("1 + 2*pi*R2 / R3", "2π is too much"),
        ],
    },
    Stage {
        text: "stage inverter: in -> out\n  in -- R1 10k -- R2 4k7 -- sum\n  sum -- R3 22k || C1 1n -- out\n  U1 ideal: + gnd, - sum, out out\n",
        quantity: "gain in -> out",
        right: "-R3 / (R1 + R2) / (1 + s*R3*C1)",
        wrong: &[
            ("-R3 / (R1 || R2) / (1 + s*R3*C1)", "R1 and R2 lie in series, and the formula has them in parallel"),
            (
                "-R3 / (R1*R2 / (R1 + R2)) / (1 + s*R3*C1)",
                "R1 and R2 lie in series, and the formula has them in parallel",
            ),
            ("R3 / (R1 + R2) / (1 + s*R3*C1)", "the sign is the other way round"),
            ("-(R1 + R2) / R3 / (1 + s*R3*C1)", "`(R1 + R2) / R3` is upside down"),
            ("-R3 / (R1 + R2) / (s*R3*C1)", "`1 +` is missing in front of `s*R3*C1`"),
            ("-R3 / (R1 + R2) / (1 + w*R3*C1)", "j is missing"),
            ("-R3 / (R1 + R2) / (1 + f*R3*C1)", "2π and j are missing"),
            ("-R3 / (R1 + R2) / (1 + s/(2*pi)*R3*C1)", "2π is missing"),
            ("-R3 / (R1 + R2) / (1 + 2*pi*s*R3*C1)", "2π is too much"),
            ("-R3 / (R1 + R2) / (1 + s*R1*C1)", "R1 stands where R3 belongs"),
            ("-R3 / R1 / (1 + s*R3*C1)", "right with R2 short, which no assumption says"),
            ("-R3 / (R1 + R2) / (1 - s*R3*C1)", "the sign in front of `s*R3*C1` is the other way round"),
            (
                "1 - R3 / (R1 + R2) / (1 + s*R3*C1)",
                "the `1` in front of `- R3 / (R1 + R2) / (1 + s*R3*C1)` is too much",
            ),
        ],
    },
    Stage {
        text: "stage divider: in -> out\n  in -- R1 1k -- out\n  out -- R2 2k2 -- gnd\n  out -- C1 1u -- gnd\n",
        quantity: "gain in -> out",
        right: "R2 / (R1 + R2) / (1 + s*C1*(R1 || R2))",
        wrong: &[
            ("R2 / (R1 + R2) / (1 + s*C1*(R1 + R2))", "R1 and R2 lie in parallel, and the formula has them in series"),
            ("R1 / (R1 + R2) / (1 + s*C1*(R1 || R2))", "R1 and R2 have changed places"),
            ("(R1 + R2) / R2 / (1 + s*C1*(R1 || R2))", "`(R1 + R2) / R2` is upside down"),
            (
                "R2 / (R1 || R2) / (1 + s*C1*(R1 || R2))",
                "R1 and R2 lie in series, and the formula has them in parallel",
            ),
            ("R2 / (R1 + R2) / (1 + w*C1*(R1 || R2))", "j is missing"),
            ("R2 / (R1 + R2) / (1 + s*C1*R1)", "R2 in parallel with R1 is missing"),
            ("R2 / (R1 - R2) / (1 + s*C1*(R1 || R2))", "the sign in front of `R2` is the other way round"),
            ("1000 * R2 / (R1 + R2) / (1 + s*C1*(R1 || R2))", "a kilo is too much"),
            ("20 * log10(R2 / (R1 + R2) / (1 + s*C1*(R1 || R2)))", "it is in decibels, and the quantity is a ratio"),
        ],
    },
    Stage {
        text: "stage coupling: in -> out\n  in -- C1 47n -- out\n  out -- R1 100k -- gnd\n",
        quantity: "gain in -> out",
        right: "s*R1*C1 / (1 + s*R1*C1)",
        wrong: &[
            ("1 / (1 + s*R1*C1)", "it is what is left of 1"),
            ("s*R1*C1", "`/ (1 + s*R1*C1)` is missing behind it"),
            ("(1 + s*R1*C1) / (s*R1*C1)", "upside down"),
            ("w*R1*C1 / (1 + w*R1*C1)", "j is missing"),
            ("s*R1*C1 / (1 - s*R1*C1)", "the sign in front of `s*R1*C1` is the other way round"),
            ("f*R1*C1 / (1 + f*R1*C1)", "2π and j are missing"),
            ("-s*R1*C1 / (1 + s*R1*C1)", "the sign is the other way round"),
            ("1000*s*R1*C1 / (1 + s*R1*C1)", "a kilo is too much"),
        ],
    },
    Stage {
        text: "stage filter: in -> out\n  in -- R1 10k -- x -- R2 12k -- p\n  x -- C1 22n -- out\n  p -- C2 4.7n -- gnd\n  U1 ideal: + p, - out, out out\n",
        quantity: "gain in -> out",
        right: "1 / (1 + s*C2*(R1 + R2) + s^2*R1*R2*C1*C2)",
        wrong: &[
            ("1 / (1 + s*C1*(R1 + R2) + s^2*R1*R2*C1*C2)", "C1 and C2 have changed places"),
            (
                "1 / (1 + s*C2*(R1 || R2) + s^2*R1*R2*C1*C2)",
                "R1 and R2 lie in series, and the formula has them in parallel",
            ),
            ("1 / (s*C2*(R1 + R2) + s^2*R1*R2*C1*C2)", "`1 +` is missing"),
            ("1 + s*C2*(R1 + R2) + s^2*R1*R2*C1*C2", "upside down"),
            (
                "1 / (1 + s*C2*(R1 + R2) - s^2*R1*R2*C1*C2)",
                "the sign in front of `s^2*R1*R2*C1*C2` is the other way round",
            ),
            ("1 / (1 + s*C2*R1 + s^2*R1*R2*C1*C2)", "R2 in series with R1 is missing"),
            ("1 / (1 + w*C2*(R1 + R2) + w^2*R1*R2*C1*C2)", "j is missing"),
            ("1 / (1 + s*C2*(R1 + R2) + s^2*R1*R1*C1*C2)", "R1 stands where R2 belongs"),
        ],
    },
    Stage {
        text: "design\n  source in 1 uA\nstage sensor: in -> out\n  in -- R1 100k || C1 10p -- out\n  U1 ideal: + gnd, - in, out out\n",
        quantity: "transimpedance in -> out",
        right: "-R1 / (1 + s*R1*C1)",
        wrong: &[
            ("R1 / (1 + s*R1*C1)", "the sign is the other way round"),
            ("-R1 / (1 - s*R1*C1)", "the sign in front of `s*R1*C1` is the other way round"),
            ("-(R1 + Z(C1))", "R1 and Z(C1) lie in parallel, and the formula has them in series"),
            ("-R1 / (1 + w*R1*C1)", "j is missing"),
            ("-1000*R1 / (1 + s*R1*C1)", "a kilo is too much"),
        ],
    },
    Stage {
        text: "stage low: in -> out\n  in -- R1 1k -- out\n  out -- R2 2k2 || C1 1u -- gnd\n",
        quantity: "high corner in -> out against 20 Hz",
        right: "1 / (2*pi*C1*(R1 || R2))",
        wrong: &[
            ("1 / (C1*(R1 || R2))", "2π apart"),
            ("1 / (2*pi*C1*(R1 + R2))", "R1 and R2 lie in parallel, and the formula has them in series"),
            ("1 / (2*pi*C1*R1)", "R2 in parallel with R1 is missing"),
            ("1000 / (2*pi*C1*(R1 || R2))", "kilo"),
            ("-1 / (2*pi*C1*(R1 || R2))", "its sign is the other way round"),
            ("sqrt(2) / (2*pi*C1*(R1 || R2))", "√2"),
        ],
    },
    Stage {
        text: "stage pair: in -> out\n  in -- R1 1k -- out\n  out -- R2 2k2 -- R3 3k3 -- gnd\n",
        quantity: "impedance of out",
        right: "R1 || (R2 + R3)",
        wrong: &[
            ("R1 + R2 + R3", "R1 and R2 + R3 lie in parallel, and the formula has them in series"),
            ("R1 || (R2 || R3)", "R2 and R3 lie in series, and the formula has them in parallel"),
            ("R1 || R2", "right with R3 short, which no assumption says"),
            ("R1*(R2 + R3) / (R1 - (R2 + R3))", "the sign in front of `R2 + R3` is the other way round"),
            ("1000 * (R1 || (R2 + R3))", "a kilo is too much"),
        ],
    },
];

fn with(stage: &Stage, formula: &str) -> String {
    format!("{}formula\n  {} = {formula}\n", stage.text, stage.quantity)
}

fn differs(text: &str) -> Vec<Problem> {
    let all = bench(text).snapshot().problems("a");
    all.iter().filter(|p| p.id == "formula-differs").cloned().collect()
}

#[test]
fn a_right_formula_is_right() {
    for stage in STAGES {
        let said = bench(&with(stage, stage.right)).snapshot().problems("a");
        assert!(said.is_empty(), "{}: {said:?}", stage.right);
    }
}

#[test]
fn each_slip_is_named() {
    let mut failures = Vec::new();
    for stage in STAGES {
        for (wrong, names) in stage.wrong {
            let said = differs(&with(stage, wrong));
            let message = said.first().map_or("nothing", |p| &p.message);
            if said.len() != 1 || !message.contains(names) {
                failures.push(format!("{} = {wrong}\n  {names}\n  {message}", stage.quantity));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn the_fix_of_a_slip_makes_the_formula_right() {
    let mut fixed = 0;
    for stage in STAGES {
        for (wrong, _) in stage.wrong {
            let text = with(stage, wrong);
            for fix in differs(&text).iter().flat_map(|p| &p.fixes) {
                let mut mended = text.clone();
                for edit in &fix.edits {
                    mended.replace_range(edit.range.clone(), &edit.text);
                }
                assert_eq!(differs(&mended), [], "{wrong}: {}", fix.title);
                fixed += 1;
            }
        }
    }
    assert!(fixed > 30, "{fixed}");
}

#[test]
fn a_formula_that_keeps_what_an_assumption_neglects_is_told_the_assumption() {
    let text = "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1 TYPE: + in, - fb, out out\n  out -- R2 10k || C1 22p -- fb\n  fb -- R3 1k -- C2 47u -- gnd\nassume within 1 dB\n  C1 open\n  C2 short above 100 Hz\nformula\n  gain in -> out = 1 + (R2 || Z(C1)) / R3\n";
    let said = differs(&text.replace("TYPE", "ideal"));
    assert_eq!(said.len(), 1);
    assert_eq!(
        said[0].message,
        "The assumption `C1 open` neglects C1, and the formula for gain in -> out keeps it: without the assumption the algebra is right."
    );
    assert_eq!(said[0].severity, workbench::Severity::Warning);
    // Beside what nobody said.
    let said = differs(&text.replace("TYPE", "fet_dual"));
    assert!(said[0].message.contains("`C1 open` neglects C1") && said[0].message.contains("U1 ideal"), "{said:?}");
    // One that keeps it and is wrong all the same is wrong.
    let said = differs(&text.replace("TYPE", "ideal").replace("1 + (R2", "(R2"));
    assert_eq!(said[0].severity, workbench::Severity::Error, "{said:?}");
}

#[test]
fn a_corner_with_its_reference_on_a_slope_is_offered_another_one() {
    // 1 kΩ and 0.1 µF: 1.59 kHz, where the response at 1 kHz is 1.4 dB down already.
    let at = |c: &str| {
        format!(
            "stage low: in -> out\n  in -- R1 1k -- out -- C1 {c} -- gnd\nformula\n  high corner in -> out = 1 / (2*pi*R1*C1)\n"
        )
    };
    let said = differs(&at("100n"));
    assert!(said.len() == 1 && said[0].message.contains("write `high corner in -> out against 200 Hz`"), "{said:?}");
    let edit = &said[0].fixes[0].edits[0];
    let mut mended = at("100n");
    mended.replace_range(edit.range.clone(), &edit.text);
    assert!(bench(&mended).snapshot().problems("a").is_empty(), "{mended}");
    // Well down the slope there is no corner to hold it against; the way out is the same.
    let statements = bench(&at("1u")).snapshot().statements("a");
    let unknown = format!("{:?}", statements[0].verdict);
    assert!(unknown.contains("Against 20 Hz the formula is right"), "{unknown}");
}

/// What is said of one formula in a design.
fn told(design: &str, formula: &str) -> Vec<Problem> {
    differs(&format!("{design}formula\n  {formula}\n"))
}

/// The one thing that is said of it.
fn only(design: &str, formula: &str) -> Problem {
    let [one] = <[Problem; 1]>::try_from(told(design, formula)).expect("one problem");
    one
}

/// What comes out right because two values are alike is told, with the slip where there is one, and with the parts.
#[test]
fn equal_values_hide_no_slip() {
    let inverter =
        "stage amp: in -> out\n  in -- R1 22k -- sum\n  sum -- R2 22k -- out\n  U1 ideal: + gnd, - sum, out out\n";
    let upside = only(inverter, "gain in -> out = -R1/R2");
    assert_eq!(
        upside.message,
        "The formula for gain in -> out is right only while R1 = R2: with other values it is upside down: the ratio is the other way round."
    );
    assert_eq!(upside.fixes[0].title, "write -R2 / R1");
    // Parts that are said to be equal are.
    assert_eq!(told(&format!("design\n  matched R1, R2\n{inverter}"), "gain in -> out = -R1/R2"), []);

    let divider = "stage pad: in -> out\n  in -- R5 10k -- out\n  out -- R6 10k -- gnd\n";
    let other = only(divider, "gain in -> out = R5 / (R5 + R6)");
    assert!(
        other.message.contains("right only while R5 = R6: with other values R5 and R6 have changed places"),
        "{}",
        other.message
    );
    assert_eq!(other.fixes[0].title, "write R6 / (R6 + R5)");

    let filter = "stage sk: in -> out\n  in -- R9 10k -- p\n  p -- R10 11k -- q\n  p -- C1 10n -- out\n  q -- C2 10n -- gnd\n  U1 ideal: + q, - out, out out\n";
    let swapped = only(filter, "gain in -> out = 1 / (1 + s*C1*(R9 + R10) + s^2*R9*R10*C1*C2)");
    assert!(
        swapped.message.contains("only while C1 = C2: with other values C1 and C2 have changed places"),
        "{}",
        swapped.message
    );

    // Four resistors in two equal pairs are a design, and the hint says what it hangs on.
    let difference = "stage diff: a, b -> out\n  a -- R1 10k -- n\n  b -- R2 10k -- p\n  n -- R3 47k -- out\n  p -- R4 47k -- gnd\n  U1 ideal: + p, - n, out out\n";
    let declared = format!("design\n  balanced line: a, b\n{difference}");
    assert_eq!(told(&declared, "gain line -> out = -R3 / R1"), []);
    let hints = said::hints(&format!("{declared}formula\n  gain line -> out = -R3 / R1\n"));
    assert!(hints.contains("right while R1 = R2 and R3 = R4"), "{hints}");
}

/// The formula turned as a whole is written, too.
#[test]
fn the_commonest_slips_have_a_fix() {
    let amp = "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1 ideal: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- R3 1k5 -- gnd\n";
    for (wrong, instead) in [
        ("R2 / R3", "1 + R2 / R3"),
        ("1 + R3 / R2", "1 + R2 / R3"),
        ("-(1 + R2 / R3)", "1 + R2 / R3"),
        ("1 - R2 / R3", "1 + R2 / R3"),
        ("1 / (1 + R2 / R3)", "1 + R2 / R3"),
        ("2*(1 + R2/R3)", "1 + R2 / R3"),
    ] {
        let told = only(amp, &format!("gain in -> out = {wrong}"));
        assert_eq!(told.fixes[0].title, format!("write {instead}"), "{wrong}");
    }
    let series = "stage w: in -> x\n  in -- R15 10k -- wx -- R16 22k -- x\n  x -- C5 1n -- gnd\n";
    let told = only(series, "gain in -> x = 1 / (1 + s*C5*R15*R16/(R15 + R16))");
    assert!(
        told.message.ends_with("R15 and R16 lie in series, and the formula has them in parallel."),
        "{}",
        told.message
    );
    assert_eq!(told.fixes[0].title, "write 1 / (1 + s*C5*(R15 + R16))");
}

/// Where a control's end makes both sides of a fraction nothing, what it comes to close by counts; what grows beyond bounds there is wrong.
#[test]
fn nothing_over_nothing_at_an_end_is_what_it_tends_to() {
    let fader = "stage fade: in -> out\n  VR1 10k lin: cw in, wiper out, ccw gnd\n";
    assert_eq!(told(fader, "gain in -> out = ccw(VR1) / (cw(VR1) + ccw(VR1))"), []);
    // The same, ccw(VR1) on both sides of the fraction.
    assert_eq!(told(fader, "gain in -> out = ccw(VR1)^2 / (ccw(VR1)*cw(VR1) + ccw(VR1)^2)"), []);
    let statements = bench(&format!(
        "{fader}  out -- R1 10k -- gnd\nformula\n  gain in -> out = ccw(VR1) / (ccw(VR1)*(1 - ccw(VR1)/R1))\n"
    ))
    .snapshot()
    .statements("a");
    assert!(format!("{:?}", statements[0].verdict).contains("something divides by zero"), "{:?}", statements[0]);
}

/// Of a circuit without loss the pole itself has no size to compare, and what is beside it has.
#[test]
fn a_formula_of_a_circuit_without_loss_is_right() {
    for farads in ["100n", "33n", "47n", "10n", "1u"] {
        let trap = format!("stage a: in -> x\n  in -- L1 10m -- x\n  x -- C1 {farads} -- gnd\n");
        assert_eq!(told(&trap, "gain in -> x = 1 / (1 + s^2*L1*C1)"), [], "{farads}");
        let statements =
            bench(&format!("{trap}formula\n  gain in -> x = 1 / (1 + s^2*L1*C1)\n")).snapshot().statements("a");
        assert_eq!(statements[0].verdict, workbench::Verdict::Holds, "{farads}");
        let wrong = only(&trap, "gain in -> x = 1 / (1 - s^2*L1*C1)");
        assert!(wrong.message.contains("the sign in front of"), "{}", wrong.message);
    }
}

/// Values that are drawn have no products alike by themselves: a loop of three amplifiers in which two slips make up for each other.
#[test]
fn no_product_of_drawn_values_is_another() {
    let ring = "stage res: in -> lp\n  in -- R1 10k -- m\n  lp -- R2 10k -- m\n  m -- C1 10n -- bp\n  U1a ideal: + gnd, - m, out bp\n  bp -- R3 10k -- n\n  n -- C2 10n -- q\n  U1b ideal: + gnd, - n, out q\n  q -- R4 10k -- k\n  k -- R5 10k -- lp\n  U2a ideal: + gnd, - k, out lp\n";
    let hint = |formula: &str| said::hints(&format!("{ring}formula\n  gain in -> lp = {formula}\n"));
    let right = hint("-(R2/R1)/(1+s^2*R2*R3*C1*C2)");
    assert!(right.contains("right while R4 = R5"), "{right}");
    let wrong = hint("-(R2/R1)/(1+s^2*R1*R3*C1*C2)");
    assert!(!wrong.contains(": right\n"), "{wrong}");
}

/// What two inputs send is told of their difference only where their ratios agree.
#[test]
fn a_difference_of_inputs_has_one_gain_or_none() {
    let stage = |r4: &str| {
        format!(
            "stage d: a, b -> out\n  a -- R1 10k -- m\n  m -- R2 22k -- out\n  b -- R3 10k -- p\n  p -- R4 {r4} -- gnd\n  U1a ideal: + p, - m, out out\n"
        )
    };
    let statements =
        |r4: &str| bench(&format!("{}formula\n  gain b - a -> out = R2/R1\n", stage(r4))).snapshot().statements("a");
    let unknown = format!("{:?}", statements("47k")[0].verdict);
    assert!(unknown.contains("give different ratios"), "{unknown}");
    assert_eq!(statements("22k")[0].verdict, workbench::Verdict::Holds);
    let hints = said::hints(&format!("{}formula\n  gain b - a -> out = R2/R1\n", stage("22k")));
    assert!(hints.contains("right while R1 = R3 and R2 = R4"), "{hints}");
}

/// What would come out right only because values are alike is not offered.
#[test]
fn no_slip_is_named_that_only_equal_values_make_one() {
    let text = "stage ladder: in -> out\n  in -- R1 10k -- a\n  a -- R2 10k -- gnd\n  a -- R3 10k -- out\n  out -- R4 10k -- gnd\nstage sum: p, q, r -> so\n  p -- R11 10k -- m\n  q -- R12 10k -- m\n  r -- R13 10k -- m\n  m -- R14 10k -- so\n  U1a ideal: + gnd, - m, out so\n";
    for formula in [
        "gain in -> out = R2/(R1+R2) * R4/(R3+R4)",
        "gain p -> so = -R14/(R11+R12+R13)",
        "gain p -> so = -R14/(R11||R12||R13)",
    ] {
        let wrong = only(text, formula);
        assert!(wrong.fixes.is_empty() && !wrong.message.contains(" Hz: "), "{}", wrong.message);
    }
}
