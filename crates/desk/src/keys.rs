//! The keyboard: one table that is read, shown on the key `?`, and tested.

use crate::place::Place;
use bench::model::InstrumentRole;
use egui::{Context, Event, Key, Modifiers};

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Go to a place.
    Go(Place),
    /// Start, pause or resume.
    PauseOrResume,
    /// Take the load off at once.
    Release,
    /// Leave the present step.
    Skip,
    /// Ride the present step again.
    Repeat,
    /// Ride the present step one minute longer.
    Extend,
    /// Remember this moment.
    Mark,
    /// The thing to do next on the page: ride, accept, acknowledge.
    Next,
    /// End the session; asks once.
    End,
    /// The view for across the room.
    AcrossTheRoom,
    /// Return the charts to the present.
    Follow,
    /// Move the charts back in time.
    Back,
    /// Move the charts forth in time.
    Forth,
    /// Show less time.
    Closer,
    /// Show more time.
    Farther,
    /// Show everything, with heights that fit.
    Fit,
    /// Move the cursor of the charts back in time.
    CursorBack,
    /// Move the cursor of the charts forth in time.
    CursorForth,
    /// The selected stretch begins at the cursor.
    SelectFrom,
    /// The selected stretch ends at the cursor.
    SelectTo,
    /// Show the selected stretch alone.
    ShowSelected,
    /// Nothing is selected any more.
    ClearSelected,
    /// Copy the values of the selected stretch, or those at the cursor.
    Copy,
    /// The next window through which power is seen: raw, 3 s, 10 s, 30 s.
    Window,
    /// Show the next flag on the charts.
    NextFlag,
    /// Show the flag before.
    FlagBefore,
    /// Open a session file.
    Open,
    /// Save the report.
    Save,
    /// Save the pictures.
    SavePictures,
    /// Save the evidence pack.
    SavePack,
    /// Light or dark.
    Theme,
    /// Larger text.
    LargerText,
    /// Smaller text.
    SmallerText,
    /// Text as it was.
    NormalText,
    /// Show this list.
    KeyMap,
    /// Show what is preferred.
    Settings,
    /// Save the report beside the session, without a dialog.
    Keep,
    /// Replay: a minute back.
    SeekBack,
    /// Replay: a minute on.
    SeekForth,
    /// Take back the last change of a text.
    Undo,
    /// Give the chosen device a role, or none.
    Role(Option<InstrumentRole>),
}

/// One line of the table.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// The key.
    pub key: Key,
    /// What is held with it.
    pub with: Modifiers,
    /// What it asks for.
    pub deed: Deed,
    /// How the key is written.
    pub shown: &'static str,
    /// What it does, in words.
    pub words: &'static str,
}

const fn plain(key: Key, deed: Deed, shown: &'static str, words: &'static str) -> Binding {
    Binding {
        key,
        with: Modifiers::NONE,
        deed,
        shown,
        words,
    }
}

const fn command(key: Key, deed: Deed, shown: &'static str, words: &'static str) -> Binding {
    Binding {
        key,
        with: Modifiers::COMMAND,
        deed,
        shown,
        words,
    }
}

