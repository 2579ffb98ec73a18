//! What a response becomes where its parts are equal, or simple multiples of each other: a twin-T in balance is of second order.

use num_complex::Complex64;

use crate::expr::Expr;
use crate::immittance::Kind;
use crate::poly::Poly;
use crate::ratio::Ratio;
use crate::system::Symbols;

/// A response with parts that are multiples of each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Special {
    /// Values that are equal, a row a kind: `R1`, `R2`, `2·R3`.
    pub equal: Vec<Vec<Expr>>,
    /// The response in the first of each row.
    pub expr: Expr,
}

/// Multiples up to this, and parts of them, are simple.
const SIMPLE: i64 = 4;
/// Two values are multiples of each other within this share.
const CLOSE: f64 = 1e-9;
/// A response with so many terms or more is worth telling again with equal parts.
const LONG: usize = 5;

/// A fraction, its lower half above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Fraction(i128, i128);

impl Fraction {
    fn new(a: i128, b: i128) -> Option<Fraction> {
        let (mut x, mut y) = (a.checked_abs()?, b.checked_abs()?);
        while y != 0 {
            (x, y) = (y, x % y);
        }
        let sign = if b < 0 { -1 } else { 1 };
        (b != 0).then(|| Fraction(sign * a / x.max(1), sign * b / x.max(1)))
    }
    fn times(self, o: Fraction) -> Option<Fraction> {
        Fraction::new(self.0.checked_mul(o.0)?, self.1.checked_mul(o.1)?)
    }
    fn over(self, o: Fraction) -> Option<Fraction> {
        Fraction::new(self.0.checked_mul(o.1)?, self.1.checked_mul(o.0)?)
    }
    fn plus(self, o: Fraction) -> Option<Fraction> {
        Fraction::new(self.0.checked_mul(o.1)?.checked_add(o.0.checked_mul(self.1)?)?, self.1.checked_mul(o.1)?)
    }
    fn less(self, o: Fraction) -> Option<Fraction> {
        self.plus(Fraction(-o.0, o.1))
    }
    fn expr(self) -> Option<Expr> {
        let whole = |n: i128| i64::try_from(n).ok().map(Expr::Integer);
        Some(Expr::over(whole(self.0)?, whole(self.1)?))
    }
}

/// The response with parts that are simple multiples of each other, where it becomes simpler by that.
pub fn special(ratio: &Ratio, symbols: &Symbols, value: &dyn Fn(&str) -> Option<f64>) -> Option<Special> {
    let all: Vec<usize> = (0..64).filter(|b| ratio.symbols() >> b & 1 == 1).collect();
    let of = |kind: Kind| {
        all.iter().copied().filter(move |b| symbols.lump(*b).is_some_and(|l| l.kind == kind)).collect::<Vec<_>>()
    };
    let (resistors, capacitors) = (of(Kind::R), of(Kind::C));
    if resistors.len() + capacitors.len() != all.len() || resistors.is_empty() || capacitors.is_empty() || all.len() < 3
    {
        return None;
    }
    let mut share = vec![Fraction(1, 1); 64];
    let mut equal = Vec::new();
    let mut base = Vec::new();
    for mut row in [resistors, capacitors] {
        let size = |b: usize| symbols.lump(b)?.value.value(&value, Complex64::default()).map(|z| z.re);
        let number = |b: usize| symbols.lump(b).and_then(|l| l.value.parts().first().map(|p| (p.len(), p.to_string())));
        row.sort_by_key(|b| number(*b));
        // The value that most of them have is the measure of the others.
        let alike = |b: usize| {
            row.iter().filter(|o| size(**o).zip(size(b)).is_some_and(|(x, y)| (x / y - 1.0).abs() <= CLOSE)).count()
        };
        let at = (0..row.len()).max_by_key(|i| (alike(row[*i]), std::cmp::Reverse(*i)))?;
        let measure = row.remove(at);
        row.insert(0, measure);
        let first = size(row[0])?;
        let mut told = Vec::new();
        for b in &row {
            let times = size(*b)? / first;
            let close = |p: &i64, q: &i64| (times * *q as f64 / *p as f64 - 1.0).abs() <= CLOSE;
            let (p, q) = (1..=SIMPLE).flat_map(|p| (1..=SIMPLE).map(move |q| (p, q))).find(|(p, q)| close(p, q))?;
            share[*b] = Fraction::new(p.into(), q.into())?;
            // The first is so many times this one.
            let back = Expr::product(vec![Expr::Integer(q), symbols.lump(*b)?.value.clone()]);
            told.push(Expr::over(back, Expr::Integer(p)));
        }
        base.push(symbols.lump(row[0])?.value.clone());
        equal.push(told);
    }
    equal.retain(|row| row.len() > 1);
    let (above, below) = ratio.whole().ok()?;
    let (top, first) = collapsed(&above, symbols, &share)?;
    let (bottom, second) = collapsed(&below, symbols, &share)?;
    if first != second {
        return None;
    }
    let common = greatest(top.clone(), bottom.clone())?;
    if common.len() < 2 && above.0.len() + below.0.len() < LONG {
        return None;
    }
    let (mut top, mut bottom) = (divided(&top, &common)?.0, divided(&bottom, &common)?.0);
    let unit = *bottom.iter().find(|f| f.0 != 0)?;
    for f in top.iter_mut().chain(&mut bottom) {
        *f = f.over(unit)?;
    }
    let write = |list: &[Fraction]| -> Option<Expr> {
        let mut terms = Vec::new();
        for (k, f) in list.iter().enumerate().filter(|(_, f)| f.0 != 0) {
            let k = k as u32;
            let size = Fraction(f.0.checked_abs()?, f.1).expr()?;
            let power = [Expr::S.power(k), base[0].clone().power(k), base[1].clone().power(k)];
            terms.push((f.0 < 0, Expr::product([vec![size], power.to_vec()].concat())));
        }
        Some(Expr::sum(terms))
    };
    let expr = Expr::over(write(&top)?, write(&bottom)?);
    Some(Special { equal, expr })
}

