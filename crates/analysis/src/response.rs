//! Numbers of a plan: at frequencies, at positions of the controls.

use circuit::Name;
use std::f64::consts::TAU;
use std::sync::Arc;

use circuit::{Circuit, Position};
use num_complex::Complex64;
use pencil::{Excitation, Functional, Lane, Unsure};

use crate::clash::Watched;
use crate::landmarks::{Landmarks, landmarks};
use crate::latching::Weighed;
use crate::network::{Network, Quality};
use crate::plan::{Factor, Impedance, Local, Plan};
use crate::positions::{Hands, Stand};
use crate::values::{Number, number};

/// What a plan needs of the circuit's numbers, and no more: while these are equal, so is every reading of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Inputs {
    /// The parameters of the plan's equations: index, number, and what it is.
    pub numbers: Vec<(u32, Number, Quality)>,
    /// What a hand can do.
    pub hands: Hands,
    /// Where a reading without `at` is taken, in hertz.
    pub reference: f64,
    /// In hertz.
    pub band: (f64, f64),
    /// The names of the types of the amplifiers in the equations, and those that lack a gain-bandwidth product.
    pub types: Vec<(Name, bool)>,
    /// Why an amplifier in the equations is not known.
    pub unknown: Option<Name>,
    /// What would put two voltages on one node.
    pub watched: Vec<Watched>,
    /// What may latch.
    pub weighed: Vec<Weighed>,
}

impl Inputs {
    /// What a plan needs of a circuit.
    pub fn of(local: Option<&Local>, network: &Network, circuit: &Circuit) -> Inputs {
        let mut inputs = Inputs {
            numbers: Vec::new(),
            hands: Hands::of(circuit),
            reference: circuit.reference,
            band: circuit.band,
            types: Vec::new(),
            unknown: None,
            watched: Vec::new(),
            weighed: Vec::new(),
        };
        let Some(local) = local else { return inputs };
        for &p in &local.parameters {
            let (part, quality) = network.parameters[p as usize];
            inputs.numbers.push((p, number(&circuit.parts[part.at()], quality), quality));
        }
        inputs.watched = local.clashes.iter().map(|c| c.watched(network, circuit)).collect();
        inputs.weighed = local.balances.iter().map(|b| b.weighed(network, circuit)).collect();
        for id in &local.amplifiers {
            let circuit::PartKind::Amplifier { sheet, .. } = &circuit.parts[id.at()].kind else { continue };
            if let Some(why) = &sheet.unknown {
                inputs.unknown.get_or_insert(why.clone());
            }
            let lacks = !sheet.ideal && sheet.gain_bandwidth.nominal().is_none();
            if !sheet.ideal && !inputs.types.iter().any(|t| t.0 == sheet.name) {
                inputs.types.push((sheet.name.clone(), lacks));
            }
        }
        inputs
    }

    /// Why the equations have a number that is not known.
    pub fn missing(&self) -> Option<&str> {
        let number = self.numbers.iter().find_map(|(_, n, _)| match n {
            Number::Unknown(why) => Some(&**why),
            _ => None,
        });
        number.or(self.unknown.as_deref())
    }

    /// Why nothing is known at these positions: two voltages stand on one node, or a loop latches.
    pub fn clash(&self, positions: &[Position]) -> Option<Name> {
        let tied = self.watched.iter().find_map(|w| w.at(positions).map(Name::from));
        tied.or_else(|| self.weighed.iter().find_map(|w| Some(w.at(positions)?.clause.clone())))
    }

    /// The same for who asks the equations alone, as algebra does, whether or not a circuit with these values would stand.
    pub fn standing(self) -> Inputs {
        Inputs { weighed: Vec::new(), ..self }
    }

