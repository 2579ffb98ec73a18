//! Laws that hold for every circuit, on circuits that chance draws: what does not hang on any one formula of this program's.

use std::fmt::Write;

use proptest::prelude::*;
use workbench::{Answer, Reading, Value, Workbench};

const BOLTZMANN: f64 = 1.380_649e-23;
const KELVIN: f64 = 298.15;

struct Bench(Workbench);

impl Bench {
    fn of(text: &str) -> Bench {
        let mut bench = Workbench::new();
        bench.set_text("a", text.into());
        Bench(bench)
    }

    fn reading(&self, phrase: &str) -> Reading {
        match &self.0.snapshot().read("a", phrase)[..] {
            [Answer::Reading(r)] => (**r).clone(),
            other => panic!("{phrase}: one reading is asked for: {other:?}"),
        }
    }

    /// A magnitude; the circuits here leave nothing unknown.
    fn size(&self, phrase: &str) -> f64 {
        let reading = self.reading(phrase);
        reading.magnitude().map(f64::abs).unwrap_or_else(|| panic!("{phrase}: {:?}", reading.unknown()))
    }

    fn complex(&self, phrase: &str) -> (f64, f64) {
        match self.reading(phrase).value {
            Value::Complex(z) => (z.re, z.im),
            other => panic!("{phrase}: {other:?}"),
        }
    }
}

/// A part of a passive network: its kind, its value on a scale of decades, and the nodes that it lies between.
#[derive(Clone, Debug)]
struct Branch {
    kind: usize,
    decade: f64,
    ends: [usize; 2],
}

/// Names of the nodes; the last is gnd.
const NODES: [&str; 5] = ["p", "q", "x", "z", "gnd"];

/// Values from the ranges that parts are sold in.
fn figure(kind: usize, decade: f64) -> f64 {
    let (least, decades) = [(1e1, 6.0), (1e-11, 6.0), (1e-6, 6.0)][kind];
    least * 10f64.powf(decades * decade)
}

/// The lines of a network: a spanning path of resistors, so that no node floats, and what chance adds.
fn lines(branches: &[Branch], impedance: f64, time: f64) -> String {
    let mut text = String::new();
    for (k, b) in branches.iter().enumerate() {
        let value = figure(b.kind, b.decade);
        let n = k + 1;
        let part = match b.kind {
            0 => format!("R{n} {:e} ohm", value * impedance),
            1 => format!("C{n} {:e} F", value / impedance * time),
            _ => format!("L{n} {:e} H", value * impedance * time),
        };
        let _ = writeln!(text, "  {} -- {part} -- {}", NODES[b.ends[0]], NODES[b.ends[1]]);
    }
    text
}

fn network() -> impl Strategy<Value = Vec<Branch>> {
    let spine = (0usize..4).prop_map(|k| [k, k + 1]);
    let any = (0usize..5, 1usize..5).prop_map(|(a, d)| [a, (a + d) % 5]);
    let branch = |ends| (0usize..3, 0.0f64..1.0, ends).prop_map(|(kind, decade, ends)| Branch { kind, decade, ends });
    let resistors = prop::collection::vec(0.0f64..1.0, 4).prop_map(|values| {
        let all = values.into_iter().enumerate();
        all.map(|(k, decade)| Branch { kind: 0, decade, ends: [k, k + 1] }).collect::<Vec<_>>()
    });
    let more = prop::collection::vec(prop_oneof![branch(any.boxed()), branch(spine.boxed())], 1..7);
    (resistors, more).prop_map(|(a, b)| [a, b].concat())
}

