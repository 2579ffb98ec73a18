//! The prefixes of the International System that the notation reads and prints.

/// A decimal prefix, femto to tera (SI Brochure, 9th edition, table 7).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Prefix {
    /// 10⁻¹⁵, `f`
    Femto,
    /// 10⁻¹², `p`
    Pico,
    /// 10⁻⁹, `n`
    Nano,
    /// 10⁻⁶, `µ`, in ASCII `u`
    Micro,
    /// 10⁻³, `m`
    Milli,
    /// 10⁰, no letter
    Unity,
    /// 10³, `k`
    Kilo,
    /// 10⁶, `M`
    Mega,
    /// 10⁹, `G`
    Giga,
    /// 10¹², `T`
    Tera,
}

impl Prefix {
    /// All prefixes, from the smallest up, `Unity` among them.
    pub const ALL: [Prefix; 10] = [
        Prefix::Femto,
        Prefix::Pico,
        Prefix::Nano,
        Prefix::Micro,
        Prefix::Milli,
        Prefix::Unity,
        Prefix::Kilo,
        Prefix::Mega,
        Prefix::Giga,
        Prefix::Tera,
    ];

    /// The power of ten: −15 for femto, 0 for no prefix, 12 for tera.
    pub fn power(self) -> i32 {
        3 * (self as i32 - Prefix::Unity as i32)
    }

    /// The letter, empty for `Unity`; micro is `µ` (U+00B5), or `u` in ASCII.
    pub fn symbol(self, ascii: bool) -> &'static str {
        match self {
            Prefix::Femto => "f",
            Prefix::Pico => "p",
            Prefix::Nano => "n",
            Prefix::Micro if ascii => "u",
            Prefix::Micro => "µ",
            Prefix::Milli => "m",
            Prefix::Unity => "",
            Prefix::Kilo => "k",
            Prefix::Mega => "M",
            Prefix::Giga => "G",
            Prefix::Tera => "T",
        }
    }

    /// The word, empty for `Unity`.
    pub fn name(self) -> &'static str {
        match self {
            Prefix::Femto => "femto",
            Prefix::Pico => "pico",
            Prefix::Nano => "nano",
            Prefix::Micro => "micro",
            Prefix::Milli => "milli",
            Prefix::Unity => "",
            Prefix::Kilo => "kilo",
            Prefix::Mega => "mega",
            Prefix::Giga => "giga",
            Prefix::Tera => "tera",
        }
    }

    /// The prefix that a letter stands for. Micro is read as `u`, `µ` (U+00B5, the micro sign) and `μ` (U+03BC, the
    /// Greek letter), which look alike and are both on keyboards. `K` is not a prefix; see [`crate::read`].
    pub fn read(letter: char) -> Option<Prefix> {
        Some(match letter {
            'f' => Prefix::Femto,
            'p' => Prefix::Pico,
            'n' => Prefix::Nano,
            'u' | '\u{b5}' | '\u{3bc}' => Prefix::Micro,
            'm' => Prefix::Milli,
            'k' => Prefix::Kilo,
            'M' => Prefix::Mega,
            'G' => Prefix::Giga,
            'T' => Prefix::Tera,
            _ => return None,
        })
    }

    /// The prefix of exactly this power of ten, if there is one.
    pub fn of_power(power: i32) -> Option<Prefix> {
        Prefix::ALL.into_iter().find(|prefix| prefix.power() == power)
    }
}
