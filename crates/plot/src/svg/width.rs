//! How wide words are, without a font at hand.

/// Advance widths of `!` to `~` with the blank in front, in thousandths of the size: those of DejaVu Sans, which is wider than what most
/// systems show for `sans-serif`, so that words keep apart there too.
const WIDTHS: [u16; 95] = [
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863,
    748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635,
    615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
    337, 636, 838,
];

/// The width of a text at a size; of letters beyond ASCII at most what they take.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    let one = |c: char| match c {
        ' '..='~' => f64::from(WIDTHS[c as usize - 32]),
        '°' | '·' | '∥' => 500.0,
        'µ' | 'μ' | '√' => 640.0,
        'Ω' => 764.0,
        '−' | '±' | '×' | '→' | '≤' | '≥' | '≈' => 838.0,
        _ => 1100.0,
    };
    text.chars().map(one).sum::<f64>() * size / 1000.0
}
