//! Where a response may be sharp: beside its complex zeros and poles.
//!
//! A grid of frequencies steps over a notch or a peak that is narrower than its own steps. The circuit's roots tell where such
//! places are and how narrow they are, so that a search holds points in each.

use std::f64::consts::TAU;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use num_complex::Complex64;
use pencil::{Alone, Domain, Functional, Parameter, Pencil, Structure, Value, numerator, numerator_of};
use rustc_hash::FxHashMap;

use crate::measure::ON_AXIS;
use crate::network::Quality;
use crate::plan::{Factor, Gain, Impedance, Local, Plan};
use crate::response::{Inputs, Values};

/// Roots below this Q make no place that a grid could step over.
const LEAST_Q: f64 = 1.0;
/// Points on either side of a root go out to this share of its frequency, which is the width of a grid's step.
const REACH: f64 = 0.1;
/// So many sets of values are kept beside a plan: those of all positions that a heading looks at, whose two corners want them both.
const MOST: usize = 256;

/// Frequencies in hertz, rising.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Landmarks {
    /// Those that a grid must hold.
    points: Vec<f64>,
    /// Those at which the response is exactly nothing.
    nulls: Vec<f64>,
    /// Those at which nothing bounds it.
    poles: Vec<f64>,
}

impl Landmarks {
    /// Those that zeros and poles (in rad/s) make.
    pub fn of(zeros: &[Complex64], poles: &[Complex64]) -> Landmarks {
        let mut points = Vec::new();
        for root in zeros.iter().chain(poles).filter(|r| r.im > 0.0) {
            around(*root, &mut points);
        }
        points.sort_unstable_by(f64::total_cmp);
        points.dedup();
        // What stands above and below alike is neither: it falls out.
        let alone = |root: &Complex64, others: &[Complex64]| {
            root.im > 0.0
                && root.re.abs() <= ON_AXIS * root.norm()
                && !others.iter().any(|o| (o - root).norm() <= 2.0 * ON_AXIS * root.norm())
        };
        let on_axis = |roots: &[Complex64], others: &[Complex64]| {
            let mut found: Vec<f64> = roots.iter().filter(|r| alone(r, others)).map(|r| r.norm() / TAU).collect();
            found.sort_unstable_by(f64::total_cmp);
            found
        };
        Landmarks { points, nulls: on_axis(zeros, poles), poles: on_axis(poles, zeros) }
    }

    /// Those of several responses.
    pub fn together(all: impl Iterator<Item = Arc<Landmarks>>) -> Landmarks {
        let mut both = Landmarks::default();
        for one in all {
            both.points.extend(&one.points);
            both.nulls.extend(&one.nulls);
            both.poles.extend(&one.poles);
        }
        for list in [&mut both.points, &mut both.nulls, &mut both.poles] {
            list.sort_unstable_by(f64::total_cmp);
            list.dedup();
        }
        both
    }

    /// The points strictly between two frequencies.
    pub fn between(&self, low: f64, high: f64) -> &[f64] {
        let from = self.points.partition_point(|f| *f <= low);
        let to = self.points.partition_point(|f| *f < high);
        &self.points[from..to.max(from)]
    }

    /// The first frequency of a band at which the response is exactly nothing.
    pub fn null(&self, low: f64, high: f64) -> Option<f64> {
        first(&self.nulls, low, high)
    }

    /// The frequencies of a band at which nothing bounds the response.
    pub fn all_unbounded(&self, low: f64, high: f64) -> impl Iterator<Item = f64> {
        self.poles.iter().copied().filter(move |f| within(*f, low, high))
    }

    /// The first frequency of a band at which nothing bounds the response.
    pub fn unbounded(&self, low: f64, high: f64) -> Option<f64> {
        first(&self.poles, low, high)
    }
}

/// The first that lies in a band; one on its edge, as far as rounding can tell, lies in it.
fn first(all: &[f64], low: f64, high: f64) -> Option<f64> {
    all.iter().copied().find(|f| within(*f, low, high))
}

fn within(f: f64, low: f64, high: f64) -> bool {
    f >= low * (1.0 - ON_AXIS) && f <= high * (1.0 + ON_AXIS)
}

/// The frequencies of one root, and points on either side at ever more half widths, out to where a grid sees by itself.
fn around(root: Complex64, points: &mut Vec<f64>) {
    let modulus = root.norm();
    if modulus < 2.0 * LEAST_Q * root.re.abs() || !modulus.is_finite() {
        return;
    }
    points.extend([root.im / TAU, modulus / TAU]);
    // On the axis itself the width is nothing, and far below it no digit of a frequency is left.
    let mut off = root.re.abs().max(1e-12 * modulus);
    while off < REACH * modulus {
        points.extend([(root.im - off) / TAU, (root.im + off) / TAU]);
        off *= 4.0;
    }
}

