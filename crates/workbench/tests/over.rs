//! Readings and requirements over tolerance, against what can be worked out by hand.

use workbench::{Answer, Held, Snapshot, Study, Workbench};

fn snapshot(text: &str) -> Snapshot {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    bench.snapshot()
}

fn studied(text: &str, phrase: &str) -> Study {
    let all = snapshot(text).read_over_tolerance("a", phrase);
    let [(Answer::Reading(reading), Some(tolerance))] = &all[..] else { panic!("{all:?}") };
    assert!(reading.unknown().is_none(), "{reading:?}");
    tolerance.study.clone().expect("a study")
}

fn close(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs(), "{a} is not {b}");
}

const DIVIDER: &str =
    "design\n  tolerance R 1 %\n\nstage low: in -> out\n  in  -- R1 10k -- out\n  out -- R2 30k -- gnd\n";

#[test]
fn a_dividers_worst_values_are_its_corners() {
    let study = studied(DIVIDER, "gain in -> out");
    close(study.low.value, 29.7 / (10.1 + 29.7), 1e-12);
    close(study.high.value, 30.3 / (9.9 + 30.3), 1e-12);
    // G = R2/(R1 + R2): d ln G / d ln R2 = −d ln G / d ln R1 = R1/(R1 + R2) = ¼; in decibels a per cent a hundredth of 20/ln 10 of it.
    let slope = 0.25 * 0.2 / std::f64::consts::LN_10;
    for weight in &study.low_weights {
        let sign = if &*weight.name == "R1" { -1.0 } else { 1.0 };
        close(weight.slope.unwrap(), sign * slope, 1e-7);
        close(weight.share, 0.5, 1e-6);
    }
    // Two equal effects: √2 of one of them.
    let one = 0.75 * 0.25 * 0.01;
    close(study.rss[1] - 0.75, one * 2f64.sqrt(), 1e-6);
    assert!(study.seen.iter().all(|s| study.low.value <= s[0] && s[1] <= study.high.value));
}

#[test]
fn the_share_of_builds_is_that_of_even_values() {
    let text = "design\n  tolerance R 1 %\n\nstage low: in -> out\n  in  -- R1 10k -- out\n  out -- C1 10n -- gnd\n\nrequire\n  high corner in -> out against 1 Hz = 1591.5494 Hz ± 0.5 %\n";
    let statements = snapshot(text).statements("a");
    let over = statements[0].tolerance.as_ref().unwrap().as_ref().unwrap();
    assert_eq!(over.verdict, Held::Fails);
    // f goes as 1/R: inside where R lies between 1/1.005 and 1/0.995 of its nominal value, of a range of 0.02.
    let wanted = (1.0 / 0.995 - 1.0 / 1.005) / 0.02;
    let [low, high] = over.share.interval;
    // The interval misses in one of twenty; twice as wide it does not.
    assert!((over.share.value() - wanted).abs() < high - low, "{:?} {wanted}", over.share);
}

/// A difference amplifier of gain G from four resistors, by superposition.
fn rejection(r: [f64; 4]) -> f64 {
    let [r1, r2, r3, r4] = r;
    let (share, k) = (r2 / (r1 + r2), r4 / r3);
    let (p, m) = (share * (1.0 + k), -k);
    20.0 * ((0.5 * (p - m)).abs() / (p + m).abs()).log10()
}

const RECEIVER: &str = "  balanced line: hot, cold\n\nstage receiver: hot, cold -> out\n  hot  -- R1 10k -- p -- R2 20k -- gnd\n  cold -- R3 10k -- m -- R4 20k -- out\n  U1a: + p, - m, out out\n";

/// About (1 + G)/4t (Pallàs-Areny and Webster, IEEE Trans. Instrum. Meas. 40, 1991; from memory): 37.5 dB of gain 2 and 1 %.
#[test]
fn the_rejection_of_a_difference_amplifier_is_that_of_its_worst_corner() {
    let text = format!("design\n  tolerance R 1 %\n{RECEIVER}");
    let study = studied(&text, "rejection line -> out");
    let end = |k: usize, i: usize, t: f64| if k >> i & 1 == 1 { 1.0 + t } else { 1.0 - t };
    let corner = |k: usize| {
        rejection([1e4 * end(k, 0, 0.01), 2e4 * end(k, 1, 0.01), 1e4 * end(k, 2, 0.01), 2e4 * end(k, 3, 0.01)])
    };
    let worst = (0..16).map(corner).fold(f64::INFINITY, f64::min);
    close(study.low.value, worst, 1e-10);
    assert!((worst - 20.0 * (3.0f64 / 0.04).log10()).abs() < 0.1, "{worst}");
    // The reading itself is the worst found: nominal parts match perfectly.
    let all = snapshot(&text).read("a", "rejection line -> out");
    let [Answer::Reading(reading)] = &all[..] else { panic!("{all:?}") };
    assert_eq!(reading.value, workbench::Value::Real(study.low.value));
}

