//! The kept order, replayed over all lanes in groups.

use std::cell::RefCell;

use num_complex::Complex64;
use pulp::{Simd, WithSimd};

use crate::excitation::{Lane, Unsure};
use crate::group::{Drive, Scratch, prepare, run, run_again};
use crate::judge::SHRUNK;
use crate::lanes::{Reals, WIDTH};
use crate::loaded::{Frequencies, Loaded, Spread};
use crate::program::Program;
use crate::question::Question;
use crate::sums::evaluate;

thread_local! {
    /// Kept from one replay to the next: of a long chain it is megabytes, and to be handed them anew takes as long as to solve for a
    /// handful of frequencies.
    static SCRATCH: RefCell<Scratch> = RefCell::default();
}

/// The replay of all lanes, in the form that the run-time dispatch takes.
pub(crate) struct Replay<'a> {
    pub program: &'a Program,
    pub lanes: &'a [Lane<'a>],
    pub questions: &'a [Question],
    /// The lanes with an imaginary `s` and the others, so that a lane's group never holds both kinds.
    pub order: [Vec<usize>; 2],
    /// All lanes have the same parameter values.
    pub shared: bool,
    pub answers: &'a mut [Result<Complex64, Unsure>],
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
    pub fn all<const FUSED: bool>(&mut self) {
        let (atoms, entries) = (self.program.atoms.len(), self.program.entries);
        if self.shared {
            let mut loaded = Loaded::<f64>::new(atoms, entries);
            loaded.load(&self.program.atoms, &self.program.shares, &[self.lanes[0].values]);
            self.groups::<FUSED, f64>(&mut loaded, false);
        } else {
            let mut loaded = Loaded::<Reals>::new(atoms, entries);
            self.groups::<FUSED, Reals>(&mut loaded, true);
        }
    }

    #[inline(always)]
    fn groups<const FUSED: bool, T: Spread>(&mut self, loaded: &mut Loaded<T>, load: bool) {
        let mut scratch = SCRATCH.take();
        scratch.fit(self.program);
        let mut before: Option<[&[f64]; WIDTH]> = None;
        let per_lane: usize = self.questions.iter().map(|q| q.wanted.len()).sum();
        for kind in 0..2 {
            let order = std::mem::take(&mut self.order[kind]);
            for group in order.chunks(WIDTH) {
                // A group that is not full repeats its last lane.
                let lane = |k: usize| &self.lanes[group[k.min(group.len() - 1)]];
                if load {
                    let values: [&[f64]; WIDTH] = std::array::from_fn(|k| lane(k).values);
                    let same = |b: [&[f64]; WIDTH]| b.iter().zip(values).all(|(b, v)| std::ptr::eq(*b, v));
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
                        Drive::Adjoint { weights: &question.moved }
                    } else {
                        Drive::Forward { right: &question.moved, givens: &question.givens }
                    };
                    run::<FUSED, T>(self.program, loaded, s.imaginary, &drive, &mut scratch);
                    let mut places = Places { first: offset, per_lane, group, answers: self.answers };
                    if places.read::<FUSED>(question, &scratch, self.program.size(), |_| true) {
                        run_again::<FUSED, T>(self.program, loaded, s.imaginary, question.adjoint, &mut scratch);
                        places.read::<FUSED>(question, &scratch, self.program.size(), promising);
                    }
                    offset += question.wanted.len();
                }
            }
        }
        SCRATCH.set(scratch);
    }
}

/// Whether one more correction may settle an answer.
fn promising(answer: &Result<Complex64, Unsure>) -> bool {
    matches!(answer, Err(Unsure::Unsettled { estimate }) if *estimate <= SHRUNK)
}

/// The answers to one question in the lanes of a group.
struct Places<'a> {
    first: usize,
    per_lane: usize,
    group: &'a [usize],
    answers: &'a mut [Result<Complex64, Unsure>],
}

impl Places<'_> {
    /// Writes the answers that `open` lets be written, and tells whether one more correction may settle any of them.
    #[inline(always)]
    fn read<const FUSED: bool>(
        &mut self,
        question: &Question,
        scratch: &Scratch,
        size: usize,
        open: impl Fn(&Result<Complex64, Unsure>) -> bool,
    ) -> bool {
        let mut again = false;
        for (w, wanted) in question.wanted.iter().enumerate() {
            let sums = evaluate::<FUSED>(&scratch.solution, size, &wanted.moved);
            let settled = sums.settled();
            for (k, &lane) in self.group.iter().enumerate() {
                let place = &mut self.answers[lane * self.per_lane + self.first + w];
                if !open(place) {
                    continue;
                }
                if settled[k] && question.finite {
                    *place = Ok(sums.value(k));
                } else {
                    let reading = sums.reading(k, question.drive);
                    *place = match reading.settled().filter(|_| question.finite) {
                        Some(value) => Ok(value),
                        None => Err(Unsure::Unsettled { estimate: reading.estimate() }),
                    };
                    again |= promising(place);
                }
            }
        }
        again
    }
}
