//! Solving at many points at once, every answer checked.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use num_complex::Complex64;
use pulp::Arch;

use crate::excitation::{Excitation, Functional, Injection, Lane, Unsure};
use crate::loose::{Loose, zeros};
use crate::pencil::{Domain, Parameter, Pencil, Value};
use crate::program::{Order, Program};
use crate::question::Question;
use crate::replay::Replay;
use crate::second::mend;

type Answer = Result<Complex64, Unsure>;

/// So many lanes of a run without an answer are worth an order of their own.
const RUN: usize = 4;
/// What is 0 in some of many lanes is taken for this share of what it is in the others, where an order is made for all of them: no pivot.
const SLIGHT: f64 = 1e-9;

/// So many sets of zeros are kept with what they leave of the system.
const MOST: usize = 64;

/// What sets of parameters leave of a system where they are 0.
type Kept = HashMap<Vec<Parameter>, Option<Arc<Loose>>>;

/// Solves a system at many points. What it keeps between calls follows from the topology alone, so threads may share one.
#[derive(Clone, Debug)]
pub struct Solver {
    order: Order,
    vectors: bool,
    loose: Arc<Mutex<Kept>>,
}

impl Solver {
    /// A solver that replays the order.
    pub fn new(order: &Order) -> Self {
        Solver { order: order.clone(), vectors: true, loose: Arc::default() }
    }

    /// The system that it solves.
    pub fn pencil(&self) -> &Pencil {
        &self.order.program.pencil
    }

    /// The same without the machine's vector instructions: slower, with the same bits. For comparing.
    pub fn without_vectors(mut self) -> Self {
        self.vectors = false;
        self
    }

    /// The wanted functionals of the solution in every lane: `lanes × wanted`, lane by lane.
    ///
    /// A known answer has a relative error below about 1e-12 against the exact solution of the system as stated, however
    /// close the terms of a functional are to one another. An answer below 1e-250 of the excitation is told as 0; every
    /// other 0 is exact.
    ///
    /// Lanes are taken eight at a time. Where values differ between lanes (tolerance samples), let the eight lanes of one
    /// group be eight samples at one frequency and the next group the same samples at the next: then a group's values are
    /// made ready once.
    ///
    /// # Errors
    /// An answer is [`Unsure`] where the system is singular, where a value is not finite, and where the corrections do not
    /// settle. It is never a wrong number for any of these.
    ///
    /// # Panics
    /// If an index or a length does not belong to the pencil.
    pub fn solve(
        &self,
        lanes: &[Lane],
        excitation: &Excitation,
        wanted: &[Functional],
    ) -> Vec<Result<Complex64, Unsure>> {
        self.solve_many(lanes, std::slice::from_ref(excitation), wanted)
    }

    /// As [`Solver::solve`] for several excitations with the same factors: `lanes × excitations × wanted`.
    ///
    /// # Errors
    /// As [`Solver::solve`].
    pub fn solve_many(
        &self,
        lanes: &[Lane],
        excitations: &[Excitation],
        wanted: &[Functional],
    ) -> Vec<Result<Complex64, Unsure>> {
        self.answer(lanes, &|program| excitations.iter().map(|e| Question::forward(program, e, wanted)).collect())
    }

    /// The response of a functional to each injection, from one transposed solution a lane: `lanes × injections`. It is
    /// what [`Solver::solve`] would answer for each injection by itself.
    ///
    /// # Errors
    /// As [`Solver::solve`].
    pub fn adjoint(
        &self,
        lanes: &[Lane],
        functional: &Functional,
        injections: &[Injection],
    ) -> Vec<Result<Complex64, Unsure>> {
        self.answer(lanes, &|program| vec![Question::adjoint(program, functional, injections)])
    }

