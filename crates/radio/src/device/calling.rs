//! One call at a time to the system, as the link machine wants it, and its answer.

use super::Device;
use super::answers::{Brought, Calling};
use crate::air::limit;
use crate::fault::HostFault;
use crate::host::Remote;
use crate::link::{Call, Reply, What};
use crate::order::DeviceId;
use crate::shared::{Shared, ToHub};

impl Device {
    pub(super) fn answered(&mut self, serial: u64, result: Result<Brought, HostFault>) {
        let result = match result {
            Ok(Brought::Plain(reply)) => Ok(reply),
            Ok(Brought::Found(remote, values)) => {
                (self.remote, self.values) = (Some(remote), Some(values));
                Ok(Reply::Done)
            }
            Err(fault) => {
                self.suspect(&fault);
                Err(fault)
            }
        };
        self.link.answer(serial, result, self.shared.stamp.now());
    }

    /// A fault of the whole system is the hub's to look into.
    fn suspect(&self, fault: &HostFault) {
        if matches!(
            fault,
            HostFault::NoService | HostFault::NoAdapter | HostFault::AdapterOff
        ) {
            // A hub that has no room for it looks by itself soon enough.
            let _ = self.shared.hub.try_send(ToHub::Suspect);
        }
    }

    pub(super) fn start(&self, call: Call) -> Calling {
        let Call {
            serial,
            what,
            within,
        } = call;
        let shared = self.shared.clone();
        let (id, remote) = (self.id.clone(), self.remote.clone());
        Box::pin(async move {
            let brought = match what {
                What::Renew => limit(within, renew(&shared)).await,
                What::Burst => shared
                    .air
                    .burst(Some(&id), shared.patience.burst, shared.patience.call)
                    .await
                    .map(|()| Brought::Plain(Reply::Done)),
                What::Find => limit(within, find(&shared, &id)).await,
                // The time limit of the connect begins when the air is free.
                What::Connect => match remote {
                    Some(remote) => shared.air.connect(&*remote, within).await.map(done),
                    None => Err(HostFault::Gone),
                },
                other => match remote {
                    Some(remote) => limit(within, with_remote(&*remote, other)).await,
                    None => Err(HostFault::NotConnected),
                },
            };
            (serial, brought)
        })
    }
}

const fn done((): ()) -> Brought {
    Brought::Plain(Reply::Done)
}

async fn renew(shared: &Shared) -> Result<Brought, HostFault> {
    shared.host.renew().await?;
    let _ = shared.hub.send(ToHub::Renewed).await;
    Ok(Brought::Plain(Reply::Done))
}

/// A new object, and its stream before the link is there: on Linux the service switches
/// notifications on again by itself as soon as it has the link, and the first values would be
/// missed. They wait in the stream until the services are known.
async fn find(shared: &Shared, id: &DeviceId) -> Result<Brought, HostFault> {
    let remote = shared.host.find(id).await?;
    let values = remote.values().await?;
    Ok(Brought::Found(remote, values))
}

async fn with_remote(remote: &dyn Remote, what: What) -> Result<Brought, HostFault> {
    match what {
        What::Discover => remote
            .discover()
            .await
            .map(|table| Brought::Plain(Reply::Table(table))),
        What::Subscribe(characteristic) => remote.subscribe(characteristic).await.map(done),
        What::Resubscribe(characteristic) => {
            // Whether it was still subscribed does not matter.
            let _ = remote.unsubscribe(characteristic).await;
            remote.subscribe(characteristic).await.map(done)
        }
        What::Ask => remote
            .is_connected()
            .await
            .map(|linked| Brought::Plain(Reply::Linked(linked))),
        What::Disconnect => remote.disconnect().await.map(done),
        What::Renew | What::Burst | What::Find | What::Connect => Ok(done(())),
    }
}
