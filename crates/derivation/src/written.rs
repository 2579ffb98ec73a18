//! Quotients of polynomials as a person writes them down: `1 + A/B`, `x || y`, `R2 + R3 + R2·R3/R1`, by rising powers of s.

use crate::expr::{Expr, unsigned};
use crate::immittance::Kind;
use crate::poly::{Poly, factors};
use crate::ratio::Ratio;
use crate::system::Symbols;

/// A polynomial by its powers of s, without the s.
pub fn by_order(poly: &Poly, reactive: u64) -> Vec<Poly> {
    let mut found: Vec<Poly> = Vec::new();
    for (set, factor) in &poly.0 {
        let order = (set & reactive).count_ones() as usize;
        found.resize(found.len().max(order + 1), Poly::default());
        found[order].0.insert(*set, *factor);
    }
    found
}

/// A quotient without powers of s, as it is written; of a reactive symbol the value alone.
pub fn quotient(ratio: &Ratio, symbols: &Symbols) -> Expr {
    Writer { symbols, s: false }.whole(ratio)
}

/// A quotient as it is written with its symbols' impedances, capacitors as `s·C`.
pub fn with_s(ratio: &Ratio, symbols: &Symbols) -> Expr {
    Writer { symbols, s: true }.whole(ratio)
}

/// What stands above and below the line of a quotient without powers of s.
pub(crate) fn halves(ratio: &Ratio, symbols: &Symbols) -> (Expr, Expr) {
    Writer { symbols, s: false }.halves(ratio)
}

/// Writes polynomials down, reactive symbols with their s or without.
struct Writer<'a> {
    symbols: &'a Symbols,
    s: bool,
}

