//! Solving at many points at once, every answer checked.

use std::sync::Arc;

use num_complex::Complex64;
use pulp::{Arch, Simd, WithSimd};

use crate::atoms::{Atom, Kind, Share, assembly, atoms};
use crate::excitation::{Excitation, Functional, Injection, Lane, Unsure};
use crate::group::{Drive, Scratch, Sums, evaluate, prepare, run};
use crate::lanes::{Reals, WIDTH};
use crate::loaded::{Frequencies, Loaded, Spread};
use crate::order::{Pattern, choose};
use crate::pencil::{Column, Pencil};
use crate::rescue::Point;
use crate::structure::Structure;
use crate::tape::Tape;

/// A system compiled for solving.
#[derive(Debug)]
pub(crate) struct Program {
    pub tape: Tape,
    /// Atoms in the numbering of the tape: unit and static ones, then dynamic ones.
    pub atoms: Vec<Atom>,
    pub shares: Vec<Share>,
    /// The first dynamic atom.
    pub dynamic: usize,
    /// The atoms that touch a given column.
    pub given_atoms: Vec<u32>,
    entries: usize,
    givens: usize,
    parameters: usize,
    structure: Structure,
    /// The same in the numbering of the pencil, for lanes that get an order of their own.
    plain: (Vec<Atom>, Vec<Share>, Pattern),
}

impl Program {
    pub fn size(&self) -> usize {
        self.tape.steps.len()
    }

    pub fn columns(&self) -> usize {
        self.size() + self.givens
    }
}

/// The elimination order of a system: sparse factors in block-triangular form, chosen once a topology and replayed at
/// every point. Cloning shares it.
#[derive(Clone, Debug)]
pub struct Order {
    program: Arc<Program>,
}

/// Frequencies in hertz at which every pivot must be sound at once, beside DC.
const SAMPLES: [f64; 6] = [0.1, 10.0, 1e3, 1e5, 1e7, 1e9];

impl Order {
    /// Chooses the order at the given parameter values: pivots that are sound at DC and from 0.1 Hz to 1 GHz at once, as
    /// far as the system has a solution there. Other values need no other order: a lane that the order does not suit is
    /// noticed and gets one of its own, at a cost of some tens of microseconds.
    ///
    /// # Panics
    /// If `values` has not one number a parameter, or `structure` is another pencil's.
    pub fn compile(pencil: &Pencil, structure: &Structure, values: &[f64]) -> Order {
        assert_eq!(values.len(), pencil.parameters() as usize);
        assert_eq!(structure.size(), pencil.unknowns() as usize);
        let identity: Vec<u32> = (0..pencil.unknowns()).collect();
        let plain = atoms(pencil, &identity, &identity);
        let (pattern, shares) = assembly(&plain, pencil.unknowns());
        let mut loaded = Loaded::<f64>::new(plain.len(), pattern.entries.len());
        loaded.load(&plain, &shares, &[values]);
        let points: Vec<f64> = std::iter::once(0.0)
            .chain(SAMPLES.iter().map(|f| 2.0 * std::f64::consts::PI * f))
            .collect();
        let mut samples: Vec<Complex64> = loaded
            .entry
            .iter()
            .flat_map(|&(g, c)| points.iter().map(move |w| Complex64::new(g, c * w)))
            .collect();
        let (steps, _) = choose(&pattern, structure, points.len(), &mut samples);
        let mut tape = Tape::of(&steps, structure.size());
        let moved = atoms(pencil, &tape.row, &tape.column);
        let (moved_pattern, moved_shares) = assembly(&moved, pencil.unknowns());
        // The pattern's slots in the order of the moved pattern, then those of the fill.
        let old_slot: std::collections::HashMap<(u32, u32), u32> = pattern
            .entries
            .iter()
            .enumerate()
            .map(|(slot, &(i, j))| ((tape.row[i as usize], tape.column[j as usize]), slot as u32))
            .collect();
        let of_moved = moved_pattern
            .entries
            .iter()
            .map(|entry| tape.slot_of[old_slot[entry] as usize]);
        let of_fill = tape.slot_of[pattern.entries.len()..].iter().copied();
        tape.slot_of = of_moved.chain(of_fill).collect();
        let dynamic = moved
            .iter()
            .position(|a| a.kind == Kind::Dynamic)
            .unwrap_or(moved.len());
        let touches = |a: &Atom| a.columns.terms().iter().any(|t| t.0 >= pencil.unknowns());
        let given_atoms = (0..moved.len() as u32)
            .filter(|&a| touches(&moved[a as usize]))
            .collect();
        Order {
            program: Arc::new(Program {
                tape,
                entries: moved_pattern.entries.len(),
                atoms: moved,
                shares: moved_shares,
                dynamic,
                given_atoms,
                givens: pencil.givens() as usize,
                parameters: pencil.parameters() as usize,
                structure: structure.clone(),
                plain: (plain, shares, pattern),
            }),
        }
    }

