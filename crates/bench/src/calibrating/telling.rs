//! What is told about a procedure: to the record, on the screen, and to the rider.

use crate::happening::Happening;
use crate::input::Output;
use crate::machine::Bench;
use crate::model::NoticeView;
use protocol::{Cue, Pedalling};
use std::sync::Arc;
use units::{MetresPerSecond, SourceId, Timestamp};

/// What is told about a procedure, for the record and the screen.
pub(super) struct News<'a> {
    pub(super) called: &'a str,
    pub(super) state: &'a str,
    pub(super) value: Option<f64>,
    pub(super) unit: Option<&'a str>,
    pub(super) words: String,
}

impl<'a> News<'a> {
    pub(super) fn plain(called: &'a str, state: &'a str, words: String) -> Self {
        Self {
            called,
            state,
            value: None,
            unit: None,
            words,
        }
    }
}

impl Bench {
    pub(super) fn tell_of(&mut self, source: SourceId, news: &News<'_>) {
        self.tell_of_at(self.now, source, news);
    }

    /// Into the record and onto the screen.
    pub(super) fn tell_of_at(&mut self, at: Timestamp, source: SourceId, news: &News<'_>) {
        self.record_of(at, source, news);
        let name = self.name_of(source).unwrap_or_default();
        let words = format!("{name}: {}: {}", news.called, news.words);
        Arc::make_mut(&mut self.notices).push(NoticeView { at, words });
    }

    pub(super) fn record_of(&mut self, at: Timestamp, source: SourceId, news: &News<'_>) {
        self.event(
            at,
            Happening::Calibration {
                source: source.0,
                procedure: news.called.to_owned(),
                state: news.state.to_owned(),
                value: news.value,
                unit: news.unit.map(str::to_owned),
                words: news.words.clone(),
            },
        );
    }

    pub(super) fn cue_rider(
        &mut self,
        at: Timestamp,
        pedalling: Pedalling,
        speed: Option<MetresPerSecond>,
        words: &str,
    ) {
        self.procedures.words = Some(words.to_owned());
        self.event(
            at,
            Happening::Cue {
                words: words.to_owned(),
            },
        );
        self.outputs.push_back(Output::Cue(Cue {
            pedalling,
            cadence: None,
            gear: None,
            speed,
            effort: None,
            text: words.to_owned(),
        }));
    }

    pub(super) fn name_of(&self, source: SourceId) -> Option<String> {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)
            .map(|one| one.plan().name.clone())
    }
}
