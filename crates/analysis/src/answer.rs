//! A question's reading from its plan and its numbers.

use std::sync::Arc;

use circuit::{Position, Quantity, Query};
use num_complex::Complex64;

use crate::corner::{NO_GAIN, Side, Size, corner};
use crate::landmarks::{Landmarks, landmarks};
use crate::plan::{Gain, Impedance, Local, Plan};
use crate::positions::{Look, MOST, Stand};
use crate::print;
use crate::reading::{End, Inverts, Kind, Place, Range, Reading, Status, Value};
use crate::response::{Inputs, Response, SIDE_BY_SIDE};
use crate::{extreme, phase};

/// What kind of reading a quantity has.
pub(crate) fn kind(quantity: &Quantity) -> Kind {
    match quantity {
        Quantity::Gain(..) => Kind::Gain,
        Quantity::Phase(..) => Kind::Phase,
        Quantity::LowCorner(..) => Kind::LowCorner,
        Quantity::HighCorner(..) => Kind::HighCorner,
        Quantity::Transimpedance(..)
        | Quantity::Impedance(_)
        | Quantity::InputImpedance(..)
        | Quantity::OutputImpedance(..) => Kind::Impedance,
        Quantity::Measure(_) => Kind::Plain,
    }
}

/// Where a question is read.
pub(crate) fn place(kind: Kind, inputs: &Inputs, query: &Query) -> Place {
    let corner = matches!(kind, Kind::LowCorner | Kind::HighCorner);
    match (query.over, corner) {
        (Some((a, b)), false) => Place::Over(a, b),
        (_, true) => Place::Against(query.against.unwrap_or(inputs.reference)),
        _ => Place::At(query.at.unwrap_or(inputs.reference)),
    }
}

/// The least and the greatest that one position gives, by what a range compares; of a gain as a ratio with its sign where that is meant.
pub(crate) fn ends(
    plan: &Plan,
    local: &Local,
    inputs: &Inputs,
    query: &Query,
    stand: &Stand,
    signed: bool,
) -> Result<[f64; 2], String> {
    if let Some(why) = inputs.missing() {
        return Err(why.to_string());
    }
    let kind = kind(&query.quantity);
    let place = place(kind, inputs, query);
    let look = &Look { most: MOST, pulse: &|| {} };
    let question = Question { plan, local, inputs, query, kind, place, look };
    let found = question.at(stand, inputs)?;
    if signed {
        let [a, b] = question.side(stand, found)?;
        return Ok([a.min(b), a.max(b)]);
    }
    Ok(match found {
        Found::Between(ends) => ends,
        other => [other.order(kind); 2],
    })
}

/// Answers a question.
pub fn answer(plan: &Plan, inputs: &Inputs, query: &Query, look: &Look) -> Reading {
    let kind = kind(&query.quantity);
    let unit = match kind {
        Kind::Gain => quantity::Unit::One,
        Kind::Phase => quantity::Unit::Degree,
        Kind::LowCorner | Kind::HighCorner => quantity::Unit::Hertz,
        Kind::Impedance => quantity::Unit::Ohm,
        Kind::Plain | Kind::Level | Kind::Margin => quantity::Unit::One,
    };
    let place = place(kind, inputs, query);
    let mut reading = Reading {
        phrase: query.phrase.clone(),
        kind,
        value: Value::None,
        unit,
        setting: query.when.as_ref().map(|w| w.name.clone()),
        place,
        status: Status::Exact,
        range: None,
        gap: None,
        working: Vec::new(),
    };
    if let Err(why) = fill(&mut reading, plan, inputs, query, look) {
        reading.value = Value::None;
        reading.range = None;
        reading.status = Status::Unknown(why);
    }
    print::working(&mut reading, plan, inputs);
    reading
}

