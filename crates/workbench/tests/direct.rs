//! Direct voltages, offsets, limits and stress, each beside the closed form that a person would use.

use workbench::{Answer, Reading, Style, Workbench};

fn read(text: &str, phrase: &str) -> Reading {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    match bench.snapshot().read("a.stage", phrase).as_slice() {
        [Answer::Reading(r)] => (**r).clone(),
        [Answer::Wrong(fault)] => panic!("{phrase}: {}", fault.message),
        other => panic!("{phrase}: {} answers", other.len()),
    }
}

fn value(text: &str, phrase: &str) -> f64 {
    let r = read(text, phrase);
    r.magnitude().unwrap_or_else(|| panic!("{}", r.line(Style::default())))
}

fn unknown(text: &str, phrase: &str) -> String {
    let r = read(text, phrase);
    r.unknown().unwrap_or_else(|| panic!("{}", r.line(Style::default()))).to_string()
}

fn working(text: &str, phrase: &str) -> String {
    read(text, phrase).working.join("\n")
}

#[track_caller]
fn near_at(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs().max(1e-12), "found {found}, expected {expected}");
}

#[track_caller]
fn near(found: f64, expected: f64) {
    near_at(found, expected, 1e-9);
}

/// An amplifier whose every limit is written, and guaranteed, with no more of it than a closed form can bear.
const WHOLE: &str = "datasheet whole: opamp
  slew rate min 1 V/us
  swing from rails max 1 V
  output current min 10 mA
  input range from low rail max 2 V
  input range from high rail max 2 V
  input offset max 3 mV
  input bias max 100 nA
";

fn with(sheet: &str, rest: &str) -> String {
    format!("{sheet}\n{rest}")
}

const HALF: &str = "datasheet low: opamp
  swing from high rail max 1.5 V
  swing from low rail max 50 mV
  output current min 10 mA
  slew rate min 10 V/us

design
  supply vcc +9 V
  source in 100 mV

stage amp: in, vcc -> out
  vcc -- R1 100k -- mid -- R2 100k -- gnd
  in  -- C1 1u -- mid
  U1a low: + mid, - fb, out out
  out -- R3 10k -- fb -- R4 10k -- C2 10u -- gnd
  out -- R5 600 -- gnd
";

#[test]
fn one_supply_of_nine_volts_rests_in_the_middle() {
    near(value(HALF, "dc of mid"), 4.5);
    // C2 leaves a gain of one at rest.
    near(value(HALF, "dc of out"), 4.5);
    near_at(value(HALF, "current of R5 at 1 kHz"), (4.5 + 2f64.sqrt() * 0.2) / 600.0, 1e-4);
}

#[test]
fn what_flows_at_rest_counts_before_the_signal() {
    // 4.5 V across 600 Ω and 2 · 10 kΩ behind a capacitor: 7.5 mA of 10 mA are gone. 2.5 mA are left, which 600 Ω beside 20 kΩ
    // turn into 1.456 V; the swing would leave 3 V.
    let peak = 2.5e-3 / (1.0 / 600.0 + 1.0 / 20e3);
    near_at(value(HALF, "clip level of out at 1 kHz"), peak / 2f64.sqrt(), 1e-5);
    assert!(working(HALF, "clip level of out at 1 kHz").contains("U1a's output current is reached first"));
    let light = HALF.replace("R5 600", "R5 100k");
    near_at(value(&light, "clip level of out at 1 kHz"), 3.0 / 2f64.sqrt(), 1e-9);
    let heavy = HALF.replace("R5 600", "R5 300");
    assert_eq!(unknown(&heavy, "clip level of out"), "U1a would have to give 15 mA at rest, and can 10 mA");
}

#[test]
fn what_nothing_sets_at_rest_is_unknown_with_its_name() {
    let text = "design
  supply vcc +9 V
  source in 1 V

stage feed: in, vcc -> out
  in  -- C1 1u -- a -- C2 1u -- gnd
  vcc -- R1 2k -- out -- R2 1k -- gnd
  b   -- C3 1u -- gnd
  out -- C4 -- b
  b   -- R3 1k -- c -- R4 1k -- b

stage saw: in -> end
  in -- R5 10k -- sum
  U1a: + gnd, - sum, out end
  end -- C5 1n -- sum
";
    assert_eq!(unknown(text, "dc of a"), "a has no DC path");
    assert_eq!(unknown(text, "voltage of C2"), "a has no DC path");
    assert_eq!(unknown(text, "dc of end"), "U1a has no feedback at DC");
    // What does not hang on them is known, though a capacitor there has no value yet.
    near(value(text, "dc of out"), 3.0);
    near(value(text, "dc of sum"), 0.0);
}

