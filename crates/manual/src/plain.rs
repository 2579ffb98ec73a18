//! Markdown without its marks.

/// A paragraph on one line, without the marks of code. The pages use no other marks inside a paragraph but emphasis.
pub(crate) fn plain(paragraph: &str) -> String {
    let mut code = false;
    let mut text = String::with_capacity(paragraph.len());
    for word in paragraph.split_whitespace() {
        if !text.is_empty() {
            text.push(' ');
        }
        for c in word.chars() {
            match c {
                '`' => code = !code,
                // Inside code an asterisk multiplies.
                '*' if !code => {}
                _ => text.push(c),
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn marks_go_and_products_stay() {
        assert_eq!(plain("*Open* means `2 * R4`\nand `x`."), "Open means 2 * R4 and x.");
    }
}
