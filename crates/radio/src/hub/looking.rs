//! Looking for devices: the scan as it is wanted, and what is found described once.

use super::Hub;
use crate::air::limit;
use crate::news::{AdapterState, Advertisement, News};
use crate::order::DeviceId;
use crate::patience::Patience;
use crate::shared::ToHub;
use units::Span;

/// At most one question about a device in this time, however often it advertises.
const DESCRIBE_EVERY: Span = Span::from_millis(500);
/// Devices remembered for that; a crowded hall has fewer.
const MOST_SIGHTINGS: usize = 1000;

impl Hub {
    pub(super) fn adjust_scan(&self) {
        let on = self.scan_wish && self.devices.is_empty() && self.adapter != AdapterState::Missing;
        // Said even where nothing changed: the scan may have ended with the service.
        self.scan.send_replace(on);
    }

    pub(super) fn scan_once(&self) {
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let Patience { burst, call, .. } = shared.patience;
            if let Err(fault) = shared.air.burst(None, burst, call).await {
                let _ = shared.hub.send(ToHub::ScanFailed(fault)).await;
            }
        });
    }

    pub(super) fn sighted(&mut self, id: DeviceId) {
        self.shared.air.hear(&id);
        let now = self.now();
        if self.sightings.len() >= MOST_SIGHTINGS {
            self.sightings.retain(|_, sighting| sighting.asking);
        }
        let sighting = self.sightings.entry(id.clone()).or_default();
        if sighting.asking
            || sighting
                .asked
                .is_some_and(|asked| now - asked < DESCRIBE_EVERY)
        {
            return;
        }
        (sighting.asked, sighting.asking) = (Some(now), true);
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let found = limit(shared.patience.ask, shared.host.describe(&id))
                .await
                .ok();
            let _ = shared.hub.send(ToHub::Described(id, found)).await;
        });
    }

    pub(super) fn described(&mut self, id: &DeviceId, found: Option<Advertisement>) {
        let Some(sighting) = self.sightings.get_mut(id) else {
            return;
        };
        sighting.asking = false;
        if let Some(mut found) = found {
            // A device that is only remembered has no signal strength (B12).
            found.seen_at = found.rssi.and(sighting.asked);
            self.shared.outlet.send(News::Found(found));
        }
    }
}