    /// The derivative of a functional by each parameter, `lanes × parameters`, in the functional's unit over the
    /// parameter's, from one solution and one transposed solution with the same factors.
    ///
    /// With `A x = b` and `Aᵀ y = c`, the derivative of `cᵀx` by a parameter is `−yᵀ (∂A/∂p) x` (the adjoint method;
    /// Director and Rohrer, IEEE Trans. Circuit Theory 16, 1969), and `∂A/∂p` is a sum of stamps.
    ///
    /// # Errors
    /// As [`Solver::solve`].
    pub fn sensitivities(
        &self,
        lanes: &[Lane],
        excitation: &Excitation,
        functional: &Functional,
    ) -> Vec<Result<Complex64, Unsure>> {
        let pencil = &self.order.program.pencil;
        let stamps: Vec<_> = pencil.stamps().iter().filter(|s| s.value.parameter().is_some()).collect();
        let through: Vec<_> = stamps.iter().map(|s| Functional { terms: s.columns.clone() }).collect();
        let into: Vec<_> = stamps.iter().map(|s| Injection { equations: s.rows.clone(), givens: Vec::new() }).collect();
        let answers = self.answer(lanes, &|program| {
            vec![Question::forward(program, excitation, &through), Question::adjoint(program, functional, &into)]
        });
        let count = pencil.parameters() as usize;
        let mut derivatives: Vec<Result<Complex64, Unsure>> = vec![Ok(Complex64::new(0.0, 0.0)); lanes.len() * count];
        for (l, lane) in lanes.iter().enumerate() {
            let answers = &answers[l * 2 * stamps.len()..];
            for (k, stamp) in stamps.iter().enumerate() {
                let slope = match stamp.value {
                    Value::Reciprocal(p) => -1.0 / (lane.values[p.0 as usize] * lane.values[p.0 as usize]),
                    _ => 1.0,
                };
                let s = match stamp.domain {
                    Domain::Static => Complex64::new(1.0, 0.0),
                    Domain::Dynamic => lane.s,
                };
                let parameter = stamp.value.parameter().expect("chosen above").0 as usize;
                let sum = &mut derivatives[l * count + parameter];
                let share = match (&answers[k], &answers[stamps.len() + k]) {
                    (Ok(x), Ok(y)) => Ok(-(y * x) * s * slope),
                    // A factor of exactly nothing decides the product, whatever the other is.
                    (Ok(z), Err(_)) | (Err(_), Ok(z)) if z.norm_sqr() == 0.0 => Ok(*z),
                    (Err(why), _) | (_, Err(why)) => Err(why.clone()),
                };
                *sum = match (&*sum, share) {
                    (Ok(sum), Ok(share)) => Ok(sum + share),
                    (Err(why), _) => Err(why.clone()),
                    (_, Err(why)) => Err(why),
                };
            }
        }
        derivatives
    }

    /// A functional and its derivative by `s` in every lane, from one solution and one transposed solution with the same factors.
    ///
    /// With `(G + sC) x = b` and `(G + sC)ᵀ y = c`, the derivative of `cᵀx` is `−yᵀ C x`, and `C` is a sum of stamps.
    ///
    /// # Errors
    /// As [`Solver::solve`].
    pub fn slopes(
        &self,
        lanes: &[Lane],
        excitation: &Excitation,
        functional: &Functional,
    ) -> Vec<Result<[Complex64; 2], Unsure>> {
        let pencil = &self.order.program.pencil;
        let stamps: Vec<_> = pencil.stamps().iter().filter(|s| s.domain == Domain::Dynamic).collect();
        let mut wanted = vec![functional.clone()];
        wanted.extend(stamps.iter().map(|s| Functional { terms: s.columns.clone() }));
        let into: Vec<_> = stamps.iter().map(|s| Injection { equations: s.rows.clone(), givens: Vec::new() }).collect();
        let answers = self.answer(lanes, &|program| {
            vec![Question::forward(program, excitation, &wanted), Question::adjoint(program, functional, &into)]
        });
        let one = |(lane, answers): (&Lane, &[Answer])| {
            let (forward, adjoint) = answers.split_at(wanted.len());
            let mut slope = Complex64::new(0.0, 0.0);
            for ((stamp, x), y) in stamps.iter().zip(&forward[1..]).zip(adjoint) {
                let value = match stamp.value {
                    Value::Constant(c) => c,
                    Value::Parameter(p) => lane.values[p.0 as usize],
                    Value::Reciprocal(p) => 1.0 / lane.values[p.0 as usize],
                };
                slope -= match (x, y) {
                    (Ok(x), Ok(y)) => y * x * value,
                    // A factor of exactly nothing decides the product, whatever the other is.
                    (Ok(z), Err(_)) | (Err(_), Ok(z)) if z.norm_sqr() == 0.0 => *z,
                    (Err(why), _) | (_, Err(why)) => return Err(why.clone()),
                };
            }
            Ok([forward[0].clone()?, slope])
        };
        lanes.iter().zip(answers.chunks(wanted.len() + stamps.len())).map(one).collect()
    }