#[test]
fn an_amplifier_does_not_stand_beyond_its_rails() {
    let text = with(
        WHOLE,
        "design
  supply vpos +12 V, vneg -12 V

stage amp: vpos -> out
  vpos -- R1 7k -- in -- R2 5k -- gnd
  U1a whole: + in, - fb, out out
  out -- R3 9k -- fb -- R4 1k -- gnd
",
    );
    near(value(&text, "dc of in"), 5.0);
    assert_eq!(unknown(&text, "dc of out"), "U1a would have to stand at 50 V, beyond its rails of 12 V and −12 V");
    assert!(unknown(&text, "clip level of out").starts_with("U1a's output rests at 50 V"));
}

const INVERTING: &str = "design
  supply vpos +12 V, vneg -12 V
  source in 100 mV

stage amp: in -> out
  in  -- R1 2k -- sum
  out -- R2 10k -- sum
  gnd -- R3 5k -- plus
  U1a whole: + plus, - sum, out out
";

#[test]
fn offsets_add_by_magnitude() {
    let text = with(WHOLE, INVERTING);
    // V_os (1 + R2/R1) + I_b R2 + I_b R3 (1 + R2/R1)
    near(value(&text, "offset of out"), 3e-3 * 6.0 + 100e-9 * 10e3 + 100e-9 * 5e3 * 6.0);
    // Guaranteed figures: nothing typical is left.
    assert!(!read(&text, "offset of out").line(Style::default()).contains("typ."));
    let squares = (18e-3f64.powi(2) + 1e-3f64.powi(2) + 3e-3f64.powi(2)).sqrt();
    let told = format!("{:.1} mV as a root of squares", squares * 1e3);
    let working = working(&text, "offset of out");
    assert!(working.contains(&told), "{working}");
    let order: Vec<usize> = ["input offset: 3 mV", "current at +", "current at -"]
        .iter()
        .map(|w| working.find(w).unwrap_or_else(|| panic!("{w}: {working}")))
        .collect();
    assert!(order.is_sorted(), "largest first: {working}");
    let typical = text.replace("input offset max", "input offset");
    assert!(read(&typical, "offset of out").line(Style::default()).ends_with("(typ.: whole)"));
    let lacking = text.replace("  input bias max 100 nA\n", "");
    assert_eq!(unknown(&lacking, "offset of out"), "whole has no input bias");
}

#[test]
fn each_limit_binds_where_it_should() {
    let follower = |rest: &str| {
        with(
            WHOLE,
            &format!(
                "design
  supply vpos +12 V, vneg -12 V
  source in 100 mV

stage amp: in -> out
  in -- R1 10k -- gnd
  U1a whole: + in, - out, out out
{rest}"
            ),
        )
    };
    let root = 2f64.sqrt();
    // The inputs of a follower go along: ±10 V of range before ±11 V of swing.
    near(value(&follower(""), "clip level of out at 1 kHz"), 10.0 / root);
    near(value(&follower("  out -- R2 100 -- gnd\n"), "clip level of out at 1 kHz"), 1.0 / root);
    // 1 V/µs over 2π · 20 kHz, the top of the band
    near(value(&follower(""), "clip level of out"), 1e6 / (std::f64::consts::TAU * 20e3) / root);
    near(value(&follower(""), "headroom of out"), 20.0 * (1e6 / (std::f64::consts::TAU * 20e3) / root / 0.1).log10());
    // Inputs at ground leave the swing.
    near(value(&with(WHOLE, INVERTING), "clip level of out at 1 kHz"), 11.0 / root);
}

#[test]
fn an_early_stage_may_clip_first() {
    let text = with(
        WHOLE,
        "design
  supply vpos +12 V, vneg -12 V
  source in 100 mV

stage hot: in -> big
  in  -- R1 1k -- a
  big -- R2 20k -- a
  U1a whole: + gnd, - a, out big

stage cool: big -> out
  big -- R3 20k -- b
  out -- R4 2k -- b
  U1b whole: + gnd, - b, out out
",
    );
    near(value(&text, "clip level of out at 1 kHz"), 1.1 / 2f64.sqrt());
    assert!(working(&text, "clip level of out at 1 kHz").contains("U1a's swing is reached first"));
    near(value(&text, "headroom of out at 1 kHz"), 20.0 * (11.0 / 2f64.sqrt() / 2.0).log10());
}

