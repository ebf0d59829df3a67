//! Numbers and words as people read them: the unit always with the number, true minus signs, and
//! everything that comes from outside made harmless for XML.

/// What stands where there is no value.
pub(crate) const NOTHING: &str = "–";

/// A text as the content or an attribute of an XML element.
///
/// The five characters that XML gives a meaning to are replaced by references; control
/// characters, which XML 1.0 does not allow at all, by the sign for an unknown character.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            // Directional overrides would let a name turn the words around it.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => safe.push('\u{fffd}'),
            '\u{fffe}' | '\u{ffff}' => safe.push('\u{fffd}'),
            c if c.is_control() => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

/// A number with a fixed count of decimals and a true minus sign; a dash for what is no number.
pub(crate) fn decimals(value: f64, decimals: usize) -> String {
    if value.is_finite() {
        signless(format!("{value:.decimals$}"))
    } else {
        NOTHING.to_owned()
    }
}

/// The same with its sign, a plus too; a rounded zero has none.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    if value.is_finite() {
        signless(format!("{value:+.decimals$}"))
    } else {
        NOTHING.to_owned()
    }
}

/// A number with about three significant digits.
pub(crate) fn figures(value: f64) -> String {
    let size = value.abs();
    let places = match size {
        s if s >= 100.0 || s == 0.0 => 0,
        s if s >= 10.0 => 1,
        s if s >= 1.0 => 2,
        s if s >= 0.1 => 3,
        _ => 4,
    };
    decimals(value, places)
}

/// A value with its uncertainty: that with two significant digits, the value to the same place, as
/// the GUM has it (JCGM 100:2008, 7.2.6).
pub(crate) fn with_uncertainty(value: f64, expanded: f64) -> String {
    let places = if expanded.is_finite() && expanded > 0.0 {
        (1 - expanded.log10().floor() as i32).clamp(0, 6) as usize
    } else {
        2
    };
    format!(
        "{} ± {}",
        decimals(value, places),
        decimals(expanded, places)
    )
}