impl Writer<'_> {
    /// With its sign; what can be told as `1 + A/B` or `A + B/C` is.
    fn whole(&self, ratio: &Ratio) -> Expr {
        let mut ratio = self.turned(ratio);
        let minus = ratio.number < 0;
        ratio.number = ratio.number.abs();
        if let Some(whole) = self.one_more(&ratio) {
            return whole.signed(minus);
        }
        let mut front = Vec::new();
        while let Some((a, gone, told)) = self.one_and_more(&ratio) {
            ratio.above.remove(a);
            ratio.below.retain(|p| !is_symbol(p) || p.symbols() & gone == 0);
            front.push(told);
        }
        while let Some((a, b, told)) = self.told_apart(&ratio) {
            ratio.above.remove(a);
            ratio.below.remove(b);
            front.push(told);
        }
        let (above, below) = self.halves(&ratio);
        if below == Expr::ONE {
            return Expr::product(vec![above, Expr::product(front)]).signed(minus);
        }
        if above == Expr::ONE && ratio.below.iter().all(is_symbol) && front.len() == 1 {
            return Expr::over(front.remove(0), below).signed(minus);
        }
        front.push(Expr::over(above, below));
        Expr::product(front).signed(minus)
    }

    /// Its factors with signs such that the first term that is written is positive.
    fn turned(&self, ratio: &Ratio) -> Ratio {
        let mut ratio = ratio.clone();
        for factor in ratio.above.iter_mut().chain(&mut ratio.below) {
            let parts = by_order(factor, self.symbols.reactive());
            let first = parts.iter().find(|p| !p.is_nothing()).and_then(|p| self.sorted(p).first().map(|t| t.1));
            let positive = factor.0.values().filter(|f| **f > 0).count();
            // In a sum by powers of s the lowest leads; else what there is more of.
            let several = parts.iter().filter(|p| !p.is_nothing()).count() > 1;
            if if several { first.is_some_and(|f| f < 0) } else { 2 * positive < factor.0.len() } {
                factor.0.values_mut().for_each(|f| *f = -*f);
                ratio.number = -ratio.number;
            }
        }
        ratio
    }

    /// `1 + A/B` for `(A + B)/B`.
    fn one_more(&self, ratio: &Ratio) -> Option<Expr> {
        let (above, below) = ratio.whole().ok()?;
        let rest = beyond_one(&above, &below)?;
        let rest = Ratio::new(&rest, &below)?;
        Some(Expr::sum(vec![(false, Expr::ONE), (false, self.whole(&rest))]))
    }

    /// A factor above that with symbols below is `1 + R3/R2 + R3/R1`: its place, and the symbols that it takes with it.
    fn one_and_more(&self, ratio: &Ratio) -> Option<(usize, u64, Expr)> {
        let single: u64 = ratio.below.iter().filter(|p| is_symbol(p)).fold(0, |all, p| all | p.symbols());
        for (a, above) in ratio.above.iter().enumerate().filter(|(_, p)| (2..=4).contains(&p.0.len())) {
            if above.0.values().any(|f| *f != 1) {
                continue;
            }
            let Some(one) = above.0.keys().copied().find(|set| *set != 0 && set & !single == 0) else { continue };
            let mut terms = vec![(false, Expr::ONE)];
            for (set, _) in self.sorted(above).into_iter().filter(|t| t.0 != one) {
                terms.push((false, self.whole(&Ratio::new(&Poly::monomial(set, 1), &Poly::monomial(one, 1))?)));
            }
            return Some((a, one, Expr::sum(terms)));
        }
        None
    }

    /// A factor above and one below that are better told together: `1 + R14/R12`, `R2 + R3 + R2·R3/R1`, `R3 + (R1 || R2)`.
    fn told_apart(&self, ratio: &Ratio) -> Option<(usize, usize, Expr)> {
        for (a, above) in ratio.above.iter().enumerate().filter(|(_, p)| p.0.len() > 1) {
            for (b, below) in ratio.below.iter().enumerate() {
                if let Some(rest) = beyond_one(above, below) {
                    let rest = Ratio::new(&rest, below)?;
                    return Some((a, b, Expr::sum(vec![(false, Expr::ONE), (false, self.whole(&rest))])));
                }
                let (whole, rest) = divided(above, below)?;
                // What is taken away is told apart only where nothing else is left below.
                let mixed = above.0.values().any(|f| *f < 0);
                if whole.is_nothing() || rest.is_nothing() || (mixed && ratio.below.len() > 1) {
                    continue;
                }
                let mut terms = Vec::new();
                for sign in [1, -1] {
                    let of = rest.0.iter().filter(|(_, f)| f.signum() == sign);
                    let part = Poly(of.map(|(s, f)| (*s, f.abs())).collect());
                    if !part.is_nothing() {
                        terms.push((sign < 0, self.whole(&Ratio::new(&part, below)?)));
                    }
                }
                let (minus, first) = unsigned(self.poly(&whole));
                terms.insert(0, (minus, first));
                terms.sort_by_key(|t| t.0);
                return Some((a, b, Expr::sum(terms)));
            }
        }
        None
    }

    /// Monomials in the order in which they are written: those taken away last.
    fn sorted(&self, poly: &Poly) -> Vec<(u64, i64)> {
        let mut all: Vec<(u64, i64)> = poly.0.iter().map(|(set, factor)| (*set, *factor)).collect();
        all.sort_by_key(|(set, factor)| (*factor < 0, std::cmp::Reverse(set.reverse_bits())));
        all
    }

    /// What stands above and below the line, `x·y/(x + y)` as `x || y` above it. The sign is left out.
    fn halves(&self, ratio: &Ratio) -> (Expr, Expr) {
        let mut above = ratio.above.clone();
        let mut below = ratio.below.clone();
        let mut side_by_side = Vec::new();
        let single: u64 = above.iter().filter(|p| is_symbol(p)).fold(0, |all, p| all | p.symbols());
        let single_below: u64 = below.iter().filter(|p| is_symbol(p)).fold(0, |all, p| all | p.symbols());
        let mut free = single;
        below.retain(|factor| {
            let all = factor.symbols();
            let beside = parallel(factor) && all & free == all && self.impedances(all);
            if beside {
                free &= !all;
                side_by_side.push((false, all));
            }
            !beside
        });
        above.retain(|p| !is_symbol(p) || p.symbols() & (single & !free) == 0);
        // Above, the same upside down.
        let mut free_below = single_below;
        let mut upside_down = Vec::new();
        above.retain(|factor| {
            let all = factor.symbols();
            let beside = parallel(factor) && all & free_below == all && self.impedances(all);
            if beside {
                free_below &= !all;
                upside_down.push(all);
            }
            !beside
        });
        below.retain(|p| !is_symbol(p) || p.symbols() & (single_below & !free_below) == 0);
        let pairs = |set: u64| Expr::Parallel((0..64).filter(|b| set >> b & 1 == 1).map(|b| self.symbol(b)).collect());
        let half = |number: i64, list: &[Poly], more: Vec<Expr>| {
            let mut symbols: Vec<usize> = Vec::new();
            let mut sums: Vec<Expr> = Vec::new();
            for poly in list {
                match poly.0.iter().next() {
                    Some((set, 1)) if is_symbol(poly) => symbols.push(set.trailing_zeros() as usize),
                    _ => sums.push(self.poly(poly)),
                }
            }
            let number = if number == 1 { Vec::new() } else { vec![Expr::Integer(number)] };
            Expr::product([number, self.ordered(symbols), more, sums].concat())
        };
        let top = half(ratio.number.abs(), &above, side_by_side.into_iter().map(|(_, s)| pairs(s)).collect());
        (top, half(ratio.divisor, &below, upside_down.into_iter().map(pairs).collect()))
    }

    fn impedances(&self, set: u64) -> bool {
        (0..64usize).filter(|b| set >> b & 1 == 1).all(|b| self.symbols.lump(b).is_some_and(|l| l.kind == Kind::R))
    }

    fn symbol(&self, bit: usize) -> Expr {
        match self.symbols.lump(bit) {
            Some(lump) if !self.s => lump.value.clone(),
            _ => self.symbols.factor(bit),
        }
    }

    /// The number of a symbol's first part, by which its factors are ordered.
    fn number(&self, bit: usize) -> Option<u32> {
        let lump = self.symbols.lump(bit)?;
        let digits = |name: &str| name.chars().filter(char::is_ascii_digit).collect::<String>().parse().ok();
        lump.value.parts().first().and_then(|name| digits(name))
    }

    /// Symbols in a row: s in front, then resistances, inductances, capacitances.
    fn ordered(&self, mut bits: Vec<usize>) -> Vec<Expr> {
        bits.sort_by_key(|b| (self.symbols.lump(*b).map(|l| l.kind), self.number(*b), *b));
        if !self.s {
            return bits.into_iter().map(|b| self.symbol(b)).collect();
        }
        let reactive = self.symbols.reactive();
        let order = bits.iter().filter(|b| reactive >> **b & 1 == 1).count() as u32;
        let mut all = if order > 0 { vec![Expr::S.power(order)] } else { Vec::new() };
        all.extend(bits.into_iter().map(|b| match self.symbols.lump(b) {
            Some(lump) => lump.value.clone(),
            None => self.symbols.factor(b),
        }));
        all
    }

    /// A polynomial, by rising powers of s, each power's share in factors.
    fn poly(&self, poly: &Poly) -> Expr {
        let parts = by_order(poly, self.symbols.reactive());
        let mut terms = Vec::new();
        for part in parts.iter().filter(|p| !p.is_nothing()) {
            if part.0.len() == 1 || factors(part).1.len() == 1 {
                let all = self.sorted(part).into_iter();
                terms.extend(all.map(|(set, factor)| (factor < 0, self.monomial(set, factor.abs()))));
                continue;
            }
            let (number, list) = factors(part);
            let mut symbols: Vec<usize> = Vec::new();
            let mut sums = Vec::new();
            for one in &list {
                if is_symbol(one) {
                    symbols.push(one.symbols().trailing_zeros() as usize)
                } else {
                    sums.push(self.poly(one))
                }
            }
            let size = if number.abs() == 1 { Vec::new() } else { vec![Expr::Integer(number.abs())] };
            terms.push((number < 0, Expr::product([size, self.ordered(symbols), sums].concat())));
        }
        Expr::sum(terms)
    }

    fn monomial(&self, set: u64, factor: i64) -> Expr {
        let size = if factor == 1 { Vec::new() } else { vec![Expr::Integer(factor)] };
        let bits = (0..64).filter(|b| set >> b & 1 == 1).collect();
        Expr::product([size, self.ordered(bits)].concat())
    }
}

