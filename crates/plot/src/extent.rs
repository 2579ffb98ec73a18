//! How far what is drawn reaches.

use crate::data::{Axis, Ends, Forbidden, Plot, Scale, Side};

/// The least and the greatest of finite values; on a logarithmic axis of those above 0.
fn ends(values: impl Iterator<Item = f64>, scale: Scale) -> Option<(f64, f64)> {
    let counted = values.filter(|v| v.is_finite() && (scale == Scale::Linear || *v > 0.0));
    counted.fold(None, |so_far, v| match so_far {
        None => Some((v, v)),
        Some((a, b)) => Some((v.min(a), v.max(b))),
    })
}

/// Along the sheet.
pub(crate) fn along(plot: &Plot) -> Option<(f64, f64)> {
    let curves = plot.curves.iter().flat_map(|c| c.points.iter().map(|p| p.0));
    let bands = plot.bands.iter().flat_map(|b| b.points.iter().map(|p| p.0));
    let others = plot.marks.iter().map(|m| m.x).chain(plot.dots.iter().map(|d| d.x));
    ends(curves.chain(bands).chain(others), plot.x.scale)
}

/// Upwards on one side, of what lies within the sheet's width.
pub(crate) fn upwards(plot: &Plot, side: Side, (low, high): (f64, f64)) -> Option<(f64, f64)> {
    let axis: &Axis = plot.axis(side);
    // Where there is no right axis, all stands on the left one.
    let here = |s: Side| s == side || plot.right.is_none();
    let within = |x: f64| x >= low * (1.0 - 1e-12) && x <= high * (1.0 + 1e-12);
    let curves = plot.curves.iter().filter(|c| here(c.side)).flat_map(|c| c.points.iter().copied());
    let bands =
        plot.bands.iter().filter(|b| here(b.side)).flat_map(|b| b.points.iter().flat_map(|p| [(p.0, p.1), (p.0, p.2)]));
    let marks = plot.marks.iter().filter(|m| here(m.side)).map(|m| (m.x, m.y));
    let dots = plot.dots.iter().filter(|d| here(d.side)).map(|d| (d.x, d.y));
    let drawn = curves.chain(bands).chain(marks).chain(dots).filter(|p| within(p.0)).map(|p| p.1);
    let mut found = ends(drawn, axis.scale)?;
    if let Ends::Round { depth: Some(depth), .. } = axis.ends {
        found.0 = match axis.scale {
            Scale::Linear => found.0.max(found.1 - depth),
            Scale::Logarithmic => found.0.max(found.1 / depth),
        };
    }
    // A limit is seen where it is near to what it speaks of: far from it, it would press the curve flat.
    let reach = match axis.scale {
        Scale::Linear => (2.0 * (found.1 - found.0)).max(match axis.ends {
            Ends::Round { least, .. } => 2.0 * least,
            Ends::Exactly(..) => 0.0,
        }),
        Scale::Logarithmic => (found.1 / found.0).powi(2).max(100.0),
    };
    let near = |y: f64| match axis.scale {
        Scale::Linear => y >= found.0 - reach && y <= found.1 + reach,
        Scale::Logarithmic => y > 0.0 && y >= found.0 / reach && y <= found.1 * reach,
    };
    let limits = plot.limits.iter().filter(|l| here(l.side) && l.over.0 <= high && l.over.1 >= low);
    // Beyond the line there is room for its hatching.
    let beyond = |at: f64, forbidden: Forbidden| match (axis.scale, forbidden) {
        (Scale::Linear, Forbidden::Above) => at + 0.03 * (found.1 - found.0),
        (Scale::Linear, Forbidden::Below) => at - 0.03 * (found.1 - found.0),
        (Scale::Logarithmic, Forbidden::Above) => at * 1.1,
        (Scale::Logarithmic, Forbidden::Below) => at / 1.1,
    };
    let shown = limits.filter(|l| near(l.at)).flat_map(|l| [l.at, beyond(l.at, l.forbidden)]);
    ends(shown.chain([found.0, found.1]), axis.scale)
}
