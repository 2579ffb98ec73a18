//! A question's reading from its plan and its numbers.

use circuit::{Position, Quantity, Query};
use num_complex::Complex64;

use crate::corner::{NO_GAIN, Side, Size, corner};
use crate::extreme;
use crate::plan::{Gain, Impedance, Local, Plan};
use crate::positions::{Look, MOST, Stand};
use crate::print;
use crate::reading::{End, Kind, Place, Range, Reading, Status, Value};
use crate::response::{Inputs, Response, SIDE_BY_SIDE};

/// What kind of reading a quantity has.
pub(crate) fn kind(quantity: &Quantity) -> Kind {
    match quantity {
        Quantity::Gain(..) => Kind::Gain,
        Quantity::Phase(..) => Kind::Phase,
        Quantity::LowCorner(..) => Kind::LowCorner,
        Quantity::HighCorner(..) => Kind::HighCorner,
        Quantity::Impedance(_) | Quantity::InputImpedance(..) | Quantity::OutputImpedance(..) => Kind::Impedance,
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

/// The least and the greatest that one position gives, by what a range compares.
pub(crate) fn ends(
    plan: &Plan,
    local: &Local,
    inputs: &Inputs,
    query: &Query,
    stand: &Stand,
) -> Result<[f64; 2], String> {
    if let Some(why) = inputs.missing() {
        return Err(why.to_string());
    }
    let kind = kind(&query.quantity);
    let place = place(kind, inputs, query);
    let look = &Look { most: MOST, pulse: &|| {} };
    let found = Question { plan, local, inputs, query, kind, place, look }.at(stand, inputs)?;
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
    /// Where several sources reach A, they must give one ratio.
    fn same_ratio(&self) -> Result<(), String> {
        let Plan::Gain(Gain::Way { others, .. }) = self.plan else { return Ok(()) };
        if others.len() < 2 {
            return Ok(());
        }
        let response = Response::new(self.local, self.inputs);
        let values = response.values(&self.inputs.hands.rest());
        let mut first: Option<Complex64> = None;
        for (_, excitation) in others {
            let row = response.driven(&values, &[self.inputs.reference], excitation, &self.local.wanted).remove(0)?;
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
        if stands.len() > 1 || matches!(found, Found::Between(_)) {
            match self.range(&stands) {
                Ok(range) => reading.range = Some(range),
                // The value at rest stands whatever some other position does; that the range is not known is said.
                Err(why) if !matches!(found, Found::Between(_)) => reading.gap = Some(why),
                Err(why) => return Err(why),
            }
        }
        reading.status = self.status(&stand, found);
        Ok(())
    }

    /// The range over these positions.
    fn range(&self, stands: &[Stand]) -> Result<Range, String> {
        let mut least: Option<(Found, f64, usize)> = None;
        let mut greatest: Option<(Found, f64, usize)> = None;
        let mut side_by_side = self.side_by_side(stands).into_iter().flatten();
        for (i, stand) in stands.iter().enumerate() {
            let found = side_by_side.next().unwrap_or_else(|| {
                (self.look.pulse)();
                self.at(stand, self.inputs)
            });
            let found = match found {
                // A volume control turned down has no corner there; the positions with a signal have theirs.
                Err(why) if why == NO_GAIN => continue,
                other => other.map_err(|why| format!("at {}: {why}", stand.name))?,
            };
            let (low, high) = match found {
                Found::Between([a, b]) => ((Found::Real(a), a), (Found::Real(b), b)),
                other => ((other, other.order(self.kind)), (other, other.order(self.kind))),
            };
            if least.is_none_or(|l| low.1 < l.1) {
                least = Some((low.0, low.1, i));
            }
            if greatest.is_none_or(|g| high.1 > g.1) {
                greatest = Some((high.0, high.1, i));
            }
        }
        let (Some(mut first), Some(mut last)) = (least, greatest) else {
            return Err("no position was examined".into());
        };
        // Where one control alone moves it, the ends stand in the control's own order.
        let moved = self.inputs.hands.moved(&self.local.controls);
        if let [control] = moved[..] {
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
        let end = |(found, _, i): (Found, f64, usize)| End {
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
        let combinations = self.inputs.hands.count(&self.local.controls);
        Ok(Range { ends: [end(first), end(last)], controls, examined: stands.len(), combinations })
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
        let curve = |hertz: &[f64]| -> Vec<Result<Complex64, String>> {
            match self.plan {
                Plan::Impedance(Impedance::Way { current, .. }) => response.impedances(&values, hertz, current),
                _ => response.gains(&values, hertz),
            }
        };
        let mut size = |hertz: &[f64]| -> Result<Vec<f64>, String> {
            let size = |z: Complex64| if self.kind == Kind::Impedance { crate::print::resistance(z) } else { z.norm() };
            curve(hertz).into_iter().map(|g| g.map(size)).collect()
        };
        match (self.kind, self.place) {
            (Kind::LowCorner, Place::Against(f)) => self.corner(Side::Low, f, &mut size),
            (Kind::HighCorner, Place::Against(f)) => {
                if let Some((name, _)) = inputs.types.iter().find(|t| t.1) {
                    return Err(format!("{name} has no gain bandwidth"));
                }
                self.corner(Side::High, f, &mut size)
            }
            (Kind::Phase, Place::At(f)) => {
                self.bandwidth(f, inputs, &mut size)?;
                match curve(&[f]).remove(0)? {
                    z if z.norm() == 0.0 => Err("nothing arrives there, so it has no phase".into()),
                    z => Ok(Found::Real(z.arg().to_degrees())),
                }
            }
            (Kind::Phase, Place::Over(a, b)) => {
                self.bandwidth(b, inputs, &mut size)?;
                let mut angle = |hertz: &[f64]| -> Result<Vec<f64>, String> {
                    curve(hertz)
                        .into_iter()
                        .map(|g| match g? {
                            z if z.norm() == 0.0 => {
                                Err("somewhere in it nothing arrives, and there is no phase".into())
                            }
                            z => Ok(z.arg().to_degrees()),
                        })
                        .collect()
                };
                extreme::ends(a, b, &mut angle).map(Found::Between)
            }
            (_, Place::Over(a, b)) => {
                self.bandwidth(b, inputs, &mut size)?;
                extreme::ends(a, b, &mut size).map(Found::Between)
            }
            (_, Place::At(f) | Place::Against(f)) => {
                self.bandwidth(f, inputs, &mut size)?;
                curve(&[f]).remove(0).map(Found::One)
            }
        }
    }

    /// Within a decade of the high corner a reading needs every amplifier's gain-bandwidth product.
    fn bandwidth(&self, hertz: f64, inputs: &Inputs, size: &mut Size) -> Result<(), String> {
        let Some((name, _)) = inputs.types.iter().find(|t| t.1) else { return Ok(()) };
        match corner(Side::High, inputs.reference, inputs.band, size)? {
            Some(high) if hertz > high / 10.0 => Err(format!("{name} has no gain bandwidth")),
            _ => Ok(()),
        }
    }

    fn corner(&self, side: Side, reference: f64, size: &mut Size) -> Result<Found, String> {
        if self.query.against.is_none() && self.slopes(reference, size)? {
            return Err(
                "the reference lies on a slope: `against` a frequency where the response is flat would give one".into(),
            );
        }
        Ok(corner(side, reference, self.inputs.band, size)?.map_or(Found::Never, Found::Real))
    }

    /// Whether the band holds a gain more than 3.01 dB above that at the reference.
    fn slopes(&self, reference: f64, size: &mut Size) -> Result<bool, String> {
        let (low, high) = self.inputs.band;
        let steps = ((high / low).log10() * 8.0).ceil().clamp(4.0, 1024.0) as usize;
        let mut points = vec![reference];
        points.extend((0..=steps).map(|k| low * (high / low).powf(k as f64 / steps as f64)));
        let sizes = size(&points)?;
        let limit = sizes[0] * std::f64::consts::SQRT_2;
        let most = sizes.iter().copied().fold(0.0, f64::max);
        // Between the points of this grid a response can rise by a little more; near the limit it is looked at closely.
        if most > limit || most < 0.8 * limit {
            return Ok(most > limit);
        }
        let [_, most] = extreme::ends(low, high, size)?;
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
            let gains = response.gains(&response.values(stand), &[reference, f]);
            let down = |g: &[Result<Complex64, String>]| Some(g[1].as_ref().ok()?.norm() / g[0].as_ref().ok()?.norm());
            let same = down(&gains).is_some_and(|d| near(d, std::f64::consts::FRAC_1_SQRT_2));
            return self.rests(same);
        }
        let same = match (found, self.at(stand, &self.inputs.ideal())) {
            (Found::One(a), Ok(Found::One(b))) => (a - b).norm() <= 5e-4 * a.norm().max(b.norm()),
            (Found::Real(a), Ok(Found::Real(b))) if self.kind == Kind::Phase => (a - b).abs() <= 0.05,
            (Found::Real(a), Ok(Found::Real(b))) => near(a, b),
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
