//! The machine that runs an audit: listen, ask, release, judge.

use super::closing::Closing;
use super::consent::Consent;
use super::dialogue::{Dialogue, Exchange, Point};
use super::evidence::{Evidence, Offered};
use super::finding::{Audit, LoadLeft};
use super::{claims, machine_steps, meter_steps, presence, streams, values, verdicts};
use crate::assigned as a;
use crate::control::Link;
use std::collections::VecDeque;
use units::{AttError, Characteristic, Packet, Span, Timestamp};

/// How an audit is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AuditSettings {
    /// What the owner allows.
    pub consent: Consent,
    /// How long notifications are listened to before anything is asked.
    pub listen: Span,
}

impl Default for AuditSettings {
    /// Nothing is written, and half a minute is listened to.
    fn default() -> Self {
        Self {
            consent: Consent::ReadOnly,
            listen: Span::from_secs(30),
        }
    }
}

/// What the driver is to do or to show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AuditOutput {
    /// Write these bytes, with response.
    Write {
        /// Where to.
        characteristic: Characteristic,
        /// What.
        bytes: Vec<u8>,
    },
    /// Tell whoever watches.
    Tell(String),
}

#[derive(Debug)]
enum Phase {
    Listening,
    Asking(Dialogue),
    Closing(Closing),
    Over,
}

/// Runs one audit of one device. It is fed from a link on which everything was subscribed to.
#[derive(Debug)]
pub struct Auditor {
    settings: AuditSettings,
    began: Timestamp,
    now: Timestamp,
    listened: Span,
    linked: bool,
    evidence: Evidence,
    phase: Phase,
    waiting: VecDeque<Point>,
    done: Vec<(Point, Vec<Exchange>)>,
    load_left: LoadLeft,
    outputs: VecDeque<AuditOutput>,
}

impl Auditor {
    /// Begins to listen at `now`.
    pub fn new(now: Timestamp, settings: AuditSettings) -> Self {
        Self {
            settings,
            began: now,
            now,
            listened: Span::ZERO,
            linked: true,
            evidence: Evidence::default(),
            phase: Phase::Listening,
            waiting: VecDeque::new(),
            done: Vec::new(),
            load_left: LoadLeft::Untouched,
            outputs: VecDeque::new(),
        }
    }

    /// Takes the service data of the Fitness Machine Service that the device advertises.
    pub fn handle_advertisement(&mut self, service_data: &[u8]) {
        self.evidence.advertisement = Some(service_data.to_vec());
    }

    /// Takes the service table.
    pub fn handle_services(&mut self, table: &[Offered]) {
        self.evidence.table = table.to_vec();
    }

    /// Takes the answer to a read.
    pub fn handle_read(
        &mut self,
        now: Timestamp,
        characteristic: Characteristic,
        result: Result<Vec<u8>, AttError>,
    ) {
        self.evidence.read(now, characteristic, result);
        self.go_on(now);
    }

    /// Takes a notification or an indication.
    pub fn handle_packet(&mut self, packet: &Packet) {
        let now = packet.at;
        self.go_on(now);
        let is_point = [
            a::FITNESS_MACHINE_CONTROL_POINT,
            a::CYCLING_POWER_CONTROL_POINT,
            a::SC_CONTROL_POINT,
        ]
        .contains(&packet.characteristic);
        // What is asked may reset totals and change what is sent; the steady streams are judged by
        // what they were before.
        let listening = matches!(self.phase, Phase::Listening);
        if !is_point && (listening || !streams::is_steady(packet.characteristic)) {
            self.evidence.hear(packet);
        }
        match &mut self.phase {
            Phase::Asking(dialogue) if packet.characteristic == dialogue.point.characteristic => {
                dialogue.handle_indication(now, &packet.bytes);
            }
            Phase::Asking(dialogue) if packet.characteristic == a::FITNESS_MACHINE_STATUS => {
                dialogue.handle_status(&packet.bytes);
            }
            Phase::Closing(closing) => closing.handle_packet(packet),
            _ => {}
        }
        self.go_on(now);
    }

    /// Takes the acknowledgement of the oldest write that has none yet.
    pub fn handle_write_result(&mut self, now: Timestamp, result: &Result<(), AttError>) {
        self.go_on(now);
        match &mut self.phase {
            Phase::Asking(dialogue) => dialogue.handle_write_result(now, result),
            Phase::Closing(closing) => closing.handle_write_result(now, result),
            Phase::Listening | Phase::Over => {}
        }
        self.go_on(now);
    }

