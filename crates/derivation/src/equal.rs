//! A ratio of resistances told again where some of them are equal: `(1 + 2·R3/R5)·(R7/R6)` in place of a sum of products over a sum.

use std::collections::BTreeMap;

use crate::expr::Expr;
use crate::immittance::Kind;
use crate::poly::Poly;
use crate::ratio::Ratio;
use crate::system::Symbols;

/// A ratio with equal parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Equal {
    /// Values that are equal, a row each: `R1`, `R2`.
    pub equal: Vec<Vec<Expr>>,
    /// Whether the two are opposite by these alone.
    pub balanced: bool,
    /// The ratio in the first of each row.
    pub expr: Expr,
}

/// Two values are equal within this share.
const CLOSE: f64 = 1e-9;

/// How often each symbol stands in a product.
type Monomial = BTreeMap<usize, u32>;
/// A polynomial in which symbols may stand several times.
type Terms = BTreeMap<Monomial, i128>;

/// The first of two ratios that are opposite, in as few values as there are; with the values that must be equal for that, and for the two to
/// be opposite. `None` where it has no shorter form by that.
pub fn equal(ratio: &Ratio, other: &Ratio, symbols: &Symbols, value: &dyn Fn(&str) -> Option<f64>) -> Option<Equal> {
    let both = ratio.symbols() | other.symbols();
    let all: Vec<usize> = (0..64).filter(|b| both >> b & 1 == 1).collect();
    if all.iter().any(|b| symbols.lump(*b).is_none_or(|l| l.kind != Kind::R)) {
        return None;
    }
    let size = |b: usize| symbols.lump(b)?.value.value(&value, Default::default()).map(|z| z.re);
    let number = |b: usize| symbols.lump(b).and_then(|l| l.value.parts().first().map(|p| (p.len(), p.to_string())));
    let own = |b: usize| ratio.symbols() >> b & 1 == 1;
    let mut sorted = all.clone();
    // What does not stand in the ratio itself stands for nothing in it.
    sorted.sort_by_key(|b| (!own(*b), number(*b)));
    // Each stands for those that are equal to it and come behind it.
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for b in sorted {
        let own = size(b)?;
        let alike = |row: &&mut Vec<usize>| size(row[0]).is_some_and(|x| (x / own - 1.0).abs() <= CLOSE);
        match rows.iter_mut().find(alike) {
            Some(row) => row.push(b),
            None => rows.push(vec![b]),
        }
    }
    let apart = sum(ratio, other, symbols)?;
    let balanced = |rows: &[Vec<usize>]| collapsed(&apart, rows).is_some_and(|t| t.is_empty());
    let alone = balanced(&rows);
    // What the balance would ask for and does not is no condition; where equal values do not make the balance, none of them is for its sake.
    for b in all.into_iter().filter(|b| !own(*b)) {
        let mut without = rows.clone();
        without.iter_mut().for_each(|row| row.retain(|o| *o != b));
        without.retain(|row| !row.is_empty());
        if !alone || balanced(&without) {
            rows = without;
        }
    }
    if rows.iter().all(|row| row.len() < 2) {
        return None;
    }
    let terms = |poly: &Poly| collapsed(&widened(poly), &rows);
    let mut above = Terms::from([(Monomial::new(), i128::from(ratio.number))]);
    for factor in &ratio.above {
        above = times(&above, &terms(factor)?)?;
    }
    let (mut divisor, mut below) = (i128::from(ratio.divisor), Monomial::new());
    for factor in &ratio.below {
        let factor = terms(factor)?;
        match factor.iter().next() {
            Some((monomial, number)) if factor.len() == 1 => {
                monomial.iter().for_each(|(b, n)| *below.entry(*b).or_insert(0) += n);
                divisor = divisor.checked_mul(*number)?;
            }
            _ => above = divided(&above, &factor)?,
        }
    }
    let rows_told = || {
        let told = |row: &Vec<usize>| {
            let mut row = row.clone();
            row.sort_by_key(|b| number(*b));
            row.iter().map(|b| symbols.lump(*b).map(|l| l.value.clone())).collect()
        };
        let mut all = rows.iter().filter(|row| row.len() > 1).map(told).collect::<Option<Vec<Vec<Expr>>>>()?;
        all.sort_by_key(|row| row[0].parts().first().map(|p| (p.len(), p.to_string())));
        Some(all)
    };
    Some(Equal { equal: rows_told()?, balanced: alone, expr: written(above, divisor, below, symbols)? })
}

