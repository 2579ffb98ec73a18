//! The results of a working with the design's values put in.

use analysis::print::hertz;
use circuit::expr::{PartTerm, Scope};
use circuit::{Circuit, ControlKind, Position, Standing};
use derivation::shape::Lag;
use derivation::system::Symbols;
use derivation::written::quotient;
use derivation::{Expr, Figures, Line, Piece, Response, listed, said};
use num_complex::Complex64;
use quantity::{Style, Unit};

/// A position of the controls that an expression hangs on.
pub struct Stand {
    /// `VR1 0 %`; empty where nothing moves.
    pub name: String,
    /// By control.
    pub positions: Vec<Position>,
}

/// Where each control is looked at that stands in these expressions: at both ends, the others at rest.
pub fn stands(circuit: &Circuit, switches: &[Position], parts: &[&str]) -> Vec<Stand> {
    let mut found = Vec::new();
    for (id, control) in circuit.controls.iter().enumerate() {
        let moves = circuit.parts.iter().any(|p| {
            let own = matches!(&p.kind, circuit::PartKind::Variable { control, .. } if control.at() == id);
            let named = |part: &&str| {
                *part == &*p.name
                    || part.strip_suffix(')').and_then(|x| x.split_once('(')).is_some_and(|x| x.1 == &*p.name)
            };
            own && parts.iter().any(named)
        });
        if !moves || control.preset || !matches!(control.kind, ControlKind::Travel(_)) {
            continue;
        }
        for travel in [0.0, 1.0] {
            let mut positions = switches.to_vec();
            positions[id] = Position::Travel(travel);
            found.push(Stand { name: format!("{} {}", control.name, Position::Travel(travel)), positions });
        }
    }
    if found.is_empty() {
        found.push(Stand { name: String::new(), positions: switches.to_vec() });
    }
    found
}

/// A part's value as an expression sees it, with its unit.
pub fn value_of(scope: &Standing, name: &str) -> Option<(f64, Unit)> {
    let track = |side: usize, control: &str| Some((scope.track(control)?.ok()?[side], Unit::Ohm));
    if let Some(control) = name.strip_prefix("ccw(") {
        return track(0, control.strip_suffix(')')?);
    }
    if let Some(control) = name.strip_prefix("cw(") {
        return track(1, control.strip_suffix(')')?);
    }
    Some(match scope.part(name)?.ok()? {
        PartTerm::Ohms(x) => (x, Unit::Ohm),
        PartTerm::Farads(x) => (x, Unit::Farad),
        PartTerm::Henries(x) => (x, Unit::Henry),
    })
}

/// What an expression comes to.
pub fn worked(e: &Expr, scope: &Standing, s: Complex64) -> Option<Complex64> {
    e.value(&|name| value_of(scope, name).map(|v| v.0), s).filter(|z| z.is_finite())
}

fn values(e: &Expr, scope: &Standing) -> Vec<(String, String)> {
    let style = Style::default();
    let each = e.parts().into_iter().filter_map(|name| {
        let (value, unit) = value_of(scope, name)?;
        let moved = name.contains("VR");
        let text = if moved { quantity::computed(value, unit, style) } else { quantity::exact(value, unit, style) };
        Some((name.to_string(), text?))
    });
    each.collect()
}

