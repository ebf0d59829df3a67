//! One member of a pack, and how members may be called.

/// Name of the session within a pack, whatever its file is called.
pub(super) const SESSION: &str = "session.prony";
/// A claim sheet that was given after the ride.
pub(super) const GIVEN_CLAIMS: &str = "given/claims.ron";
/// What was measured by hand for the claims.
pub(super) const GIVEN_MEASUREMENTS: &str = "given/measurements.ron";
/// What the tester states about the report; its photographs lie beside it.
pub(super) const GIVEN_IMPRINT: &str = "given/imprint.ron";
/// Folder of what a person gave to the findings and the report.
pub(super) const GIVEN: &str = "given/";
/// Folder of what a person added.
pub(super) const ADDED: &str = "added/";
/// The findings.
pub(super) const FINDINGS: &str = "findings.json";

/// One file of a pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Member {
    /// Name within the archive.
    pub name: String,
    /// What it is, for people.
    pub what: &'static str,
    /// Its content.
    pub bytes: Vec<u8>,
}

impl Member {
    /// A member of this name and content; `what` it is, for people.
    pub fn new(name: impl Into<String>, what: &'static str, bytes: impl Into<Vec<u8>>) -> Self {
        Self {
            name: name.into(),
            what,
            bytes: bytes.into(),
        }
    }
}

/// Whether a name means the same place below the current folder everywhere: parts of printable
/// characters with single slashes between, none of which leads up or names a drive.
pub(super) fn is_plain(name: &str) -> bool {
    let odd = |letter: char| letter.is_control() || "\\:*?\"<>|".contains(letter);
    name.len() <= 255
        && !name.contains(odd)
        && name
            .split('/')
            .all(|part| !part.is_empty() && part != ".." && part != ".")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_elsewhere_are_not_plain() {
        for name in [
            "README.txt",
            "tables/raw.csv",
            "added/Foto 1 – Bremse.jpg",
            "a/.b",
        ] {
            assert!(is_plain(name), "{name}");
        }
        for name in [
            "",
            "/etc/passwd",
            "../x",
            "a/../x",
            "a//b",
            "a/",
            "./a",
            "C:x",
            "a\\b",
            "a\nb",
            "..",
        ] {
            assert!(!is_plain(name), "{name:?}");
        }
    }
}
