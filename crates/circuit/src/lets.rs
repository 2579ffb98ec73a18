//! `let` names: each once, each with a value.

use notation::tree::{BlockKind, Fault, Span};
use num_complex::Complex64;
use rustc_hash::FxHashMap;

use crate::assemble::{Assembly, File, Place};
use crate::expr::{self, Failure};
use crate::piece::{PieceKind, Weight};

/// Works the `let` names out, and tells what is wrong with them.
pub(crate) fn check(a: &mut Assembly, file: &File) {
    a.circuit.lets = a.env.lets(a.circuit.reference);
    let mut seen: FxHashMap<&str, ()> = FxHashMap::default();
    let mut found: Vec<(Place, Fault)> = Vec::new();
    for (b, block) in file.blocks.iter().enumerate().filter(|(_, b)| b.kind == Some(BlockKind::Let)) {
        for (e, piece) in block.entries.iter().enumerate() {
            let PieceKind::Let(name, expr) = &piece.kind else { continue };
            let at = |span: Span| Place { block: b as u32, entry: Some(e as u32), span };
            if seen.insert(&name.text, ()).is_some() {
                let message = format!("{} has a value already: take one of the two away", name.text);
                found.push((at(name.span), crate::piece::fault("repeated-name", name.span, message)));
                continue;
            }
            if piece.grade != notation::tree::Grade::Whole {
                continue;
            }
            let s = Complex64::new(0.0, std::f64::consts::TAU * a.circuit.reference);
            let curve = a.env.is_curve(0, expr);
            let scope = a.env.scope(0, &"".into());
            match expr::evaluate(expr, &scope, curve.then_some(s)) {
                Err(Failure::Here(fault)) => found.push((at(fault.span), fault)),
                Err(Failure::Elsewhere(why)) => {
                    found.extend(crate::piece::elsewhere(&why, &name.text, expr.span).map(|f| (at(expr.span), f)));
                }
                Err(Failure::Unreadable) | Ok(_) => {}
            }
        }
    }
    for (place, fault) in found {
        let fixes = fault.fixes.clone();
        a.find(Weight::Error, place, fault.id, fault.message, &[]).fixes = fixes;
    }
}
