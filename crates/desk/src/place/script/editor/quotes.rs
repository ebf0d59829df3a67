//! Words with and without quotes.

pub(super) fn unquoted(inner: &str) -> String {
    let mut text = String::with_capacity(inner.len());
    let mut letters = inner.chars();
    while let Some(c) = letters.next() {
        match c {
            '\\' => match letters.next() {
                Some('n') => text.push('\n'),
                Some(other) => text.push(other),
                None => {}
            },
            c => text.push(c),
        }
    }
    text
}

pub(super) fn quote(text: &str) -> String {
    let escaped = text
        .replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('\n', "\\n");
    format!("\"{escaped}\"")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::script::outline::is_one_value;

    #[test]
    fn quotes_survive() {
        let text = "a \"b\" \\ c\n";
        let quoted = quote(text);
        assert_eq!(unquoted(&quoted[1..quoted.len() - 1]), text);
        assert!(is_one_value(&quoted));
    }
}
