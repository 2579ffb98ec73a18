//! The preferred numbers for resistors and capacitors, IEC 60063.

use crate::decimal::Digits;

/// A series of IEC 60063.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Series {
    /// 3 values a decade
    E3,
    /// 6 values a decade
    E6,
    /// 12 values a decade
    E12,
    /// 24 values a decade
    E24,
    /// 48 values a decade
    E48,
    /// 96 values a decade
    E96,
    /// 192 values a decade
    E192,
}

/// E24 times 100. E12, E6 and E3 are every second, fourth and eighth member. Eight members differ from the rounded
/// geometric sequence, for historical reasons.
const E24: [u16; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820,
    910,
];

/// E192 times 100. E96 and E48 are every second and fourth member. One member differs from the rounded geometric
/// sequence: 9.20, which would be 9.19.
#[rustfmt::skip]
const E192: [u16; 192] = [
    100, 101, 102, 104, 105, 106, 107, 109, 110, 111, 113, 114, 115, 117, 118, 120,
    121, 123, 124, 126, 127, 129, 130, 132, 133, 135, 137, 138, 140, 142, 143, 145,
    147, 149, 150, 152, 154, 156, 158, 160, 162, 164, 165, 167, 169, 172, 174, 176,
    178, 180, 182, 184, 187, 189, 191, 193, 196, 198, 200, 203, 205, 208, 210, 213,
    215, 218, 221, 223, 226, 229, 232, 234, 237, 240, 243, 246, 249, 252, 255, 258,
    261, 264, 267, 271, 274, 277, 280, 284, 287, 291, 294, 298, 301, 305, 309, 312,
    316, 320, 324, 328, 332, 336, 340, 344, 348, 352, 357, 361, 365, 370, 374, 379,
    383, 388, 392, 397, 402, 407, 412, 417, 422, 427, 432, 437, 442, 448, 453, 459,
    464, 470, 475, 481, 487, 493, 499, 505, 511, 517, 523, 530, 536, 542, 549, 556,
    562, 569, 576, 583, 590, 597, 604, 612, 619, 626, 634, 642, 649, 657, 665, 673,
    681, 690, 698, 706, 715, 723, 732, 741, 750, 759, 768, 777, 787, 796, 806, 816,
    825, 835, 845, 856, 866, 876, 887, 898, 909, 920, 931, 942, 953, 965, 976, 988,
];

/// Two members of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The numerator.
    pub first: f64,
    /// The denominator.
    pub second: f64,
    /// `first / second` over the ratio that was asked for, less 1.
    pub error: f64,
}

impl Series {
    /// All series, the coarsest first.
    pub const ALL: [Series; 7] =
        [Series::E3, Series::E6, Series::E12, Series::E24, Series::E48, Series::E96, Series::E192];

    /// The series of this name: `E24`.
    pub fn read(name: &str) -> Option<Series> {
        Series::ALL.into_iter().find(|series| series.name() == name)
    }