fn fill(reading: &mut Reading, plan: &Plan, inputs: &Inputs, query: &Query, look: &Look) -> Result<(), String> {
    if let (Some((_, high)), Kind::LowCorner | Kind::HighCorner) = (query.over, reading.kind) {
        return Err(format!("a corner is one frequency: `over` ({} and up) says nothing here", print::hertz(high)));
    }
    if query.at.is_some() && matches!(reading.kind, Kind::LowCorner | Kind::HighCorner) {
        return Err(
            "a corner is found, not taken at a frequency: `against` names the frequency that it is referred to".into(),
        );
    }
    match plan {
        Plan::Gain(Gain::Unknown(why)) | Plan::Impedance(Impedance::Unknown(why)) => Err(why.clone()),
        Plan::Measure => Err("it takes the circuit as a whole".into()),
        Plan::Gain(Gain::One) => {
            reading.value = match reading.kind {
                Kind::Gain => Value::Complex(Complex64::new(1.0, 0.0)),
                Kind::Phase => Value::Real(0.0),
                _ => Value::Never,
            };
            Ok(())
        }
        Plan::Gain(Gain::Way { local, .. }) | Plan::Impedance(Impedance::Way { local, .. }) => {
            if let Some(why) = inputs.missing() {
                return Err(why.to_string());
            }
            let question = Question { plan, local, inputs, query, kind: reading.kind, place: reading.place, look };
            question.same_ratio()?;
            question.measure(reading)
        }
    }
}

/// Why a ratio has no sign, and what would do without one.
const ASLANT: &str = "it is neither in nor out of phase: a limit in decibels would do";
/// What has no sign.
const IN_DECIBELS: &str = "a limit in decibels would do";

/// A clause with the position that it is about.
fn at_position(name: &str, why: &str) -> String {
    if name.is_empty() { why.to_string() } else { format!("at {name}: {why}") }
}

/// What one position gives.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Found {
    One(Complex64),
    Real(f64),
    Never,
    Between([f64; 2]),
}

impl Found {
    /// What a range compares: magnitudes, angles, frequencies. A corner that is never met lies beyond every frequency.
    fn order(self, kind: Kind) -> f64 {
        match (self, kind) {
            (Found::One(z), Kind::Impedance) => crate::print::resistance(z),
            (Found::One(z), _) => z.norm(),
            (Found::Real(x), _) => x,
            (Found::Never, Kind::LowCorner) => f64::NEG_INFINITY,
            (Found::Never, _) => f64::INFINITY,
            (Found::Between(ends), _) => ends[0],
        }
    }
}

/// Where several sources reach the place that a gain starts from, they must give one ratio.
///
/// # Errors
/// That they do not, with the way to say which is meant.
pub fn one_ratio(plan: &Plan, inputs: &Inputs) -> Result<(), String> {
    let Plan::Gain(Gain::Way { local, others, .. }) = plan else { return Ok(()) };
    if others.len() < 2 {
        return Ok(());
    }
    let response = Response::new(local, inputs);
    let values = response.values(&inputs.hands.rest());
    let mut first: Option<Complex64> = None;
    for (_, excitation) in others {
        let row = response.driven(&values, &[inputs.reference], excitation, &local.wanted).remove(0)?;
        let ratio = row[1] / row[0];
        let one = *first.get_or_insert(ratio);
        // A ratio that is no number is not the same either.
        let same = (ratio - one).norm() <= 1e-9 * one.norm();
        if !same {
            let names: Vec<&str> = others.iter().map(|o| &*o.0).collect();
            return Err(format!(
                "{} each reach it and give different ratios: say which drives, `from {}`",
                names.join(", "),
                names[0]
            ));
        }
    }
    Ok(())
}

struct Question<'a> {
    plan: &'a Plan,
    local: &'a Local,
    inputs: &'a Inputs,
    query: &'a Query,
    kind: Kind,
    place: Place,
    look: &'a Look<'a>,
}

