//! Streams of btleplug that end quietly.
//!
//! On Linux the end of a stream is told to the bus, and a bus that is dead makes that panic on
//! another thread. Nothing is lost by not telling it: a dead bus forgets everything anyhow.

use futures::stream::{BoxStream, Stream, StreamExt};
use std::mem::ManuallyDrop;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};

/// Whether the last question about the service's health brought no answer: it was cut off, or
/// could not even be sent.
pub(crate) type Deaf = Arc<AtomicBool>;

/// A question that notes if it is cut off.
pub(crate) struct Question(Option<Deaf>);

impl Question {
    pub(crate) fn to(deaf: &Deaf) -> Self {
        Self(Some(deaf.clone()))
    }

    /// Somebody answered, whatever the answer was.
    pub(crate) fn answered(mut self) {
        if let Some(deaf) = self.0.take() {
            deaf.store(false, Ordering::Relaxed);
        }
    }
}

impl Drop for Question {
    fn drop(&mut self) {
        if let Some(deaf) = self.0.take() {
            deaf.store(true, Ordering::Relaxed);
        }
    }
}

/// A stream whose end is told only to somebody who listens.
pub(crate) struct Told<T> {
    stream: ManuallyDrop<BoxStream<'static, T>>,
    deaf: Deaf,
}

impl<T: 'static> Told<T> {
    pub(crate) fn wrap(stream: BoxStream<'static, T>, deaf: &Deaf) -> BoxStream<'static, T>
    where
        T: Send,
    {
        let stream = ManuallyDrop::new(stream);
        Self {
            stream,
            deaf: deaf.clone(),
        }
        .boxed()
    }
}

impl<T> Stream for Told<T> {
    type Item = T;

    fn poll_next(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<T>> {
        self.stream.poll_next_unpin(cx)
    }
}

impl<T> Drop for Told<T> {
    fn drop(&mut self) {
        if !self.deaf.load(Ordering::Relaxed) {
            // Exchanged for a stream that holds nothing, and so is safe to leave behind.
            let nothing: Pin<Box<dyn Stream<Item = T> + Send>> =
                Box::pin(futures::stream::poll_fn(|_| Poll::Ready(None)));
            let stream = std::mem::replace(&mut self.stream, ManuallyDrop::new(nothing));
            drop(ManuallyDrop::into_inner(stream));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stream(alive: &Arc<()>, deaf: &Deaf) -> BoxStream<'static, ()> {
        let alive = alive.clone();
        Told::wrap(
            futures::stream::iter([()])
                .map(move |()| {
                    let _ = &alive;
                })
                .boxed(),
            deaf,
        )
    }

    #[test]
    fn a_stream_is_dropped_while_somebody_listens_and_left_when_nobody_does() {
        let (alive, deaf) = (Arc::new(()), Deaf::default());
        drop(stream(&alive, &deaf));
        assert_eq!(Arc::strong_count(&alive), 1);
        drop(Question::to(&deaf));
        drop(stream(&alive, &deaf));
        assert_eq!(Arc::strong_count(&alive), 2);
        Question::to(&deaf).answered();
        drop(stream(&alive, &deaf));
        assert_eq!(Arc::strong_count(&alive), 2);
    }
}