    /// The number of multiplications and subtractions that factoring one point takes.
    pub fn operations(&self) -> usize {
        self.program.tape.targets.len()
    }

    /// Numbers in the store of the factors, fill included.
    pub fn slots(&self) -> usize {
        self.program.tape.slots
    }
}

/// Solves a system at many points. It holds no state between calls, so threads may share one.
#[derive(Clone, Debug)]
pub struct Solver {
    order: Order,
    vectors: bool,
}

impl Solver {
    /// A solver that replays the order.
    pub fn new(order: &Order) -> Self {
        Solver {
            order: order.clone(),
            vectors: true,
        }
    }

    /// The same without the machine's vector instructions: slower, with the same bits. For comparing.
    pub fn without_vectors(mut self) -> Self {
        self.vectors = false;
        self
    }

    /// The wanted functionals of the solution in every lane: `lanes × wanted`, lane by lane.
    ///
    /// A known answer has a relative error below about 1e-12 against the exact solution of the system as stated, however
    /// close the terms of a functional are to one another; an answer below 1e-250 of the excitation is told as 0.
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
    pub fn solve_many(
        &self,
        lanes: &[Lane],
        excitations: &[Excitation],
        wanted: &[Functional],
    ) -> Vec<Result<Complex64, Unsure>> {
        let questions = excitations
            .iter()
            .map(|e| self.forward(e, wanted))
            .collect();
        self.dispatch(lanes, questions)
    }

    /// The response of a functional to each injection, from one transposed solution a lane: `lanes × injections`. It is
    /// what [`Solver::solve`] would answer for each injection by itself.
    ///
    /// # Panics
    /// If an index or a length does not belong to the pencil.
    pub fn adjoint(
        &self,
        lanes: &[Lane],
        functional: &Functional,
        injections: &[Injection],
    ) -> Vec<Result<Complex64, Unsure>> {
        self.dispatch(lanes, vec![self.backward(functional, injections)])
    }

    fn forward(&self, excitation: &Excitation, wanted: &[Functional]) -> Question {
        let program = &*self.order.program;
        let mut right = vec![Complex64::new(0.0, 0.0); program.size()];
        for &(equation, value) in &excitation.equations {
            right[equation as usize] += value;
        }
        assert!(excitation.givens.len() <= program.givens);
        let mut givens = excitation.givens.clone();
        givens.resize(program.givens, Complex64::new(0.0, 0.0));
        let drive = right
            .iter()
            .chain(&givens)
            .map(|z| z.norm())
            .fold(0.0, f64::max);
        let terms = |f: &Functional| -> Vec<(u32, f64)> {
            f.terms.iter().map(|&(c, w)| (self.column(c), w)).collect()
        };
        let finite = right.iter().chain(&givens).all(|z| z.is_finite());
        Question {
            moved: permuted(&right, &program.tape.row),
            plain: right,
            givens,
            adjoint: false,
            wanted: wanted
                .iter()
                .map(|f| Wanted::new(terms(f), &program.tape.column))
                .collect(),
            drive,
            finite,
        }
    }

    fn backward(&self, functional: &Functional, injections: &[Injection]) -> Question {
        let program = &*self.order.program;
        let mut weights = vec![Complex64::new(0.0, 0.0); program.columns()];
        for &(column, weight) in &functional.terms {
            weights[self.column(column) as usize].re += weight;
        }
        let terms = |i: &Injection| -> Vec<(u32, f64)> {
            let equations = i.equations.iter().copied();
            equations
                .chain(
                    i.givens
                        .iter()
                        .map(|&(g, w)| (self.column(Column::Given(g)), w)),
                )
                .collect()
        };
        Question {
            moved: permuted(&weights, &program.tape.column),
            drive: weights.iter().map(|z| z.norm()).fold(0.0, f64::max),
            finite: weights.iter().all(|z| z.is_finite()),
            plain: weights,
            givens: Vec::new(),
            adjoint: true,
            wanted: injections
                .iter()
                .map(|i| Wanted::new(terms(i), &program.tape.row))
                .collect(),
        }
    }