#[test]
fn several_sources_count_in_phase_and_a_pair_doubles() {
    let text = with(
        WHOLE,
        "design
  supply vpos +12 V, vneg -12 V
  source p 1 V
  source q 1 V
  balanced line: out, anti

stage mix: p, q -> out
  p   -- R1 10k -- sum
  q   -- R2 10k -- sum
  out -- R3 10k -- sum
  U1a whole: + gnd, - sum, out out

stage turn: out -> anti
  out  -- R4 10k -- turned
  anti -- R5 10k -- turned
  U1b whole: + gnd, - turned, out anti
",
    );
    near(value(&text, "clip level of out at 1 kHz"), 11.0 / 2f64.sqrt());
    near(value(&text, "headroom of out at 1 kHz"), 20.0 * (11.0 / 2f64.sqrt() / 2.0).log10());
    near(value(&text, "headroom of out at 1 kHz from p"), 20.0 * (11.0 / 2f64.sqrt()).log10());
    near(value(&text, "clip level of line at 1 kHz"), 22.0 / 2f64.sqrt());
}

#[test]
fn what_is_missing_is_named() {
    let text = with(WHOLE, INVERTING);
    let without = |line: &str| {
        assert!(text.contains(line));
        text.replace(line, "")
    };
    assert_eq!(
        unknown(&without("  swing from rails max 1 V\n"), "clip level of out"),
        "whole has no swing from high rail"
    );
    let said = unknown(&without("  supply vpos +12 V, vneg -12 V\n"), "headroom of out");
    assert!(said.starts_with("U1a has no supply"), "{said}");
    let said = unknown(&text.replace("U1a whole", "U1a"), "clip level of out");
    assert!(said.starts_with("U1a is ideal and has no limit"), "{said}");
    let said = unknown(&text.replace("U1a whole", "U1a"), "offset of out");
    assert!(said.starts_with("U1a is ideal and has no offset"), "{said}");
    let said = unknown(&without("  source in 100 mV\n"), "headroom of out");
    assert!(said.starts_with("in has no level"), "{said}");
    // A limit that the sheet lacks is not looked at, and that is said; the level itself needs no source's level.
    let bare = without("  slew rate min 1 V/us\n").replace("  source in 100 mV\n", "");
    near(value(&bare, "clip level of out"), 11.0 / 2f64.sqrt());
    assert!(working(&bare, "clip level of out").contains("not looked at: U1a's slew rate (whole has no slew rate)"));
}

#[test]
fn what_only_loads_a_node_is_not_on_the_way_to_it() {
    let text = with(
        WHOLE,
        "datasheet soft: opamp
  open loop gain 100 dB
  output resistance 100 ohm
  swing from rails 1 V
  input offset 1 mV
  input bias 1 nA

design
  supply vpos +12 V, vneg -12 V
  source in 100 mV

stage first: in -> out
  U1a soft: + in, - out, out out

stage second: out -> end
  out -- R1 1k -- sum
  end -- R2 1k -- sum
  U1b: + gnd, - sum, out end
",
    );
    near_at(value(&text, "clip level of out at 1 kHz"), 11.0 / 2f64.sqrt(), 1e-4);
    near_at(value(&text, "offset of out"), 1e-3, 1e-4);
}

