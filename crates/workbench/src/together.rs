//! Presets that act on each other, set at once: Newton's steps on all travels together.

use circuit::{Circuit, Position};

use crate::preset::Preset;

/// So many steps are taken; from a good start each doubles the digits, and what has not come by then does not come.
const STEPS: usize = 24;

/// The travels at which all trims hold together, found from where the controls stand; `None` where the steps lead nowhere.
pub(crate) fn together(circuit: &Circuit, presets: &[&Preset]) -> Option<Vec<f64>> {
    let stand = |c: &Circuit, p: &Preset| match c.controls[p.control().at()].rest {
        Position::Travel(x) => x,
        Position::Step(_) => 0.0,
    };
    let mut travels: Vec<f64> = presets.iter().map(|p| stand(circuit, p)).collect();
    let mut off = misses(circuit, presets, &travels)?;
    for _ in 0..STEPS {
        if presets.iter().all(|p| p.holds(&placed(circuit, presets, &travels))) {
            return Some(travels);
        }
        let slopes = slopes(circuit, presets, &travels, &off)?;
        let step = solved(slopes, off.clone())?;
        let size = |off: &[f64]| off.iter().map(|x| x * x).sum::<f64>();
        // A step that makes things worse was too long.
        let mut share = 1.0;
        let next = loop {
            let tried: Vec<f64> = travels.iter().zip(&step).map(|(t, s)| (t - share * s).clamp(0.0, 1.0)).collect();
            match misses(circuit, presets, &tried) {
                Some(miss) if size(&miss) < size(&off) || share < 1e-3 => break (tried, miss),
                _ if share < 1e-3 => return None,
                _ => share *= 0.5,
            }
        };
        if next.0 == travels {
            return None;
        }
        (travels, off) = next;
    }
    presets.iter().all(|p| p.holds(&placed(circuit, presets, &travels))).then_some(travels)
}

fn placed(circuit: &Circuit, presets: &[&Preset], travels: &[f64]) -> Circuit {
    let mut placed = circuit.clone();
    for (preset, travel) in presets.iter().zip(travels) {
        placed.controls[preset.control().at()].rest = Position::Travel(*travel);
    }
    placed
}

/// By what share of its target each quantity is off.
fn misses(circuit: &Circuit, presets: &[&Preset], travels: &[f64]) -> Option<Vec<f64>> {
    let placed = placed(circuit, presets, travels);
    presets.iter().zip(travels).map(|(p, t)| p.miss(&placed, *t)).collect()
}

/// How each miss moves with each travel, by small turns towards the middle.
fn slopes(circuit: &Circuit, presets: &[&Preset], travels: &[f64], off: &[f64]) -> Option<Vec<Vec<f64>>> {
    let mut rows = vec![vec![0.0; travels.len()]; travels.len()];
    for k in 0..travels.len() {
        let turn = if travels[k] < 0.5 { 1e-6 } else { -1e-6 };
        let mut turned = travels.to_vec();
        turned[k] += turn;
        for (row, (after, before)) in rows.iter_mut().zip(misses(circuit, presets, &turned)?.iter().zip(off)) {
            row[k] = (after - before) / turn;
        }
    }
    Some(rows)
}

/// Solves a small dense system by elimination with the greatest pivot of each column; `None` where it has none.
fn solved(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for k in 0..n {
        let pivot = (k..n).max_by(|a, b| rows[*a][k].abs().total_cmp(&rows[*b][k].abs()))?;
        if !rows[pivot][k].is_finite() || rows[pivot][k] == 0.0 {
            return None;
        }
        rows.swap(k, pivot);
        right.swap(k, pivot);
        let (upper, lower) = rows.split_at_mut(k + 1);
        let (first, taken) = (&upper[k], right[k]);
        for (row, right) in lower.iter_mut().zip(&mut right[k + 1..]) {
            let factor = row[k] / first[k];
            row[k..].iter_mut().zip(&first[k..]).for_each(|(x, p)| *x -= factor * p);
            *right -= factor * taken;
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| rows[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / rows[k][k];
    }
    right.iter().all(|x| x.is_finite()).then_some(right)
}

#[cfg(test)]
mod tests {
    use super::solved;

    #[test]
    fn a_small_system_is_solved_whatever_the_order_of_its_rows() {
        let rows = vec![vec![0.0, 2.0, 1.0], vec![1.0, -1.0, 0.0], vec![3.0, 0.0, -2.0]];
        // x = 1, y = 2, z = 3
        let found = solved(rows, vec![7.0, -1.0, -3.0]).unwrap();
        assert!(found.iter().zip([1.0, 2.0, 3.0]).all(|(x, y)| (x - y).abs() < 1e-14), "{found:?}");
        assert_eq!(solved(vec![vec![1.0, 2.0], vec![2.0, 4.0]], vec![1.0, 2.0]), None);
    }
}
