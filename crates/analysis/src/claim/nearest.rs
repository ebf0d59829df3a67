//! The known name that is nearest to one that is not known, and what helps where a RON file that a
//! person wrote does not read.

/// The nearest of the known names, if it is near enough to be meant.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|candidate| (distance(name, candidate), candidate))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count() / 2)
        .map(|(_, candidate)| candidate)
}

/// What the reader of a RON file says, with the known names where a name is wrong.
pub fn remedy(code: &ron::Error) -> String {
    let unknown = |what: &str, found: &str, known: &[&'static str]| {
        let meant = nearest(found, known.iter().copied())
            .map_or(String::new(), |name| format!("did you mean `{name}`? "));
        format!("{what} `{found}`; {meant}known: {}", known.join(", "))
    };
    match code {
        ron::Error::NoSuchEnumVariant {
            expected, found, ..
        } => unknown("there is no", found, expected),
        ron::Error::NoSuchStructField {
            expected, found, ..
        } => unknown("there is no field", found, expected),
        ron::Error::MissingStructField { field, .. } => {
            format!("the field `{field}` is missing; write `{field}: …` here")
        }
        other => other.to_string(),
    }
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
