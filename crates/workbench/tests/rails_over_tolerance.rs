//! A supply's own tolerance moves what hangs on its rails.

use workbench::{Answer, Study, Workbench};

fn study(text: &str, phrase: &str) -> Result<Study, String> {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    let all = bench.snapshot().read_over_tolerance("a.stage", phrase);
    let [(Answer::Reading(_), Some(tolerance))] = all.as_slice() else { panic!("{phrase}: {all:?}") };
    tolerance.study.clone()
}

#[track_caller]
fn between(found: &Study, [low, high]: [f64; 2]) {
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs();
    assert!(near(found.low.value, low) && near(found.high.value, high), "{:?} … {:?}", found.low, found.high);
}

const MID: &str = "  supply vcc +12 V ± 5 %\nstage half: vcc -> mid\n  vcc -- R1 10k -- mid -- R2 10k -- gnd\n";

#[test]
fn a_rail_moves_by_itself_and_beside_the_parts() {
    between(&study(&format!("design\n{MID}"), "dc of mid").unwrap(), [5.7, 6.3]);
    let both = study(&format!("design\n  tolerance R 1 %\n{MID}"), "dc of mid").unwrap();
    between(&both, [11.4 * 9.9 / 20.0, 12.6 * 10.1 / 20.0]);
    assert_eq!(&*both.low_weights[0].name, "vcc");
    between(&study(&format!("design\n{}", MID.replace("5 %", "0.6 V")), "dc of mid").unwrap(), [5.7, 6.3]);
    // 144 V² over 20k, half of it in each.
    between(&study(&format!("design\n{MID}"), "power of R1").unwrap(), [5.7f64.powi(2) / 1e4, 6.3f64.powi(2) / 1e4]);
}

#[test]
fn a_clip_level_rises_and_falls_with_its_rails() {
    let text = "design\n  supply vpos +12 V ± 5 %, vneg -12 V ± 5 %\n  source in 0.1 V\nstage one: in -> out\n  \
                U1a tl072: + in, - out, out out\n  out -- R1 10k -- gnd\n";
    let found = study(text, "clip level of out at 1 kHz").unwrap();
    // What the output keeps from its rail stays; the rail moves by 0.6 V either way.
    let [low, high] = [&found.low, &found.high].map(|x| x.value * 2f64.sqrt());
    assert!((high - low - 1.2).abs() < 1e-4, "{low} … {high}");
    let still = study(text, "gain in -> out").unwrap();
    assert!(still.still);
}