    /// Its name: `E24`.
    pub fn name(self) -> &'static str {
        match self {
            Series::E3 => "E3",
            Series::E6 => "E6",
            Series::E12 => "E12",
            Series::E24 => "E24",
            Series::E48 => "E48",
            Series::E96 => "E96",
            Series::E192 => "E192",
        }
    }

    /// How many members a decade has.
    pub fn count(self) -> usize {
        match self {
            Series::E3 => 3,
            Series::E6 => 6,
            Series::E12 => 12,
            Series::E24 => 24,
            Series::E48 => 48,
            Series::E96 => 96,
            Series::E192 => 192,
        }
    }

    /// The members of one decade times 100, upwards: 100, 220, 470 for E3.
    pub fn members(self) -> impl ExactSizeIterator<Item = u16> {
        (0..self.count()).map(move |index| self.member(index))
    }

    fn member(self, index: usize) -> u16 {
        match self {
            Series::E3 | Series::E6 | Series::E12 | Series::E24 => E24[index * (24 / self.count())],
            Series::E48 | Series::E96 | Series::E192 => E192[index * (192 / self.count())],
        }
    }

    /// The member at this place of this decade, correctly rounded from its decimal form.
    fn value(self, decade: i32, index: usize) -> f64 {
        // A member and a power of ten make a decimal number, which always parses.
        format!("{}e{}", self.member(index), decade - 2).parse().unwrap_or(f64::NAN)
    }

    /// The greatest member that is not above the value and the least that is not below it; the same twice if the value
    /// is a member. `None` unless the value is positive and a member's decade away from the ends of what a binary
    /// number can hold.
    pub fn neighbours(self, value: f64) -> Option<(f64, f64)> {
        if !(1e-300..=1e300).contains(&value) {
            return None;
        }
        if let Some(member) = self.matching(value) {
            return Some((member, member));
        }
        let decade = Digits::shortest(value).exponent;
        // The value is no member to a part in 10⁹, so the rounding of this quotient cannot put it on a member's wrong side.
        let hundreds = value / 10f64.powi(decade - 2);
        let above = self.members().position(|member| f64::from(member) > hundreds);
        Some(match above {
            Some(0) => (self.value(decade - 1, self.count() - 1), self.value(decade, 0)),
            Some(index) => (self.value(decade, index - 1), self.value(decade, index)),
            None => (self.value(decade, self.count() - 1), self.value(decade + 1, 0)),
        })
    }

    /// The member that is nearest to the value in ratio, the lower one of two that are equally near. `None` as for
    /// [`Series::neighbours`].
    pub fn nearest(self, value: f64) -> Option<f64> {
        let (below, above) = self.neighbours(value)?;
        Some(if value / below <= above / value { below } else { above })
    }

    /// Whether the value is a member, to a part in 10⁹.
    pub fn contains(self, value: f64) -> bool {
        (1e-300..=1e300).contains(&value) && self.matching(value).is_some()
    }

    /// The member that the value is, to a part in 10⁹.
    fn matching(self, value: f64) -> Option<f64> {
        let rounded = Digits::rounded(value, 3);
        let hundred: u16 = rounded.digits.parse().ok()?;
        let index = self.members().position(|member| member == hundred)?;
        let member = self.value(rounded.exponent, index);
        ((member - value).abs() <= 1e-9 * value).then_some(member)
    }

    /// Pairs of members whose quotient is near a ratio, the nearest first, at most `most` of them. The second of each
    /// lies in the decade that begins at the member nearest to `from` (`from` included, ten times `from` not), the first
    /// wherever the ratio puts it. Of pairs that are equally near, the one with the smaller second comes first. Empty
    /// if ratio or `from` is not a positive number of everyday size (1e−100 to 1e100).
    pub fn pairs(self, ratio: f64, from: f64, most: usize) -> Vec<Pair> {
        let everyday = 1e-100..=1e100;
        if !everyday.contains(&ratio) || !everyday.contains(&from) {
            return Vec::new();
        }
        let Some(start) = self.nearest(from) else {
            return Vec::new();
        };
        let digits = Digits::rounded(start, 3);
        let Some(offset) = self.members().position(|member| digits.digits == member.to_string()) else {
            return Vec::new();
        };
        let mut pairs: Vec<Pair> = (offset..offset + self.count())
            .filter_map(|index| {
                let second = self.value(digits.exponent + (index / self.count()) as i32, index % self.count());
                let first = self.nearest(ratio * second)?;
                Some(Pair { first, second, error: first / second / ratio - 1.0 })
            })
            .collect();
        // Noise in the last place must not decide between pairs with the same quotient, so it is compared coarsely;
        // the sort is stable.
        let distance = |pair: &Pair| ((1.0 + pair.error).ln().abs() * 1e12).round();
        pairs.sort_by(|one, other| distance(one).total_cmp(&distance(other)));
        pairs.truncate(most);
        pairs
    }
}