/// Every key. A line without words is a second key for the line above it.
pub const KEYS: &[Binding] = &[
    plain(
        Key::Escape,
        Deed::Release,
        "Esc",
        "release the brake at once; close what is open",
    ),
    plain(
        Key::Space,
        Deed::PauseOrResume,
        "Space",
        "start, pause, resume; Shelf: play the chosen session again",
    ),
    plain(
        Key::Enter,
        Deed::Next,
        "Enter",
        "the next thing: ride, accept, acknowledge, resume; Bench: search; Shelf: open, put side by side, or place what is imported",
    ),
    plain(Key::S, Deed::Skip, "S", "skip this step"),
    plain(Key::R, Deed::Repeat, "R", "repeat this step"),
    plain(Key::E, Deed::Extend, "E", "one minute more of this step"),
    plain(
        Key::M,
        Deed::Mark,
        "M",
        "mark this moment; Shelf: mark the chosen session",
    ),
    plain(
        Key::X,
        Deed::End,
        "X",
        "end the session, asks once; let the bench go; close a replay",
    ),
    plain(
        Key::F,
        Deed::AcrossTheRoom,
        "F",
        "large figures for across the room",
    ),
    plain(
        Key::Num1,
        Deed::Go(Place::Bench),
        "1 … 5",
        "Bench, Script, Run, Findings, Shelf",
    ),
    plain(Key::Num2, Deed::Go(Place::Script), "2", ""),
    plain(Key::Num3, Deed::Go(Place::Run), "3", ""),
    plain(Key::Num4, Deed::Go(Place::Findings), "4", ""),
    plain(Key::Num5, Deed::Go(Place::Shelf), "5", ""),
    plain(Key::End, Deed::Follow, "End", "charts: back to the present"),
    plain(
        Key::ArrowLeft,
        Deed::Back,
        "← →",
        "charts: earlier, later; Script: slower, faster simulated time",
    ),
    plain(Key::ArrowRight, Deed::Forth, "→", ""),
    plain(
        Key::ArrowUp,
        Deed::Closer,
        "↑ ↓",
        "charts: less time, more time; Bench, Script, Shelf: the one above, below",
    ),
    plain(Key::ArrowDown, Deed::Farther, "↓", ""),
    plain(
        Key::Home,
        Deed::Fit,
        "Home",
        "charts: everything; a double click",
    ),
    plain(
        Key::Comma,
        Deed::CursorBack,
        ", .",
        "charts: cursor earlier, later",
    ),
    plain(Key::Period, Deed::CursorForth, ".", ""),
    plain(
        Key::A,
        Deed::SelectFrom,
        "A B",
        "charts: select from, to the cursor; drag with Shift",
    ),
    plain(Key::B, Deed::SelectTo, "B", ""),
    plain(
        Key::Z,
        Deed::ShowSelected,
        "Z",
        "charts: what is selected alone; a box: drag with Ctrl",
    ),
    plain(
        Key::Delete,
        Deed::ClearSelected,
        "Del",
        "charts: nothing selected",
    ),
    plain(Key::Backspace, Deed::ClearSelected, "Backspace", ""),
    command(
        Key::C,
        Deed::Copy,
        "Ctrl C",
        "charts: copy the values selected or at the cursor",
    ),
    plain(
        Key::W,
        Deed::Window,
        "W",
        "power raw, or both streams over 3, 10, 30 s",
    ),
    plain(
        Key::N,
        Deed::NextFlag,
        "N P",
        "charts: the next flag, the one before",
    ),
    plain(Key::P, Deed::FlagBefore, "P", ""),
    command(Key::O, Deed::Open, "Ctrl O", "open a session file"),
    command(Key::S, Deed::Save, "Ctrl S", "save the report"),
    command(Key::I, Deed::SavePictures, "Ctrl I", "save the pictures"),
    command(Key::E, Deed::SavePack, "Ctrl E", "save the evidence pack"),
    plain(
        Key::K,
        Deed::Keep,
        "K",
        "keep the report beside the session, without asking where",
    ),
    plain(
        Key::PageUp,
        Deed::SeekBack,
        "Page ↑ ↓",
        "replay: a minute back, a minute on",
    ),
    plain(Key::PageDown, Deed::SeekForth, "Page ↓", ""),
    command(
        Key::Num1,
        Deed::Role(Some(InstrumentRole::UnderTest)),
        "Ctrl 1 … 4",
        "Bench: role of the chosen device: under test, reference, second, recorded only",
    ),
    command(
        Key::Num2,
        Deed::Role(Some(InstrumentRole::PrimaryReference)),
        "Ctrl 2",
        "",
    ),
    command(
        Key::Num3,
        Deed::Role(Some(InstrumentRole::SecondReference)),
        "Ctrl 3",
        "",
    ),
    command(
        Key::Num4,
        Deed::Role(Some(InstrumentRole::Witness)),
        "Ctrl 4",
        "",
    ),
    command(
        Key::Delete,
        Deed::Role(None),
        "Ctrl Del",
        "Bench: let the chosen device go",
    ),
    command(
        Key::Z,
        Deed::Undo,
        "Ctrl Z",
        "take back a change of a script or claim sheet",
    ),
    command(Key::Comma, Deed::Settings, "Ctrl ,", "settings"),
    plain(Key::L, Deed::Theme, "L", "light, dark"),
    command(
        Key::Plus,
        Deed::LargerText,
        "Ctrl + −",
        "larger text, smaller text",
    ),
    command(Key::Equals, Deed::LargerText, "Ctrl =", ""),
    command(Key::Minus, Deed::SmallerText, "Ctrl −", ""),
    command(Key::Num0, Deed::NormalText, "Ctrl 0", "text as it was"),
    plain(Key::Questionmark, Deed::KeyMap, "?", "this list"),
    plain(Key::F1, Deed::KeyMap, "F1", ""),
];

