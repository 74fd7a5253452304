//! Searching by a part of what is written on things.

/// A pattern that matches whatever contains the text, taken as it is: nothing in it is a wildcard.
pub(crate) fn containing(text: &str) -> String {
    let mut pattern = String::with_capacity(text.len() + 2);
    pattern.push('%');
    for c in text.chars() {
        if matches!(c, '\\' | '%' | '_') {
            pattern.push('\\');
        }
        pattern.push(c);
    }
    pattern.push('%');
    pattern
}