#[test]
fn matched_parts_move_together() {
    let text = format!("design\n  tolerance R 1 %\n  matched R1, R2, R3, R4 0.1 %\n{RECEIVER}");
    let study = studied(&text, "rejection line -> out");
    // Any two within m: each by half of it, so (1 + G)/2m; the common movement costs the second order of it.
    assert!((study.low.value - 20.0 * (3.0f64 / 0.002).log10()).abs() < 0.15, "{}", study.low.value);
    // What is matched keeps the ratio of a divider, whatever the class does.
    let text = DIVIDER.replace("1 %\n", "1 %\n  matched R1, R2 0.1 %\n");
    let study = studied(&text, "gain in -> out");
    let spread = (study.high.value / study.low.value).ln();
    close(spread, 2.0 * 0.25 * 0.001, 0.02);
    // An impedance moves with all of it: within ±1 % and not a hair beyond.
    let study = studied(&text, "impedance of out");
    let nominal = 7.5e3;
    assert!(
        study.high.value <= 1.01 * nominal * (1.0 + 1e-12) && study.high.value > 1.0095 * nominal,
        "{:?}",
        study.high
    );
}

#[test]
fn presets_are_set_again_in_every_build() {
    let plain = "design\n  tolerance R 2 %, VR 20 %\n  TRIM\nstage amp: in -> out\n  in  -- R3 100k -- gnd\n  U1a: + in, - fb, out out\n  out -- R1 8k2 -- VR1 2k lin -- fb\n  fb  -- R2 1k -- gnd\n";
    let spread = |text: &str| {
        let study = studied(text, "gain in -> out");
        assert_eq!(study.unread, None);
        study.high.value / study.low.value - 1.0
    };
    assert!(spread(&plain.replace("  TRIM\n", "")) > 0.05);
    let trimmed = plain.replace("TRIM", "trim VR1: gain in -> out = 20 dB\n");
    assert!(spread(&trimmed) < 1e-9, "{}", spread(&trimmed));
}

#[test]
fn presets_that_act_on_each_other_are_set_together_in_every_build() {
    let text = "design\n  tolerance R 2 %, VR 20 %\n  trim VR1: gain in -> out = -6 dB\n  trim VR2: impedance of in = 12 kohm\n\n\
                stage pad: in -> out\n  in -- R1 2k -- VR2 10k lin -- a -- R2 1k -- VR1 10k lin -- gnd\n  a -- R3 100R -- out\n  out -- R4 1M -- gnd\n";
    for (phrase, target) in [("gain in -> out", 10f64.powf(-6.0 / 20.0)), ("impedance of in", 12e3)] {
        let study = studied(text, phrase);
        assert_eq!(study.unread, None);
        close(study.low.value, target, 1e-8);
        close(study.high.value, target, 1e-8);
    }
}

#[test]
fn a_preset_may_be_set_by_a_corner_or_by_a_rejection() {
    let corner = "design\n  tolerance R 1 %, C 5 %, VR 20 %\n  TRIM\nstage lag: in -> out\n  in -- R1 12k -- VR1 10k lin -- out\n  \
                  out -- C1 10n -- gnd\n\nrequire\n  high corner in -> out against 1 Hz = 1 kHz ± 0.01 %\n  \
                  gain in -> out at 1 kHz = -3.01 dB ± 0.01 dB\n";
    let trimmed = corner.replace("TRIM", "trim VR1: high corner in -> out against 1 Hz = 1 kHz\n");
    let statements = snapshot(&trimmed).statements("a");
    for statement in statements.iter().filter(|s| s.kind == "require") {
        let over = statement.tolerance.as_ref().unwrap().as_ref().unwrap();
        assert_eq!(over.verdict, Held::Holds, "{over:?}");
        assert_eq!(over.share.some, over.share.all);
    }
    // Four resistors of 1 % leave a unity difference stage 34 dB; a preset in its bridge takes out what they are off by.
    let bridge = "design\n  tolerance R 1 %, VR 20 %\n  balanced line: hot, cold\n  TRIM\nstage receiver: hot, cold -> out\n  \
                  hot -- R1 10k -- p -- R2 9k31 -- VR1 1k5 lin -- gnd\n  cold -- R3 10k -- m -- R4 10k -- out\n  U1a ideal: + p, - m, out out\n";
    let plain = studied(&bridge.replace("  TRIM\n", ""), "rejection line -> out");
    let set = studied(&bridge.replace("TRIM", "trim VR1: rejection line -> out\n"), "rejection line -> out");
    assert!(
        plain.low.value < 35.0 && set.low.value > 100.0 && set.unread.is_none(),
        "{:?} {:?} {:?}",
        plain.low,
        set.low,
        set.unread
    );
}