    /// The same with some parts' values multiplied.
    pub(crate) fn scaled(&self, network: &Network, factors: &[(circuit::PartId, f64)]) -> Inputs {
        let mut inputs = self.clone();
        for (p, n, _) in &mut inputs.numbers {
            let part = network.parameters[*p as usize].0;
            if let Ok(at) = factors.binary_search_by_key(&part, |f| f.0) {
                *n = n.scaled(factors[at].1);
            }
        }
        inputs.weighed = inputs.weighed.iter().map(|w| w.scaled(factors)).collect();
        inputs
    }

    /// The same with every amplifier taken as ideal.
    pub fn ideal(&self) -> Inputs {
        let mut inputs = self.clone();
        for (_, n, q) in &mut inputs.numbers {
            use Quality::*;
            if matches!(
                q,
                InverseGain
                    | InverseBandwidth
                    | OutputOverGain
                    | OutputOverBandwidth
                    | SecondDelay
                    | OutputTimesSecond
                    | InputCapacitance
                    | DifferentialCapacitance
            ) {
                *n = Number::Fixed(0.0);
            }
        }
        inputs
    }
}

/// A plan's equations with numbers.
pub struct Response<'a> {
    local: &'a Local,
    inputs: &'a Inputs,
}

/// The values of all parameters at one position.
pub struct Values {
    /// By parameter; 1 where the equations hold none.
    pub(crate) numbers: Vec<f64>,
    /// The same with what a control turns to exactly 0 Ω at 1 nΩ and at ½ nΩ, where there is any: branches of 0 Ω side by side
    /// leave open how they share a current, and no voltage. At 1 nΩ they share it, and no voltage moves by more than its 12th
    /// digit; what halves with them is 0 itself.
    softened: Option<[Vec<f64>; 2]>,
    /// Why nothing is known there, whatever the equations say.
    clash: Option<String>,
}

impl Values {
    /// The values themselves, by parameter.
    pub fn numbers(&self) -> &[f64] {
        &self.numbers
    }

    /// The same with what a control turns to 0 Ω at 1 nΩ, where there is any.
    pub(crate) fn soft(&self) -> Option<&[f64]> {
        self.softened.as_ref().map(|s| &s[0][..])
    }
}

/// What a branch of 0 Ω is taken as where several lie side by side.
const SOFT: f64 = 1e-9;

impl<'a> Response<'a> {
    /// The equations of a plan with these numbers.
    pub fn new(local: &'a Local, inputs: &'a Inputs) -> Self {
        Response { local, inputs }
    }

    /// The values at a position.
    pub fn values(&self, stand: &Stand) -> Values {
        self.values_at(&stand.positions)
    }

    fn values_at(&self, positions: &[Position]) -> Values {
        // What the equations do not hold is never looked at.
        let mut values = vec![1.0; self.local.count];
        for (p, n, _) in &self.inputs.numbers {
            values[*p as usize] = n.at(positions);
        }
        let mut softened: Option<[Vec<f64>; 2]> = None;
        for (p, n, q) in &self.inputs.numbers {
            let soft = match (n, q) {
                (Number::Track(..), _) if n.at(positions) == 0.0 => SOFT,
                // A closed contact's law is v + (−1 nΩ)·i = 0 then.
                (Number::Contact(..), Quality::Open(_)) if n.at(positions) == 0.0 => -SOFT,
                _ => continue,
            };
            let [whole, half] = softened.get_or_insert_with(|| [values.clone(), values.clone()]);
            (whole[*p as usize], half[*p as usize]) = (soft, 0.5 * soft);
        }
        Values { numbers: values, softened, clash: self.inputs.clash(positions).map(|why| why.to_string()) }
    }

    /// The wanted functionals at each frequency (in hertz), one row a frequency; a row that could not be had says why.
    pub fn at(&self, values: &Values, hertz: &[f64]) -> Vec<Result<Vec<Complex64>, String>> {
        self.driven(values, hertz, &self.local.excitation, &self.local.wanted)
    }