/// The lines of one response: its size where nothing in it hangs on the frequency, else its corners and its size at the reference.
pub fn lines(
    circuit: &Circuit,
    what: &Expr,
    (response, symbols): (&Response, &Symbols),
    switches: &[Position],
    unit: Unit,
) -> Vec<Line> {
    let ratio = |x: f64| size_of(x, unit);
    let mut found = Vec::new();
    let parts = response.expr.parts();
    let omega = Complex64::new(0.0, std::f64::consts::TAU * circuit.reference);
    for stand in stands(circuit, switches, &parts) {
        let scope = Standing { circuit, positions: &stand.positions };
        let figures = |what: Expr, e: &Expr, symbolic: Option<Expr>, result: String| {
            // Of one part alone the value is the result.
            let alone = matches!(derivation::expr::unsigned(e.clone()).1, Expr::Part(_));
            let put_in = (!alone && !e.parts().is_empty()).then(|| (e.clone(), values(e, &scope)));
            Line::Figures(Figures { at: stand.name.clone(), what, symbols: symbolic, put_in, result })
        };
        if !response.reactive {
            if let Some(z) = worked(&response.expr, &scope, omega) {
                found.push(figures(what.clone(), &response.expr, None, ratio(z.re)));
            }
            continue;
        }
        let standard = &response.standard;
        if worked(&response.expr, &scope, omega).is_none() {
            let at = if stand.name.is_empty() { "With these values".into() } else { format!("At {}", stand.name) };
            found.push(said(format!("{at} it divides by 0, and this form of it has no value.")));
            continue;
        }
        let size = |e: &derivation::ratio::Ratio, name: &'static str, place: &str| {
            let e = quotient(e, symbols);
            let z = worked(&e, &scope, omega)?;
            let simple = e.parts().is_empty();
            Some(figures(Expr::Symbol(name), &e, (!simple).then(|| e.clone()), format!("{}, {place}", ratio(z.re))))
        };
        if standard.order == 0 && !standard.constant.is_number(1) && !standard.constant.is_number(-1) {
            found.extend(size(&standard.constant, "G0", "far below all corners"));
        }
        found.extend(standard.at_centre().and_then(|g| size(&g, "Gc", "at the centre")));
        let lags = !standard.above.is_empty() || !standard.below.is_empty();
        let above =
            standard.far_above().filter(|g| lags && (standard.order != 0 || (!g.is_number(1) && !g.is_number(-1))));
        found.extend(above.and_then(|g| size(&g, "G∞", "far above all corners")));
        // Of an integrator or a differentiator: where its size is 1.
        if !lags && standard.order.abs() == 1 && unit == Unit::One {
            let time = quotient(
                &derivation::ratio::Ratio { number: standard.constant.number.abs(), ..standard.constant.clone() },
                symbols,
            );
            let turn = Expr::product(vec![Expr::Integer(2), Expr::Symbol("π")]);
            let f = match (standard.order, time) {
                (1, time) => Expr::over(Expr::ONE, Expr::product(vec![turn, time])),
                (_, Expr::Quotient(above, below)) => Expr::over(*above, Expr::product(vec![turn, *below])),
                (_, time) => Expr::over(time, turn),
            };
            if let Some(z) = worked(&f, &scope, omega) {
                found.push(figures(
                    Expr::Symbol("f0"),
                    &f,
                    Some(f.clone()),
                    format!("{}, where its size is 1", hertz(z.re)),
                ));
            }
        }
        let both = [(&standard.above, "zero"), (&standard.below, "pole")];
        let several: usize = both.iter().map(|b| b.0.len()).sum();
        let mut k = 0;
        for (lags, kind) in both {
            for lag in lags {
                k += 1;
                found.extend(corner(lag, kind, if several > 1 { k } else { 0 }, symbols, &scope, &figures));
            }
        }
        if let Some(z) = worked(&response.expr, &scope, omega) {
            let size = ratio(z.norm());
            let angle = quantity::degrees(z.arg().to_degrees(), Style::default()).unwrap_or_default();
            let at = if stand.name.is_empty() { String::new() } else { format!(", {}", stand.name) };
            found.push(said(format!("At {}{at} that is {size} at {angle}.", hertz(circuit.reference))));
        }
    }
    found
}

/// What a response becomes with parts that are equal, or simple multiples of each other, as they are here.
pub fn special(
    circuit: &Circuit,
    what: Expr,
    response: &Response,
    symbols: &Symbols,
    positions: &[Position],
) -> Vec<Line> {
    let scope = Standing { circuit, positions };
    if moved(&[response]) {
        return Vec::new();
    }
    let value = |name: &str| value_of(&scope, name).map(|v| v.0);
    let Some(found) = derivation::special::special(&response.ratio, symbols, &value) else { return Vec::new() };
    let same = [0.3, 1.0, 2.7].iter().all(|x| {
        let s = Complex64::new(0.0, std::f64::consts::TAU * circuit.reference * x);
        let (a, b) = (worked(&found.expr, &scope, s), worked(&response.expr, &scope, s));
        a.zip(b).is_some_and(|(a, b)| (a - b).norm() <= 1e-7 * (a.norm() + b.norm()))
    });
    if !same || found.equal.is_empty() {
        return Vec::new();
    }
    vec![with(&found.equal, ", as here:"), Line::Equation(vec![what, found.expr])]
}

/// The first of two opposite responses in as few values as there are, where that is shorter, with all that must be equal for it and for the
/// balance of the two.
pub fn equal(
    circuit: &Circuit,
    [response, other]: [&Response; 2],
    symbols: &Symbols,
    positions: &[Position],
) -> Option<(Vec<Vec<Expr>>, Expr)> {
    let scope = Standing { circuit, positions };
    if moved(&[response, other]) {
        return None;
    }
    let value = |name: &str| value_of(&scope, name).map(|v| v.0);
    let found = derivation::equal::equal(&response.ratio, &other.ratio, symbols, &value)?;
    let length = |e: &Expr| derivation::print::plain(e, derivation::print::Manner::Text).chars().count();
    let (a, b) =
        (worked(&found.expr, &scope, Complex64::default())?, worked(&response.expr, &scope, Complex64::default())?);
    if (a - b).norm() > 1e-9 * b.norm() || length(&found.expr) >= length(&response.expr) {
        return None;
    }
    let mut rows = found.equal;
    if !found.balanced {
        rows.extend(balance(circuit, [response, other], symbols, positions)?);
    }
    Some((rows, found.expr))
}

