//! Prints steps and envelopes of some responses as JSON, one a line, for an independent check.
//!
//! `cargo run --release -p analysis --example steps`

use std::f64::consts::{PI, TAU};

use analysis::Factored;
use analysis::transient::{burst_envelope, step};
use num_complex::Complex64;

/// Poles of a Butterworth low-pass in rad/s.
fn butterworth(order: u32, hertz: f64) -> Vec<Complex64> {
    let angle = |k: u32| PI * (2.0 * f64::from(k) + f64::from(order) + 1.0) / (2.0 * f64::from(order));
    (0..order).map(|k| Complex64::from_polar(TAU * hertz, angle(k))).collect()
}

fn main() {
    let gain = |poles: &[Complex64]| poles.iter().map(|p| p.norm()).product();
    let low = butterworth(4, 1e3);
    let slow: Vec<Complex64> = butterworth(3, 20.0).into_iter().chain(butterworth(2, 50e3)).collect();
    let pair = |f: f64, q: f64| {
        let w = TAU * f;
        let p = Complex64::new(-w / (2.0 * q), w * (1.0 - 1.0 / (4.0 * q * q)).sqrt());
        [p, p.conj()]
    };
    let origin = Complex64::new(0.0, 0.0);
    let equal: Vec<Complex64> = (0..5).flat_map(|_| pair(1e3, 0.7)).collect();
    let notch = vec![Complex64::new(0.0, TAU * 1e3), Complex64::new(0.0, -TAU * 1e3)];
    let all = [
        ("Butterworth low-pass of order 4", Factored { gain: gain(&low), zeros: vec![], poles: low }),
        (
            "band-pass from 20 Hz to 50 kHz",
            Factored { gain: (TAU * 50e3f64).powi(2), zeros: vec![origin; 3], poles: slow },
        ),
        ("five equal sections", Factored { gain: gain(&equal), zeros: vec![], poles: equal }),
        ("notch", Factored { gain: 1.0, zeros: notch, poles: pair(1e3, 5.0).to_vec() }),
    ];
    for (name, response) in all {
        let slowest = response.poles.iter().map(|p| p.norm()).fold(f64::INFINITY, f64::min);
        let times: Vec<f64> = (0..60).map(|k| f64::from(k) * 0.5 / slowest).collect();
        let steps = step(&response, &times).expect("it has a step");
        let seconds = 10.0 / slowest;
        let envelope = burst_envelope(&response, 700.0, seconds, &times).expect("it has an envelope");
        let list =
            |all: &[Complex64]| all.iter().map(|z| format!("[{:?},{:?}]", z.re, z.im)).collect::<Vec<_>>().join(",");
        println!(
            "{{\"name\":{name:?},\"gain\":{:?},\"zeros\":[{}],\"poles\":[{}],\"times\":{times:?},\"step\":{steps:?},\"hertz\":700.0,\"seconds\":{seconds:?},\"envelope\":{envelope:?}}}",
            response.gain,
            list(&response.zeros),
            list(&response.poles)
        );
    }
}
