//! The random numbers of the builds: the same on every machine.
//!
//! ChaCha with 8 rounds (Bernstein, "ChaCha, a variant of Salsa20", 2008), its key holding the seed. Each freedom has a stream
//! of its own, chosen by its name, so that a part that is added or taken away leaves the others' builds alone.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// How many builds are drawn.
pub const BUILDS: usize = 10_000;

/// What they are drawn from.
pub const SEED: u64 = 1;

/// How many builds a study draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Builds {
    /// Of a reading that takes one solution a build.
    pub quick: usize,
    /// Of a reading that takes a search, a band or the whole circuit.
    pub slow: usize,
    /// What they are drawn from.
    pub seed: u64,
}

impl Builds {
    /// As many as the notation says, whatever it takes.
    pub const ALL: Builds = Builds { quick: BUILDS, slow: BUILDS, seed: SEED };
    /// Of a slow reading the first hundred of them: where many statements are decided together, none may take minutes.
    pub const MANY: Builds = Builds { quick: BUILDS, slow: 100, seed: SEED };
    /// Of a slow reading of which the first hundred hold and the worst corner does not.
    pub const MORE: Builds = Builds { quick: BUILDS, slow: 1_000, seed: SEED };
}

/// The amounts of one freedom, even within −1 … 1: one a build.
pub fn amounts(name: &str, builds: usize, seed: u64) -> Vec<f64> {
    let mut key = [0; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    let mut random = ChaCha8Rng::from_seed(key);
    random.set_stream(stream(name));
    // 53 bits are as many as a number between ½ and 1 has.
    (0..builds).map(|_| (random.next_u64() >> 11) as f64 * (2.0 / (1u64 << 53) as f64) - 1.0).collect()
}

/// A name's stream: its FNV-1a sum (Fowler, Noll and Vo).
fn stream(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |sum, byte| (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_name_and_one_seed_give_one_row_of_numbers() {
        assert_eq!(amounts("R1", 100, 1), amounts("R1", 200, 1)[..100]);
        assert_ne!(amounts("R1", 100, 1), amounts("R2", 100, 1));
        assert_ne!(amounts("R1", 100, 1), amounts("R1", 100, 2));
    }

    #[test]
    fn they_are_even_within_one() {
        let all = amounts("R1", BUILDS, SEED);
        assert!(all.iter().all(|x| (-1.0..1.0).contains(x)));
        // Of n even numbers the mean strays by 1/√(3n) and the mean square by √(4/45n).
        let n = BUILDS as f64;
        let mean = all.iter().sum::<f64>() / n;
        let square = all.iter().map(|x| x * x).sum::<f64>() / n;
        assert!(mean.abs() < 4.0 / (3.0 * n).sqrt(), "{mean}");
        assert!((square - 1.0 / 3.0).abs() < 4.0 * (4.0 / (45.0 * n)).sqrt(), "{square}");
    }

    /// FNV-1a of the empty text is its offset basis; of "a", one step from it (from memory: af63dc4c8601ec8c).
    #[test]
    fn streams_are_the_published_sums() {
        assert_eq!(stream(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(stream("a"), 0xaf63_dc4c_8601_ec8c);
    }
}