/// What must be equal for two responses to be opposite: `R1·R4 = R2·R3`, and nothing where they are so whatever the values are. `None`
/// where that is not told in products.
pub fn balance(
    circuit: &Circuit,
    [first, second]: [&Response; 2],
    symbols: &Symbols,
    positions: &[Position],
) -> Option<Vec<Vec<Expr>>> {
    let scope = Standing { circuit, positions };
    let found = derivation::equal::balance(&first.ratio, &second.ratio, symbols)?;
    // It must be so here.
    let holds = |sides: &Vec<Expr>| {
        let each: Option<Vec<Complex64>> = sides.iter().map(|e| worked(e, &scope, Complex64::default())).collect();
        each.is_some_and(|all| all.iter().all(|z| (z - all[0]).norm() <= 1e-9 * all[0].norm()))
    };
    found.iter().all(holds).then_some(found)
}

/// Whether a control stands in responses: its resistance is what it is at one position only.
fn moved(all: &[&Response]) -> bool {
    all.iter().any(|r| r.expr.parts().iter().any(|part| part.contains("VR")))
}

/// `With R1 = R2 and R3 = R4` and what follows.
pub fn with(rows: &[Vec<Expr>], behind: &str) -> Line {
    let mut pieces = Vec::new();
    for (k, row) in rows.iter().enumerate() {
        let joint = match k {
            0 => "With ",
            _ if k + 1 == rows.len() => " and ",
            _ => ", ",
        };
        pieces.push(Piece::Text(joint.into()));
        for (j, side) in row.iter().enumerate() {
            pieces.extend((j > 0).then(|| Piece::Text(" = ".into())));
            pieces.push(Piece::Math(side.clone()));
        }
    }
    pieces.push(Piece::Text(behind.into()));
    Line::Prose(pieces)
}

/// `R1 = R2 and R3 = R4`
pub fn in_words(rows: &[Vec<Expr>]) -> String {
    let each = rows.iter().map(|row| derivation::print::equation(row, derivation::print::Manner::Text));
    listed(&each.collect::<Vec<_>>())
}

/// The greatest size of a response in which nothing hangs on the frequency.
pub fn most(circuit: &Circuit, response: &Response, switches: &[Position]) -> f64 {
    let stands = stands(circuit, switches, &response.expr.parts());
    let sizes = stands.iter().filter_map(|stand| {
        let scope = Standing { circuit, positions: &stand.positions };
        worked(&response.expr, &scope, Complex64::default()).map(|z| z.norm())
    });
    sizes.fold(0.0, f64::max)
}

/// A signed ratio with its decibels, or a transimpedance.
fn size_of(x: f64, unit: Unit) -> String {
    let told = match unit {
        Unit::One => quantity::ratio_with_decibels(x, Style::default()),
        unit => quantity::computed(x, unit, Style::default()),
    };
    told.unwrap_or_else(|| "nothing".into())
}

type Make<'a> = dyn Fn(Expr, &Expr, Option<Expr>, String) -> Line + 'a;

/// The corner of a factor: a frequency, of one of second order its Q too.
fn corner(lag: &Lag, kind: &str, k: usize, symbols: &Symbols, scope: &Standing, make: &Make) -> Vec<Line> {
    const CORNERS: [&str; 7] = ["f0", "f1", "f2", "f3", "f4", "f5", "f6"];
    let name = Expr::Symbol(CORNERS.get(k).copied().unwrap_or("f"));
    let turn = |below: Expr| Expr::over(Expr::ONE, Expr::product(vec![Expr::Integer(2), Expr::Symbol("π"), below]));
    let none = Complex64::default();
    match &lag.shares[..] {
        [Some(_)] => {
            let Some(time) = lag.time(symbols) else { return Vec::new() };
            let f = turn(time);
            let Some(z) = worked(&f, scope, none) else { return Vec::new() };
            vec![make(name, &f, Some(f.clone()), format!("{}, a {kind}", hertz(z.re.abs())))]
        }
        [first, Some(square)] if square.number > 0 => {
            let root = Expr::Root(Box::new(quotient(square, symbols)));
            let f = turn(root.clone());
            let Some(z) = worked(&f, scope, none) else { return Vec::new() };
            let pair = if kind == "pole" { "the pair of poles" } else { "the pair of zeros" };
            let mut lines = vec![make(name, &f, Some(f.clone()), format!("{}, {pair}", hertz(z.re)))];
            if let Some(first) = first {
                let q = Expr::over(root, quotient(first, symbols));
                if let Some(z) = worked(&q, scope, none) {
                    let text = quantity::computed(z.re, Unit::One, Style::default()).unwrap_or_default();
                    lines.push(make(Expr::Symbol("Q"), &q, Some(q.clone()), text));
                    // Below ½ the pair is two on the real axis.
                    let (half, f) = (0.5 / z.re, worked(&f, scope, none).map_or(0.0, |f| f.re));
                    if z.re > 0.0 && half > 1.0 {
                        let spread = half + (half * half - 1.0).sqrt();
                        lines.push(said(format!(
                            "With Q below ½ that is two real {kind}s, at {} and {}.",
                            hertz(f / spread),
                            hertz(f * spread)
                        )));
                    }
                }
            }
            lines
        }
        _ => Vec::new(),
    }
}