/// Who has the keyboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hands {
    /// Nothing: every key is ours.
    Free,
    /// A control was reached with the tabulator: Enter and the arrows are its own.
    OnControl,
    /// As [`Hands::OnControl`], and nothing is connected: the space bar is the control's, too.
    OnIdleControl,
    /// A field is typed into: letters, digits and the space are its own.
    Typing,
}

/// Whose the key is that takes back a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TakingBack {
    /// The text that is edited, with its form, has one history and is ours.
    Ours,
    /// Nothing of ours is edited: a field that is typed into has a history of its own.
    OfTheField,
}

/// Takes the keys of this frame out of the input and says what they ask for. A key that is held
/// down counts once.
pub fn take(ctx: &Context, hands: Hands, taking_back: TakingBack) -> Vec<Deed> {
    let mut deeds = Vec::new();
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            // The window system turns this one key into an event of its own.
            if *event == Event::Copy && hands != Hands::Typing {
                deeds.push(Deed::Copy);
                return false;
            }
            let Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } = event
            else {
                return true;
            };
            let Some(binding) = find(*key, *modifiers) else {
                return true;
            };
            if !is_ours(binding, hands)
                || binding.deed == Deed::Undo && taking_back == TakingBack::OfTheField
            {
                return true;
            }
            if !repeat || is_repeatable(binding.deed) {
                deeds.push(binding.deed);
            }
            false
        });
    });
    deeds
}

fn find(key: Key, held: Modifiers) -> Option<&'static Binding> {
    // A question mark and a plus need the shift key on most keyboards.
    let held = Modifiers {
        shift: false,
        ..held
    };
    KEYS.iter()
        .find(|binding| binding.key == key && held.matches_exact(binding.with))
}

fn is_ours(binding: &Binding, hands: Hands) -> bool {
    if binding.deed == Deed::Release {
        return true;
    }
    let moves = [
        Key::Enter,
        Key::ArrowLeft,
        Key::ArrowRight,
        Key::ArrowUp,
        Key::ArrowDown,
    ];
    match hands {
        Hands::Free => true,
        Hands::OnControl => !moves.contains(&binding.key),
        Hands::OnIdleControl => !moves.contains(&binding.key) && binding.key != Key::Space,
        Hands::Typing => binding.with.command || binding.key == Key::F1,
    }
}

fn is_repeatable(deed: Deed) -> bool {
    matches!(
        deed,
        Deed::Back
            | Deed::Forth
            | Deed::Closer
            | Deed::Farther
            | Deed::CursorBack
            | Deed::CursorForth
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_asks_for_two_things() {
        for (i, a) in KEYS.iter().enumerate() {
            for b in &KEYS[i + 1..] {
                assert!(
                    a.key != b.key || a.with != b.with,
                    "{} and {}",
                    a.shown,
                    b.shown
                );
            }
        }
    }

    #[test]
    fn the_brake_can_be_released_while_typing() {
        let release = find(Key::Escape, Modifiers::NONE).unwrap();
        assert!(is_ours(release, Hands::Typing));
        let skip = find(Key::S, Modifiers::NONE).unwrap();
        assert!(!is_ours(skip, Hands::Typing));
    }
}
