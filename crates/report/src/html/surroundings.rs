//! Bike, room, rider, and photographs of them.

use super::markup::{Safe, heading, join, not_stated, ours, pairs, quiet, text};
use super::page::Page;
use crate::imprint::Photo;
use crate::words::{self, decimals};

/// What the session says of the surroundings, and what the tester states afterwards.
pub(super) fn surroundings(page: &Page<'_>) -> Safe {
    let (about, imprint) = (&page.facts.about, page.imprint);
    let mass = about
        .rider_mass_kg
        .map(|mass| format!("{} kg", decimals(mass, 1)));
    let mut told = vec![
        (
            "bicycle, gears, chain, tyre",
            both(&about.bike, &imprint.bicycle),
        ),
        (
            "room, temperature, fan, mounting",
            both(&about.environment, &imprint.surroundings),
        ),
        ("rider (alias)", both(&about.rider, &None)),
        ("mass of the rider", both(&mass, &None)),
    ];
    if about.note.is_some() {
        told.push(("note in the session", both(&about.note, &None)));
    }
    let mut parts = vec![pairs(told)];
    if imprint.bicycle.is_some() || imprint.surroundings.is_some() {
        parts.push(quiet(
            "What the tester states stands in no sealed file; the rest was written into the session \
             before its first sample.",
        ));
    }
    let photos: Vec<Safe> = imprint.photos.iter().filter_map(photo).collect();
    if !photos.is_empty() {
        parts.push(heading("Photographs"));
        parts.extend(photos);
    }
    join(parts)
}

/// What the session says, then what the tester states.
fn both(session: &Option<String>, tester: &Option<String>) -> Safe {
    let filled = |words: &Option<String>| {
        let words = words.as_deref().map(str::trim);
        words.filter(|words| !words.is_empty()).map(str::to_owned)
    };
    match (filled(session), filled(tester)) {
        (None, None) => not_stated(),
        (Some(words), None) => text(&words),
        (None, Some(words)) => text(&format!("as the tester states: {words}")),
        (Some(session), Some(tester)) => ours(format!(
            "{}<br/>as the tester states: {}",
            text(&session),
            text(&tester)
        )),
    }
}

/// A photograph that was embedded.
fn photo(photo: &Photo) -> Option<Safe> {
    let data = photo.data.as_deref()?;
    Some(ours(format!(
        "<figure class=\"photo\"><img src=\"{data}\" alt=\"{}\"/>\n\
         <figcaption>{}</figcaption></figure>\n",
        text(&photo.shows),
        text(&words::sentence_case(&photo.shows))
    )))
}