#[test]
fn what_holds_nominally_and_fails_over_tolerance_is_a_warning() {
    let text = format!("{DIVIDER}\nrequire\n  gain in -> out = -2.5 dB ± 0.03 dB\n");
    let snapshot = snapshot(&text);
    assert!(snapshot.problems("a").is_empty(), "nothing is said of tolerance at a keystroke");
    let problems = snapshot.problems_over_tolerance("a");
    let [problem] = &problems[..] else { panic!("{problems:?}") };
    assert_eq!((problem.id, problem.severity), ("requirement-tolerance", workbench::Severity::Warning));
    assert!(problem.message.contains("of builds hold") && problem.message.contains("R1"), "{}", problem.message);
    let accepted = text.replace("1 %\n", "1 %\n  accept requirement tolerance for R1: \"selected at the bench\"\n");
    assert!(self::snapshot(&accepted).problems_over_tolerance("a").is_empty());
    assert!(self::snapshot(&accepted).problems("a").is_empty());
}

#[test]
fn without_a_tolerance_the_verdict_is_nominal_only() {
    let text = format!(
        "{}\nrequire\n  gain in -> out = -2.5 dB ± 0.03 dB\n",
        DIVIDER.replace("design\n  tolerance R 1 %\n\n", "")
    );
    let statements = snapshot(&text).statements("a");
    let why = statements[0].tolerance.as_ref().unwrap().as_ref().unwrap_err();
    assert!(why.contains("nominal only"), "{why}");
}

#[test]
fn builds_after_edits_are_those_from_scratch() {
    let text = format!("{DIVIDER}\nrequire\n  gain in -> out = -2.5 dB ± 0.03 dB\n");
    let other = text.replace("R2 30k", "R2 31k");
    let mut bench = Workbench::new();
    for step in [&text, &other, &text] {
        bench.set_text("a", step.clone());
        let now = bench.snapshot();
        let fresh = snapshot(step);
        assert_eq!(now.problems_over_tolerance("a"), fresh.problems_over_tolerance("a"));
        assert_eq!(now.statements("a"), fresh.statements("a"));
    }
    // A part that has no say in it leaves the builds alone.
    let more = text.replace("\nrequire", "  out -- C9 1p -- gnd\n\nrequire");
    let share = |text: &str| snapshot(text).statements("a")[0].tolerance.clone().unwrap().unwrap().share;
    assert_eq!(share(&text), share(&more));
}

#[test]
fn a_tolerance_that_takes_a_part_away_is_told() {
    let all = snapshot(&DIVIDER.replace("R1 10k", "R1 10k ±20k")).read_over_tolerance("a", "gain in -> out");
    let (_, Some(tolerance)) = &all[0] else { panic!("{all:?}") };
    assert!(tolerance.study.is_err(), "{tolerance:?}");
}

/// What `check` says of a design's requirements.
fn told(text: &str) -> Vec<String> {
    let problems = snapshot(text).problems_over_tolerance("a");
    problems.iter().map(|p| p.message.clone()).collect()
}

fn lines(text: &str, phrase: &str) -> Vec<String> {
    let all = snapshot(text).read_over_tolerance("a", phrase);
    let [(Answer::Reading(reading), Some(tolerance))] = &all[..] else { panic!("{all:?}") };
    tolerance.lines(reading)
}

#[test]
fn figures_that_lie_close_together_are_told_apart() {
    let text = format!("{DIVIDER}\nrequire\n  gain in -> out = 0.75 ± 0.04 %\n").replace("R 1 %", "R 0.1 %");
    let [said] = &told(&text)[..] else { panic!() };
    // 0.999·30/(1.001·10 + 0.999·30) = 0.749625; the limit is 0.7497 to 0.7503.
    assert!(said.contains("is 0.7500 nominally and 0.7496 at worst"), "{said}");
    assert!(said.contains("0.7497 to 0.7503 is wanted"), "{said}");
}

