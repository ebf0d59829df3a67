//! The known name that is nearest to one that is not known.

/// The nearest of the known names, if it is near enough to be meant.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|candidate| (distance(name, candidate), candidate))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count() / 2)
        .map(|(_, candidate)| candidate)
}

/// Levenshtein distance, upper and lower case alike.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.to_lowercase().chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.to_lowercase().chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let changed = corner + usize::from(from != *to);
            corner = row[j + 1];
            row[j + 1] = changed.min(corner + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}
