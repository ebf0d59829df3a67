//! The air is shared: one link is set up at a time, and no scan runs meanwhile (trouble list B3,
//! B5).

use crate::fault::HostFault;
use crate::host::{Host, Remote};
use crate::order::DeviceId;
use crate::stamp::length;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Mutex, watch};
use units::Span;

/// The pause between the end of a scan and a connect.
const AFTER_SCAN: Duration = Duration::from_millis(300);

pub(crate) struct Air {
    host: Arc<dyn Host>,
    /// Whether a continuous scan is running. Whoever holds the lock has the air.
    scanning: Mutex<bool>,
    /// The device heard last, and how many have been heard.
    heard: watch::Sender<(u64, Option<DeviceId>)>,
}

impl Air {
    pub(crate) fn new(host: Arc<dyn Host>) -> Self {
        Self {
            host,
            scanning: Mutex::new(false),
            heard: watch::Sender::new((0, None)),
        }
    }

    /// A device was heard; a burst that looks for it can end.
    pub(crate) fn hear(&self, id: &DeviceId) {
        self.heard.send_modify(|(count, last)| {
            *count += 1;
            *last = Some(id.clone());
        });
    }

    /// Starts or stops the continuous scan.
    pub(crate) async fn scan(&self, on: bool, within: Span) -> Result<(), HostFault> {
        let mut scanning = self.scanning.lock().await;
        if *scanning == on {
            return Ok(());
        }
        let call = if on {
            self.host.start_scan()
        } else {
            self.host.stop_scan()
        };
        let result = limit(within, call).await;
        // A scan that could not be stopped is taken as over: its service is gone.
        *scanning = on && result.is_ok();
        result
    }

    /// Forgets a scan that ended with the service.
    pub(crate) async fn forget_scan(&self) {
        *self.scanning.lock().await = false;
    }

    /// Scans for `length`, or until `wanted` is heard. Stops the scan even where the burst itself
    /// is cut off.
    pub(crate) async fn burst(
        &self,
        wanted: Option<&DeviceId>,
        span: Span,
        within: Span,
    ) -> Result<(), HostFault> {
        let scanning = self.scanning.lock().await;
        let mut heard = self.heard.subscribe();
        if !*scanning {
            limit(within, self.host.start_scan()).await?;
        }
        let stop = StopScan {
            host: (!*scanning).then(|| self.host.clone()),
            within,
        };
        let found = async {
            while heard.changed().await.is_ok() {
                if wanted.is_some() && heard.borrow_and_update().1.as_ref() == wanted {
                    return;
                }
            }
        };
        // Not found is no fault: the system may know the device without hearing it.
        let _ = tokio::time::timeout(length(span), found).await;
        stop.now().await
    }

    /// Sets up a link while nobody else uses the air.
    pub(crate) async fn connect(&self, remote: &dyn Remote, within: Span) -> Result<(), HostFault> {
        let mut scanning = self.scanning.lock().await;
        if std::mem::take(&mut *scanning) {
            // If it cannot be stopped the connect will say what is wrong.
            let _ = limit(within, self.host.stop_scan()).await;
            tokio::time::sleep(AFTER_SCAN).await;
        }
        limit(within, remote.connect()).await
    }
}

/// Stops a burst's scan, also when the burst is dropped half way.
struct StopScan {
    host: Option<Arc<dyn Host>>,
    within: Span,
}

impl StopScan {
    async fn now(mut self) -> Result<(), HostFault> {
        match self.host.take() {
            Some(host) => limit(self.within, host.stop_scan()).await,
            None => Ok(()),
        }
    }
}

impl Drop for StopScan {
    fn drop(&mut self) {
        if let Some(host) = self.host.take() {
            let within = self.within;
            tokio::spawn(async move { limit(within, host.stop_scan()).await });
        }
    }
}

/// Every call to the system gets a time limit of our own (trouble list B1).
pub(crate) async fn limit<T>(
    within: Span,
    call: impl Future<Output = Result<T, HostFault>>,
) -> Result<T, HostFault> {
    match tokio::time::timeout(length(within), call).await {
        Ok(result) => result,
        Err(_) => Err(HostFault::TimedOut),
    }
}