    /// The place of a column among unknowns and givens.
    fn column(&self, column: Column) -> u32 {
        let program = &*self.order.program;
        match column {
            Column::Unknown(j) => {
                assert!((j as usize) < program.size());
                j
            }
            Column::Given(k) => {
                assert!((k as usize) < program.givens);
                program.size() as u32 + k
            }
        }
    }

    fn dispatch(&self, lanes: &[Lane], questions: Vec<Question>) -> Vec<Result<Complex64, Unsure>> {
        let program = &*self.order.program;
        assert!(
            lanes
                .iter()
                .all(|lane| lane.values.len() == program.parameters)
        );
        let per_lane: usize = questions.iter().map(|q| q.wanted.len()).sum();
        let mut answers = vec![Ok(Complex64::new(0.0, 0.0)); lanes.len() * per_lane];
        if answers.is_empty() {
            return answers;
        }
        // Groups of lanes of one kind, so that a lane never depends on its company.
        let (imaginary, general): (Vec<usize>, Vec<usize>) =
            (0..lanes.len()).partition(|&l| lanes[l].s.re == 0.0);
        let shared = lanes
            .iter()
            .all(|lane| std::ptr::eq(lane.values, lanes[0].values));
        let mut replay = Replay {
            program,
            lanes,
            questions: &questions,
            order: [imaginary, general],
            shared,
            unsettled: Vec::new(),
            answers: &mut answers,
        };
        if self.vectors {
            Arch::new().dispatch(&mut replay);
        } else {
            replay.all::<false>();
        }
        let unsettled = std::mem::take(&mut replay.unsettled);
        for lane in unsettled {
            self.rescue(
                &lanes[lane],
                &questions,
                &mut answers[lane * per_lane..(lane + 1) * per_lane],
            );
        }
        answers
    }

    /// Answers a lane with an order of its own; answers that were settled already stay.
    fn rescue(
        &self,
        lane: &Lane,
        questions: &[Question],
        answers: &mut [Result<Complex64, Unsure>],
    ) {
        let program = &*self.order.program;
        let (atoms, shares, pattern) = &program.plain;
        let finite = lane.s.is_finite()
            && lane.values.iter().all(|v| v.is_finite())
            && atoms
                .iter()
                .all(|a| a.evaluate(lane.values).high.is_finite());
        let point = finite.then(|| {
            Point::new(
                atoms,
                shares,
                pattern,
                &program.structure,
                program.givens,
                lane.s,
                lane.values,
            )
        });
        let mut places = answers.iter_mut();
        for question in questions {
            let refined = point.as_ref().filter(|_| question.finite).map(|point| {
                if question.adjoint {
                    let weights: Vec<f64> = question.plain.iter().map(|z| z.re).collect();
                    point.adjoint(&weights)
                } else {
                    point.forward(&question.plain, &question.givens)
                }
            });
            for wanted in &question.wanted {
                let place = places.next().expect("one answer a functional");
                if place.is_err() {
                    *place = match (&point, &refined) {
                        (Some(point), Some(refined)) => {
                            point.read(refined, &wanted.plain, question.drive)
                        }
                        _ => Err(Unsure::NotFinite),
                    };
                }
            }
        }
    }
}

/// `values` moved to the places that `to` gives; what lies beyond `to` keeps its place.
fn permuted(values: &[Complex64], to: &[u32]) -> Vec<Complex64> {
    let mut moved = values.to_vec();
    for (value, &place) in values.iter().zip(to) {
        moved[place as usize] = *value;
    }
    moved
}

/// A functional in the numbering of the pencil and in that of the tape.
struct Wanted {
    plain: Vec<(u32, f64)>,
    moved: Vec<(u32, f64)>,
}

impl Wanted {
    fn new(plain: Vec<(u32, f64)>, to: &[u32]) -> Wanted {
        let place = |i: u32| to.get(i as usize).copied().unwrap_or(i);
        Wanted {
            moved: plain.iter().map(|&(i, w)| (place(i), w)).collect(),
            plain,
        }
    }
}

