//! What becomes of lanes that the kept order does not settle.

use crate::exact::{Image, Place, vanishes};
use crate::excitation::{Lane, Unsure};
use crate::program::Program;
use crate::question::Question;
use crate::rescue::Point;

type Answer = Result<num_complex::Complex64, Unsure>;

fn may_be_nothing(answer: &Answer) -> bool {
    matches!(answer, Err(Unsure::Unsettled { estimate }) if estimate.is_infinite())
}

/// For each question, which of its functionals are exactly 0 at the given values and place; `None` where the system is
/// exactly singular there.
fn zeros(program: &Program, questions: &[Question], values: &[f64], place: Place) -> Option<Vec<bool>> {
    let image = Image::new(&program.plain.0, program.size(), values, place).ok()?;
    let mut flags = Vec::new();
    for question in questions {
        let solution = if question.adjoint {
            image.adjoint(&question.plain)
        } else {
            image.solve(&question.plain, &question.givens)
        };
        flags.extend(question.wanted.iter().map(|w| vanishes(&w.plain, &solution)));
    }
    Some(flags)
}

/// Mends the answers of all lanes that are not done: exact zeros first, since they often hold for a whole sweep, then lane by lane
/// with an order of its own.
pub(crate) fn mend(program: &Program, lanes: &[Lane], questions: &[Question], done: &[bool], answers: &mut [Answer]) {
    let per_lane = answers.len() / lanes.len();
    let mut known: Option<(&[f64], Option<Vec<bool>>)> = None;
    for ((lane, done), answers) in lanes.iter().zip(done).zip(answers.chunks_mut(per_lane)) {
        if *done || answers.iter().all(|a| a.is_ok()) {
            continue;
        }
        let finite = lane.s.is_finite() && questions.iter().all(|q| q.finite) && program.finite(lane.values);
        if !finite {
            answers.fill(Err(Unsure::NotFinite));
            continue;
        }
        if answers.iter().any(may_be_nothing) {
            if !known.as_ref().is_some_and(|k| std::ptr::eq(k.0, lane.values)) {
                known = Some((lane.values, zeros(program, questions, lane.values, Place::Everywhere)));
            }
            if let Some((_, Some(flags))) = &known {
                clear(answers, flags);
            }
        }
        if answers.iter().any(|a| a.is_err()) {
            rescue(program, lane, questions, answers);
        }
    }
}

fn clear(answers: &mut [Answer], flags: &[bool]) {
    for (answer, zero) in answers.iter_mut().zip(flags) {
        if *zero && may_be_nothing(answer) {
            *answer = Ok(num_complex::Complex64::new(0.0, 0.0));
        }
    }
}

/// Answers a lane with an order of its own; answers that were settled already stay.
fn rescue(program: &Program, lane: &Lane, questions: &[Question], answers: &mut [Answer]) {
    let (atoms, shares, pattern) = &program.plain;
    let givens = program.columns() - program.size();
    let evaluated: Vec<_> = atoms.iter().map(|a| a.evaluate(lane.values)).collect();
    let point = Point::of(atoms, shares, pattern, &program.structure, givens, lane.s, &evaluated);
    let mut places = answers.iter_mut();
    for question in questions {
        let wanted = question.wanted.iter().zip(places.by_ref());
        let open: Vec<_> = wanted.filter(|(_, place)| place.is_err()).collect();
        if open.is_empty() {
            continue;
        }
        let refined = if question.adjoint {
            let weights: Vec<f64> = question.plain.iter().map(|z| z.re).collect();
            point.adjoint(&weights)
        } else {
            point.forward(&question.plain, &question.givens)
        };
        for (wanted, place) in open {
            *place = point.read(&refined, &wanted.plain, question.drive);
        }
    }
    if answers.iter().any(|a| a.is_err()) {
        match zeros(program, questions, lane.values, Place::At(lane.s)) {
            Some(flags) => clear(answers, &flags),
            None => {
                let unknowns = point.exhausted();
                for answer in answers.iter_mut().filter(|a| a.is_err()) {
                    *answer = Err(Unsure::Singular { unknowns: unknowns.clone() });
                }
            }
        }
    }
}