#[test]
fn parts_bear_direct_and_alternating_current_together() {
    let text = "design
  supply p48 +48 V
  source sig 1 V

stage feed: p48, sig -> out
  p48 -- R1 1k 0.25W -- a -- R2 1k -- gnd
  sig -- C1 10u polar 16V -- b -- C2 1u -- gnd
  a   -- L1 10m -- c -- R3 500 -- gnd
  b   -- R4 1k -- a
  p48 -- VR1 10k lin -- d -- R5 10k -- gnd
  c   -- C3 1n -- out
  out -- R6 1k -- gnd
";
    // At rest: a is fed by 24 V behind 500 Ω (R1 and R2), loaded by R3: 12 V. C1 blocks, so b stands at 12 V as well.
    near(value(text, "dc of a"), 12.0);
    near(value(text, "dc of b"), 12.0);
    near(value(text, "dc of sig"), 0.0);
    near_at(value(text, "current of L1 at 1 mHz"), 12.0 / 500.0, 1e-3);
    // sig is quiet at 0 V and b stands at 12 V: C1, positive at sig, is the wrong way round.
    let working = working(text, "voltage of C1");
    assert!(working.contains("the wrong way round"), "{working}");
    assert!(working.contains("of its rating of 16 V"), "{working}");
    // C2 stands straight across sig and C1 in series; at a high frequency C1 : C2 divide 1 V to 10/11.
    near_at(value(text, "voltage of C2 at 100 MHz"), 12.0 + 2f64.sqrt() * 10.0 / 11.0, 1e-6);
    near_at(
        value(text, "current of C2 at 1 MHz"),
        2f64.sqrt() * std::f64::consts::TAU * 1e6 * 1e-6 * 10.0 / 11.0,
        1e-4,
    );
    // (48 V − 12 V)² / 1 kΩ, five times its rating
    near_at(value(text, "power of R1 at 1 mHz"), 36.0 * 36.0 / 1e3, 1e-6);
    // A control is moved to all its ends: 48 V over 10 kΩ at the most.
    let r = read(text, "power of R5");
    let most = r.range.expect("VR1 moves it").ends.map(|e| e.value.expect("known"));
    near_at(most[0].max(most[1]), 48.0 * 48.0 / 10e3, 1e-6);
    assert!(unknown(text, "power of C1").contains("series resistance"));
}

#[test]
fn an_open_switch_cuts_off_only_what_hangs_on_it() {
    let text = "datasheet low: opamp
  swing from rails max 1 V

design
  supply vneg -9 V
  source in 100 mV

stage amp: in -> out
  vneg -- R1 10k -- mid -- R2 10k -- gnd
  in  -- C1 1u -- mid
  U1a low: + mid, - out, out out
  out -- R3 10k -- gnd
  out -- SW1 open -- x -- R4 1k -- y -- C2 1u -- gnd
";
    // One negative supply: gnd is the higher rail, and 3.5 V are left on either side of −4.5 V.
    near(value(text, "dc of mid"), 4.5_f64.copysign(-1.0));
    near(value(text, "clip level of out at 1 kHz when SW1 open"), 3.5 / 2f64.sqrt());
    near(value(text, "dc of x when SW1 closed"), -4.5);
    let said = unknown(text, "dc of x when SW1 open");
    assert_eq!(said, "nothing sets a direct voltage at x and y");
}

/// Two channels with inputs biased from one divided supply.
const SHARED: &str = "datasheet pnp_dual: opamp
  input offset max 7 mV
  input bias max 250 nA

design
  supply vcc +9 V
  source a 100 mV
  source b 100 mV

stage bias: vcc -> half
  vcc -- R1 100k -- half -- R2 100k || C1 10u -- gnd

stage one: a, half -> o1
  a -- C2 1u -- p1 -- R3 100k -- half
  U1a pnp_dual: + p1, - o1, out o1

stage two: b, half -> o2
  b -- C3 1u -- p2 -- R4 100k -- half
  U1b pnp_dual: + p2, - o2, out o2
";

#[test]
fn a_bias_current_acts_on_every_node_that_its_input_hangs_on() {
    let bias = 250e-9;
    // Both inputs draw on the divider, which is 50 kΩ; each by itself.
    near(value(SHARED, "offset of half"), 2.0 * bias * 50e3);
    near(value(SHARED, "offset of p1"), bias * 150e3 + bias * 50e3);
    near(value(SHARED, "offset of o1"), 7e-3 + bias * 150e3 + bias * 50e3);
    assert!(working(SHARED, "offset of o1").contains("U1b's bias current at +: 250 nA × 50 kΩ = 12.5 mV"));
    // An input behind a capacitor rests where its own current puts it.
    let follower = format!(
        "{WHOLE}\nstage one: a -> out\n  a -- C1 1u -- in -- R1 1M -- gnd\n  U1a whole: + in, - out, out out\n"
    );
    near(value(&follower, "offset of in"), 100e-9 * 1e6);
    // What is not known of one that draws there is not nothing.
    let ideal = SHARED.replace("U1b pnp_dual", "U1b ideal");
    assert!(unknown(&ideal, "offset of half").starts_with("U1b is ideal and has no offset"));
}
