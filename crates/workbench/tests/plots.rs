//! Plots held against closed forms, against readings, and against what a reader of a design expects of them.

mod said;

use std::f64::consts::TAU;

use said::bench;
use workbench::plot::{Forbidden, Plot, Scale, Side};
use workbench::{Answer, Chosen, Refused, Unit, Value, Workbench};

const TEXT: &str = "\
design \"a test of curves\"
  band    20 Hz .. 20 kHz
  source  in 100 mV
  setting low: VR1 0 %

stage filter: in -> mid
  in  -- R1 1k -- mid
  mid -- C1 100n -- gnd

stage trim: mid -> out
  U1a ideal: + mid, - buf, out buf
  buf -- R3 1k -- top
  VR1 10k lin: cw top, wiper out, ccw gnd

assume
  C1 open below 100 Hz within 0.1 dB

require
  gain in -> mid at 1 kHz       = -1.5 dB ± 1 dB
  gain in -> mid over 20 Hz .. 1 kHz > -3 dB
  high corner in -> mid         > 1.5 kHz
  gain mid -> out when low      < -60 dB
  impedance of mid              < 2 kohm
";

fn plotted(phrases: &[&str]) -> Result<Plot, Refused> {
    asked(TEXT, phrases, None, None)
}

fn asked(text: &str, phrases: &[&str], over: Option<&str>, setting: Option<&str>) -> Result<Plot, Refused> {
    let phrases: Vec<String> = phrases.iter().map(|p| p.to_string()).collect();
    bench(text).snapshot().plot("a", &phrases, Chosen { over, setting, tolerance: false })
}

fn plot(phrases: &[&str]) -> Plot {
    plotted(phrases).unwrap_or_else(|why| panic!("{phrases:?}: {why:?}"))
}

fn refused(phrases: &[&str]) -> String {
    match plotted(phrases) {
        Err(Refused::Not(why)) => why,
        Err(Refused::Wrong { fault, .. }) => fault.message,
        Ok(_) => panic!("{phrases:?} is drawn"),
    }
}

#[test]
fn a_gain_is_its_closed_form_at_every_frequency() {
    let found = plot(&["gain in -> mid"]);
    let corner = 1.0 / (TAU * 1e3 * 100e-9);
    let [curve] = &found.curves[..] else { panic!("{:?}", found.curves.len()) };
    for (f, y) in &curve.points {
        let wanted = -10.0 * (1.0 + (f / corner).powi(2)).log10();
        assert!((y - wanted).abs() < 1e-9, "{f}: {y} {wanted}");
    }
    // Its one corner is marked, 3.01 dB below the reference of 1 kHz: there 1 + x² is twice what it is at the reference.
    let [mark] = &found.marks[..] else { panic!("{:?}", found.marks) };
    let reference = 1.0 + (1e3 / corner).powi(2);
    assert!((mark.x / (corner * (2.0 * reference - 1.0).sqrt()) - 1.0).abs() < 1e-9, "{mark:?}");
    assert!((mark.y + 10.0 * (2.0 * reference).log10()).abs() < 1e-9 && mark.text == "2.13 kHz", "{mark:?}");
    // The sheet goes from the band's beginning to a decade beyond the corner, in a round figure.
    assert_eq!((curve.points[0].0, curve.points.last().unwrap().0), (20.0, 50e3));
    assert_eq!((found.y.unit, found.y.scale), (Unit::Decibel, Scale::Linear));
}

#[test]
fn limits_stand_where_requirements_put_them() {
    let found = plot(&["gain in -> mid"]);
    let all: Vec<_> = found.limits.iter().map(|l| (l.over, (l.at * 100.0).round() / 100.0, l.forbidden)).collect();
    use Forbidden::{Above, Below};
    assert!(all.contains(&((1e3, 1e3), -2.5, Below)) && all.contains(&((1e3, 1e3), -0.5, Above)), "{all:?}");
    assert!(all.contains(&((20.0, 1e3), -3.0, Below)), "{all:?}");
    // A high corner above 1.5 kHz: from the reference to there the gain stays within 3.01 dB of that at the reference.
    let level = -10.0 * (1.0 + (1e3 * TAU * 1e-4f64).powi(2)).log10() - 3.0103;
    assert!(all.contains(&((1e3, 1.5e3), (level * 100.0).round() / 100.0, Below)), "{all:?}");
    assert_eq!(all.len(), 4, "{all:?}");
    assert_eq!(found.limits.iter().filter(|l| l.name.starts_with("high corner > 1.5 kHz")).count(), 1);
    let impedance = plot(&["impedance of mid"]);
    assert_eq!(impedance.limits.len(), 1);
    assert_eq!((impedance.limits[0].at, impedance.limits[0].name.as_str()), (2e3, "< 2 kΩ"));
}