#[test]
fn a_preset_out_of_reach_is_what_fails_and_not_the_other_parts() {
    let text = "design
  tolerance R 5 %
  trim VR1: gain in -> out at 1 kHz = -6 dB

stage pad: in -> out
  in  -- R1 10k -- out
  out -- R2 9k6 -- VR1 1k lin -- gnd

require
  impedance of out < 6 kohm
";
    let [said] = &told(text)[..] else { panic!() };
    assert!(said.contains(" % with 95 % confidence): VR1 does not reach what it is trimmed to"), "{said}");
    assert!(!said.contains("spend"), "{said}");
}

#[test]
fn what_a_limit_wants_follows_its_sign() {
    let text = DIVIDER.replace("tolerance R 1 %", "tolerance R 1 %\n  source in 1 V");
    let said = lines(&text, "level of out < 1 V").join("\n");
    assert!(said.contains("at most 1 V is wanted"), "{said}");
    let said = lines(&text, "level of out > 1 mV").join("\n");
    assert!(said.contains("at least 1 mV is wanted"), "{said}");
    // The figure of a strict limit is outside of it.
    let [said] = &told(&format!(
        "{}\nrequire\n  gain in -> out < 0.75\n",
        text.replace("tolerance R 1 %", "band 20 Hz .. 20 kHz")
    ))[..] else {
        panic!()
    };
    assert!(said.contains("less than 0.750 is wanted"), "{said}");
}

#[test]
fn presets_are_named_only_where_there_are_some_and_an_endless_end_is_no_even_one() {
    let text = "design
  tolerance R 1 %
  matched R1, R2, R3, R4 0.1 %
  balanced line: hot, cold

stage receiver: hot, cold -> out
  hot  -- R1 10k -- p -- R2 10k -- gnd
  cold -- R3 10k -- m -- R4 10k -- out
  U1a ideal: + p, - m, out out
";
    let said = lines(text, "rejection line -> out at 50 Hz").join("\n");
    assert!(said.contains("… without limit") && !said.contains("presets"), "{said}");
}

#[test]
fn around_nothing_there_is_no_root_of_squares() {
    let text = "design
  source vb 5 V
  tolerance R 1 %
  balanced br: a, b

stage bridge: vb -> a, b
  vb -- R1 350 -- a -- R2 350 -- gnd
  vb -- R3 350 -- b -- R4 350 -- gnd
";
    let said = lines(text, "level of br").join("\n");
    assert!(said.contains("root of squares unknown: nominally it is next to nothing"), "{said}");
    assert!(said.starts_with("over tolerance 0 V …") && !said.contains("a per cent"), "{said}");
}

/// A difference amplifier at its null: both inputs at one node.
fn at_null(amplifier: &str, phrase: &str) -> (Study, String) {
    let text = format!(
        "design
  tolerance R 1 %
  supply vp +15 V, vm -15 V

stage pair: cm -> out
  cm -- R3 10k -- p
  p  -- R4 10k -- gnd
  cm -- R5 10k -- n
  n  -- R6 10k -- out
  U2a {amplifier}: + p, - n, out out
"
    );
    (studied(&text, phrase), lines(&text, phrase).join("\n"))
}

#[test]
fn the_squares_of_a_null_are_of_deviations_in_any_phase() {
    for amplifier in ["ideal", "ne5532"] {
        let (study, said) = at_null(amplifier, "gain cm -> out");
        // Each of four resistors moves the gain by ½ of what it is off by: √4 · ½ · 1 %, and what the amplifier leaves besides.
        close(study.rss[1], 0.01, 0.05);
        assert!(
            said.contains("root of squares up to −40.0 dB") || said.contains("root of squares up to −39."),
            "{said}"
        );
        assert!(said.contains("V/V a per cent, 25.0 % of the spread") && !said.contains("dB a per cent"), "{said}");
    }
    // Over a band it is magnitudes that are read, and those have no slope at a null.
    let (study, said) = at_null("ne5532", "gain cm -> out over 100 Hz .. 1 kHz");
    assert!(study.null && said.contains("root of squares unknown: nominally it is next to nothing"), "{said}");
    assert!(!said.contains("dB a per cent"), "{said}");
}

