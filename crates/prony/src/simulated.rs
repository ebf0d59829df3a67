//! The simulated bench as instruments of a session.

use crate::instruments::{Instruments, News};
use protocol::{Cue, Pedalling};
use rig::{Instruction, LinkState, Rig};
use std::collections::VecDeque;
use units::{Timestamp, Write};

/// How hard the simulated rider goes when asked for everything, W, and for how long it can, s.
const ALL_OUT_W: f64 = 750.0;
const ALL_OUT_S: f64 = 12.0;

/// A rig and what it has said but nobody has heard yet.
pub struct Simulated {
    rig: Rig,
    news: VecDeque<News>,
    resting: bool,
}

impl Simulated {
    /// Connects to every instrument of a rig.
    pub fn new(mut rig: Rig) -> Self {
        rig.connect(Timestamp::ZERO);
        Self {
            rig,
            news: VecDeque::new(),
            resting: false,
        }
    }

    /// The rig itself, whose hidden truth a self-test compares with.
    pub fn into_rig(self) -> Rig {
        self.rig
    }

    /// The rig itself while it is ridden, for what happens to riders and chains.
    pub fn rig_mut(&mut self) -> &mut Rig {
        &mut self.rig
    }

    /// Takes everything the rig has said up to now, in order of time.
    fn listen(&mut self) {
        while let Some(change) = self.rig.poll_link_change() {
            let (up, epoch, words) = match change.state {
                LinkState::Up { epoch } => (true, epoch, "simulated link"),
                LinkState::Down => (false, 0, "simulated link"),
            };
            self.news.push_back(News::Link {
                at: change.at,
                source: change.source,
                up,
                epoch,
                words: words.to_owned(),
            });
        }
        while let Some(packet) = self.rig.poll_packet() {
            self.news.push_back(News::Packet(packet));
        }
        self.news.make_contiguous().sort_by_key(News::at);
    }
}

impl Instruments for Simulated {
    fn due(&self) -> Option<Timestamp> {
        let next = self.rig.poll_timeout();
        let waiting = self.news.front().map(News::at);
        Some(waiting.map_or(next, |at| at.min(next)))
    }

    fn poll(&mut self, now: Timestamp) -> Option<News> {
        if self.news.is_empty() {
            self.rig.advance(now);
            self.listen();
        }
        self.news.pop_front()
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        let result = self.rig.handle_write(now, &write);
        self.news.push_back(News::WriteReply {
            at: now,
            write,
            result,
        });
    }

    fn cue(&mut self, now: Timestamp, cue: &Cue) {
        let mut instruct = |instruction| self.rig.instruct(now, instruction);
        if let Some(gear) = cue.gear {
            instruct(Instruction::Gear {
                development_m: gear.development_m,
            });
        }
        let was_resting = std::mem::replace(&mut self.resting, cue.pedalling == Pedalling::Stop);
        match cue.pedalling {
            Pedalling::Stop => instruct(Instruction::StopPedalling),
            Pedalling::AllOut | Pedalling::AllOutFromStandstill => {
                instruct(Instruction::Burst {
                    power_w: ALL_OUT_W,
                    seconds: ALL_OUT_S,
                });
            }
            Pedalling::Evenly | Pedalling::Easily => {
                if was_resting {
                    instruct(Instruction::Resume);
                }
                if let Some(effort) = cue.effort {
                    instruct(Instruction::Effort {
                        power_w: effort.get(),
                    });
                }
                if let Some(cadence) = cue.cadence {
                    instruct(Instruction::Cadence { rpm: cadence.get() });
                }
            }
        }
        if let Some(speed) = cue.speed {
            instruct(Instruction::Accelerate {
                speed_kmh: speed.to_kilometres_per_hour(),
            });
        }
    }
}