    /// The same for another excitation.
    pub fn driven(
        &self,
        values: &Values,
        hertz: &[f64],
        excitation: &Excitation,
        wanted: &[Functional],
    ) -> Vec<Result<Vec<Complex64>, String>> {
        if let Some(why) = &values.clash {
            return vec![Err(why.clone()); hertz.len()];
        }
        if wanted.is_empty() || hertz.is_empty() {
            return vec![Ok(Vec::new()); hertz.len()];
        }
        let mut all = self.solve(&values.numbers, hertz, excitation, wanted);
        let mut fights = vec![None; hertz.len()];
        if let Some([whole, half]) = values.softened.as_ref().filter(|_| all.iter().any(Result::is_err)) {
            fights = self.fights([&whole[..], &half[..]], hertz, excitation);
            let solve = |numbers| self.solve(numbers, hertz, excitation, wanted);
            for ((first, x), y) in
                all.iter_mut().zip(solve(whole)).zip(solve(half)).filter(|((first, _), _)| first.is_err())
            {
                *first = match (x, y) {
                    (Ok(x), Ok(y)) if halves(x, y) => Ok(Complex64::new(0.0, 0.0)),
                    (x, _) => x,
                };
            }
        }
        let rows = self.rows(all, wanted.len()).into_iter().zip(fights);
        rows.map(|(row, fight)| fight.map_or(row, Err)).collect()
    }

    /// At each frequency, what grows without bound as branches of 0 Ω come to be 0 Ω: they tie what is held by something else already, and
    /// the ratios of what is left over mean nothing.
    fn fights(&self, [whole, half]: [&[f64]; 2], hertz: &[f64], excitation: &Excitation) -> Vec<Option<String>> {
        let every: Vec<Functional> = (0..self.local.names.len() as u32).map(Functional::unknown).collect();
        let solve = |numbers| self.solve(numbers, hertz, excitation, &every);
        let (first, second) = (solve(whole), solve(half));
        let grows = |(x, y): (&Result<Complex64, Unsure>, &Result<Complex64, Unsure>)| match (x, y) {
            (Ok(x), Ok(y)) => y.norm() > 0.0 && (y - x - x).norm() < 1e-6 * y.norm(),
            _ => false,
        };
        let rows = first.chunks(every.len()).zip(second.chunks(every.len()));
        rows.map(|(x, y)| {
            let mut names: Vec<String> = Vec::new();
            for (k, _) in x.iter().zip(y).enumerate().filter(|(_, pair)| grows(*pair)) {
                let name = self.local.names[k].to_string();
                if !names.contains(&name) && names.len() < 4 {
                    names.push(name);
                }
            }
            let said = crate::soundness::and(&names);
            (!names.is_empty())
                .then(|| format!("at these positions a branch of 0 Ω ties what is held already: nothing bounds {said}"))
        })
        .collect()
    }

