//! What the findings do not know about their session.

/// What the findings do not know about their session.
#[derive(Clone, Debug, Default)]
pub struct SessionFacts {
    /// What the session says about itself.
    pub about: session::About,
    /// The instruments as the file keeps them.
    pub sources: Vec<session::SourceInfo>,
    /// `sealed` or `broken` where the seals were checked, `closed` where the recording was ended in
    /// order and they were not; other words say how it ended otherwise. `None`: not known.
    pub sealed: Option<String>,
    /// SHA-256 of the block that ended the recording, in hexadecimal digits.
    pub seal_sha256: Option<String>,
}

impl SessionFacts {
    /// Whether no real instruments stand behind the session.
    pub fn is_simulated(&self) -> bool {
        self.about.is_simulated() || self.sources.iter().any(|source| source.simulated)
    }

    /// The instrument behind a stream: its own, or one of several that bear its name.
    pub fn source_of(&self, stream: &str) -> Option<&session::SourceInfo> {
        let of_several = |info: &session::SourceInfo| {
            let rest = stream.strip_prefix(info.name.as_str());
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(" · "))
        };
        self.sources.iter().find(|info| of_several(info))
    }
}
