//! The words shown before the first load, and the questions that keep a rider in charge.
//!
//! Not a medical device, and no substitute for local rules or a professional's advice; the words
//! say so. They follow common practice for hard exercise and for machines with turning parts.

use crate::runner::{Lost, ReleaseReason};

/// What the words are and are not.
pub const DISCLAIMER: &str = "This program is a measuring tool, not a medical device. It cannot \
    tell whether exercise is safe for you. Local rules, the makers' instructions and the advice \
    of a doctor or another professional come first.";

/// Questions about the rider. Any yes means: ask a professional before riding.
pub const RIDER_QUESTIONS: [&str; 6] = [
    "Has a doctor told you to limit exercise, or are you treated for heart, lungs, circulation or \
     blood pressure?",
    "Have you felt chest pain, faintness, or a racing or stumbling heart, at rest or in exercise?",
    "Do you take medicine that changes pulse, blood pressure or alertness?",
    "Do you have an injury or a pain that pedalling makes worse?",
    "Are you ill, feverish, badly rested, or is anything else unusual today?",
    "Are you unused to hard efforts, and does this script ask for some?",
];

/// What to look at before getting on.
pub const BENCH_CHECKS: [&str; 7] = [
    "The bike stands firmly: axle and cassette are tightened as the makers ask, pedals and stem \
     are checked, the front wheel is blocked.",
    "Nothing hangs near chain, belt, cranks or flywheel: hair, laces, cords, towels.",
    "Children and animals are out of reach of the turning parts.",
    "Nobody touches a turning disc or chain; the flywheel keeps turning after you stop.",
    "Only the maker's power supply is used, at a socket with residual-current protection, away \
     from sweat, its cable where nobody walks.",
    "A fan runs and water is within reach. The brake's housing may become hot enough to burn.",
    "Somebody is within call for the hardest efforts, and everybody knows the release key.",
];

/// When to stop at once.
pub const STOP_IF: [&str; 6] = [
    "pressure or pain in the chest, arm, jaw or back",
    "faintness, dizziness or confusion",
    "breathlessness that is not like your usual effort",
    "a racing, stumbling or pounding heart that worries you",
    "a smell of burning, smoke, or a noise that was not there before",
    "the bike or the device moves on the floor",
];

/// What happens at the release key, in one sentence.
pub const RELEASE_HINT: &str =
    "Escape takes the load off at once; so does stopping to pedal, within a few seconds.";

/// Offered after hard steps.
pub const COOL_DOWN_OFFER: &str = "Cool down for five minutes of easy pedalling? Stopping dead \
    after a hard effort can make you faint. Acknowledge to begin, skip to end.";

/// The whole text that is acknowledged before the first load of a session.
pub fn readiness_text() -> String {
    let mut text = String::from(DISCLAIMER);
    let mut list = |head: &str, items: &[&str]| {
        text.push_str("\n\n");
        text.push_str(head);
        for item in items {
            text.push_str("\n- ");
            text.push_str(item);
        }
    };
    list(
        "If you answer yes to any of these, do not ride before a professional agrees:",
        &RIDER_QUESTIONS,
    );
    list("Look at the bench:", &BENCH_CHECKS);
    list("Stop at once and get help if you notice:", &STOP_IF);
    text.push_str("\n\n");
    text.push_str(RELEASE_HINT);
    text.push_str("\nAccept only if all answers are no and the bench is as described.");
    text
}

/// The question after a pause.
pub fn resume_question(reason: &ReleaseReason) -> String {
    format!(
        "The brake is released: {reason}. When you are ready, pedal easily and resume; the load \
         comes back slowly from low."
    )
}

/// Why a run cannot resume yet.
pub fn cannot_resume(lost: Lost) -> String {
    format!("Cannot resume yet: {lost}. The brake stays released.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_holds_everything_and_defers_to_others() {
        let text = readiness_text();
        for part in RIDER_QUESTIONS.iter().chain(&BENCH_CHECKS).chain(&STOP_IF) {
            assert!(text.contains(part), "{part:?} is missing");
        }
        for words in [
            "not a medical device",
            "Local rules",
            "professional",
            "release",
        ] {
            assert!(
                text.to_lowercase().contains(&words.to_lowercase()),
                "{words:?} is missing"
            );
        }
    }
}