    /// Takes the news that the link went down or came up again.
    pub fn handle_link(&mut self, now: Timestamp, link: Link) {
        self.go_on(now);
        self.linked = link == Link::Up;
        match &mut self.phase {
            Phase::Asking(dialogue) if link == Link::Down => {
                dialogue.end("the link was lost");
                self.waiting.clear();
            }
            Phase::Closing(closing) => closing.handle_link(now, link),
            _ => {}
        }
        self.go_on(now);
    }

    /// Fires what has fallen due.
    pub fn handle_time(&mut self, now: Timestamp) {
        self.go_on(now);
    }

    /// When [`Auditor::handle_time`] wants to be called next; always later than its last call.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        match &self.phase {
            Phase::Listening => Some(self.listens_until()),
            Phase::Asking(dialogue) => dialogue.poll_timeout(),
            Phase::Closing(closing) => closing.poll_timeout(),
            Phase::Over => None,
        }
    }

    /// The next thing to write or to tell.
    pub fn poll_output(&mut self) -> Option<AuditOutput> {
        self.outputs.pop_front()
    }

    /// Whether everything is done. Even then the driver should have written what was put out.
    pub fn is_over(&self) -> bool {
        matches!(self.phase, Phase::Over)
    }

    /// Ends the audit before its time; a load that was touched is still released first.
    pub fn stop(&mut self, now: Timestamp) {
        self.go_on(now);
        self.waiting.clear();
        match &mut self.phase {
            Phase::Listening => self.end_listening(),
            Phase::Asking(dialogue) => dialogue.end("the audit was ended"),
            Phase::Closing(_) | Phase::Over => {}
        }
        self.go_on(now);
    }

    /// Judges what was seen. What was not done by then is not observable.
    pub fn finish(mut self) -> Audit {
        if let Phase::Asking(dialogue) = std::mem::replace(&mut self.phase, Phase::Over) {
            self.done.push(dialogue.into_exchanges());
            self.load_left = self.left_by_dialogues();
        }
        let mut rules = presence::rules(&self.evidence);
        rules.extend(values::rules(&self.evidence));
        rules.extend(streams::rules(&self.evidence));
        rules.extend(claims::rules(&self.evidence));
        rules.extend(self.dialogue_rules());
        Audit {
            identity: self.evidence.capabilities.identity().clone(),
            consent: self.settings.consent,
            listened: self.listened,
            rules,
            streams: self
                .evidence
                .heard
                .iter()
                .map(|(characteristic, heard)| streams::figures(*characteristic, heard))
                .collect(),
            answers: self
                .done
                .iter()
                .filter_map(|(point, exchanges)| verdicts::times(*point, exchanges))
                .collect(),
            load_left: self.load_left,
        }
    }

    /// The rules about every control point, also about those that were not asked.
    fn dialogue_rules(&self) -> Vec<super::RuleFinding> {
        let mut rules = Vec::new();
        for point in self.points() {
            match self.done.iter().find(|(done, _)| *done == point) {
                Some((_, exchanges)) => rules.extend(verdicts::rules(point, exchanges)),
                None => {
                    let mut dialogue = Dialogue::new(point, self.plan(point));
                    dialogue.end(self.why_not(point));
                    let (_, exchanges) = dialogue.into_exchanges();
                    rules.extend(verdicts::rules(point, &exchanges));
                }
            }
        }
        rules
    }

    fn why_not(&self, point: Point) -> &'static str {
        let needed = consent_for(point);
        match needed {
            _ if self.settings.consent >= needed => "the audit was ended",
            Consent::MayChangeLoad => "consent to a change of the load was not given",
            Consent::MayAsk | Consent::ReadOnly => "consent to questions was not given",
        }
    }

    /// The control points that the device offers.
    fn points(&self) -> Vec<Point> {
        let offers = |service, point: Point| {
            self.evidence
                .has_control_point(service, point.characteristic)
                .then_some(point)
        };
        [
            offers(a::CYCLING_POWER_SERVICE, meter_steps::METER_POINT),
            offers(a::SPEED_CADENCE_SERVICE, meter_steps::SPEED_POINT),
            offers(a::FITNESS_MACHINE_SERVICE, machine_steps::POINT),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn plan(&self, point: Point) -> Vec<super::dialogue::Step> {
        match point.characteristic {
            a::FITNESS_MACHINE_CONTROL_POINT => machine_steps::plan(&self.evidence),
            a::CYCLING_POWER_CONTROL_POINT => meter_steps::meter_plan(&self.evidence),
            _ => meter_steps::speed_plan(&self.evidence),
        }
    }

    fn listens_until(&self) -> Timestamp {
        self.began + self.settings.listen
    }

    /// Does everything that can be done at `now`.
    fn go_on(&mut self, now: Timestamp) {
        self.now = self.now.max(now);
        let now = self.now;
        let listens_until = self.listens_until();
        loop {
            match &mut self.phase {
                Phase::Listening if now >= listens_until => {
                    self.waiting = self
                        .points()
                        .into_iter()
                        .filter(|point| self.settings.consent >= consent_for(*point))
                        .collect();
                    self.end_listening();
                }
                Phase::Asking(dialogue) => {
                    if let Some(bytes) = dialogue.advance(now) {
                        let characteristic = dialogue.point.characteristic;
                        if self.write(characteristic, bytes) {
                            return;
                        }
                    } else if dialogue.is_over() {
                        self.end_dialogue();
                    } else {
                        return;
                    }
                }
                Phase::Closing(closing) => {
                    closing.handle_time(now);
                    while let Some(bytes) = closing.poll_write() {
                        // The controller has ways of its own to release; each is as safe.
                        self.outputs.push_back(AuditOutput::Write {
                            characteristic: a::FITNESS_MACHINE_CONTROL_POINT,
                            bytes,
                        });
                    }
                    if !closing.is_over(now) {
                        return;
                    }
                    let released = closing.is_released();
                    self.end_closing(released);
                }
                Phase::Listening | Phase::Over => return,
            }
        }
    }

    fn end_listening(&mut self) {
        self.listened = (self.now - self.began).min(self.settings.listen);
        self.next_dialogue();
    }

    fn next_dialogue(&mut self) {
        self.phase = match self.waiting.pop_front().filter(|_| self.linked) {
            Some(point) => {
                if point == machine_steps::POINT {
                    self.load_left = LoadLeft::Unknown;
                    self.tell("the load changes now, between released and light");
                }
                Phase::Asking(Dialogue::new(point, self.plan(point)))
            }
            None => Phase::Over,
        };
    }

    fn end_dialogue(&mut self) {
        let Phase::Asking(dialogue) = std::mem::replace(&mut self.phase, Phase::Over) else {
            return;
        };
        let (point, exchanges) = dialogue.into_exchanges();
        let closes = point == machine_steps::POINT && verdicts::touched_load(&exchanges);
        if point == machine_steps::POINT && !closes {
            self.load_left = LoadLeft::Untouched;
        }
        self.done.push((point, exchanges));
        if closes {
            let closing = Closing::new(self.now, &self.evidence, self.linked);
            self.phase = Phase::Closing(closing);
        } else {
            self.next_dialogue();
        }
    }

    fn end_closing(&mut self, released: bool) {
        self.phase = Phase::Over;
        if released {
            self.load_left = LoadLeft::Released;
        } else {
            self.load_left = self.left_by_dialogues();
        }
        if self.load_left == LoadLeft::Unknown {
            self.tell(
                "the machine did not confirm the release; its load may be on: stop pedalling \
                       and switch it off",
            );
        }
    }

    /// How the brake is without a confirmed release.
    fn left_by_dialogues(&self) -> LoadLeft {
        let touched = self.done.iter().any(|(point, exchanges)| {
            *point == machine_steps::POINT && verdicts::touched_load(exchanges)
        });
        if touched {
            LoadLeft::Unknown
        } else {
            LoadLeft::Untouched
        }
    }

    /// Puts out what may be written. Gives whether it may.
    fn write(&mut self, characteristic: Characteristic, bytes: Vec<u8>) -> bool {
        let safe = characteristic != a::FITNESS_MACHINE_CONTROL_POINT
            || machine_steps::is_safe(&self.evidence, &bytes);
        if safe {
            self.outputs.push_back(AuditOutput::Write {
                characteristic,
                bytes,
            });
        } else if let Phase::Asking(dialogue) = &mut self.phase {
            dialogue.end("a step would have asked for more than a light load");
        }
        safe
    }

    fn tell(&mut self, words: &str) {
        self.outputs.push_back(AuditOutput::Tell(words.to_owned()));
    }
}

fn consent_for(point: Point) -> Consent {
    if point == machine_steps::POINT {
        Consent::MayChangeLoad
    } else {
        Consent::MayAsk
    }
}