#[test]
fn a_band_of_builds_lies_about_a_curve_and_reaches_towards_what_tolerance_allows() {
    let text = TEXT.replace("  setting low", "  tolerance R 10 %, C 10 %\n  setting low");
    let bench = bench(&text);
    let chosen = Chosen { tolerance: true, ..Chosen::default() };
    let found = bench.snapshot().plot("a", &["gain in -> mid".to_string()], chosen).unwrap();
    let [band] = &found.bands[..] else { panic!("{:?}", found.notes) };
    let mut widest = 0.0f64;
    for ((f, low, high), (_, nominal)) in band.points.iter().zip(&found.curves[0].points) {
        let at = |share: f64| -10.0 * (1.0 + (f * TAU * 1e-4 * share).powi(2)).log10();
        let (least, most) = (at(1.1 * 1.1), at(0.9 * 0.9));
        assert!(*low >= least - 1e-9 && *high <= most + 1e-9 && low <= nominal && nominal <= high, "{f}");
        widest = widest.max((high - low) / (most - least));
    }
    // Two hundred even draws of two parts come near to both corners.
    assert!(widest > 0.75, "{widest}");
    let none = bench_plot(TEXT);
    assert!(none.bands.is_empty() && none.notes.iter().any(|n| n.contains("has a tolerance")), "{:?}", none.notes);
}

fn bench_plot(text: &str) -> Plot {
    let chosen = Chosen { tolerance: true, ..Chosen::default() };
    bench(text).snapshot().plot("a", &["gain in -> mid".to_string()], chosen).unwrap()
}

#[test]
fn a_control_makes_a_family_and_a_setting_chooses_one() {
    let found = plot(&["gain mid -> out"]);
    assert_eq!(found.curves.iter().map(|c| &*c.name).collect::<Vec<_>>(), ["VR1 0 %", "VR1 50 %", "VR1 100 %"]);
    assert_eq!(found.title, "gain mid -> out over VR1");
    let level = |i: usize| found.curves[i].points[0].1;
    assert_eq!(level(0), f64::NEG_INFINITY);
    assert!(found.notes.iter().any(|n| n == "VR1 0 %: nothing arrives"), "{:?}", found.notes);
    assert!(
        (level(1) - 20.0 * (5.0f64 / 11.0).log10()).abs() < 1e-9
            && (level(2) - 20.0 * (10.0f64 / 11.0).log10()).abs() < 1e-9
    );
    // All curves of a family have one hue, and shades that rise.
    assert!(found.curves.windows(2).all(|c| c[0].hue == c[1].hue && c[0].shade < c[1].shade));
    let one = asked(TEXT, &["gain mid -> out"], Some("100 Hz .. 1 kHz"), Some("VR1 25 %")).unwrap();
    let [curve] = &one.curves[..] else { panic!("{:?}", one.curves.len()) };
    assert!((curve.points[0].1 - 20.0 * (2.5f64 / 11.0).log10()).abs() < 1e-9);
    assert_eq!((curve.points[0].0, curve.points.last().unwrap().0), (100.0, 1e3));
    assert_eq!(one.title, "gain mid -> out when VR1 25 %");
}

#[test]
fn a_reading_against_a_controls_travel() {
    let found = plot(&["gain mid -> out against VR1"]);
    for (travel, y) in &found.curves[0].points {
        let wanted = 20.0 * (10.0 * travel / 100.0 / 11.0).log10();
        assert!((y - wanted).abs() < 1e-9 || *y == wanted, "{travel}: {y} {wanted}");
    }
    assert_eq!(found.curves[0].points.len(), 101);
    let [mark] = &found.marks[..] else { panic!("{:?}", found.marks) };
    assert_eq!((mark.x, mark.text.as_str()), (50.0, "rest"));
    // The limit at a setting stands at that setting.
    assert!(found.limits.iter().any(|l| l.over == (0.0, 0.0) && l.at == -60.0 && l.forbidden == Forbidden::Above));
    // A reading of the whole circuit, too.
    let level = plot(&["level of out against VR1"]);
    let end = level.curves[0].points.last().unwrap();
    let size = 0.1 / (1.0 + (TAU * 0.1f64).powi(2)).sqrt() * 10.0 / 11.0;
    assert!((end.1 - 20.0 * (size / 0.6f64.sqrt()).log10()).abs() < 1e-6, "{end:?}");
}

