//! What a capacitor or an inductor sees where it stands, and the corner that it makes with it.

use circuit::Name;
use std::f64::consts::TAU;

use circuit::{Given, Part, PartKind};
use num_complex::Complex64;

use crate::plan::{Impedance, Plan};
use crate::positions::{Look, Stand};
use crate::response::{Inputs, Response, SIDE_BY_SIDE};

/// The corner that a reactance makes with the impedance it sees, at the reference.
#[derive(Clone, Debug, PartialEq)]
pub enum Seen {
    /// It sees a resistance: the corner in hertz and the resistance in ohms, at rest and at each end of the range over the
    /// positions examined (least and greatest corner), with the controls that move it.
    Corner {
        /// At rest.
        hertz: f64,
        /// At rest.
        ohms: f64,
        /// Least and greatest over the positions.
        range: [f64; 2],
        /// What moves it.
        controls: Vec<Name>,
        /// How many positions were examined.
        examined: usize,
        /// How many combinations the controls have; `None` beyond counting.
        combinations: Option<usize>,
    },
    /// It sees no resistance worth the name: its own reactance in ohms at the reference, and the reference in hertz.
    Reactance(f64, f64),
    /// Nothing can be said: it stands across what holds its voltage, or a number is missing.
    Nothing,
}

/// What a part sees; `plan` is the impedance between its ends with the part in place.
pub fn seen(plan: &Plan, inputs: &Inputs, part: &Part, look: &Look) -> Seen {
    let (Plan::Impedance(Impedance::Way { local, current, .. }), None) = (plan, inputs.missing()) else {
        return Seen::Nothing;
    };
    let reactive = match &part.kind {
        PartKind::Capacitor { farads: Given::Number(c), .. } if *c > 0.0 => Reactive::Capacitance(*c),
        PartKind::Inductor { henries: Given::Number(l), .. } if *l > 0.0 => Reactive::Inductance(*l),
        _ => return Seen::Nothing,
    };
    let response = Response::new(local, inputs);
    let f = inputs.reference;
    // The part itself is taken out of the parallel connection: 1/Z_others = 1/Z − Y_own.
    let taken = |z: Result<Complex64, String>, f: f64| -> Option<Complex64> {
        let z = z.ok()?;
        let rest = 1.0 / z - reactive.admittance(f);
        (z.norm() > 0.0 && rest.norm() > 1e-9 * (1.0 / z).norm()).then(|| 1.0 / rest)
    };
    let others = |stands: &[Stand]| -> Vec<Option<Complex64>> {
        let values: Vec<_> = stands.iter().map(|stand| response.values(stand)).collect();
        let asked: Vec<_> = values.iter().map(|values| (values, f)).collect();
        let found = response.impedances_each(&asked, current).into_iter();
        let mut all: Vec<Option<Complex64>> = found.map(|z| taken(z, f)).collect();
        // What makes a corner below the reference is what it sees there; above it, what it sees in mid-band is what a person
        // reckons with, since every amplifier runs out of gain further up.
        let corner = |z: &Option<Complex64>| z.map(|z| reactive.corner(z.norm())).filter(|corner| *corner < f);
        let below: Vec<_> = all.iter().enumerate().filter_map(|(i, z)| Some((i, corner(z)?))).collect();
        let asked: Vec<_> = below.iter().map(|(i, corner)| (&values[*i], *corner)).collect();
        for (z, (i, corner)) in response.impedances_each(&asked, current).into_iter().zip(below) {
            all[i] = taken(z, corner).filter(|z| resistive(*z)).or(all[i]);
        }
        all
    };
    let Some(z) = others(&[inputs.hands.rest()])[0] else { return Seen::Nothing };
    // More than 30° away from a resistance there is no single corner to speak of.
    if !resistive(z) {
        return Seen::Reactance(1.0 / reactive.admittance(f).norm(), f);
    }
    let mut range = [f64::INFINITY, f64::NEG_INFINITY];
    let stands = inputs.hands.examined(&local.controls, look.most);
    let examined = stands.len();
    if stands.iter().any(|stand| stand.unknown.is_some()) {
        return Seen::Nothing;
    }
    let moved = inputs.hands.moved(&local.controls);
    // Where no control moves it, the one position is that at rest, which is known.
    if moved.is_empty() && z.re > 0.0 {
        range = [reactive.corner(z.norm()); 2];
    }
    for some in stands.chunks(SIDE_BY_SIDE).filter(|_| !moved.is_empty()) {
        (look.pulse)();
        for z in others(some).into_iter().flatten().filter(|z| z.re > 0.0) {
            let corner = reactive.corner(z.norm());
            range = [range[0].min(corner), range[1].max(corner)];
        }
    }
    let hertz = reactive.corner(z.norm());
    if !(range[0].is_finite() && range[1].is_finite()) {
        range = [hertz; 2];
    }
    let controls = moved.into_iter().map(|c| inputs.hands.controls[c.at()].name.clone()).collect();
    Seen::Corner { hertz, ohms: z.norm(), range, controls, examined, combinations: inputs.hands.count(&local.controls) }
}

fn resistive(z: Complex64) -> bool {
    z.re > 0.0 && z.im.abs() <= 0.58 * z.re
}

enum Reactive {
    Capacitance(f64),
    Inductance(f64),
}

impl Reactive {
    fn admittance(&self, f: f64) -> Complex64 {
        match self {
            Reactive::Capacitance(c) => Complex64::new(0.0, TAU * f * c),
            Reactive::Inductance(l) => Complex64::new(0.0, -1.0 / (TAU * f * l)),
        }
    }
    /// 1/(2πRC), R/(2πL)
    fn corner(&self, ohms: f64) -> f64 {
        match self {
            Reactive::Capacitance(c) => 1.0 / (TAU * ohms * c),
            Reactive::Inductance(l) => ohms / (TAU * l),
        }
    }
}
