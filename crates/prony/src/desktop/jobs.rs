//! Long work off the window's thread, one piece at a time, that can be given up.

use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// Tells the window how far the work is, and the work whether it was given up.
#[derive(Clone, Default)]
pub struct Reins {
    given_up: Arc<AtomicBool>,
    parts_done: Arc<AtomicU32>,
    parts: Arc<AtomicU32>,
}

impl Reins {
    /// Whether nobody waits for the work any more.
    pub fn is_given_up(&self) -> bool {
        self.given_up.load(Ordering::Relaxed)
    }

    /// Says how much is done.
    pub fn done(&self, parts: usize, of: usize) {
        self.parts.store(of as u32, Ordering::Relaxed);
        self.parts_done.store(parts as u32, Ordering::Relaxed);
    }
}

/// A running piece of work.
pub struct Job<T> {
    /// What is being done, in words.
    pub words: String,
    outcome: Receiver<Result<T>>,
    reins: Reins,
}

impl<T: Send + 'static> Job<T> {
    /// Starts work on a thread of its own.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(
        words: String,
        screen: &egui::Context,
        work: impl FnOnce(&Reins) -> Result<T> + Send + 'static,
    ) -> Result<Self> {
        let (tell, outcome) = bounded(1);
        let reins = Reins::default();
        let screen = screen.clone();
        std::thread::Builder::new().name("work".to_owned()).spawn({
            let reins = reins.clone();
            move || {
                // Nobody listens any more if the work was given up.
                let _ = tell.send(work(&reins));
                screen.request_repaint();
            }
        })?;
        Ok(Self {
            words,
            outcome,
            reins,
        })
    }
}

impl<T> Job<T> {
    /// What came of it, once it is over.
    pub fn outcome(&self) -> Option<Result<T>> {
        self.outcome.try_recv().ok()
    }

    /// How much is done, if the work says so.
    pub fn fraction(&self) -> Option<f32> {
        let parts = self.reins.parts.load(Ordering::Relaxed);
        (parts > 0).then(|| self.reins.parts_done.load(Ordering::Relaxed) as f32 / parts as f32)
    }
}

impl<T> Drop for Job<T> {
    fn drop(&mut self) {
        self.reins.given_up.store(true, Ordering::Relaxed);
    }
}