fn is_symbol(poly: &Poly) -> bool {
    matches!(poly.0.iter().next(), Some((set, 1)) if poly.0.len() == 1 && set.count_ones() == 1)
}

/// Whether a polynomial is the sum of all products of its symbols but one: `x + y`, `x·y + y·z + z·x`.
fn parallel(poly: &Poly) -> bool {
    let (all, count) = (poly.symbols(), poly.symbols().count_ones());
    count >= 2
        && poly.0.len() == count as usize
        && poly.0.iter().all(|(set, f)| *f == 1 && set.count_ones() == count - 1 && all & set == *set)
}

/// `above − below`, where it is shorter than `above` and nothing in it is taken away.
fn beyond_one(above: &Poly, below: &Poly) -> Option<Poly> {
    if above.0.len() < 2 || below.0.len() >= above.0.len() {
        return None;
    }
    let mut rest = above.clone();
    rest.add(below, -1).ok()?;
    (rest.0.len() < above.0.len() && rest.0.values().all(|f| *f > 0)).then_some(rest)
}

/// `above = whole · below + rest`: by a symbol, all that it divides; by a sum, the symbols that stand before the whole of it.
fn divided(above: &Poly, below: &Poly) -> Option<(Poly, Poly)> {
    let mut whole = Poly::default();
    let mut rest = above.clone();
    if is_symbol(below) {
        let set = below.symbols();
        whole.0 = above.0.iter().filter(|(s, _)| *s & set != 0).map(|(s, f)| (s & !set, *f)).collect();
        rest.0.retain(|s, _| s & set == 0);
        return Some((whole, rest));
    }
    for bit in (0..64u32).filter(|b| above.symbols() >> b & 1 == 1 && below.symbols() >> b & 1 == 0) {
        let share =
            Poly(rest.0.iter().filter(|(s, _)| *s >> bit & 1 == 1).map(|(s, f)| (s & !(1 << bit), *f)).collect());
        if share == *below {
            whole.add(&Poly::symbol(bit), 1).ok()?;
            rest.0.retain(|s, _| s >> bit & 1 == 0);
        }
    }
    Some((whole, rest))
}
