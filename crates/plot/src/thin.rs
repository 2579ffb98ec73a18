//! Fewer points that draw the same picture.

/// Of points from left to right, those that a picture with columns of this width can tell apart: of each column the first, the least,
/// the greatest and the last. No peak and no notch is lost.
pub(crate) fn thin(points: &[(f64, f64)], width: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let column = |x: f64| (x / width).floor();
    let mut start = 0;
    while start < points.len() {
        let here = column(points[start].0);
        let length = points[start..].iter().take_while(|p| column(p.0) == here && p.1.is_finite()).count().max(1);
        let some = &points[start..start + length];
        let least = (0..some.len()).min_by(|a, b| some[*a].1.total_cmp(&some[*b].1)).unwrap_or(0);
        let most = (0..some.len()).max_by(|a, b| some[*a].1.total_cmp(&some[*b].1)).unwrap_or(0);
        let mut order = [0, least.min(most), least.max(most), some.len() - 1].to_vec();
        order.dedup();
        kept.extend(order.into_iter().map(|i| some[i]));
        start += length;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_and_notches_stay() {
        let mut points: Vec<(f64, f64)> =
            (0..10_000).map(|k| (f64::from(k) / 100.0, (f64::from(k) / 500.0).sin())).collect();
        points[4321].1 = 50.0;
        points[7777].1 = -70.0;
        let thinned = thin(&points, 1.0);
        assert!(thinned.len() <= 404, "{}", thinned.len());
        assert!(thinned.contains(&points[4321]) && thinned.contains(&points[7777]));
        assert_eq!((thinned.first(), thinned.last()), (points.first(), points.last()));
    }
}
