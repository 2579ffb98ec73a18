//! Expressions as they stand on paper: a tree that keeps its grouping.

use num_complex::Complex64;

/// An expression.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A whole number.
    Integer(i64),
    /// A part's value: `R2`, `cw(VR1)`.
    Part(String),
    /// The voltage of a node.
    Voltage(String),
    /// The current that a source drives into a node.
    Current(String),
    /// Another symbol of the working: `f0`, `Q`.
    Symbol(&'static str),
    /// The complex frequency.
    S,
    /// Terms; those marked `true` are taken away.
    Sum(Vec<(bool, Expr)>),
    /// Factors.
    Product(Vec<Expr>),
    /// Above and below the line.
    Quotient(Box<Expr>, Box<Expr>),
    /// A whole power.
    Power(Box<Expr>, u32),
    /// A square root.
    Root(Box<Expr>),
    /// In parallel: `a·b/(a + b)`.
    Parallel(Vec<Expr>),
}

impl Expr {
    /// 1
    pub const ONE: Expr = Expr::Integer(1);

    /// A product; what is 1 is left out, and what stands alone stays alone.
    pub fn product(factors: Vec<Expr>) -> Expr {
        let mut flat = Vec::new();
        for factor in factors {
            match factor {
                Expr::Integer(1) => {}
                Expr::Product(inner) => flat.extend(inner),
                other => flat.push(other),
            }
        }
        match flat.len() {
            0 => Expr::ONE,
            1 => flat.remove(0),
            _ => Expr::Product(flat),
        }
    }

    /// A quotient; over 1 the dividend alone.
    pub fn over(above: Expr, below: Expr) -> Expr {
        if below == Expr::ONE { above } else { Expr::Quotient(Box::new(above), Box::new(below)) }
    }

    /// A sum of terms; one without a minus stands alone.
    pub fn sum(mut terms: Vec<(bool, Expr)>) -> Expr {
        match &terms[..] {
            [] => Expr::Integer(0),
            [(false, _)] => terms.remove(0).1,
            _ => {
                // A term that is itself a sum needs no bracket.
                let flat = terms.into_iter().flat_map(|(minus, term)| match term {
                    Expr::Sum(inner) if !minus => inner,
                    other => vec![(minus, other)],
                });
                Expr::Sum(flat.collect())
            }
        }
    }

    /// With a minus in front, if `minus`.
    pub fn signed(self, minus: bool) -> Expr {
        match (minus, self) {
            (false, e) => e,
            (true, Expr::Integer(n)) => Expr::Integer(-n),
            (true, Expr::Sum(terms)) if terms.len() == 1 => Expr::sum(vec![(!terms[0].0, terms[0].1.clone())]),
            (true, e) => Expr::Sum(vec![(true, e)]),
        }
    }

    /// To a whole power.
    pub fn power(self, n: u32) -> Expr {
        match n {
            0 => Expr::ONE,
            1 => self,
            _ => Expr::Power(Box::new(self), n),
        }
    }

    /// Its value, where parts and voltages have values; `None` where one has none.
    pub fn value(&self, part: &dyn Fn(&str) -> Option<f64>, s: Complex64) -> Option<Complex64> {
        let of = |e: &Expr| e.value(part, s);
        Some(match self {
            Expr::Integer(n) => Complex64::new(*n as f64, 0.0),
            Expr::Part(name) => Complex64::new(part(name)?, 0.0),
            Expr::Voltage(_) | Expr::Current(_) => return None,
            Expr::Symbol("π") => Complex64::new(std::f64::consts::PI, 0.0),
            Expr::Symbol(_) => return None,
            Expr::S => s,
            Expr::Sum(terms) => {
                let mut sum = Complex64::default();
                for (minus, term) in terms {
                    sum += if *minus { -of(term)? } else { of(term)? };
                }
                sum
            }
            Expr::Product(factors) => {
                let mut product = Complex64::new(1.0, 0.0);
                for factor in factors {
                    product *= of(factor)?;
                }
                product
            }
            Expr::Quotient(a, b) => of(a)? / of(b)?,
            Expr::Power(a, n) => of(a)?.powu(*n),
            Expr::Root(a) => of(a)?.sqrt(),
            Expr::Parallel(all) => {
                let mut all = all.iter();
                let mut value = of(all.next()?)?;
                for next in all {
                    let next = of(next)?;
                    // Of two that are both nothing nothing is left.
                    let sum = value + next;
                    value = if sum.norm() == 0.0 { sum } else { value * next / sum };
                }
                value
            }
        })
    }

    /// The parts in it, each once, in the order written.
    pub fn parts(&self) -> Vec<&str> {
        let mut found = Vec::new();
        self.walk(&mut |e| {
            if let Expr::Part(name) = e
                && !found.contains(&name.as_str())
            {
                found.push(name.as_str());
            }
        });
        found
    }

    /// Shows it and all that is in it, from the outside in.
    pub fn walk<'e>(&'e self, see: &mut dyn FnMut(&'e Expr)) {
        see(self);
        match self {
            Expr::Sum(terms) => terms.iter().for_each(|(_, e)| e.walk(see)),
            Expr::Product(all) | Expr::Parallel(all) => all.iter().for_each(|e| e.walk(see)),
            Expr::Quotient(a, b) => {
                a.walk(see);
                b.walk(see);
            }
            Expr::Power(a, _) | Expr::Root(a) => a.walk(see),
            _ => {}
        }
    }
}

/// An expression without the minus in front of it.
pub fn unsigned(expr: Expr) -> (bool, Expr) {
    match expr {
        Expr::Sum(mut terms) if terms.len() == 1 && terms[0].0 => (true, terms.remove(0).1),
        Expr::Integer(n) if n < 0 => (true, Expr::Integer(-n)),
        other => (false, other),
    }
}
