//! What an output comes to, multiplied out and in standard form.

use crate::document::{Outcome, Response};
use crate::immittance::{Immittance, Lump};
use crate::poly::Past;
use crate::ratio::Ratio;
use crate::shape::Standard;
use crate::system::{Combination, Symbols};
use crate::written::quotient;

/// So many terms above or below the line are the most that a person would write.
pub(crate) const WRITTEN: usize = 40;

/// An output's response to each input, in standard form.
pub(crate) fn outcome(output: usize, combination: &Combination, symbols: &mut Symbols) -> Result<Outcome, Past> {
    let each = combination.iter().map(|(input, ratio)| response(*input, ratio, symbols));
    Ok(Outcome { output, responses: each.collect::<Result<_, Past>>()? })
}

/// A response to one input.
pub(crate) fn response(input: usize, ratio: &Ratio, symbols: &mut Symbols) -> Result<Response, Past> {
    let ratio = multiplied_out(ratio, symbols)?;
    let (above, below) = ratio.whole()?;
    if above.0.len() > WRITTEN || below.0.len() > WRITTEN {
        return Err(Past);
    }
    let reactive = ratio.symbols() & symbols.reactive() != 0;
    let standard = Standard::of(&ratio, symbols)?;
    let expr = if reactive { standard.expr(symbols) } else { quotient(&ratio, symbols) };
    Ok(Response { input, ratio, standard, expr, reactive })
}

/// A quotient with the networks of several kinds put in.
fn multiplied_out(ratio: &Ratio, symbols: &mut Symbols) -> Result<Ratio, Past> {
    let (mut above, mut below) = ratio.whole()?;
    let mixed = symbols.mixed() & ratio.symbols();
    for bit in (0..64u32).filter(|b| mixed >> b & 1 == 1) {
        let what = symbols.0[bit as usize].what.clone();
        let (p, q) = what.quotient(&mut |lump: &Lump| symbols.of(&Immittance::Lump(lump.clone())))?;
        above = above.put_in(bit, &p, &q)?;
        below = below.put_in(bit, &p, &q)?;
    }
    Ratio::new(&above, &below).ok_or(Past)
}