    /// The wanted functionals with these numbers, frequency by frequency.
    fn solve(
        &self,
        numbers: &[f64],
        hertz: &[f64],
        excitation: &Excitation,
        wanted: &[Functional],
    ) -> Vec<Result<Complex64, Unsure>> {
        let lanes: Vec<Lane> =
            hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values: numbers }).collect();
        self.local.solver.solve(&lanes, excitation, wanted)
    }

    fn rows(&self, all: Vec<Result<Complex64, Unsure>>, wanted: usize) -> Vec<Result<Vec<Complex64>, String>> {
        all.chunks(wanted).map(|row| row.iter().map(|x| x.clone().map_err(|why| self.reason(&why))).collect()).collect()
    }

    /// Why an answer is not known, with the names of what is left open.
    fn reason(&self, why: &Unsure) -> String {
        let Unsure::Singular { unknowns } = why else { return why.to_string() };
        let names = unknowns.iter().filter_map(|u| self.local.names.get(*u as usize));
        crate::soundness::unsettled(names.map(|n| n.to_string()))
    }

    /// Where the plan's response may be sharp.
    pub(crate) fn landmarks(&self, plan: &Plan, values: &Values) -> Arc<Landmarks> {
        landmarks(plan, self.local, self.inputs, values)
    }

    /// V(B)/V(A) at each frequency, of a gain's plan.
    pub fn gains(&self, values: &Values, hertz: &[f64]) -> Vec<Result<Complex64, String>> {
        self.at(values, hertz).into_iter().map(|row| row.and_then(|r| ratio(r[1], r[0]))).collect()
    }

    /// What a plan asks for at each frequency: V(B)/V(A), or a voltage over a current.
    pub fn along(&self, plan: &Plan, values: &Values, hertz: &[f64]) -> Vec<Result<Complex64, String>> {
        match plan {
            Plan::Impedance(Impedance::Way { current, .. }) => self.impedances(values, hertz, current),
            _ => self.gains(values, hertz),
        }
    }

    /// −dφ/dω of V(B)/V(A), or of V(B) per ampere, at each frequency, in seconds, from the equations themselves: φ′ is the real part of G′/G, where G′
    /// is the derivative by s.
    pub(crate) fn delays(&self, plan: &Plan, values: &Values, hertz: &[f64]) -> Result<Vec<f64>, String> {
        // What makes a gain unknown makes its delay so.
        for gain in self.along(plan, values, hertz) {
            gain?;
        }
        let relative = |wanted: &Functional| -> Result<Vec<Complex64>, String> {
            let solve = |numbers: &[f64], hertz: &[f64]| {
                let lanes: Vec<Lane> =
                    hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values: numbers }).collect();
                self.local.solver.slopes(&lanes, &self.local.excitation, wanted)
            };
            let one = |(found, f): (Result<[Complex64; 2], Unsure>, &f64)| {
                // Branches of 0 Ω side by side are taken at 1 nΩ, as everywhere.
                let found = found.or_else(|why| solve(values.soft().ok_or(why)?, &[*f]).remove(0));
                let [value, slope] = found.map_err(|why| self.reason(&why))?;
                if value.norm() == 0.0 {
                    return Err("nothing arrives there, so it has no phase".into());
                }
                Ok(slope / value)
            };
            solve(&values.numbers, hertz).into_iter().zip(hertz).map(one).collect()
        };
        let first = relative(&self.local.wanted[0])?;
        match plan {
            Plan::Impedance(_) => Ok(first.iter().map(|x| -x.re).collect()),
            _ => Ok(first.iter().zip(relative(&self.local.wanted[1])?).map(|(a, b)| (a - b).re).collect()),
        }
    }

    /// The impedance at each frequency, of an impedance's plan.
    pub fn impedances(
        &self,
        values: &Values,
        hertz: &[f64],
        current: &[(f64, Factor)],
    ) -> Vec<Result<Complex64, String>> {
        if let Some(why) = &values.clash {
            return vec![Err(why.clone()); hertz.len()];
        }
        if hertz.is_empty() {
            return Vec::new();
        }
        let taken = |numbers: &[f64]| -> Vec<Result<Complex64, String>> {
            let all = self.solve(numbers, hertz, &self.local.excitation, &self.local.wanted);
            let rows = self.rows(all, self.local.wanted.len());
            rows.into_iter().zip(hertz).map(|(row, f)| over(&row?, *f, numbers, current)).collect()
        };
        let mut all = taken(&values.numbers);
        // Through a branch of 0 Ω flows whatever current is wanted: an impedance that halves with it is 0, be its voltage 0 or not.
        if let Some([whole, half]) = values.softened.as_ref().filter(|_| all.iter().any(Result::is_err)) {
            for ((first, x), y) in
                all.iter_mut().zip(taken(whole)).zip(taken(half)).filter(|((first, _), _)| first.is_err())
            {
                *first = match (x, y) {
                    (Ok(x), Ok(y)) if halves(x, y) => Ok(Complex64::new(0.0, 0.0)),
                    (x, _) => x,
                };
            }
        }
        all
    }
}

/// Positions that are solved side by side; between such runs a reading may give way.
pub(crate) const SIDE_BY_SIDE: usize = 64;