/// What is kept beside a plan's equations.
#[derive(Debug, Default)]
pub struct Kept {
    /// The blocks of the zeros' and of the poles' equations that may have complex roots; none where there are no such equations.
    blocks: OnceLock<[Vec<Alone>; 2]>,
    /// By the bits of the parameters.
    known: Mutex<FxHashMap<Box<[u64]>, Arc<Landmarks>>>,
}

/// The landmarks of a plan's response at some values; none where its roots are not known.
pub(crate) fn landmarks(plan: &Plan, local: &Local, inputs: &Inputs, values: &Values) -> Arc<Landmarks> {
    let kept = &local.sharp;
    let blocks = kept.blocks.get_or_init(|| {
        let reactive = inputs.numbers.iter().any(|(_, _, q)| matches!(q, Quality::Inductance));
        // Resistors and capacitors alone have real poles (Foster, Bell System Tech. J. 3, 1924; from memory).
        let passive = local.amplifiers.is_empty() && !reactive;
        blocks(plan, local, passive)
    });
    if blocks.iter().all(Vec::is_empty) {
        return Arc::default();
    }
    let key: Box<[u64]> = local.parameters.iter().map(|p| values.numbers[*p as usize].to_bits()).collect();
    if let Some(found) = kept.known.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
        return found.clone();
    }
    let all = |blocks: &[Alone]| -> Option<Vec<Complex64>> {
        let mut found = Vec::new();
        for block in blocks {
            let roots = pencil::roots(&block.pencil, &values.numbers).ok()?;
            found.extend(roots.iter().flat_map(|r| r.roots.iter().map(|r| r.s)));
        }
        Some(found)
    };
    // One half without the other would take for a null what a pole takes away again; as points both are of use.
    let made = match (all(&blocks[0]), all(&blocks[1])) {
        (Some(zeros), Some(poles)) => Landmarks::of(&zeros, &poles),
        (zeros, poles) => {
            let one = zeros.or(poles).unwrap_or_default();
            Landmarks { nulls: Vec::new(), poles: Vec::new(), ..Landmarks::of(&one, &[]) }
        }
    };
    let made = Arc::new(made);
    let mut known = kept.known.lock().unwrap_or_else(PoisonError::into_inner);
    if known.len() >= MOST {
        known.clear();
    }
    known.insert(key, made.clone());
    made
}

/// The blocks of a plan's zeros and poles with more than one reactance: one alone has a real root.
fn blocks(plan: &Plan, local: &Local, passive: bool) -> [Vec<Alone>; 2] {
    let pencil = local.solver.pencil();
    let (zeros, poles) = match plan {
        Plan::Impedance(Impedance::Way { current, .. }) => {
            let poles = if current.is_empty() { pencil.clone() } else { currents(local, current) };
            (numerator(pencil, &local.excitation, &local.wanted[0]), poles)
        }
        Plan::Gain(Gain::Way { .. }) => (
            numerator(pencil, &local.excitation, &local.wanted[1]),
            numerator(pencil, &local.excitation, &local.wanted[0]),
        ),
        _ => return Default::default(),
    };
    let split = |pencil: &Pencil| -> Vec<Alone> {
        let Ok(structure) = Structure::of(pencil) else { return Vec::new() };
        let several = |a: &Alone| a.pencil.stamps().iter().filter(|s| s.domain == Domain::Dynamic).count() > 1;
        pencil::alone(pencil, &structure).into_iter().filter(several).collect()
    };
    // A voltage over a current of resistors and capacitors has real zeros and poles as well where both are a port's own.
    [split(&zeros), if passive && matches!(plan, Plan::Gain(_)) && given(local) { Vec::new() } else { split(&poles) }]
}

/// Whether A's voltage is given, so that the poles are those of the equations.
fn given(local: &Local) -> bool {
    matches!(local.wanted[0].terms[..], [(pencil::Column::Given(_), _)])
}

/// The equations whose roots are the frequencies at which a current is nothing.
fn currents(local: &Local, current: &[(f64, Factor)]) -> Pencil {
    let contributions: Vec<(Value, Domain, Functional)> = current
        .iter()
        .zip(&local.wanted[1..])
        .map(|((weight, factor), functional)| {
            let terms = functional.terms.iter().map(|(c, w)| (*c, w * weight)).collect();
            let (value, domain) = match *factor {
                Factor::One => (Value::Constant(1.0), Domain::Static),
                Factor::Over(p) => (Value::Reciprocal(Parameter(p)), Domain::Static),
                Factor::Times(p) => (Value::Parameter(Parameter(p)), Domain::Dynamic),
            };
            (value, domain, Functional { terms })
        })
        .collect();
    numerator_of(local.solver.pencil(), &local.excitation, &contributions)
}
