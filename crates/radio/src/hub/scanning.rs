//! The continuous scan.

use crate::shared::{Shared, ToHub};
use tokio::sync::watch;

/// Keeps the continuous scan as it is wanted, one step after the other.
pub(super) async fn scan_worker(shared: Shared, mut wanted: watch::Receiver<bool>) {
    while wanted.changed().await.is_ok() {
        let on = *wanted.borrow_and_update();
        if let Err(fault) = shared.air.scan(on, shared.patience.call).await
            && on
        {
            let _ = shared.hub.send(ToHub::ScanFailed(fault)).await;
        }
    }
}
