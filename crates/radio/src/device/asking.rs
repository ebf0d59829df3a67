//! The program's writes and reads: in order, on a live link, each answered once.

use super::Device;
use super::answers::Asked;
use crate::air::limit;
use crate::fault::HostFault;
use crate::news::{News, TroubleKind};
use crate::order::Token;
use crate::writes::{Go, Offer};
use units::{AttError, Characteristic, Packet, Write};

impl Device {
    pub(super) fn write(&mut self, token: Token, write: Write) {
        if !self.link.is_live() || self.last_writes_until.is_some() {
            self.write_done(token, Err(AttError::NotConnected));
            return;
        }
        let Write {
            characteristic,
            bytes,
            ..
        } = write;
        match self.writes.offer(Go {
            token,
            characteristic,
            bytes,
        }) {
            Offer::Go(go) => self.go(go),
            Offer::Waits {
                instead_of: Some(old),
            } => {
                self.write_done(
                    old,
                    Err(AttError::Other("overtaken by a newer write".to_owned())),
                );
            }
            Offer::Waits { instead_of: None } => {}
        }
    }

    fn go(&mut self, go: Go) {
        let Some(remote) = self.remote.clone() else {
            return;
        };
        let (within, epoch) = (self.shared.patience.call, self.link.epoch());
        self.asked.push(Box::pin(async move {
            let call = remote.write(go.characteristic, go.bytes.clone());
            let result = limit(within, call).await;
            (epoch, Asked::Written(go, result))
        }));
    }

    pub(super) fn read(&mut self, token: Token, characteristic: Characteristic) {
        if !self.link.is_linked() {
            self.read_done(token, Err(AttError::NotConnected));
            return;
        }
        // Whoever hears of the services orders reads at once; they wait until the link is live.
        self.reads.push_back((token, characteristic));
        if self.reads.len() == 1 && self.link.is_live() {
            self.read_next();
        }
    }

    pub(super) fn read_next(&mut self) {
        let (Some((token, characteristic)), Some(remote)) =
            (self.reads.front().copied(), self.remote.clone())
        else {
            return;
        };
        let (within, epoch) = (self.shared.patience.call, self.link.epoch());
        self.asked.push(Box::pin(async move {
            let result = limit(within, remote.read(characteristic)).await;
            (epoch, Asked::Read(token, characteristic, result))
        }));
    }

    pub(super) fn asked_done(&mut self, epoch: u32, asked: Asked) {
        match asked {
            Asked::Written(go, result) => {
                let next = self.writes.done(go.characteristic);
                self.unanswered(&result, go.characteristic, "write");
                self.write_done(go.token, result.as_ref().copied().map_err(att));
                if let Some(next) = next {
                    self.go(next);
                }
                if let Err(fault) = result {
                    self.link.call_failed(&fault);
                }
                if self.writes.is_empty() && self.last_writes_until.take().is_some() {
                    self.link.detach();
                }
            }
            Asked::Read(token, characteristic, result) => {
                self.reads.pop_front();
                self.unanswered(&result, characteristic, "read");
                let answer = result.as_ref().map(|_| ()).map_err(att);
                if let Ok(bytes) = &result {
                    self.shared.outlet.send(News::Packet(Packet {
                        at: self.shared.stamp.now(),
                        source: self.source,
                        epoch,
                        characteristic,
                        bytes: bytes.clone(),
                    }));
                }
                self.read_done(token, answer);
                self.read_next();
                // A table that does not hold the characteristic is no reason to end the link.
                if let Err(fault) = result
                    && fault != HostFault::Gone
                {
                    self.link.call_failed(&fault);
                }
            }
        }
    }

    fn unanswered<T>(&self, result: &Result<T, HostFault>, at: Characteristic, verb: &str) {
        match result {
            Err(HostFault::TimedOut) => self.trouble(
                TroubleKind::Unanswered,
                format!("the device did not answer a {verb} of {at}"),
                "the link is set up anew; if it happens again, switch the device off and on",
            ),
            Err(fault @ HostFault::NotPaired) => self.trouble(
                TroubleKind::NotPaired,
                format!("the device refuses a {verb} of {at}: {fault}"),
                fault.remedy(),
            ),
            _ => {}
        }
    }

    pub(super) fn write_done(&self, token: Token, result: Result<(), AttError>) {
        let at = self.shared.stamp.now();
        self.shared
            .outlet
            .send(News::WriteDone { token, at, result });
    }

    pub(super) fn read_done(&self, token: Token, result: Result<(), AttError>) {
        let at = self.shared.stamp.now();
        self.shared
            .outlet
            .send(News::ReadDone { token, at, result });
    }
}

fn att(fault: &HostFault) -> AttError {
    fault.clone().into()
}