#[test]
fn an_impedance_and_a_phase_are_their_closed_forms() {
    let z = plot(&["impedance of mid"]);
    for (f, y) in &z.curves[0].points {
        let wanted = 1e3 / (1.0 + (f * TAU * 1e-4).powi(2)).sqrt();
        assert!((y / wanted - 1.0).abs() < 1e-9, "{f}");
    }
    let both = plot(&["gain in -> mid", "phase in -> mid"]);
    assert_eq!(both.title, "gain and phase in -> mid");
    assert_eq!(
        both.curves.iter().map(|c| (&*c.name, c.side)).collect::<Vec<_>>(),
        [("gain", Side::Left), ("phase", Side::Right)]
    );
    for (f, y) in &both.curves[1].points {
        assert!((y + (f * TAU * 1e-4).atan().to_degrees()).abs() < 1e-9, "{f}: {y}");
    }
    assert_eq!(both.right.as_ref().map(|a| a.unit), Some(Unit::Degree));
}

#[test]
fn a_phase_is_followed_without_jumps() {
    let chain: String = "stage three: in -> d\n  in -- R1 1k -- b\n  b -- C1 100n -- gnd\n  U1a ideal: + b, - x, out x\n  x -- R2 1k -- c\n  c -- C2 100n -- gnd\n  U1b ideal: + c, - y, out y\n  y -- R3 1k -- d\n  d -- C3 100n -- gnd\n".into();
    let found = asked(&chain, &["phase in -> d"], Some("10 Hz .. 1 MHz"), None).unwrap();
    let points = &found.curves[0].points;
    assert!(points.windows(2).all(|p| (p[1].1 - p[0].1).abs() < 20.0));
    assert!((points[0].1 - points.last().unwrap().1 - 270.0).abs() < 3.0, "{:?}", points.last());
}

#[test]
fn noise_is_shared_among_those_who_make_it() {
    let text = "stage a: in -> out\n  in -- R1 10k -- out\n  out -- R2 10k -- gnd\n";
    let found = asked(text, &["noise density of out"], Some("20 Hz .. 20 kHz"), None).unwrap();
    // 5 kΩ at 25 °C, half of its power from each.
    let wanted = (4.0 * 1.380_649e-23 * 298.15 * 5e3f64).sqrt();
    let names: Vec<&str> = found.curves.iter().map(|c| &*c.name).collect();
    assert_eq!(names.len(), 3);
    assert!(names.contains(&"R1, 50.0 %") && names.contains(&"R2, 50.0 %") && names[0] == "sum", "{names:?}");
    for (f, y) in &found.curves[0].points {
        assert!((y / wanted - 1.0).abs() < 1e-6, "{f}: {y} {wanted}");
    }
    assert!((found.curves[1].points[0].1 / (wanted / 2f64.sqrt()) - 1.0).abs() < 1e-6);
}

#[test]
fn a_step_is_its_closed_form() {
    let found = plot(&["step in -> mid"]);
    assert_eq!(found.title, "step in -> mid");
    for (t, y) in &found.curves[0].points {
        assert!((y - (1.0 - (-t / 1e-4).exp())).abs() < 1e-9, "{t}: {y}");
    }
    assert_eq!(found.x.unit, Unit::Second);
}

/// One pole, fed with a tone from 0 to T: H·(1 − e^−(1/τ + jω)t) turning with the tone, and from T on what is left dies away by τ.
#[test]
fn a_bursts_envelope_is_its_closed_form() {
    let found = plot(&["burst in -> mid at 1 kHz"]);
    assert_eq!(found.title, "burst in -> mid at 1 kHz");
    let (tau, omega) = (1e-4, TAU * 1e3);
    let size = 1.0 / (1.0 + (omega * tau) * (omega * tau)).sqrt();
    let on = |t: f64| {
        let fade = (-t / tau).exp();
        let (re, im) = (1.0 - fade * (omega * t).cos(), fade * (omega * t).sin());
        size * re.hypot(im)
    };
    let points = &found.curves[0].points;
    let end = 0.5 * points.last().unwrap().0;
    assert!((end * 1e3 - (end * 1e3).round()).abs() < 1e-9 && end >= 5e-3, "{end}");
    for (t, y) in points {
        let wanted = if *t <= end { on(*t) } else { on(end) * (-(t - end) / tau).exp() };
        assert!((y - wanted).abs() < 1e-9, "{t}: {y} {wanted}");
    }
    assert!(found.notes.iter().any(|n| n == "5 periods at 1 kHz, then silence"), "{:?}", found.notes);
}