/// A frequency from 1 Hz to 1 MHz.
fn frequency() -> impl Strategy<Value = f64> {
    (0.0f64..6.0).prop_map(|d| 10f64.powf(d))
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within * a.abs().max(b.abs()) + 1e-300
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// What a current at one node raises at another, it raises the other way round (reciprocity of linear networks of two-terminal parts).
    #[test]
    fn passive_networks_are_reciprocal(branches in network(), f in frequency()) {
        let text = |at: &str| {
            format!("design\n  source {at} 1 uA\n\nstage net: p, q, x, z\n{}", lines(&branches, 1.0, 1.0))
        };
        let (a, b) = (Bench::of(&text("p")), Bench::of(&text("z")));
        let forth = a.size(&format!("transimpedance p -> z at {f:e} Hz"));
        let back = b.size(&format!("transimpedance z -> p at {f:e} Hz"));
        prop_assert!(near(forth, back, 1e-9), "{forth:e} {back:e}");
    }

    /// No network of resistors, capacitors and inductors gives power away: the real part of what is seen into it is never below 0.
    #[test]
    fn passive_networks_take_power(branches in network(), f in frequency(), node in 0usize..4) {
        let bench = Bench::of(&format!("design\n  source p 1 uA\n\nstage net: p, q, x, z\n{}", lines(&branches, 1.0, 1.0)));
        let (re, im) = bench.complex(&format!("impedance of {} at {f:e} Hz", NODES[node]));
        prop_assert!(re >= -1e-9 * re.hypot(im), "{re:e} {im:e}");
    }

    /// Every impedance k times as large leaves the gains and makes what is seen k times as large; every time constant k times as
    /// large moves each frequency to 1/k of it.
    #[test]
    fn scaled_networks_answer_scaled(branches in network(), f in frequency(), k in 0.01f64..100.0) {
        let text = |impedance: f64, time: f64| {
            format!("stage net: p -> z\n{}", lines(&branches, impedance, time))
        };
        let plain = Bench::of(&text(1.0, 1.0));
        let high = Bench::of(&text(k, 1.0));
        let slow = Bench::of(&text(1.0, k));
        let gain = format!("gain p -> z at {f:e} Hz");
        let seen = format!("impedance of q at {f:e} Hz");
        prop_assert!(near(plain.size(&gain), high.size(&gain), 1e-9));
        prop_assert!(near(plain.size(&seen) * k, high.size(&seen), 1e-9));
        let later = slow.size(&format!("gain p -> z at {:e} Hz", f / k));
        prop_assert!(near(plain.size(&gain), later, 1e-9));
    }

    /// The noise by the transposed equations is what each source of noise makes when it drives alone. Every amplifier's + input lies
    /// on a rail of its own, so that its voltage noise can be drawn as a source there.
    #[test]
    fn noise_is_the_sum_of_its_sources_one_by_one(
        values in prop::collection::vec(0.0f64..1.0, 8),
        f in frequency(),
    ) {
        let r = |k: usize| 10f64.powf(2.5 + 3.0 * values[k]);
        let c = |k: usize| 10f64.powf(-11.0 + 3.0 * values[k]);
        let parts: Vec<(f64, &str, &str)> = vec![(r(0), "in", "m"), (r(1), "m", "y"), (r(2), "y", "n"), (r(3), "n", "out"), (r(4), "n", "gnd"), (r(5), "out", "gnd")];
        let text = |source: &str, plus: [&str; 2]| {
            let mut t = format!(
                "design\n  supply vp 12 V, vn -12 V\n{source}\ndatasheet mine: opamp\n  gain bandwidth 4 MHz\n  open loop gain 100 dB\n  \
                 output resistance 60 ohm\n  voltage noise 7 nV/rtHz\n  voltage noise corner 90 Hz\n  current noise 0.6 pA/rtHz\n  \
                 current noise corner 300 Hz\n\nstage chain: in, one, two -> out, m, y, n\n"
            );
            for (k, (value, a, b)) in parts.iter().enumerate() {
                let _ = writeln!(t, "  {a} -- R{} {value:e} ohm -- {b}", k + 1);
            }
            let _ = writeln!(t, "  m -- C1 {:e} F -- y\n  n -- C2 {:e} F -- out", c(6), c(7));
            let _ = writeln!(t, "  U1 mine: + {}, - m, out y\n  U2 mine: + {}, - n, out out", plus[0], plus[1]);
            t
        };
        let quiet = "  source in 0 V\n";
        let whole = Bench::of(&text(quiet, ["gnd", "gnd"])).size(&format!("noise density of out at {f:e} Hz"));
        // A current between two nodes, in A², and a voltage at the + input of an amplifier, in V², each to V² at the output.
        let of_current = |a: &str, b: &str| {
            let source = match (a, b) {
                (n, "gnd") => format!("{quiet}  source {n} 1 A\n"),
                _ => format!("{quiet}  balanced pair: {a}, {b}\n  source pair 1 A\n"),
            };
            let at = if b == "gnd" { a } else { "pair" };
            Bench::of(&text(&source, ["gnd", "gnd"])).size(&format!("transimpedance {at} -> out at {f:e} Hz")).powi(2)
        };
        let of_voltage = |node: &str| {
            let plus = ["one", "two"].map(|n| if n == node { node } else { "gnd" });
            let source = format!("{quiet}  source {node} 1 V\n");
            Bench::of(&text(&source, plus)).size(&format!("gain {node} -> out at {f:e} Hz")).powi(2)
        };
        let mut power = 0.0;
        for (value, a, b) in &parts {
            power += 4.0 * BOLTZMANN * KELVIN / value * of_current(a, b);
        }
        for (plus, minus) in [("one", "m"), ("two", "n")] {
            power += 7e-9f64.powi(2) * (1.0 + 90.0 / f) * of_voltage(plus);
            power += 0.6e-12f64.powi(2) * (1.0 + 300.0 / f) * of_current(minus, "gnd");
        }
        prop_assert!(near(whole, power.sqrt(), 1e-8), "{whole:e} {:e}", power.sqrt());
    }

    /// A section behind a follower has the poles that it has alone.
    #[test]
    fn a_cascade_has_the_poles_of_its_stages(values in prop::collection::vec(0.0f64..1.0, 8)) {
        let r = |k: usize| 10f64.powf(3.0 + 2.0 * values[k]);
        let c = |k: usize| 10f64.powf(-10.0 + 2.0 * values[k]);
        let section = |s: usize, from: &str, to: &str| {
            let k = 4 * (s - 1);
            let n = 10 * s;
            format!(
                "\nstage s{s}: {from} -> {to}\n  {from} -- R{n} {:e} ohm -- b{s} -- R{} {:e} ohm -- d{s}\n  d{s} -- C{n} {:e} F -- gnd\n  \
                 b{s} -- C{} {:e} F -- {to}\n  U{s} ideal: + d{s}, - {to}, out {to}\n",
                r(k), n + 1, r(k + 1), c(k + 2), n + 1, c(k + 3)
            )
        };
        let both = Bench::of(&(section(1, "in", "mid") + &section(2, "mid", "out")));
        for s in [1, 2] {
            let alone = Bench::of(&section(s, "in", "out"));
            for phrase in [format!("natural frequency of s{s}"), format!("q of s{s}")] {
                prop_assert!(near(alone.size(&phrase), both.size(&phrase), 1e-9), "{phrase}");
            }
        }
    }

    /// The share that a part's tolerance moves a reading by is the difference that the same change of its value makes, to what a small change
    /// differs from its limit by.
    #[test]
    fn sensitivities_are_small_differences(values in prop::collection::vec(0.0f64..1.0, 4), f in frequency()) {
        let r = |k: usize| 10f64.powf(3.0 + 2.0 * values[k]);
        let text = |scale: [f64; 3]| format!(
            "design\n  tolerance R 0.01 %, C 0.01 %\n\nstage lag: in -> out\n  in -- R1 {:e} ohm -- out\n  out -- R2 {:e} ohm -- gnd\n  out -- C1 {:e} F -- gnd\n",
            r(0) * scale[0], r(1) * scale[1], 10f64.powf(-9.0 + 2.0 * values[2]) * scale[2]
        );
        let phrase = format!("gain in -> out at {f:e} Hz");
        let bench = Bench::of(&text([1.0; 3]));
        let over = bench.0.snapshot().read_over_tolerance("a", &phrase);
        let [(Answer::Reading(_), Some(over))] = &over[..] else { panic!("one reading over tolerance") };
        let study = over.study.as_ref().expect("every part has a tolerance");
        for (k, name) in ["R1", "R2", "C1"].iter().enumerate() {
            // What moves nothing to speak of is not told.
            let Some(found) = study.low_weights.iter().find(|w| *w.name == **name) else { continue };
            let by = |h: f64| {
                let mut scale = [1.0; 3];
                scale[k] += h;
                20.0 * Bench::of(&text(scale)).size(&phrase).log10()
            };
            let expected = (by(1e-4) - by(-1e-4)) / 2e-2;
            let slope = found.slope.expect("a gain that is not 0");
            prop_assert!((slope - expected).abs() <= 1e-5 * expected.abs() + 1e-7, "{name}: {slope} {expected}");
        }
    }
}