    fn answer(&self, lanes: &[Lane], ask: &dyn Fn(&Program) -> Vec<Question>) -> Vec<Answer> {
        let _running = crate::meter::stage("solving");
        let program = &*self.order.program;
        let parameters = program.pencil.parameters() as usize;
        assert!(lanes.iter().all(|lane| lane.values.len() == parameters));
        let questions = ask(program);
        let mut answers = self.replay(program, lanes, &questions);
        if answers.iter().all(Result::is_ok) {
            return answers;
        }
        self.order_for_all(lanes, ask, &mut answers);
        if answers.iter().all(Result::is_ok) {
            return answers;
        }
        let mut done = vec![false; lanes.len()];
        for Run { zeros, open } in runs(program, lanes, &answers) {
            match self.loose(zeros, lanes[open[0]].values) {
                Some(loose) => {
                    open.iter().for_each(|l| done[*l] = true);
                    self.loosely(&loose, lanes, &open, ask, &mut answers);
                }
                None => self.order_anew(lanes, &open, ask, &mut answers),
            }
        }
        mend(program, lanes, &questions, &done, &mut answers);
        answers
    }

    /// Where lanes are left open whose values are 0 in many different places (controls at their ends, in all combinations), an order that
    /// takes none of these values for a pivot serves most of them: each by itself would have an order made for it.
    fn order_for_all(&self, lanes: &[Lane], ask: &dyn Fn(&Program) -> Vec<Question>, answers: &mut [Answer]) {
        let program = &*self.order.program;
        let per_lane = answers.len() / lanes.len();
        let unsettled = |l: &usize| {
            let lane = &lanes[*l];
            let open = answers[l * per_lane..(l + 1) * per_lane].iter().any(Result::is_err);
            open && lane.s.is_finite() && program.finite(lane.values)
        };
        let open: Vec<usize> = (0..lanes.len()).filter(unsettled).collect();
        let Some(first) = open.first().filter(|_| open.len() >= RUN).map(|l| lanes[*l].values) else { return };
        let same = |l: &usize| lanes[*l].values.iter().zip(first).all(|(a, b)| (*a == 0.0) == (*b == 0.0));
        if open.iter().all(same) {
            return;
        }
        let mut values = first.to_vec();
        for (p, value) in values.iter_mut().enumerate() {
            let all = || open.iter().map(|l| lanes[*l].values[p]);
            if all().any(|x| x == 0.0) {
                *value = SLIGHT * all().map(f64::abs).fold(0.0, f64::max);
            }
        }
        let order = Order::compile(&program.pencil, &program.structure, &values);
        let again: Vec<Lane> = open.iter().map(|l| lanes[*l]).collect();
        let found = self.replay(&order.program, &again, &ask(&order.program));
        take(&open, &found, answers, per_lane);
    }

    /// What is left of the system where these parameters are 0; `None` where it is whole.
    fn loose(&self, zeros: Vec<Parameter>, values: &[f64]) -> Option<Arc<Loose>> {
        let kept = || self.loose.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = kept().get(&zeros) {
            return known.clone();
        }
        let made = Loose::of(self.pencil(), &zeros, values);
        let mut kept = kept();
        if kept.len() >= MOST {
            kept.clear();
        }
        kept.insert(zeros, made.clone());
        made
    }