/// By powers of s the factors of a polynomial, its symbols so many times the first of their kind; and how many resistances stand in a
/// monomial beside those that go with a capacitance. `None` where that differs.
fn collapsed(poly: &Poly, symbols: &Symbols, share: &[Fraction]) -> Option<(Vec<Fraction>, i64)> {
    let reactive = symbols.reactive();
    let mut found: Vec<Fraction> = Vec::new();
    let mut beside = None;
    for (set, factor) in &poly.0 {
        let order = (set & reactive).count_ones() as usize;
        let own = i64::from((set & !reactive).count_ones()) - order as i64;
        if *beside.get_or_insert(own) != own {
            return None;
        }
        let mut product = Fraction::new((*factor).into(), 1)?;
        for b in (0..64).filter(|b| set >> b & 1 == 1) {
            product = product.times(share[b])?;
        }
        found.resize(found.len().max(order + 1), Fraction(0, 1));
        found[order] = found[order].plus(product)?;
    }
    trimmed(&mut found);
    Some((found, beside?))
}

fn trimmed(list: &mut Vec<Fraction>) {
    while list.last().is_some_and(|f| f.0 == 0) {
        list.pop();
    }
}

/// Long division of polynomials: what comes out, and what is left.
fn divided(a: &[Fraction], b: &[Fraction]) -> Option<(Vec<Fraction>, Vec<Fraction>)> {
    let mut rest = a.to_vec();
    let mut whole = vec![Fraction(0, 1); (a.len() + 1).saturating_sub(b.len())];
    let lead = *b.last()?;
    while rest.len() >= b.len() {
        let at = rest.len() - b.len();
        let share = rest.last()?.over(lead)?;
        whole[at] = share;
        for (k, f) in b.iter().enumerate() {
            rest[at + k] = rest[at + k].less(share.times(*f)?)?;
        }
        rest.pop();
        trimmed(&mut rest);
    }
    Some((whole, rest))
}

/// The greatest polynomial that divides both.
fn greatest(mut a: Vec<Fraction>, mut b: Vec<Fraction>) -> Option<Vec<Fraction>> {
    while !b.is_empty() {
        let rest = divided(&a, &b)?.1;
        (a, b) = (b, rest);
    }
    let lead = *a.last()?;
    a.into_iter().map(|f| f.over(lead)).collect()
}