#[test]
fn what_no_drawn_build_shows_is_told_with_how_rare_it_may_be() {
    // Eight resistors in a row: the corner of all is far out, and next to no build comes near it.
    let text = "design
  tolerance R 1 %, C 5 %

stage lag: in -> out
  in -- R1 1k -- a -- R2 1k -- b -- R3 1k -- c -- R4 1k -- d -- R5 1k -- e -- R6 1k -- f -- R7 1k -- g -- R8 1k -- out
  out -- C1 10n 1% -- gnd

require
  high corner in -> out against 1 Hz = 1989.4 Hz ± 1.9 %
";
    let problems = snapshot(text).problems_over_tolerance("a");
    let message = &problems.iter().find(|p| p.id == "requirement-tolerance").expect("the corner fails").message;
    assert!(message.contains("none of 1000 drawn builds fails, so at most 0.37 % do (95 % confidence)"), "{message}");
    let told = snapshot(&text.replace("1.9 %", "1 %")).problems_over_tolerance("a");
    let message = &told.iter().find(|p| p.id == "requirement-tolerance").expect("it fails").message;
    assert!(message.contains("of 100 builds hold (") && message.contains("% with 95 % confidence)"), "{message}");
}

/// A difference stage whose gain of 1 a switch halves: the same tolerance costs it more of its rejection then.
const SWITCHED: &str = "design
  tolerance R 1 %
  balanced rx: rh, rc

stage receiver: rh, rc -> out
  rh -- R7 10k -- p -- R8 10k -- gnd
  rc -- R9 10k -- n -- R10 10k -- out
  p -- R11 10k -- SW1a open -- gnd
  n -- R12 10k -- SW1b open -- out
  U2a ideal: + p, - n, out out
";

#[test]
fn a_rejection_is_that_of_the_position_whose_worst_is_the_worst() {
    // Nominal parts match at both positions, and tell nothing of which one suffers more from what they are off by: (1 + G)/4t.
    let [open, closed] = [2.0f64, 1.5].map(|sum| 20.0 * (sum / 0.04).log10());
    let at = |when: &str| studied(SWITCHED, &format!("rejection rx -> out when SW1 {when}")).low.value;
    assert!((at("open") - open).abs() < 0.1 && (at("closed") - closed).abs() < 0.1);
    let study = studied(SWITCHED, "rejection rx -> out");
    assert_eq!((study.low.value, &*study.low.position), (at("closed"), "SW1 closed"));
    // The range is that of the positions' worst, and no perfect match is an end of it.
    let all = snapshot(SWITCHED).read("a", "rejection rx -> out");
    let [Answer::Reading(reading)] = &all[..] else { panic!("{all:?}") };
    assert_eq!(reading.short(quantity::Style::default()), "34.0 … 31.5 dB over SW1");
    let required = snapshot(&format!("{SWITCHED}\nrequire\n  rejection rx -> out > 33 dB\n"));
    let problems = required.problems("a");
    let [problem] = &problems[..] else { panic!("{problems:?}") };
    assert!(problem.message.starts_with("rejection rx -> out is 31.5 dB at SW1 closed"), "{}", problem.message);
}

#[test]
fn a_volume_at_its_end_leaves_the_rejection_of_the_other_positions() {
    let text = SWITCHED.replace("out out", "out x").replace("-- out\n", "-- x\n");
    let text = format!("{text}  VR1 10k lin: cw x, wiper out, ccw gnd\n");
    let all = snapshot(&text).read("a", "rejection rx -> out");
    let [Answer::Reading(reading)] = &all[..] else { panic!("{all:?}") };
    assert_eq!(reading.short(quantity::Style::default()), "31.5 … 34.0 dB over SW1, VR1");
    assert!(reading.working.iter().any(|l| l.starts_with("no signal at ")), "{:?}", reading.working);
}

#[test]
fn a_null_that_parts_keep_is_looked_at_where_they_matter_most() {
    // A bridge in balance at either position; what is off moves it by less where a load takes its part.
    let text = "design
  tolerance R 1 %

stage bridge: in -> a, b
  in -- R1 10k -- a -- R2 10k -- gnd
  in -- R3 10k -- b -- R4 10k -- gnd
  a -- R5 10k -- SW1a closed -- gnd
  b -- R6 10k -- SW1b closed -- gnd
";
    let high = |when: &str| studied(text, &format!("gain in -> a - b{when}")).high;
    let (open, closed, any) = (high(" when SW1 open"), high(" when SW1 closed"), high(""));
    assert!(open.value > closed.value && closed.value > 0.0, "{open:?} {closed:?}");
    assert_eq!((any.value, &*any.position), (open.value, "SW1 open"));
}
