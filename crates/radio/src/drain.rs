//! The drain of one link: takes a value, stamps it, hands it on. Nothing else, so that nothing
//! can keep it from taking the next one (trouble list A1).

use crate::host::Values;
use crate::news::News;
use crate::outlet::Outlet;
use crate::stamp::Stamp;
use futures::StreamExt;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use units::{Characteristic, Packet, SourceId, Timestamp};

/// When each watched characteristic spoke last.
#[derive(Debug)]
pub(crate) struct Ages(Vec<(Characteristic, AtomicI64)>);

impl Ages {
    pub(crate) fn new(characteristics: impl Iterator<Item = Characteristic>) -> Self {
        Self(
            characteristics
                .map(|one| (one, AtomicI64::new(i64::MIN)))
                .collect(),
        )
    }

    /// Notes a value. Says whether the characteristic is one of the watched.
    fn note(&self, characteristic: Characteristic, at: Timestamp) -> bool {
        let found = self.0.iter().find(|(one, _)| *one == characteristic);
        if let Some((_, newest)) = found {
            newest.store(at.as_nanos(), Ordering::Relaxed);
        }
        found.is_some()
    }

    /// The newest value of each characteristic that spoke at all.
    pub(crate) fn newest(&self) -> impl Iterator<Item = (Characteristic, Timestamp)> {
        self.0.iter().filter_map(|(characteristic, newest)| {
            let nanos = newest.load(Ordering::Relaxed);
            (nanos != i64::MIN).then(|| (*characteristic, Timestamp::from_nanos(nanos)))
        })
    }
}

/// What a drain needs to know.
#[derive(Clone)]
pub(crate) struct Pipe {
    pub(crate) source: SourceId,
    pub(crate) epoch: u32,
    /// The subscribed characteristics; values of others are echoes of reads (`read()` on Linux
    /// emits one) and are not forwarded.
    pub(crate) ages: Arc<Ages>,
    pub(crate) stamp: Stamp,
    pub(crate) outlet: Arc<Outlet>,
}

impl Pipe {
    fn forward(&self, (characteristic, bytes): (Characteristic, Vec<u8>)) {
        let at = self.stamp.now();
        if self.ages.note(characteristic, at) {
            self.outlet.send(News::Packet(Packet {
                at,
                source: self.source,
                epoch: self.epoch,
                characteristic,
                bytes,
            }));
        }
    }
}

#[derive(Debug)]
pub(crate) struct Drain {
    finish: oneshot::Sender<()>,
    task: JoinHandle<()>,
    pub(crate) ages: Arc<Ages>,
}

/// A stream that has brought nothing for this long after its link went down is empty.
const IDLE: Duration = Duration::from_millis(20);
/// A stream that does not become empty is closed after this time all the same.
const AT_MOST: Duration = Duration::from_millis(300);

impl Drain {
    pub(crate) fn open(mut values: Values, pipe: Pipe) -> Self {
        let (finish, mut finished) = oneshot::channel();
        let ages = pipe.ages.clone();
        let task = tokio::spawn(async move {
            loop {
                tokio::select! {
                    biased;
                    value = values.next() => match value {
                        Some(value) => pipe.forward(value),
                        // No system ends the stream with the link; should one, wait to be closed.
                        None => { let _ = (&mut finished).await; return; }
                    },
                    _ = &mut finished => break,
                }
            }
            // What arrived before the link went down still belongs to it.
            let rest = async {
                while let Ok(Some(value)) = tokio::time::timeout(IDLE, values.next()).await {
                    pipe.forward(value);
                }
            };
            let _ = tokio::time::timeout(AT_MOST, rest).await;
        });
        Self { finish, task, ages }
    }

    /// Forwards what has arrived, then closes the stream.
    pub(crate) async fn close(self) {
        let _ = self.finish.send(());
        // The task ends by itself within `AT_MOST`; if it panicked there is nothing left to close.
        let _ = self.task.await;
    }
}
