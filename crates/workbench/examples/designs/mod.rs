//! The designs that the benchmarks of an edit type in, each with what stands in front of the place.

use std::fmt::Write;

/// Filters whose amplifiers have an output resistance, so that each loads the one in front.
pub fn filters(stages: usize) -> (String, String) {
    let mut t = String::from(
        "design \"Long chain\"\n  band 20 Hz .. 20 kHz\n  supply vpos +12 V, vneg -12 V\n  source n0 5 mV\n",
    );
    for k in 1..=stages {
        let (i, o, p) = (k - 1, k, 10 * (k - 1));
        let r = |n: usize| format!("R{}", p + n);
        let c = |n: usize| format!("C{}", p + n);
        let _ = write!(
            t,
            "\nstage s{k}: n{i} -> n{o}\n  n{i} -- {} 1u -- a{k}\n  a{k} -- {} 100k -- gnd\n  a{k} -- {} 10k -- x{k} -- {} 10k -- p{k}\n  \
             x{k} -- {} 1n -- o{k}\n  p{k} -- {} 470p -- gnd\n  U{k}a fet_dual: + p{k}, - f{k}, out o{k}\n  o{k} -- {} 1k -- f{k}\n  \
             f{k} -- {} 10k -- gnd\n  o{k} -- {} 100 -- n{o}\n",
            c(1),
            r(1),
            r(2),
            r(3),
            c(2),
            c(3),
            r(4),
            r(5),
            r(6)
        );
    }
    (t, format!("R{} 1", 10 * (stages / 2) + 4))
}

/// A chain of buffers, with what stands in front of the place where the benchmark types.
pub fn buffers(stages: usize) -> (String, String) {
    (crate::design::design(stages).text, format!("R{} 1", 5 * (stages / 2) + 3))
}
