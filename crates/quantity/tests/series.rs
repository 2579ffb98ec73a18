//! The preferred numbers of IEC 60063, against published tables.

use quantity::Series;

fn tens(series: Series) -> Vec<u16> {
    series.members().map(|member| member / 10).collect()
}

/// Members times 10, as two-figure tables give them.
#[test]
fn the_coarse_series_are_those_of_the_tables() {
    // Source: IEC 60063 E24; the table of the `eseries` 1.2.1 package on PyPI.
    let e24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];
    assert_eq!(tens(Series::E24), e24);
    // Source: electronics.stackexchange.com/questions/381446; the same package.
    assert_eq!(tens(Series::E12), [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82]);
    // Common practice, no source at hand but the E12 table, of which it is every second member.
    assert_eq!(tens(Series::E6), [10, 15, 22, 33, 47, 68]);
    // Source: the table of `eseries` 1.2.1.
    assert_eq!(tens(Series::E3), [10, 22, 47]);
}

/// The whole numbers nearest to scale times 10^(i/count).
fn geometric(count: u32, scale: f64) -> Vec<u16> {
    (0..count).map(|index| (scale * 10f64.powf(f64::from(index) / f64::from(count))).round() as u16).collect()
}

#[test]
fn eight_members_of_e24_are_not_the_rounded_geometric_ones() {
    // Source for the E12 members among them (27, 33, 39, 47, 82): electronics.stackexchange.com/questions/381446.
    let members = tens(Series::E24);
    let pairs = members.iter().zip(geometric(24, 10.0));
    let differing: Vec<u16> = pairs.filter(|(member, rounded)| *member != rounded).map(|(member, _)| *member).collect();
    assert_eq!(differing, [27, 30, 33, 36, 39, 43, 47, 82]);
}

#[test]
fn the_fine_series_are_geometric_but_for_one_member() {
    // Source: the tables of `eseries` 1.2.1: E48 and E96 agree with the rounded geometric sequence throughout.
    assert_eq!(Series::E48.members().collect::<Vec<_>>(), geometric(48, 100.0));
    assert_eq!(Series::E96.members().collect::<Vec<_>>(), geometric(96, 100.0));
    // Source: the same, which holds 920 and not 919; also Hacker News item 16733744.
    let members: Vec<u16> = Series::E192.members().collect();
    let pairs = members.iter().zip(geometric(192, 100.0)).enumerate();
    let differing: Vec<_> = pairs.filter(|(_, (member, rounded))| *member != rounded).collect();
    assert_eq!(differing, [(185, (&920, 919))]);
}

#[test]
fn the_nearest_member_is_nearest_in_ratio() {
    // Computed by hand from the tables of IEC 60063.
    assert_eq!(Series::E24.nearest(15_915.0), Some(16_000.0));
    assert_eq!(Series::E96.nearest(15_915.0), Some(15_800.0));
    assert_eq!(Series::E12.nearest(34.29e-9), Some(33e-9));
    assert_eq!(Series::E48.nearest(1_592.0), Some(1_620.0));
    assert_eq!(Series::E24.nearest(3_183.0), Some(3_300.0));
    // In difference 6.9 is nearer to 4.7, in ratio it is nearer to 10.
    assert_eq!(Series::E3.nearest(6.9), Some(10.0));
    assert_eq!(Series::E24.nearest(9.6), Some(10.0));
    assert_eq!(Series::E24.nearest(0.0), None);
    assert_eq!(Series::E24.nearest(-1.0), None);
    assert_eq!(Series::E24.nearest(f64::NAN), None);
    assert_eq!(Series::E24.nearest(f64::INFINITY), None);
}

#[test]
fn members_are_the_numbers_that_a_person_would_write() {
    assert_eq!(Series::E24.nearest(2.21e-6), Some(2.2e-6));
    assert_eq!(Series::E96.nearest(8.061e3), Some(8060.0));
    assert_eq!(Series::E24.neighbours(4.5e-9), Some((4.3e-9, 4.7e-9)));
    assert_eq!(Series::E24.neighbours(4.7e-9), Some((4.7e-9, 4.7e-9)));
    assert_eq!(Series::E24.neighbours(9.5), Some((9.1, 10.0)));
    assert_eq!(Series::E12.neighbours(9.99), Some((8.2, 10.0)));
    assert!(Series::E24.contains(4700.0) && Series::E24.contains(0.47) && Series::E24.contains(4.7e-12));
    assert!(!Series::E12.contains(5.1e3) && Series::E24.contains(5.1e3));
    assert!(Series::E24.contains(4.7 * 1000.0 * (1.0 + 1e-13)));
    assert!(!Series::E24.contains(4701.0) && !Series::E24.contains(0.0) && !Series::E24.contains(f64::NAN));
}

#[test]
fn a_pair_makes_a_ratio() {
    let pairs = Series::E24.pairs(2.0, 1e3, 3);
    assert_eq!((pairs[0].first, pairs[0].second), (2000.0, 1000.0));
    assert_eq!((pairs[1].first, pairs[1].second), (2200.0, 1100.0));
    // Every one of the 24 possible denominators, by brute force.
    let best = Series::E24.pairs(3.98, 2.2e3, 1)[0];
    assert!((2.2e3..22e3).contains(&best.second));
    for power in [3, 4] {
        for second in Series::E24.members().map(|member| f64::from(member) * 10f64.powi(power - 2)) {
            for first in
                Series::E24.members().flat_map(|member| [1.0, 10.0, 100.0, 1000.0].map(|by| f64::from(member) * by))
            {
                if (2.2e3..22e3).contains(&second) {
                    let error = (first / second / 3.98).ln().abs();
                    assert!((1.0 + best.error).ln().abs() <= error + 1e-12, "{first} over {second}");
                }
            }
        }
    }
    assert_eq!(Series::E24.pairs(0.0, 1e3, 3), []);
    assert_eq!(Series::E24.pairs(2.0, f64::NAN, 3), []);
    assert_eq!(Series::E6.pairs(1e6, 1.0, 100).len(), 6);
}

#[test]
fn a_series_is_known_by_its_name() {
    for series in Series::ALL {
        assert_eq!(Series::read(series.name()), Some(series));
        assert_eq!(series.members().len(), series.count());
        assert!(series.members().zip(series.members().skip(1)).all(|(one, next)| one < next));
    }
    assert_eq!(Series::read("E25"), None);
}
