//! Two-terminal networks of parts, their series and parallel combinations kept as such.

use crate::expr::Expr;
use crate::poly::{Past, Poly};

/// A kind of part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A resistance.
    R,
    /// An inductance.
    L,
    /// A capacitance.
    C,
}

/// A part, or several of one kind that act as one: `R2 + VR1`.
#[derive(Clone, Debug, PartialEq)]
pub struct Lump {
    /// Of which kind.
    pub kind: Kind,
    /// Its resistance, inductance or capacitance.
    pub value: Expr,
}

/// What lies between two nodes.
#[derive(Clone, Debug, PartialEq)]
pub enum Immittance {
    /// Parts of one kind.
    Lump(Lump),
    /// One behind the other.
    Series(Vec<Immittance>),
    /// Side by side.
    Parallel(Vec<Immittance>),
}

impl Immittance {
    /// One part.
    pub fn part(kind: Kind, name: &str) -> Immittance {
        Immittance::Lump(Lump { kind, value: Expr::Part(name.into()) })
    }

    /// Two in a row.
    pub fn in_series(self, other: Immittance) -> Immittance {
        joined(self, other, true)
    }

    /// Two side by side.
    pub fn beside(self, other: Immittance) -> Immittance {
        joined(self, other, false)
    }

    /// Its impedance as it is written.
    pub fn impedance(&self) -> Expr {
        match self {
            Immittance::Lump(Lump { kind, value }) => match kind {
                Kind::R => value.clone(),
                Kind::L => Expr::product(vec![Expr::S, value.clone()]),
                Kind::C => Expr::over(Expr::ONE, Expr::product(vec![Expr::S, value.clone()])),
            },
            Immittance::Series(all) => Expr::sum(all.iter().map(|z| (false, z.impedance())).collect()),
            Immittance::Parallel(all) => Expr::Parallel(all.iter().map(Immittance::impedance).collect()),
        }
    }

    /// What it is called in a sentence: `R2 + VR1`, `R5 || C4`, `R3 and C2 in series`.
    pub fn called(&self) -> Called {
        match self {
            Immittance::Lump(lump) => Called::Value(lump.value.clone()),
            other => Called::Network(other.clone()),
        }
    }

    /// Its impedance as a quotient, with a symbol for each lump that `symbol` gives: of a capacitor the admittance, else the impedance.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn quotient(&self, symbol: &mut dyn FnMut(&Lump) -> Result<u32, Past>) -> Result<(Poly, Poly), Past> {
        Ok(match self {
            Immittance::Lump(lump) => {
                let own = Poly::symbol(symbol(lump)?);
                if lump.kind == Kind::C { (Poly::number(1), own) } else { (own, Poly::number(1)) }
            }
            Immittance::Series(all) => {
                let mut whole = (Poly::default(), Poly::number(1));
                for z in all {
                    let (above, below) = z.quotient(symbol)?;
                    let mut sum = whole.0.times(&below)?;
                    sum.add(&above.times(&whole.1)?, 1)?;
                    whole = (sum, whole.1.times(&below)?);
                }
                whole
            }
            Immittance::Parallel(all) => {
                let mut whole = (Poly::number(1), Poly::default());
                for z in all {
                    let (above, below) = z.quotient(symbol)?;
                    let mut sum = whole.1.times(&above)?;
                    sum.add(&below.times(&whole.0)?, 1)?;
                    whole = (whole.0.times(&above)?, sum);
                }
                whole
            }
        })
    }
}

/// How a two-terminal network is named.
#[derive(Clone, Debug, PartialEq)]
pub enum Called {
    /// By one value.
    Value(Expr),
    /// By its parts.
    Network(Immittance),
}

/// Two joined, those of one kind to one value, the others in one list.
fn joined(a: Immittance, b: Immittance, series: bool) -> Immittance {
    let mut all = Vec::new();
    for one in [a, b] {
        match one {
            Immittance::Series(inner) if series => all.extend(inner),
            Immittance::Parallel(inner) if !series => all.extend(inner),
            other => all.push(other),
        }
    }
    let mut lumps: Vec<(Kind, Vec<Expr>)> = Vec::new();
    let mut rest: Vec<Immittance> = Vec::new();
    for one in all {
        match one {
            Immittance::Lump(Lump { kind, value }) => match lumps.iter_mut().find(|l| l.0 == kind) {
                Some((_, values)) => values.push(value),
                None => lumps.push((kind, vec![value])),
            },
            other => rest.push(other),
        }
    }
    let mut found: Vec<Immittance> = lumps
        .into_iter()
        .map(|(kind, values)| {
            let adds = series == (kind != Kind::C);
            Immittance::Lump(Lump {
                kind,
                value: if values.len() == 1 { values[0].clone() } else { together(values, adds) },
            })
        })
        .collect();
    found.extend(rest);
    match found.len() {
        1 => found.remove(0),
        _ if series => Immittance::Series(found),
        _ => Immittance::Parallel(found),
    }
}

/// Values of one kind: their sum, or the reciprocal of the sum of the reciprocals.
fn together(values: Vec<Expr>, adds: bool) -> Expr {
    if adds {
        return Expr::sum(values.into_iter().map(|v| (false, v)).collect());
    }
    let flat = values.into_iter().flat_map(|v| match v {
        Expr::Parallel(inner) => inner,
        other => vec![other],
    });
    Expr::Parallel(flat.collect())
}
