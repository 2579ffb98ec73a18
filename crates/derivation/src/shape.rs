//! Quotients in the form in which they are recognised: `1 + (R2 + VR1)/R3`, `−R5/R4`, `1/(1 + s·R·C)`, a corner, a Q.

use crate::expr::{Expr, unsigned};
use crate::poly::{Past, Poly};
use crate::ratio::Ratio;
use crate::system::Symbols;
use crate::written::{by_order, halves, quotient};

/// A factor `1 + s·a + s²·b …` of a response.
#[derive(Clone, Debug, PartialEq)]
pub struct Lag {
    /// The quotients behind s, s², …; one that is 0 is missing.
    pub shares: Vec<Option<Ratio>>,
}

/// A response in standard form: `constant · s^order · Π above / Π below`.
#[derive(Clone, Debug, PartialEq)]
pub struct Standard {
    /// Without an s in it.
    pub constant: Ratio,
    /// Powers of s; below 0 they divide.
    pub order: i32,
    /// Factors above the line.
    pub above: Vec<Lag>,
    /// Factors below.
    pub below: Vec<Lag>,
}

impl Standard {
    /// Of a quotient without mixed symbols.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn of(ratio: &Ratio, symbols: &Symbols) -> Result<Standard, Past> {
        let reactive = symbols.reactive();
        let (mut top, mut bottom) = (Vec::new(), Vec::new());
        let mut order = 0;
        let mut lags = [Vec::new(), Vec::new()];
        for (side, list) in [&ratio.above, &ratio.below].into_iter().enumerate() {
            for factor in list {
                let parts = by_order(factor, reactive);
                let Some(lowest) = parts.iter().position(|p| !p.is_nothing()) else { continue };
                order += if side == 0 { lowest as i32 } else { -(lowest as i32) };
                let (constant, rest) = (&parts[lowest], &parts[lowest + 1..]);
                if side == 0 {
                    top.push(constant.clone())
                } else {
                    bottom.push(constant.clone())
                }
                if rest.is_empty() {
                    continue;
                }
                let share = |p: &Poly| if p.is_nothing() { None } else { Ratio::new(p, constant) };
                lags[side].push(Lag { shares: rest.iter().map(share).collect() });
            }
        }
        let all = |number: i64, list: &[Poly]| list.iter().try_fold(Poly::number(number), |all, one| all.times(one));
        // Constants of factors may share symbols with none of the other side's: what is alike is taken away factor by factor.
        let mut constant = Ratio::new(&all(ratio.number, &top)?, &all(ratio.divisor, &bottom)?).ok_or(Past)?;
        constant.divisor = constant.divisor.max(1);
        let [mut above, mut below] = lags;
        // Of two that are alike neither says anything.
        above.retain(|lag| match below.iter().position(|b| b == lag) {
            Some(i) => {
                below.remove(i);
                false
            }
            None => true,
        });
        Ok(Standard { constant, order, above, below })
    }

    /// What it comes to far above all corners, where it comes to rest there.
    pub fn far_above(&self) -> Option<Ratio> {
        let degree = |lags: &[Lag]| lags.iter().map(|l| l.shares.len() as i32).sum::<i32>();
        if self.order + degree(&self.above) - degree(&self.below) != 0 {
            return None;
        }
        let mut whole = self.constant.clone();
        for lag in &self.above {
            whole = whole.times(lag.shares.last()?.as_ref()?)?;
        }
        for lag in &self.below {
            whole = whole.times(&lag.shares.last()?.as_ref()?.inverse()?)?;
        }
        Some(whole)
    }

    /// What a band-pass of second order comes to at its centre, where its phase is that of the constant.
    pub fn at_centre(&self) -> Option<Ratio> {
        let [lag] = &self.below[..] else { return None };
        match &lag.shares[..] {
            [Some(first), Some(_)] if self.order == 1 && self.above.is_empty() => {
                self.constant.times(&first.inverse()?)
            }
            _ => None,
        }
    }

    /// As it is written.
    pub fn expr(&self, symbols: &Symbols) -> Expr {
        let minus = self.constant.number < 0;
        let constant = Ratio { number: self.constant.number.abs(), ..self.constant.clone() };
        let list = |lags: &[Lag]| lags.iter().map(|l| l.expr(symbols)).collect::<Vec<_>>();
        let (mut top, mut bottom) = (list(&self.above), list(&self.below));
        let power = Expr::S.power(self.order.unsigned_abs());
        let plain = quotient(&constant, symbols);
        if self.order == 0 {
            let response = Expr::over(Expr::product(top), Expr::product(bottom));
            let whole = if constant.is_number(1) {
                response
            } else if response == Expr::ONE {
                plain
            } else if let (Expr::Part(_), Expr::Quotient(one, below)) = (&plain, &response)
                && **one == Expr::ONE
            {
                Expr::over(plain, (**below).clone())
            } else {
                Expr::product(vec![plain, response])
            };
            return whole.signed(minus);
        }
        // With powers of s the constant's own symbols belong to them: `s·R·C`.
        let (above, below) = halves(&constant, symbols);
        if self.order > 0 {
            top.insert(0, Expr::product(vec![power, above]));
            bottom.insert(0, below);
        } else {
            top.insert(0, above);
            bottom.insert(0, Expr::product(vec![power, below]));
        }
        Expr::over(Expr::product(top), Expr::product(bottom)).signed(minus)
    }
}

impl Lag {
    /// As it is written.
    pub fn expr(&self, symbols: &Symbols) -> Expr {
        let mut terms = vec![(false, Expr::ONE)];
        for (k, share) in self.shares.iter().enumerate() {
            let Some(share) = share else { continue };
            let (minus, size) = unsigned(quotient(share, symbols));
            let power = Expr::S.power(k as u32 + 1);
            terms.push((
                minus,
                match size {
                    Expr::Quotient(above, below) => Expr::over(Expr::product(vec![power, *above]), *below),
                    size => Expr::product(vec![power, size]),
                },
            ));
        }
        Expr::sum(terms)
    }

    /// The time constant of a first-order factor: its magnitude.
    pub fn time(&self, symbols: &Symbols) -> Option<Expr> {
        match &self.shares[..] {
            [Some(share)] => Some(quotient(&Ratio { number: share.number.abs(), ..share.clone() }, symbols)),
            _ => None,
        }
    }
}
