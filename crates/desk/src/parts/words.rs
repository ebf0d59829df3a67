//! Numbers as people read them: the unit always with the number, the sign always the same width.

use analysis::verdict::Verdict;
use units::{Span, Timestamp};

/// What stands where there is no value.
pub const NOTHING: &str = "–";

/// A whole number with a true minus sign.
pub fn whole(value: f64) -> String {
    signless(format!("{value:.0}"))
}

/// Watts without decimals.
pub fn watts(value: f64) -> String {
    format!("{}\u{a0}W", whole(value))
}

/// A percentage with its sign and one decimal.
pub fn signed_pct(value: f64) -> String {
    format!("{}\u{a0}%", signed(value, 1))
}

/// A number with its sign, a true minus sign among them.
pub fn signed(value: f64, decimals: usize) -> String {
    signless(format!("{value:+.decimals$}"))
}

/// A number with a fixed count of decimals and a true minus sign.
pub fn decimals(value: f64, decimals: usize) -> String {
    signless(format!("{value:.decimals$}"))
}

/// A difference with its expanded uncertainty: `+1.3 % ± 0.8 %`.
pub fn difference(value_pct: f64, expanded_pct: f64) -> String {
    format!("{} ±\u{a0}{expanded_pct:.1}\u{a0}%", signed_pct(value_pct))
}

/// A probability with two decimals; never a flat zero or one.
pub fn probability(p: f64) -> String {
    match p {
        p if p < 0.005 => "< 0.01".to_owned(),
        p if p > 0.995 => "> 0.99".to_owned(),
        p => format!("{p:.2}"),
    }
}

/// Minutes and seconds, hours when there are any.
pub fn clock(seconds: f64) -> String {
    let sign = if seconds <= -0.5 { "−" } else { "" };
    let whole = seconds.abs().round() as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{sign}{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{sign}{minutes}:{seconds:02}")
    }
}

/// A moment as minutes and seconds since the session began.
pub fn moment(at: Timestamp) -> String {
    clock(at.as_secs_f64())
}

/// A length of time, rounded up so that a count-down ends at zero and not before.
pub fn countdown(left: Span) -> String {
    clock(left.as_secs_f64().max(0.0).ceil())
}

/// A length of time in words for lists: "45 s", "3 min", "1 h 5 min".
pub fn length(span: Span) -> String {
    let seconds = span.as_secs_f64().round().max(0.0) as u64;
    match seconds {
        0..=119 if !seconds.is_multiple_of(60) || seconds == 0 => format!("{seconds}\u{a0}s"),
        120..=3599 if !seconds.is_multiple_of(60) => {
            format!("{}\u{a0}min {}\u{a0}s", seconds / 60, seconds % 60)
        }
        0..=3599 => format!("{}\u{a0}min", seconds / 60),
        _ if (seconds / 60).is_multiple_of(60) => format!("{}\u{a0}h", seconds / 3600),
        _ => format!("{}\u{a0}h {}\u{a0}min", seconds / 3600, seconds / 60 % 60),
    }
}

/// The verdict at the beginning of a sentence, if it is one of the six.
pub fn verdict_in(words: &str) -> Option<Verdict> {
    Verdict::ALL
        .into_iter()
        .find(|verdict| words.starts_with(verdict.words()))
}

/// The first letter large.
pub fn sentence_case(words: &str) -> String {
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

    #[test]
    fn numbers_read_well() {
        assert_eq!(watts(203.4), "203\u{a0}W");
        assert_eq!(signed_pct(-1.26), "−1.3\u{a0}%");
        assert_eq!(signed_pct(-0.04), "0.0\u{a0}%");
        assert_eq!(difference(1.31, 0.84), "+1.3\u{a0}% ±\u{a0}0.8\u{a0}%");
        assert_eq!(whole(-0.3), "0");
    }

    #[test]
    fn times_read_well() {
        assert_eq!(clock(725.4), "12:05");
        assert_eq!(clock(3661.0), "1:01:01");
        assert_eq!(countdown(Span::from_millis(200)), "0:01");
        assert_eq!(countdown(Span::from_millis(-200)), "0:00");
        for (seconds, text) in [
            (45, "45 s"),
            (60, "1 min"),
            (90, "90 s"),
            (180, "3 min"),
            (200, "3 min 20 s"),
        ] {
            assert_eq!(
                length(Span::from_secs(seconds)).replace('\u{a0}', " "),
                text
            );
        }
        assert_eq!(
            length(Span::from_secs(9900)).replace('\u{a0}', " "),
            "2 h 45 min"
        );
    }

    #[test]
    fn a_verdict_is_found_at_the_beginning_of_a_sentence() {
        assert_eq!(
            verdict_in("likely within, needs 2 min"),
            Some(Verdict::LikelyWithin)
        );
        assert_eq!(verdict_in("no idea"), None);
    }
}
