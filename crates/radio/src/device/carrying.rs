//! What the link machine wants, carried out: calls, the drain opened and closed, news.

use super::Device;
use crate::drain::{Ages, Drain, Pipe};
use crate::link::Output;
use crate::news::{LinkState, News, Trouble, TroubleKind};
use futures::stream::FuturesUnordered;
use std::sync::Arc;
use units::AttError;

impl Device {
    pub(super) async fn carry_out(&mut self) {
        while let Some(output) = self.link.poll_output() {
            let at = self.shared.stamp.now();
            let (source, epoch) = (self.source, self.link.epoch());
            match output {
                Output::Call(call) => self.calling = Some(self.start(call)),
                Output::Abandon => self.calling = None,
                Output::OpenDrain => self.open_drain(),
                Output::CloseDrain => self.close().await,
                Output::State(state, words) => {
                    self.shared.outlet.send(News::Link {
                        source,
                        at,
                        state,
                        epoch,
                        words,
                    });
                    if state == LinkState::Live {
                        self.read_next();
                    }
                }
                Output::Services(entries) => {
                    self.shared.outlet.send(News::Services {
                        source,
                        epoch,
                        entries,
                    });
                }
                Output::Trouble(kind, words, remedy) => self.trouble(kind, words, remedy),
                Output::Finished => self.finished = true,
            }
        }
    }

    pub(super) fn trouble(&self, kind: TroubleKind, words: String, remedy: &str) {
        self.shared.outlet.send(News::Trouble(Trouble {
            at: self.shared.stamp.now(),
            source: Some(self.source),
            kind,
            words,
            remedy: remedy.to_owned(),
        }));
    }

    fn open_drain(&mut self) {
        let Some(values) = self.values.take() else {
            return;
        };
        let ages = Ages::new(self.wanted.iter().map(|wanted| wanted.characteristic));
        let pipe = Pipe {
            source: self.source,
            epoch: self.link.epoch(),
            ages: Arc::new(ages),
            stamp: self.shared.stamp,
            outlet: self.shared.outlet.clone(),
        };
        self.drain = Some(Drain::open(values, pipe));
    }

    async fn close(&mut self) {
        if let Some(drain) = self.drain.take() {
            drain.close().await;
        }
        self.values = None;
        self.asked = FuturesUnordered::new();
        for token in self.writes.clear() {
            self.write_done(token, Err(AttError::NotConnected));
        }
        for (token, _) in std::mem::take(&mut self.reads) {
            self.read_done(token, Err(AttError::NotConnected));
        }
        if self.last_writes_until.take().is_some() {
            self.link.detach();
        }
    }
}
