//! A chain of equal stages, as long as it is wanted: each has ten parts, an amplifier among them, and gains about nothing.

use std::fmt::Write;

/// A generated design, with the place where the benchmark types.
pub struct Design {
    /// Its text.
    pub text: String,
    /// Parts in it.
    pub parts: usize,
    /// The line (from 0) of the value that is edited.
    pub line: u32,
    /// The column (all of it ASCII) of the prefix that goes from k to m and back; a blank follows.
    pub column: u32,
}

/// A design of so many stages.
pub fn design(stages: usize) -> Design {
    let middle = stages / 2;
    let mut text = String::from("# A chain of buffers along a carillon's cable, generated.\n\n");
    text += "design \"Cable chain\"\n  band       20 Hz .. 20 kHz\n  supply     vpos +15 V, vneg -15 V\n\n";
    let mut edited = (0, 0);
    for i in 0..stages {
        let (c, r, u) = (4 * i + 1, 5 * i + 1, i + 1);
        let _ = writeln!(text, "# station {u}");
        let _ = writeln!(text, "stage s{u}: n{i} -> n{u}");
        let _ = writeln!(text, "  n{i} -- C{c} 1u -- a{u}");
        let _ = writeln!(text, "  a{u} -- R{r} 100k -- gnd");
        let _ = writeln!(text, "  U{u} fet_dual: + a{u}, - b{u}, out c{u}");
        let _ = writeln!(text, "  b{u} -- R{} 1k -- C{} 22u -- gnd", r + 1, c + 1);
        if i == middle {
            let before = format!("  c{u} -- R{} 10", r + 2);
            edited = (text.lines().count() as u32, before.len() as u32);
        }
        let _ = writeln!(text, "  c{u} -- R{} 10k -- b{u}", r + 2);
        let _ = writeln!(text, "  c{u} -- C{} 22p -- b{u}", c + 2);
        let _ = writeln!(text, "  c{u} -- R{} 10k -- n{u}", r + 3);
        let _ = writeln!(text, "  n{u} -- C{} 1n -- gnd", c + 3);
        let _ = writeln!(text, "  n{u} -- R{} 1k -- gnd", r + 4);
        text.push('\n');
    }
    let _ = writeln!(text, "require\n  gain n{middle} -> n{} at 1 kHz", middle + 1);
    Design { text, parts: 10 * stages, line: edited.0, column: edited.1 }
}