impl Question<'_> {
    fn same_ratio(&self) -> Result<(), String> {
        one_ratio(self.plan, self.inputs)
    }

    fn measure(&self, reading: &mut Reading) -> Result<(), String> {
        let hands = &self.inputs.hands;
        let stand = match &self.query.when {
            Some(when) => hands.when(when, &self.local.controls),
            None => hands.rest(),
        };
        let stands = match self.query.when {
            Some(_) => vec![stand.clone()],
            None => hands.examined(&self.local.controls, self.look.most),
        };
        if let Some(why) = stands.iter().find_map(|s| s.unknown.as_ref()) {
            return Err(why.to_string());
        }
        let found = self.at(&stand, self.inputs)?;
        reading.value = match found {
            Found::One(z) => Value::Complex(z),
            Found::Real(x) => Value::Real(x),
            Found::Never => Value::Never,
            Found::Between(_) => Value::None,
        };
        let mut status = Status::Exact;
        if stands.len() > 1 || matches!(found, Found::Between(_)) {
            match self.range(&stands) {
                Ok((range, rests)) => {
                    reading.range = Some(range);
                    status = rests;
                }
                // The value at rest stands whatever some other position does; that the range is not known is said.
                Err(why) if !matches!(found, Found::Between(_)) => reading.gap = Some(why),
                Err(why) => return Err(why),
            }
        }
        // At an end of the range it may rest on what it does not rest on where the controls stand.
        if status == Status::Exact {
            status = self.status(&stand, found);
        }
        reading.status = status;
        Ok(())
    }

    /// The range over these positions, and what its ends rest on.
    fn range(&self, stands: &[Stand]) -> Result<(Range, Status), String> {
        let mut seen: Vec<(Found, usize)> = Vec::new();
        let mut side_by_side = self.side_by_side(stands).into_iter().flatten();
        for (i, stand) in stands.iter().enumerate() {
            let found = side_by_side.next().unwrap_or_else(|| {
                (self.look.pulse)();
                self.at(stand, self.inputs)
            });
            match found {
                // A volume control turned down has no corner there; the positions with a signal have theirs.
                Err(why) if why == NO_GAIN => continue,
                found => seen.push((found.map_err(|why| at_position(&stand.name, &why))?, i)),
            }
        }
        let ends = |found: Found| match found {
            Found::Between([a, b]) => [(Found::Real(a), a), (Found::Real(b), b)],
            other => [(other, other.order(self.kind)); 2],
        };
        let low = |at: &(Found, usize)| (ends(at.0)[0], at.0, at.1);
        let high = |at: &(Found, usize)| (ends(at.0)[1], at.0, at.1);
        let least = seen.iter().map(low).reduce(|a, b| if b.0.1 < a.0.1 { b } else { a });
        let greatest = seen.iter().map(high).reduce(|a, b| if b.0.1 > a.0.1 { b } else { a });
        let (Some(mut first), Some(mut last)) = (least, greatest) else {
            return Err("no position was examined".into());
        };
        // Where one control alone moves it, the ends stand in the control's own order.
        let moved = self.inputs.hands.moved(&self.local.controls);
        if let ([control], true) = (&moved[..], stands.len() > 1) {
            let travel = |i: usize| match stands[i].positions[control.at()] {
                Position::Travel(p) => p,
                Position::Step(n) => f64::from(n),
            };
            // With an end inside the travel there is no such order: the least goes first.
            let reach = stands.iter().enumerate().map(|(i, _)| travel(i));
            let (low, high) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| (a.min(t), b.max(t)));
            if travel(first.2) == high && travel(last.2) == low {
                (first, last) = (last, first);
            }
        }
        let status = [first, last].into_iter().map(|(_, found, i)| self.status(&stands[i], found));
        let status = status.reduce(|a, b| if a == Status::Exact { b } else { a }).unwrap_or(Status::Exact);
        let end = |((found, _), _, i): ((Found, f64), Found, usize)| End {
            value: match found {
                Found::Never => None,
                other => Some(other.order(self.kind)),
            },
            position: stands[i].name.clone(),
        };
        let controls = if stands.len() > 1 {
            moved.iter().map(|c| self.inputs.hands.controls[c.at()].name.clone()).collect()
        } else {
            Vec::new()
        };
        let angles = match self.kind {
            Kind::Phase => seen.iter().map(|(found, i)| (ends(*found).map(|e| e.1), stands[*i].name.clone())).collect(),
            _ => Vec::new(),
        };
        let (ratio, inverts) = self.ratio(stands, &seen);
        let range = Range {
            ends: [end(first), end(last)],
            controls,
            examined: stands.len(),
            combinations: self.inputs.hands.count(&self.local.controls),
            ratio,
            inverts,
            angles,
        };
        Ok((range, status))
    }

    /// The least and the greatest of a gain's ratio over positions, each with its own sign, and where it inverts.
    fn ratio(&self, stands: &[Stand], seen: &[(Found, usize)]) -> (Option<Result<[End; 2], String>>, Inverts) {
        if self.kind != Kind::Gain {
            return (None, Inverts::Nowhere);
        }
        let sides: Vec<Result<[f64; 2], String>> = seen.iter().map(|(f, i)| self.side(&stands[*i], *f)).collect();
        // What lets nothing through is on neither side.
        let some = sides.iter().any(|s| matches!(s, Ok([a, b]) if a.min(*b) < 0.0));
        let others = sides.iter().any(|s| !matches!(s, Ok([a, b]) if a.max(*b) <= 0.0));
        let inverts = match (some, others) {
            (true, false) => Inverts::Everywhere,
            (true, true) => Inverts::Somewhere,
            (false, _) => Inverts::Nowhere,
        };
        let named = |(side, (_, i)): (Result<[f64; 2], String>, &(Found, usize))| match side {
            Ok([a, b]) => Ok(([a.min(b), a.max(b)], stands[*i].name.clone())),
            Err(why) => Err(at_position(&stands[*i].name, &why)),
        };
        let all: Result<Vec<([f64; 2], circuit::Name)>, String> = sides.into_iter().zip(seen).map(named).collect();
        let ratio = all.and_then(|all| {
            let least = all.iter().min_by(|a, b| a.0[0].total_cmp(&b.0[0])).map(|(x, at)| (x[0], at));
            // Of equal ones the first, as of the least.
            let most = all.iter().min_by(|a, b| b.0[1].total_cmp(&a.0[1])).map(|(x, at)| (x[1], at));
            let end = |(x, at): (f64, &circuit::Name)| End { value: Some(x), position: at.clone() };
            least.zip(most).map(|(a, b)| [end(a), end(b)]).ok_or_else(|| "no position was examined".to_string())
        });
        (Some(ratio), inverts)
    }

    /// What one position gives of a gain as a ratio with its sign.
    ///
    /// # Errors
    /// Where it is neither in nor out of phase: a clause.
    fn side(&self, stand: &Stand, found: Found) -> Result<[f64; 2], String> {
        match found {
            Found::One(z) => print::signed(z).map(|x| [x; 2]).ok_or_else(|| ASLANT.to_string()),
            Found::Between(ends) => {
                let sign = self.sign(stand, ends)?;
                Ok(ends.map(|x| sign * x))
            }
            _ => Err("there is no single value".into()),
        }
    }

    /// The sign of a gain over a whole band, of which the least and the greatest magnitude are known.
    fn sign(&self, stand: &Stand, ends: [f64; 2]) -> Result<f64, String> {
        let Place::Over(low, high) = self.place else { return Err("it is taken over no band".into()) };
        // Nothing at all has no sign to tell.
        if ends[1] == 0.0 {
            return Ok(1.0);
        }
        let response = Response::new(self.local, self.inputs);
        let values = response.values(stand);
        let marks = landmarks(self.plan, self.local, self.inputs, &values);
        if let Some(f) = marks.null(low, high) {
            return Err(format!("at {} nothing arrives, and it turns over there: {IN_DECIBELS}", print::hertz(f)));
        }
        // How far it lies on one side: 1 in phase or turned over, below √½ more than 45° away from both.
        let mut side = 0.0;
        let (least, f) = extreme::least(low, high, &marks, &mut |hertz: &[f64]| {
            let mut share = |z: Complex64| {
                side = if z.re < 0.0 { -1.0 } else { 1.0 };
                if z.norm() == 0.0 { 0.0 } else { z.re.abs() / z.norm() }
            };
            response.gains(&values, hertz).into_iter().map(|g| g.map(&mut share)).collect()
        })?;
        if least < std::f64::consts::FRAC_1_SQRT_2 * (1.0 - 1e-12) {
            return Err(format!("at {} {ASLANT}", print::hertz(f)));
        }
        Ok(side)
    }

    /// What each position gives, where one frequency is all that is looked at.
    fn side_by_side(&self, stands: &[Stand]) -> Option<Vec<Result<Found, String>>> {
        let (Kind::Gain | Kind::Impedance, Place::At(f)) = (self.kind, self.place) else { return None };
        if self.inputs.types.iter().any(|t| t.1) {
            return None;
        }
        let response = Response::new(self.local, self.inputs);
        let mut all = Vec::with_capacity(stands.len());
        for some in stands.chunks(SIDE_BY_SIDE) {
            (self.look.pulse)();
            let values: Vec<_> = some.iter().map(|stand| response.values(stand)).collect();
            let asked: Vec<_> = values.iter().map(|values| (values, f)).collect();
            let found = match self.plan {
                Plan::Impedance(Impedance::Way { current, .. }) => response.impedances_each(&asked, current),
                _ => response.gains_each(&asked),
            };
            all.extend(found.into_iter().map(|z| z.map(Found::One)));
        }
        Some(all)
    }

    /// What one position gives.
    fn at(&self, stand: &Stand, inputs: &Inputs) -> Result<Found, String> {
        let response = Response::new(self.local, inputs);
        let values = response.values(stand);
        let curve = |hertz: &[f64]| -> Vec<Result<Complex64, String>> { response.along(self.plan, &values, hertz) };
        let mut size = |hertz: &[f64]| -> Result<Vec<f64>, String> {
            curve(hertz).into_iter().map(|g| g.map(|z| z.norm())).collect()
        };
        // Only what searches a band needs them.
        let marks = || landmarks(self.plan, self.local, inputs, &values);
        match (self.kind, self.place) {
            (Kind::LowCorner, Place::Against(f)) => self.corner(Side::Low, f, &marks(), &mut size),
            (Kind::HighCorner, Place::Against(f)) => {
                if let Some((name, _)) = inputs.types.iter().find(|t| t.1) {
                    return Err(format!("{name} has no gain bandwidth"));
                }
                self.corner(Side::High, f, &marks(), &mut size)
            }
            (Kind::Phase, Place::At(f)) => {
                self.bandwidth(f, inputs, &marks, &mut size)?;
                match curve(&[f]).remove(0)? {
                    z if z.norm() == 0.0 => Err("nothing arrives there, so it has no phase".into()),
                    z => Ok(Found::Real(z.arg().to_degrees())),
                }
            }
            (Kind::Phase, Place::Over(a, b)) => {
                self.bandwidth(b, inputs, &marks, &mut size)?;
                phase::ends(a, b, &marks(), &mut |hertz| curve(hertz).into_iter().collect()).map(Found::Between)
            }
            (_, Place::Over(a, b)) => {
                self.bandwidth(b, inputs, &marks, &mut size)?;
                let marks = marks();
                if let Some(f) = marks.unbounded(a, b) {
                    return Err(format!("at {} nothing bounds it: what resonates there has no loss", print::hertz(f)));
                }
                let through = matches!(self.query.quantity, Quantity::Transimpedance(..));
                if self.kind == Kind::Impedance && !through {
                    let sized = |g: Result<Complex64, String>| g.map(crate::print::resistance);
                    let ends = extreme::ends(a, b, &marks, &mut |hertz| curve(hertz).into_iter().map(sized).collect())?;
                    return Ok(Found::Between([
                        if marks.null(a, b).is_some() { ends[0].min(0.0) } else { ends[0] },
                        ends[1],
                    ]));
                }
                let [least, most] = extreme::ends(a, b, &marks, &mut size)?;
                // At a null it is nothing; what numbers say there is how near to the null they come.
                let least = if marks.null(a, b).is_some() { least.min(0.0) } else { least };
                // What a stage turns over all along has its minus sign; where it leaves that side somewhere, the sizes are what is told.
                if through && least > 0.0 {
                    let mut side = |hertz: &[f64]| -> Result<Vec<f64>, String> {
                        curve(hertz).into_iter().map(|g| g.map(|z| -z.re / z.norm())).collect()
                    };
                    if extreme::least(a, b, &marks, &mut side)?.0 >= std::f64::consts::FRAC_1_SQRT_2 {
                        return Ok(Found::Between([-most, -least]));
                    }
                }
                Ok(Found::Between([least, most]))
            }
            (_, Place::At(f) | Place::Against(f)) => {
                self.bandwidth(f, inputs, &marks, &mut size)?;
                curve(&[f]).remove(0).map(Found::One)
            }
        }
    }

    /// Within a decade of the high corner a reading needs every amplifier's gain-bandwidth product.
    fn bandwidth(
        &self,
        hertz: f64,
        inputs: &Inputs,
        marks: &dyn Fn() -> Arc<Landmarks>,
        size: &mut Size,
    ) -> Result<(), String> {
        let Some((name, _)) = inputs.types.iter().find(|t| t.1) else { return Ok(()) };
        match corner(Side::High, inputs.reference, inputs.band, &marks(), size)? {
            Some(high) if hertz > high / 10.0 => Err(format!("{name} has no gain bandwidth")),
            _ => Ok(()),
        }
    }

    fn corner(&self, side: Side, reference: f64, marks: &Landmarks, size: &mut Size) -> Result<Found, String> {
        if self.query.against.is_none() && self.slopes(reference, marks, size)? {
            return Err(
                "the reference lies on a slope: `against` a frequency where the response is flat would give one".into(),
            );
        }
        Ok(corner(side, reference, self.inputs.band, marks, size)?.map_or(Found::Never, Found::Real))
    }

    /// Whether the band holds a gain more than 3.01 dB above that at the reference.
    fn slopes(&self, reference: f64, marks: &Landmarks, size: &mut Size) -> Result<bool, String> {
        let (low, high) = self.inputs.band;
        let steps = ((high / low).log10() * 8.0).ceil().clamp(4.0, 1024.0) as usize;
        let mut points = vec![reference];
        points.extend((0..=steps).map(|k| low * (high / low).powf(k as f64 / steps as f64)));
        points.extend(marks.between(low, high));
        let sizes = size(&points)?;
        let limit = sizes[0] * std::f64::consts::SQRT_2;
        let most = sizes.iter().copied().fold(0.0, f64::max);
        // Between the points of this grid a response can rise by a little more; near the limit it is looked at closely.
        if most > limit || most < 0.8 * limit {
            return Ok(most > limit);
        }
        let [_, most] = extreme::ends(low, high, marks, size)?;
        Ok(most > limit)
    }

    /// Whether the reading rests on a typical figure: whether leaving the amplifiers ideal changes it by more than 0.05 %.
    fn status(&self, stand: &Stand, found: Found) -> Status {
        if self.inputs.types.is_empty() {
            return Status::Exact;
        }
        let near = |a: f64, b: f64| (a - b).abs() <= 5e-4 * a.abs().max(b.abs());
        if let (Found::Real(f), Kind::LowCorner | Kind::HighCorner, Place::Against(reference)) =
            (found, self.kind, self.place)
        {
            // A corner stays where it is if the ideal response, too, is 3.01 dB down there.
            let ideal = self.inputs.ideal();
            let response = Response::new(self.local, &ideal);
            let gains = response.along(self.plan, &response.values(stand), &[reference, f]);
            let down = |g: &[Result<Complex64, String>]| Some(g[1].as_ref().ok()?.norm() / g[0].as_ref().ok()?.norm());
            let same = down(&gains).is_some_and(|d| near(d, std::f64::consts::FRAC_1_SQRT_2));
            return self.rests(same);
        }
        let same = match (found, self.at(stand, &self.inputs.ideal())) {
            (Found::One(a), Ok(Found::One(b))) => (a - b).norm() <= 5e-4 * a.norm().max(b.norm()),
            (Found::Real(a), Ok(Found::Real(b))) if self.kind == Kind::Phase => (a - b).abs() <= 0.05,
            (Found::Real(a), Ok(Found::Real(b))) => near(a, b),
            (Found::Between(a), Ok(Found::Between(b))) if self.kind == Kind::Phase => {
                // Each is followed from a turn of its own.
                let turn = 360.0 * ((a[0] - b[0]) / 360.0).round();
                (0..2).all(|k| (a[k] - b[k] - turn).abs() <= 0.05)
            }
            (Found::Between(a), Ok(Found::Between(b))) => near(a[0], b[0]) && near(a[1], b[1]),
            (a, Ok(b)) => a == b,
            (_, Err(_)) => false,
        };
        self.rests(same)
    }

    fn rests(&self, same: bool) -> Status {
        if same { Status::Exact } else { Status::Typical(self.inputs.types.iter().map(|t| t.0.clone()).collect()) }
    }
}