impl Response<'_> {
    /// The wanted functionals at a position and a frequency (in hertz) each, solved side by side. What is not settled so is `None`, and is to
    /// be asked for by itself.
    fn each(&self, asked: &[(&Values, f64)]) -> Vec<Option<Vec<Complex64>>> {
        let wanted = self.local.wanted.len();
        if wanted == 0 || asked.is_empty() {
            return vec![None; asked.len()];
        }
        let lanes: Vec<Lane> =
            asked.iter().map(|(v, f)| Lane { s: Complex64::new(0.0, TAU * f), values: &v.numbers }).collect();
        let all = self.local.solver.solve(&lanes, &self.local.excitation, &self.local.wanted);
        let rows = all.chunks(wanted).zip(asked);
        rows.map(|(row, (values, _))| match values.clash {
            None => row.iter().map(|x| x.clone().ok()).collect(),
            Some(_) => None,
        })
        .collect()
    }

    /// The gain at a position and a frequency each.
    pub(crate) fn gains_each(&self, asked: &[(&Values, f64)]) -> Vec<Result<Complex64, String>> {
        let rows = self.each(asked).into_iter().zip(asked);
        rows.map(|(row, (values, f))| match row.map(|r| ratio(r[1], r[0])) {
            Some(Ok(gain)) => Ok(gain),
            _ => self.gains(values, &[*f]).remove(0),
        })
        .collect()
    }

    /// The impedance at a position and a frequency each.
    pub(crate) fn impedances_each(
        &self,
        asked: &[(&Values, f64)],
        current: &[(f64, Factor)],
    ) -> Vec<Result<Complex64, String>> {
        let rows = self.each(asked).into_iter().zip(asked);
        rows.map(|(row, (values, f))| match row.map(|r| over(&r, *f, &values.numbers, current)) {
            Some(Ok(impedance)) => Ok(impedance),
            _ => self.impedances(values, &[*f], current).remove(0),
        })
        .collect()
    }
}

/// Whether what was `x` at 1 nΩ is half of that at ½ nΩ.
fn halves(x: Complex64, y: Complex64) -> bool {
    (y + y - x).norm() < 1e-6 * x.norm()
}

/// A current below this share of what would flow without a bootstrap is what rounding left of nothing.
const RESIDUE: f64 = 1e-12;

/// The voltage over the current that its contributions make.
pub(crate) fn over(
    row: &[Complex64],
    hertz: f64,
    numbers: &[f64],
    current: &[(f64, Factor)],
) -> Result<Complex64, String> {
    if current.is_empty() {
        return Ok(row[0]);
    }
    let s = Complex64::new(0.0, TAU * hertz);
    let mut total = Complex64::new(0.0, 0.0);
    // What would flow if the port's whole voltage stood across each part: against it a current that cancels is seen for what it is.
    let mut full = 0.0;
    for ((w, factor), x) in current.iter().zip(&row[1..]) {
        let admittance = match *factor {
            Factor::One => {
                total += *x * *w;
                full += (*x * *w).norm();
                continue;
            }
            Factor::Over(p) => Complex64::new(1.0 / numbers[p as usize], 0.0),
            Factor::Times(p) => s * numbers[p as usize],
        };
        total += *x * *w * admittance;
        full += (row[0] * *w * admittance).norm();
    }
    if total.norm() <= RESIDUE * full {
        return Err("no current flows: the impedance is not bounded".into());
    }
    Ok(row[0] / total)
}

/// Why a gain is not known from where nothing arrives: a clause.
pub(crate) const NOTHING_ARRIVES: &str = "no voltage arrives there to compare with";

pub(crate) fn ratio(b: Complex64, a: Complex64) -> Result<Complex64, String> {
    if a == Complex64::new(0.0, 0.0) {
        return Err(NOTHING_ARRIVES.into());
    }
    // Both may be small far out of band; their exponents cancel before they multiply.
    let scale = a.re.abs().max(a.im.abs());
    let g = (b / scale) / (a / scale);
    if g.re.is_finite() && g.im.is_finite() { Ok(g) } else { Err("the ratio is beyond the range of numbers".into()) }
}