/// A number with at most two decimals and no zeros at their end: a limit.
pub(crate) fn short(value: f64) -> String {
    let text = decimals(value, 2);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A number or a dash.
pub(crate) fn some(value: Option<f64>, places: usize) -> String {
    value.map_or_else(|| NOTHING.to_owned(), |value| decimals(value, places))
}

/// Minutes and seconds since the session began, hours when there are any.
pub(crate) fn clock(seconds: f64) -> String {
    let sign = if seconds <= -0.5 { "−" } else { "" };
    let whole = seconds.abs().round() as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{sign}{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{sign}{minutes}:{seconds:02}")
    }
}

/// A length of time in words.
pub(crate) fn length(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match whole {
        0..120 => format!("{whole}\u{a0}s"),
        120..3600 if whole.is_multiple_of(60) => format!("{}\u{a0}min", whole / 60),
        120..3600 => format!("{}\u{a0}min {}\u{a0}s", whole / 60, whole % 60),
        _ if (whole / 60).is_multiple_of(60) => format!("{}\u{a0}h", whole / 3600),
        _ => format!("{}\u{a0}h {}\u{a0}min", whole / 3600, whole / 60 % 60),
    }
}

/// A probability: never printed as certain.
pub(crate) fn probability(p: f64) -> String {
    match p {
        p if p >= 0.9995 => "> 0.999".to_owned(),
        p if p < 0.0005 => "< 0.001".to_owned(),
        p => decimals(p, 3),
    }
}

/// A p for a small column: two decimals, never printed as certain.
pub(crate) fn short_probability(p: f64) -> String {
    match p {
        p if p >= 0.995 => "> 0.99".to_owned(),
        p if p < 0.005 => "< 0.01".to_owned(),
        p => decimals(p, 2),
    }
}

/// The same text with every number tied to its unit, so that no line ends between them.
pub(crate) fn tied(text: &str) -> String {
    const UNITS: [&str; 9] = ["%", "W", "rpm", "km/h", "s", "kg", "kJ", "°C", "min"];
    let text = minus(text);
    let mut words = text.split(' ').peekable();
    let mut tied = String::with_capacity(text.len() + 16);
    while let Some(word) = words.next() {
        tied.push_str(word);
        if let Some(next) = words.peek() {
            let unit = next.trim_end_matches(['.', ',', ';', ':', ')']);
            let is_number = word.ends_with(|c: char| c.is_ascii_digit());
            tied.push(if is_number && UNITS.contains(&unit) {
                '\u{a0}'
            } else {
                ' '
            });
        }
    }
    tied
}

/// The same text with a true minus sign before every negative number.
pub(crate) fn minus(text: &str) -> String {
    let mut before = ' ';
    let mut letters = text.chars().peekable();
    let mut out = String::with_capacity(text.len());
    while let Some(letter) = letters.next() {
        let stands_alone = before == ' ' || before == '(';
        let is_number = letters.peek().is_some_and(char::is_ascii_digit);
        out.push(if letter == '-' && stands_alone && is_number {
            '−'
        } else {
            letter
        });
        before = letter;
    }
    out
}

/// A probability as people say it: so many in a hundred, never certain.
pub(crate) fn chance(p: f64) -> String {
    match p {
        p if p >= 0.995 => "more than 99 in 100".to_owned(),
        p if p < 0.005 => "less than 1 in 100".to_owned(),
        p => format!("{:.0} in 100", 100.0 * p),
    }
}

/// A small count as a word, a large one as digits.
pub(crate) fn spelled(number: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    WORDS
        .get(number)
        .map_or_else(|| number.to_string(), |word| (*word).to_owned())
}

/// Things one after the other, the last after "and".
pub(crate) fn listed(things: &[String]) -> String {
    match things {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// A count with its noun.
pub(crate) fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number}\u{a0}{}", if number == 1 { one } else { many })
}

/// The first letter large.
pub(crate) fn sentence_case(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The hyphen becomes a minus sign; a rounded zero has no sign.
fn signless(text: String) -> String {
    let zero = text.chars().all(|c| matches!(c, '-' | '+' | '0' | '.'));
    match text.strip_prefix('-') {
        Some(rest) if zero => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None if zero => text.trim_start_matches('+').to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// XML 1.0, sections 2.2 (characters) and 4.6 (predefined entities).
    #[test]
    fn what_comes_from_outside_is_harmless() {
        assert_eq!(
            escape("<script a=\"b\" c='d'>&"),
            "&lt;script a=&quot;b&quot; c=&#39;d&#39;&gt;&amp;"
        );
        assert_eq!(
            escape("a\u{0}b\u{1b}c\u{202e}d\ne"),
            "a\u{fffd}b\u{fffd}c\u{fffd}d e"
        );
    }

    #[test]
    fn numbers_read_well() {
        assert_eq!(signed(-1.26, 1), "−1.3");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(2.0, 1), "+2.0");
        assert_eq!(decimals(f64::NAN, 1), NOTHING);
        assert_eq!(figures(0.012_34), "0.0123");
        // JCGM 100:2008, 7.2.2 gives 100.021 47 g with 0.35 mg as its example.
        assert_eq!(
            with_uncertainty(100.021_47, 0.000_35),
            "100.02147 ± 0.00035"
        );
        assert_eq!(with_uncertainty(300.01, 3.95), "300.0 ± 4.0");
        assert_eq!(with_uncertainty(482.0, 25.0), "482 ± 25");
        assert_eq!(with_uncertainty(4.0, 0.0), "4.00 ± 0.00");
        assert_eq!(figures(123.4), "123");
        assert_eq!(
            (
                short(2.0).as_str(),
                short(2.5).as_str(),
                short(100.0).as_str()
            ),
            ("2", "2.5", "100")
        );
        assert_eq!(clock(3661.0), "1:01:01");
        assert_eq!(length(9900.0), "2\u{a0}h 45\u{a0}min");
        assert_eq!(probability(1.0), "> 0.999");
        assert_eq!(short_probability(0.0), "< 0.01");
        assert_eq!(short_probability(0.5), "0.50");
        assert_eq!(
            (chance(0.847).as_str(), chance(1.0).as_str()),
            ("85 in 100", "more than 99 in 100")
        );
        assert_eq!(
            tied("+5.0 %, at 200 W. 3 steady"),
            "+5.0\u{a0}%, at 200\u{a0}W. 3 steady"
        );
        assert_eq!((spelled(5).as_str(), spelled(40).as_str()), ("five", "40"));
        let things = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(
            (listed(&things).as_str(), listed(&things[..1]).as_str()),
            ("a, b and c", "a")
        );
    }
}