#[test]
fn an_assumptions_error_is_its_closed_form_with_what_it_may_be() {
    for phrase in ["assumption 1", "assumption C1"] {
        let found = plot(&[phrase]);
        for (f, y) in &found.curves[0].points {
            let wanted = 10.0 * (1.0 + (f * TAU * 1e-4).powi(2)).log10();
            assert!((y - wanted).abs() < 1e-9, "{f}: {y} {wanted}");
        }
        assert_eq!(
            found.limits.iter().map(|l| (l.over, l.at)).collect::<Vec<_>>(),
            [((20.0, 100.0), 0.1), ((20.0, 100.0), -0.1)]
        );
        assert_eq!(found.title, "C1 open below 100 Hz within 0.1 dB");
    }
}

#[test]
fn a_level_diagram_says_what_the_readings_say() {
    let example = include_str!("../../../examples/river-listener.stage");
    let found = asked(example, &["level diagram"], None, Some("high")).unwrap();
    let mut bench = Workbench::new();
    bench.set_text("a", example.into());
    let names: Vec<&str> = found.x.names.iter().map(|n| &*n.1).collect();
    assert_eq!((names[0], names[names.len() - 1]), ("emf", "line"), "{names:?}");
    for (curve, words) in [("signal", "level"), ("noise", "noise"), ("clip level", "clip level")] {
        let drawn = found.curves.iter().find(|c| c.name == curve).unwrap();
        for (at, y) in drawn.points.iter().filter(|p| p.1.is_finite()) {
            let phrase = format!("{words} of {} when high", names[*at as usize]);
            let Some(Answer::Reading(reading)) = bench.snapshot().read("a", &phrase).into_iter().next() else {
                panic!("{phrase}")
            };
            let Value::Real(volts) = reading.value else { panic!("{phrase}: {reading:?}") };
            assert!((20.0 * (volts / 0.6f64.sqrt()).log10() - y).abs() < 1e-9, "{phrase}");
        }
        assert!(drawn.points.iter().filter(|p| p.1.is_finite()).count() >= 3, "{curve}");
    }
}

#[test]
fn every_stage_and_every_statement_of_the_examples_is_drawn_or_says_why() {
    for (name, text) in [
        ("belfry", include_str!("../../../examples/belfry-microphone.stage")),
        ("bird box", include_str!("../../../examples/bird-box-low-pass.stage")),
        ("carillon", include_str!("../../../examples/carillon-tone.stage")),
        ("river", include_str!("../../../examples/river-listener.stage")),
        ("school", include_str!("../../../examples/school-laboratory.stage")),
    ] {
        let stages: Vec<&str> = text.lines().filter_map(|l| l.strip_prefix("stage ")?.split(':').next()).collect();
        for stage in stages {
            let found = asked(text, &[&format!("stage {stage}")], None, None);
            let found = found.unwrap_or_else(|why| panic!("{name}, {stage}: {why:?}"));
            let svg = workbench::plot::svg(&found, &workbench::plot::Sheet::default());
            assert!(svg.contains("<path") && !svg.contains("NaN"), "{name}, {stage}");
        }
        let required: Vec<&str> =
            text.lines().skip_while(|l| !l.starts_with("require")).filter(|l| l.starts_with("  ")).collect();
        assert!(required.len() > 5, "{name}");
        for line in required {
            // The phrase ends in front of its limit; the arrow in it has no blank before its point.
            let end = [" < ", " > ", " = "].iter().filter_map(|limit| line.find(limit)).min();
            let phrase = line[..end.unwrap_or_else(|| panic!("{name}: {line} has no limit"))].trim();
            match asked(text, &[phrase], None, None) {
                Ok(found) => assert!(!found.is_empty(), "{name}, {phrase}"),
                Err(Refused::Not(why)) => {
                    assert!(why.contains("has no curve") || why.contains("no bound"), "{name}: {why}")
                }
                Err(wrong) => panic!("{name}, {phrase}: {wrong:?}"),
            }
        }
    }
}