/// What must be equal for two ratios to be opposite, as products: `R1·R4 = R2·R3`, a pair for each power of s; nothing where they are so
/// whatever the values are. `None` where that is told by longer sums.
pub fn balance(ratio: &Ratio, other: &Ratio, symbols: &Symbols) -> Option<Vec<Vec<Expr>>> {
    let apart = sum(ratio, other, symbols)?;
    let reactive = symbols.reactive();
    let mut by_order: BTreeMap<u32, Terms> = BTreeMap::new();
    for (monomial, factor) in &apart {
        let order = monomial.iter().filter(|(b, _)| reactive >> **b & 1 == 1).map(|(_, n)| n).sum();
        put(by_order.entry(order).or_default(), monomial.clone(), *factor)?;
    }
    let mut found: Vec<Vec<Expr>> = Vec::new();
    for terms in by_order.into_values() {
        let [(a, p), (b, q)]: [(&Monomial, &i128); 2] = terms.iter().collect::<Vec<_>>().try_into().ok()?;
        if *p + *q != 0 {
            return None;
        }
        let common: Monomial = a.iter().filter_map(|(k, n)| Some((*k, (*n).min(*b.get(k)?)))).collect();
        let side = |m: &Monomial| -> Option<Expr> {
            let left = over(m, &common)?;
            let each = left.iter().map(|(k, n)| Some(symbols.lump(*k)?.value.clone().power(*n)));
            let mut each = each.collect::<Option<Vec<Expr>>>()?;
            each.sort_by_key(|e| e.parts().first().map(|p| (p.len(), p.to_string())));
            Some(Expr::product(each))
        };
        let mut sides = vec![side(a)?, side(b)?];
        sides.sort_by_key(|e| e.parts().first().map(|p| (p.len(), p.to_string())));
        if !found.contains(&sides) {
            found.push(sides);
        }
    }
    Some(found)
}

