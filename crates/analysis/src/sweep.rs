//! A response at many frequencies of a band, or at many positions, for a picture: the kept order replayed, nothing planned anew.

use circuit::{Circuit, ControlId, PartId};
use num_complex::Complex64;

use crate::extreme;
use crate::landmarks::{Landmarks, landmarks};
use crate::network::Network;
use crate::plan::{Gain, Impedance, Plan};
use crate::positions::Stand;
use crate::response::{Inputs, Response};
use crate::tolerance::draw::{SEED, amounts};
use crate::tolerance::spread::Spread;

/// A frequency in hertz with what a plan gives there; nothing where that is not known.
pub type Swept = Vec<(f64, Option<Complex64>)>;

/// So many frequencies are looked at where no root asks for more.
const POINTS: f64 = 320.0;

/// Why a plan gives nothing at all: a clause.
fn lacks(plan: &Plan, inputs: &Inputs) -> Option<String> {
    match plan {
        Plan::Gain(Gain::Unknown(why)) | Plan::Impedance(Impedance::Unknown(why)) => Some(why.clone()),
        Plan::Measure => Some("it takes the circuit as a whole".into()),
        _ => inputs.missing().map(str::to_string),
    }
}

/// The frequencies of a picture: evenly spread in the logarithm, with those at which something is sharp.
pub(crate) fn grid(low: f64, high: f64, marks: &Landmarks) -> Vec<f64> {
    let span = (high / low).log10().max(1e-6);
    let some = extreme::grid(low, high, marks);
    let steps = POINTS.max(24.0 * span).min(4096.0) as usize;
    let even = (0..=steps).map(|k| if k == steps { high } else { low * (high / low).powf(k as f64 / steps as f64) });
    let mut all: Vec<f64> = some.into_iter().chain(even).collect();
    all.sort_unstable_by(f64::total_cmp);
    all.dedup();
    all
}

/// What a plan gives along a band at one position.
///
/// # Errors
/// Why it gives nothing anywhere: a clause.
pub fn sweep(plan: &Plan, inputs: &Inputs, stand: &Stand, (low, high): (f64, f64)) -> Result<Swept, String> {
    if let Some(why) = lacks(plan, inputs).or_else(|| stand.unknown.as_ref().map(|w| w.to_string())) {
        return Err(why);
    }
    let Some(local) = plan.local() else {
        let one = Some(Complex64::new(1.0, 0.0));
        return Ok(grid(low, high, &Landmarks::default()).into_iter().map(|f| (f, one)).collect());
    };
    let response = Response::new(local, inputs);
    let values = response.values(stand);
    let hertz = grid(low, high, &landmarks(plan, local, inputs, &values));
    let all = response.along(plan, &values, &hertz);
    if let Some(Err(why)) = all.first().filter(|_| all.iter().all(Result::is_err)) {
        return Err(why.clone());
    }
    Ok(hertz.into_iter().zip(all.into_iter().map(Result::ok)).collect())
}

/// What a plan gives at one frequency (in hertz) at each of several positions.
///
/// # Errors
/// Why it gives nothing at any: a clause.
pub fn at_positions(
    plan: &Plan,
    inputs: &Inputs,
    stands: &[Stand],
    hertz: f64,
) -> Result<Vec<Option<Complex64>>, String> {
    if let Some(why) = lacks(plan, inputs) {
        return Err(why);
    }
    let Some(local) = plan.local() else { return Ok(vec![Some(Complex64::new(1.0, 0.0)); stands.len()]) };
    let response = Response::new(local, inputs);
    let values: Vec<_> = stands.iter().map(|s| response.values(s)).collect();
    let asked: Vec<_> = values.iter().map(|v| (v, hertz)).collect();
    let all = match plan {
        Plan::Impedance(Impedance::Way { current, .. }) => response.impedances_each(&asked, current),
        _ => response.gains_each(&asked),
    };
    if let Some(Err(why)) = all.first().filter(|_| all.iter().all(Result::is_err)) {
        return Err(why.clone());
    }
    Ok(all.into_iter().map(Result::ok).collect())
}

/// What a plan gives along some frequencies (in hertz) in drawn builds of a circuit, its parts off within their tolerances: one row a build. The
/// kept order is replayed; a circuit whose presets would be set anew in each build is none of this.
///
/// # Errors
/// Why there are no builds: a clause.
pub fn builds(
    plan: &Plan,
    network: &Network,
    circuit: &Circuit,
    stand: &Stand,
    hertz: &[f64],
    count: usize,
) -> Result<Vec<Vec<Option<Complex64>>>, String> {
    let inputs = Inputs::of(plan.local(), network, circuit);
    if let Some(why) = lacks(plan, &inputs) {
        return Err(why);
    }
    if !circuit.trims.is_empty() {
        return Err("a preset would be set again in each build".into());
    }
    let Some(local) = plan.local() else { return Err("nothing that it hangs on has a tolerance".into()) };
    let parts: Vec<PartId> = local.parameters.iter().map(|p| network.parameters[*p as usize].0).collect();
    let spread = Spread::of(circuit).moving(&parts, &[])?;
    if spread.freedoms.is_empty() {
        return Err("nothing that it hangs on has a tolerance".into());
    }
    let draws: Vec<Vec<f64>> = spread.freedoms.iter().map(|f| amounts(&f.name, count, SEED)).collect();
    let one = |k: usize| {
        let off: Vec<f64> = draws.iter().map(|d| d[k]).collect();
        let built = inputs.scaled(network, &spread.factors(&off));
        let response = Response::new(local, &built);
        let all = response.along(plan, &response.values(stand), hertz);
        all.into_iter().map(Result::ok).collect()
    };
    Ok((0..count).map(one).collect())
}

/// The controls that move what a plan gives, presets not among them.
pub fn controls(plan: &Plan, inputs: &Inputs) -> Vec<ControlId> {
    plan.local().map(|local| inputs.hands.moved(&local.controls)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_holds_its_ends_and_what_is_sharp() {
        let tau = std::f64::consts::TAU;
        let marks = Landmarks::of(&[Complex64::new(-tau * 0.01, tau * 333.3)], &[]);
        let all = grid(20.0, 20e3, &marks);
        assert_eq!((all[0], all[all.len() - 1]), (20.0, 20e3));
        assert!(all.windows(2).all(|w| w[0] < w[1]));
        assert!(all.iter().any(|f| (f - 333.3).abs() < 0.01) && all.len() > 320);
    }
}
