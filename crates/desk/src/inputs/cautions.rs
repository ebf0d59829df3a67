//! Cautions, to be read before the first load.

/// A caution.
#[derive(Clone, Copy, Debug)]
pub struct Caution {
    /// What it is about, in two or three words.
    pub about: &'static str,
    /// The caution.
    pub words: &'static str,
}

/// The usual cautions of the trade, for a program that has none of its own.
pub const USUAL: &[Caution] = &[
    Caution {
        about: "Your body",
        words: "This is no medical device. Ride hard only if you are used to it and nothing \
                speaks against it; if in doubt, ask a doctor first. Stop at once at pain in the \
                chest, faintness, a racing heart, confusion or breath that does not come back.",
    },
    Caution {
        about: "Hard efforts",
        words: "Warm up first, never go all out alone in the room, and pedal easily for five \
                minutes afterwards. Do not stop dead after a sprint. Water and a fan within reach.",
    },
    Caution {
        about: "The bicycle",
        words: "Axle, cassette, pedals and stem tightened as their makers say, the front wheel \
                blocked, nothing loose near chain and flywheel. If the stand begins to walk, stop.",
    },
    Caution {
        about: "Turning parts",
        words: "The flywheel stores energy and goes on turning. Keep hands, hair, laces, children \
                and animals away, and touch nothing before it stands still.",
    },
    Caution {
        about: "Heat and mains",
        words: "The brake gets hot enough to burn under long load. Use the maker's supply on a \
                protected socket, out of the sweat, with the cord out of the way. At smell or \
                smoke, pull the plug.",
    },
    Caution {
        about: "The release",
        words: "Esc takes the load off at once, in every place of the desk. A lost link, a lost \
                reference or a full disk does the same, and no high load comes back by itself.",
    },
];