/// What stands above the line of the sum of two ratios, without what all of it has.
fn sum(a: &Ratio, b: &Ratio, symbols: &Symbols) -> Option<Terms> {
    let all = (a.symbols() | b.symbols()) & symbols.mixed();
    if all != 0 {
        return None;
    }
    let whole = |number: i64, list: &[Poly]| {
        let one = Terms::from([(Monomial::new(), i128::from(number))]);
        list.iter().try_fold(one, |all, poly| times(&all, &widened(poly)))
    };
    let (mut left, mut right) = (Vec::new(), b.below.clone());
    for factor in &a.below {
        // What both have below stands below the sum once.
        match right.iter().position(|f| f == factor) {
            Some(i) => drop(right.remove(i)),
            None => left.push(factor.clone()),
        }
    }
    let first = whole(a.number.checked_mul(b.divisor)?, &[&a.above[..], &right].concat())?;
    let mut found = whole(b.number.checked_mul(a.divisor)?, &[&b.above[..], &left].concat())?;
    for (monomial, factor) in first {
        put(&mut found, monomial, factor)?;
    }
    // Nor do factors that it shares with what stands below have a say in whether it is 0.
    for factor in left.iter().chain(&b.below) {
        if let Some(shorter) = (!found.is_empty()).then(|| divided(&found, &widened(factor))).flatten() {
            found = shorter;
        }
    }
    let shared = found.values().fold(0i128, |a, b| {
        let (mut a, mut b) = (a.abs(), b.abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        a
    });
    found.values_mut().for_each(|f| *f /= shared.max(1));
    Some(found)
}

/// A polynomial whose symbols may come to stand several times.
fn widened(poly: &Poly) -> Terms {
    let each = poly.0.iter().map(|(set, factor)| {
        let monomial = (0..64).filter(|b| set >> b & 1 == 1).map(|b| (b, 1)).collect();
        (monomial, i128::from(*factor))
    });
    each.collect()
}

/// With the first of each row in the others' place.
fn collapsed(terms: &Terms, rows: &[Vec<usize>]) -> Option<Terms> {
    let first = |b: usize| rows.iter().find(|row| row.contains(&b)).map_or(b, |row| row[0]);
    let mut found = Terms::new();
    for (own, factor) in terms {
        let mut monomial = Monomial::new();
        own.iter().for_each(|(b, n)| *monomial.entry(first(*b)).or_insert(0) += n);
        put(&mut found, monomial, *factor)?;
    }
    Some(found)
}

fn put(terms: &mut Terms, monomial: Monomial, factor: i128) -> Option<()> {
    let own = terms.entry(monomial.clone()).or_insert(0);
    *own = own.checked_add(factor)?;
    if *own == 0 {
        terms.remove(&monomial);
    }
    Some(())
}

fn product(a: &Monomial, b: &Monomial) -> Monomial {
    let mut both = a.clone();
    b.iter().for_each(|(k, n)| *both.entry(*k).or_insert(0) += n);
    both
}

/// One monomial over another, where it divides it.
fn over(a: &Monomial, b: &Monomial) -> Option<Monomial> {
    let mut left = a.clone();
    for (k, n) in b {
        let own = left.get_mut(k)?;
        *own = own.checked_sub(*n)?;
    }
    left.retain(|_, n| *n > 0);
    Some(left)
}

fn times(a: &Terms, b: &Terms) -> Option<Terms> {
    let mut found = Terms::new();
    for (x, p) in a {
        for (y, q) in b {
            put(&mut found, product(x, y), p.checked_mul(*q)?)?;
        }
    }
    Some(found)
}

/// Exact division; `None` where something is left.
fn divided(a: &Terms, b: &Terms) -> Option<Terms> {
    // By the greatest power of the first symbol, then of the next: an order that products keep.
    let lead = |t: &Terms| {
        let bits: Vec<usize> = a.keys().chain(b.keys()).flat_map(|m| m.keys().copied()).collect();
        let key = |m: &Monomial| {
            let mut bits = bits.clone();
            bits.sort_unstable();
            bits.dedup();
            bits.into_iter().map(|k| m.get(&k).copied().unwrap_or(0)).collect::<Vec<u32>>()
        };
        t.iter().max_by_key(|(m, _)| key(m)).map(|(m, f)| (m.clone(), *f))
    };
    let (head, size) = lead(b)?;
    let (mut rest, mut found) = (a.clone(), Terms::new());
    while let Some((monomial, factor)) = lead(&rest) {
        let share = over(&monomial, &head)?;
        if factor % size != 0 {
            return None;
        }
        put(&mut found, share.clone(), factor / size)?;
        for (m, f) in b {
            put(&mut rest, product(m, &share), (factor / size).checked_mul(*f)?.checked_neg()?)?;
        }
    }
    Some(found)
}

/// A sum over a product, what is common told once and `1 + …` where a term divides what stands below.
fn written(mut above: Terms, mut divisor: i128, mut below: Monomial, symbols: &Symbols) -> Option<Expr> {
    let gcd = |a: i128, b: i128| {
        let (mut a, mut b) = (a.abs(), b.abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        a.max(1)
    };
    // What all terms have.
    let mut common = above.keys().next()?.clone();
    for monomial in above.keys() {
        common.retain(|k, n| {
            *n = (*n).min(monomial.get(k).copied().unwrap_or(0));
            *n > 0
        });
    }
    let mut number = above.values().fold(0, |a, b| gcd(a, *b));
    if above.values().all(|f| *f < 0) != (divisor < 0) {
        number = -number;
    }
    divisor = divisor.abs();
    above = above.iter().map(|(m, f)| Some((over(m, &common)?, f / number))).collect::<Option<_>>()?;
    // Above and below alike.
    for (k, n) in common.iter_mut() {
        let other = below.entry(*k).or_insert(0);
        let both = (*n).min(*other);
        (*n, *other) = (*n - both, *other - both);
    }
    common.retain(|_, n| *n > 0);
    below.retain(|_, n| *n > 0);
    let shared = gcd(number, divisor);
    (number, divisor) = (number / shared, divisor / shared);
    let value = |k: usize| symbols.lump(k).map(|l| l.value.clone());
    let factors = |m: &Monomial| m.iter().map(|(k, n)| Some(value(*k)?.power(*n))).collect::<Option<Vec<Expr>>>();
    let whole = |n: i128| i64::try_from(n).ok().map(Expr::Integer);
    let quotient = |n: i128, m: &Monomial, d: i128, b: &Monomial| -> Option<Expr> {
        let above = Expr::product([vec![whole(n)?], factors(m)?].concat());
        let below = Expr::product([vec![whole(d)?], factors(b)?].concat());
        Some(Expr::over(above, below))
    };
    if above.len() == 1 {
        return Some(quotient(number.abs(), &common, divisor, &below)?.signed(number < 0));
    }
    // A term that divides what stands below makes a 1 of itself.
    let unit = above.iter().find(|(m, f)| !m.is_empty() && **f > 0 && over(&below, m).is_some());
    let unit = unit.map(|(m, f)| (m.clone(), *f));
    let sum = match &unit {
        Some((m, f)) => {
            let mut terms = vec![(false, Expr::ONE)];
            for (other, factor) in above.iter().filter(|(other, _)| *other != m) {
                let shared = gcd(*factor, *f);
                // What both have is told once.
                let (mut top, mut foot) = (other.clone(), m.clone());
                for (k, n) in top.iter_mut() {
                    let twin = foot.entry(*k).or_insert(0);
                    let both = (*n).min(*twin);
                    (*n, *twin) = (*n - both, *twin - both);
                }
                top.retain(|_, n| *n > 0);
                foot.retain(|_, n| *n > 0);
                terms.push((*factor < 0, quotient(factor.abs() / shared, &top, f / shared, &foot)?));
            }
            below = over(&below, m)?;
            number = number.checked_mul(*f)?;
            Expr::sum(terms)
        }
        None => {
            let each = above.iter().map(|(m, f)| Some((*f < 0, quotient(f.abs(), m, 1, &Monomial::new())?)));
            Expr::sum(each.collect::<Option<Vec<_>>>()?)
        }
    };
    let front = quotient(number.abs(), &common, divisor, &below)?;
    Some(Expr::product(vec![sum, front]).signed(number < 0))
}