#[test]
fn what_has_no_curve_says_so() {
    assert!(refused(&["phase margin of U1a"]).contains("has no curve"));
    assert!(refused(&["q of filter"]).contains("has no curve"));
    assert!(refused(&["stage filtre"]).contains("there is no stage filtre"));
    assert!(refused(&["assumption 7"]).contains("the file has 1"));
    assert!(refused(&["gain in -> nowhere"]).contains("nowhere"));
    assert!(refused(&["gain in -> mid", "step in -> mid"]).contains("two plots"));
    assert!(refused(&["gain in -> mid", "phase in -> mid", "impedance of mid"]).contains("third unit"));
    assert!(refused(&["step in -> mid at 1 kHz"]).contains("no frequency"));
    assert!(refused(&["burst in -> mid over 1 kHz .. 2 kHz"]).contains("one frequency"));
    assert!(refused(&["burst in -> nowhere"]).contains("nowhere"));
    assert!(refused(&["wobble of mid"]).contains("wobble"));
    let torn = asked("stage a: in -> out\n  in -- R1 1k --\n", &["gain in -> out"], None, None);
    assert!(matches!(torn, Err(Refused::Not(why)) if why.contains("line 2 is unfinished")));
    let missing =
        asked("stage a: in -> out\n  in -- R1 -- out\n  out -- R2 1k -- gnd\n", &["gain in -> out"], None, None);
    assert!(matches!(missing, Err(Refused::Not(why)) if why.contains("R1")));
}

#[test]
fn where_bandwidth_is_missing_the_curve_ends_and_says_why() {
    let text = "datasheet slow: opamp\n  open loop gain 100 dB\n\nstage a: in -> out\n  in -- R1 100k -- gnd\n  U1a slow: + in, - fb, out out\n  out -- R2 9k -- fb || C1 1n\n";
    let text = &text
        .replace(" || C1 1n", "")
        .replace("-- fb\n", "-- fb\n  fb -- R3 1k -- gnd\n  out -- R4 1k -- far\n  far -- C2 10n -- gnd\n");
    let found = asked(text, &["gain in -> far"], Some("20 Hz .. 1 MHz"), None).unwrap();
    assert!(found.notes.iter().any(|n| n.contains("unknown: slow has no gain bandwidth")), "{:?}", found.notes);
    let last = found.curves[0].points.last().unwrap().0;
    assert!(last < 20e3, "{last}");
}

/// The hover on the `nth` place where `word` stands.
fn hover(text: &str, word: &str, nth: usize) -> workbench::Hover {
    let (at, _) = text.match_indices(word).nth(nth).expect("the word stands there");
    bench(text).snapshot().hover("a", at).expect("something is said")
}

fn has_dots(text: &str) -> bool {
    text.chars().any(|c| ('\u{2801}'..='\u{28ff}').contains(&c))
}

#[test]
fn hovers_show_small_plots() {
    let stage = hover(TEXT, "trim", 0);
    assert!(has_dots(&stage.plain) && stage.markdown.contains("```text\n"), "{}", stage.markdown);
    assert!(
        stage.markdown.contains("`gain mid -> out over VR1`")
            && stage.markdown.contains("`gain mid -> out against VR1`")
    );
    let control = hover(TEXT, "VR1", 1);
    assert!(has_dots(&control.plain) && control.plain.contains("against VR1"), "{}", control.plain);
    assert!(has_dots(&hover(TEXT, "gain in -> mid at", 0).plain));
    assert!(has_dots(&hover(TEXT, "open below", 0).plain));
    // Each line of the block is no wider than a hover.
    for line in stage.plain.lines().filter(|l| has_dots(l)) {
        assert!(line.chars().count() <= 44, "{line}");
    }
    assert!(stage.picture.is_none());
}

#[test]
fn a_picture_takes_the_place_of_the_dots_where_it_is_shown() {
    let (at, _) = TEXT.match_indices("filter").next().unwrap();
    let bench = bench(TEXT);
    let shown = bench.snapshot().hover_with_picture("a", at).unwrap();
    assert!(shown.picture.as_deref().is_some_and(|p| p.starts_with("<svg")));
    assert!(!has_dots(&shown.markdown) && !has_dots(&shown.plain));
}

#[test]
fn what_is_unknown_has_no_plot_and_keeps_its_sentence() {
    let text = &TEXT.replace("R1 1k", "R1");
    let stage = hover(text, "filter", 0);
    assert!(!has_dots(&stage.plain) && stage.plain.contains("unknown"), "{}", stage.plain);
    let torn = &TEXT.replace("R1 1k -- mid", "R1 1k --");
    assert!(!has_dots(&hover(torn, "filter", 0).plain));
    assert!(!has_dots(&hover(torn, "VR1", 1).plain));
}