    /// Answers lanes whose zeros leave something open: what does not hang on it.
    fn loosely(
        &self,
        loose: &Loose,
        lanes: &[Lane],
        open: &[usize],
        ask: &dyn Fn(&Program) -> Vec<Question>,
        answers: &mut [Answer],
    ) {
        let per_lane = answers.len() / lanes.len();
        let program = &*loose.order.program;
        let questions = ask(program);
        let known: Vec<Result<(), Unsure>> = questions.iter().flat_map(|q| loose.known(q)).collect();
        let again: Vec<Lane> = open.iter().map(|l| lanes[*l]).collect();
        let mut found = self.replay(program, &again, &questions);
        if known.iter().any(Result::is_ok) {
            mend(program, &again, &questions, &vec![false; again.len()], &mut found);
        }
        for (l, found) in open.iter().zip(found.chunks(per_lane)) {
            let places = answers[l * per_lane..(l + 1) * per_lane].iter_mut();
            for ((answer, found), known) in places.zip(found).zip(&known) {
                *answer = known.clone().and_then(|()| found.clone());
            }
        }
    }

    /// `lanes × wanted` as one order gives them.
    fn replay(&self, program: &Program, lanes: &[Lane], questions: &[Question]) -> Vec<Answer> {
        let per_lane: usize = questions.iter().map(|q| q.wanted.len()).sum();
        let mut answers = vec![Ok(Complex64::new(0.0, 0.0)); lanes.len() * per_lane];
        if answers.is_empty() {
            return answers;
        }
        let (imaginary, general): (Vec<usize>, Vec<usize>) = (0..lanes.len()).partition(|&l| lanes[l].s.re == 0.0);
        let shared = lanes.iter().all(|lane| std::ptr::eq(lane.values, lanes[0].values));
        let mut replay =
            Replay { program, lanes, questions, order: [imaginary, general], shared, answers: &mut answers };
        if self.vectors {
            Arch::new().dispatch(&mut replay);
        } else {
            replay.all::<false>();
        }
        answers
    }

    /// Where the kept order leaves many lanes open whose values are 0 in the same places (a contact that is closed takes away the pivot that
    /// it has while it is open), an order that is made for the first of them is replayed over all: to make it costs as much as to mend a lane
    /// or two by themselves.
    fn order_anew(
        &self,
        lanes: &[Lane],
        open: &[usize],
        ask: &dyn Fn(&Program) -> Vec<Question>,
        answers: &mut [Answer],
    ) {
        let program = &*self.order.program;
        let per_lane = answers.len() / lanes.len();
        let values = lanes[open[0]].values;
        if open.len() < RUN || !program.finite(values) {
            return;
        }
        let order = Order::compile(&program.pencil, &program.structure, values);
        let again: Vec<Lane> = open.iter().map(|l| lanes[*l]).collect();
        let found = self.replay(&order.program, &again, &ask(&order.program));
        take(open, &found, answers, per_lane);
    }
}

/// Puts what was found for some lanes in the place of what is open.
fn take(open: &[usize], found: &[Answer], answers: &mut [Answer], per_lane: usize) {
    for (l, found) in open.iter().zip(found.chunks(per_lane)) {
        for (answer, found) in answers[l * per_lane..(l + 1) * per_lane].iter_mut().zip(found) {
            if answer.is_err() && found.is_ok() {
                *answer = found.clone();
            }
        }
    }
}

/// Lanes without an answer whose values are 0 in the same places.
struct Run {
    zeros: Vec<Parameter>,
    open: Vec<usize>,
}

/// The lanes without an answer by which of their values are 0, in the order in which they come.
fn runs(program: &Program, lanes: &[Lane], answers: &[Answer]) -> Vec<Run> {
    let per_lane = answers.len() / lanes.len();
    let mut runs: Vec<Run> = Vec::new();
    let mut known: HashMap<Vec<Parameter>, usize> = HashMap::new();
    let mut last: Option<(&[f64], usize)> = None;
    for (l, answers) in answers.chunks(per_lane).enumerate() {
        let values = lanes[l].values;
        if !lanes[l].s.is_finite() || answers.iter().all(Result::is_ok) || !program.finite(values) {
            continue;
        }
        let run = match last {
            Some((before, run)) if std::ptr::eq(before, values) => run,
            _ => *known.entry(zeros(values)).or_insert_with_key(|zeros| {
                runs.push(Run { zeros: zeros.clone(), open: Vec::new() });
                runs.len() - 1
            }),
        };
        last = Some((values, run));
        runs[run].open.push(l);
    }
    runs
}