/// One right-hand side with all that is wanted of its solution.
struct Question {
    plain: Vec<Complex64>,
    moved: Vec<Complex64>,
    givens: Vec<Complex64>,
    adjoint: bool,
    wanted: Vec<Wanted>,
    drive: f64,
    finite: bool,
}

/// The replay of all lanes, in the form that the run-time dispatch takes.
struct Replay<'a> {
    program: &'a Program,
    lanes: &'a [Lane<'a>],
    questions: &'a [Question],
    order: [Vec<usize>; 2],
    shared: bool,
    unsettled: Vec<usize>,
    answers: &'a mut [Result<Complex64, Unsure>],
}

impl WithSimd for &mut Replay<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        // Four or more lanes on x86 come with fused multiply-add; AArch64 always has it.
        if S::F64_LANES >= 4 || cfg!(target_arch = "aarch64") {
            self.all::<true>();
        } else {
            self.all::<false>();
        }
    }
}

impl Replay<'_> {
    #[inline(always)]
    fn all<const FUSED: bool>(&mut self) {
        let (atoms, entries) = (self.program.atoms.len(), self.program.entries);
        if self.shared {
            let mut loaded = Loaded::<f64>::new(atoms, entries);
            loaded.load(
                &self.program.atoms,
                &self.program.shares,
                &[self.lanes[0].values],
            );
            self.groups::<FUSED, f64>(&mut loaded, false);
        } else {
            let mut loaded = Loaded::<Reals>::new(atoms, entries);
            self.groups::<FUSED, Reals>(&mut loaded, true);
        }
        self.unsettled.sort_unstable();
    }

    #[inline(always)]
    fn groups<const FUSED: bool, T: Spread>(&mut self, loaded: &mut Loaded<T>, load: bool) {
        let mut scratch = Scratch::new(self.program);
        let mut before: Option<[&[f64]; WIDTH]> = None;
        let per_lane: usize = self.questions.iter().map(|q| q.wanted.len()).sum();
        for kind in 0..2 {
            let order = std::mem::take(&mut self.order[kind]);
            for group in order.chunks(WIDTH) {
                // A group that is not full repeats its last lane.
                let lane = |k: usize| &self.lanes[group[k.min(group.len() - 1)]];
                if load {
                    let values: [&[f64]; WIDTH] = std::array::from_fn(|k| lane(k).values);
                    let same =
                        |b: [&[f64]; WIDTH]| b.iter().zip(values).all(|(b, v)| std::ptr::eq(*b, v));
                    if !before.is_some_and(same) {
                        loaded.load(&self.program.atoms, &self.program.shares, &values);
                        before = Some(values);
                    }
                }
                let s = Frequencies {
                    re: std::array::from_fn(|k| lane(k).s.re),
                    im: std::array::from_fn(|k| lane(k).s.im),
                    imaginary: kind == 0,
                };
                prepare::<FUSED, T>(self.program, loaded, &s, &mut scratch);
                let mut offset = 0;
                for question in self.questions {
                    let drive = if question.adjoint {
                        Drive::Adjoint {
                            weights: &question.moved,
                        }
                    } else {
                        Drive::Forward {
                            right: &question.moved,
                            givens: &question.givens,
                        }
                    };
                    run::<FUSED, T>(self.program, loaded, s.imaginary, &drive, &mut scratch);
                    for wanted in &question.wanted {
                        let sums: Sums = evaluate::<FUSED>(
                            &scratch.solution,
                            self.program.size(),
                            question.adjoint,
                            &wanted.moved,
                        );
                        for (k, &lane) in group.iter().enumerate() {
                            let place = &mut self.answers[lane * per_lane + offset];
                            let reading = sums.reading(k, question.drive);
                            *place = match reading.settled().filter(|_| question.finite) {
                                Some(value) => Ok(value),
                                None => {
                                    if self.unsettled.last() != Some(&lane)
                                        && !self.unsettled.contains(&lane)
                                    {
                                        self.unsettled.push(lane);
                                    }
                                    Err(Unsure::Unsettled {
                                        estimate: reading.estimate(),
                                    })
                                }
                            };
                        }
                        offset += 1;
                    }
                }
            }
        }
    }
}
