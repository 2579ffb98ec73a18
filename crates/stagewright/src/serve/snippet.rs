//! Snippets, in the protocol's way of writing them.

use workbench::Piece;

/// Text with places to be filled in.
pub fn snippet(pieces: &[Piece]) -> String {
    let one = |piece: &Piece| match piece {
        Piece::Text(text) => escaped(text),
        Piece::Stop(number, text) if text.is_empty() => format!("${number}"),
        Piece::Stop(number, text) => format!("${{{number}:{}}}", escaped(text)),
        Piece::Choice(number, words) => {
            let words: Vec<String> = words.iter().map(|word| marked(word, &['\\', '$', '}', ',', '|'])).collect();
            format!("${{{number}|{}|}}", words.join(","))
        }
    };
    pieces.iter().map(one).collect()
}

/// Text as it stands in a snippet.
pub fn escaped(text: &str) -> String {
    marked(text, &['\\', '$', '}'])
}

fn marked(text: &str, marks: &[char]) -> String {
    let mut out = String::with_capacity(text.len() + 4);
    for c in text.chars() {
        if marks.contains(&c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}
