//! Weightings of noise over frequency, as ratios that are 1 at 1 kHz.

use circuit::Weighting;

/// A weighting's ratio at a frequency in hertz.
pub fn ratio(weighting: Weighting, f: f64) -> f64 {
    match weighting {
        Weighting::A => a(f) / a(1e3),
        Weighting::Itu468 => itu468(f) / itu468(1e3),
    }
}

/// A-weighting before it is put to 1 at 1 kHz: IEC 61672-1:2013, annex E, with its poles in full.
fn a(f: f64) -> f64 {
    const POLES: [f64; 4] = [20.598_997, 107.652_65, 737.862_23, 12_194.217];
    let [p1, p2, p3, p4] = POLES.map(|p| p.hypot(f));
    (POLES[3] / p4 * (f / p1)).powi(2) * (f / p2) * (f / p3)
}

/// The network of ITU-R BS.468-4, as two polynomials; constants from memory, held against the table of the recommendation.
fn itu468(f: f64) -> f64 {
    let g = f * f;
    let h1 = ((-4.737_338_981_378_384e-24 * g + 2.043_828_333_606_125e-15) * g - 1.363_894_795_463_638e-7) * g + 1.0;
    let h2 = ((1.306_612_257_412_824e-19 * g - 2.118_150_887_518_656e-11) * g + 5.559_488_023_498_642e-4) * f;
    f / h1.hypot(h2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn db(weighting: Weighting, f: f64) -> f64 {
        20.0 * ratio(weighting, f).log10()
    }

    #[test]
    fn a_is_that_of_the_standards_table() {
        // IEC 61672-1, table of A-weighting, as given at lichtbeeldgeluid.nl/geluid/tabellen: nominal third-octave
        // frequencies stand for 1000·10^(n/10) Hz; rounded to 0.1 dB.
        let table = [-39.4, -26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1, -6.6];
        for (k, expected) in table.into_iter().enumerate() {
            let f = 1e3 * 10f64.powf((3.0 * k as f64 - 15.0) / 10.0);
            assert!((db(Weighting::A, f) - expected).abs() < 0.051, "{f}: {}", db(Weighting::A, f));
        }
        // The standard's formula at exactly 10 kHz, worked out independently: −2.4914 dB.
        assert!((db(Weighting::A, 10e3) + 2.4914).abs() < 5e-4);
    }

    #[test]
    fn the_468_weighting_is_that_of_the_recommendations_table() {
        // ITU-R BS.468-4, table 1; the network agrees within 0.06 dB.
        let table = [
            (31.5, -29.9),
            (63.0, -23.9),
            (100.0, -19.8),
            (200.0, -13.8),
            (400.0, -7.8),
            (800.0, -1.9),
            (1e3, 0.0),
            (2e3, 5.6),
            (3150.0, 9.0),
            (4e3, 10.5),
            (5e3, 11.7),
            (6300.0, 12.2),
            (7100.0, 12.0),
            (8e3, 11.4),
            (9e3, 10.1),
            (10e3, 8.1),
            (12.5e3, 0.0),
            (14e3, -5.3),
            (16e3, -11.7),
            (20e3, -22.2),
            (31.5e3, -42.7),
        ];
        for (f, expected) in table {
            assert!((db(Weighting::Itu468, f) - expected).abs() < 0.06, "{f}: {}", db(Weighting::Itu468, f));
        }
    }
}
