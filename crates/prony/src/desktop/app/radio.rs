//! The instruments in range, the remembered benches, and the audit.

use super::super::scanner::{Scanner, bench_of};
use super::super::{cards, scanner::Seen};
use super::{App, Done};
use crate::auditing::converse;
use crate::bench_file;
use anyhow::{Result, bail};
use desk::{AuditConsent, AuditLine, AuditView, RadioWish, Searching};
use sensor::audit::{Audit, AuditSettings, Consent, Outcome};
use std::path::Path;
use units::Span;

/// How long an audit listens to the streams of a device.
const LISTEN: Span = Span::from_secs(20);

impl App {
    pub(super) fn obey_radio(&mut self, wish: RadioWish, screen: &egui::Context) {
        if self.rides() {
            self.failure = Some(
                "A session holds the instruments. End it under Run before they are searched, \
                 zeroed or audited."
                    .to_owned(),
            );
            return;
        }
        match wish {
            RadioWish::Search(Searching::No) => {
                if let Some(scanner) = &self.scanner {
                    scanner.wish(RadioWish::Search(Searching::No));
                }
            }
            RadioWish::KeepBench(name) => {
                let kept = self.keep_bench(&name);
                if self.keep(kept).is_some() {
                    self.notice = Some(format!(
                        "The bench {name:?} is remembered. Ride on it under Script."
                    ));
                    self.bench = name;
                    self.rigs = cards::rigs();
                }
            }
            RadioWish::LinkBench(file) => {
                let linked = self.link_bench(&file, screen);
                self.keep(linked);
            }
            RadioWish::ForgetBench(file) => {
                let forgotten = cards::forget(&file);
                if self.keep(forgotten).is_some() {
                    self.rigs = cards::rigs();
                }
            }
            RadioWish::Audit { device, consent } => {
                let begun = self.begin_audit(device, consent, screen);
                self.keep(begun);
            }
            RadioWish::CloseAudit => self.audit = None,
            other => {
                let handed = self.scanner(screen).map(|scanner| scanner.wish(other));
                self.keep(handed);
            }
        }
    }

    fn scanner(&mut self, screen: &egui::Context) -> Result<&Scanner> {
        if self.scanner.as_ref().is_none_or(Scanner::is_over) {
            self.scanner = None;
            self.seen = Seen {
                searching: Searching::Beginning,
                ..Seen::default()
            };
        }
        match &mut self.scanner {
            Some(scanner) => Ok(scanner),
            empty => Ok(empty.insert(Scanner::start(screen.clone(), self.logbook.clone())?)),
        }
    }

    fn keep_bench(&self, name: &str) -> Result<()> {
        let mut bench = bench_of(name, &self.seen.cards)?;
        bench.rider_ceiling_w = Some(self.memory.preferences.ceiling_w);
        cards::remember(&bench).map(drop)
    }

    fn link_bench(&mut self, file: &str, screen: &egui::Context) -> Result<()> {
        let bench = bench_file::read(Path::new(file))?;
        let scanner = self.scanner(screen)?;
        for (device, plan) in &bench.instruments {
            scanner.wish(RadioWish::GiveRole {
                device: device.clone(),
                role: Some(plan.role),
            });
            if plan.place != analysis::evidence::Place::Unknown {
                scanner.wish(RadioWish::GivePlace {
                    device: device.clone(),
                    place: plan.place,
                });
            }
        }
        self.bench = bench.name;
        Ok(())
    }

    fn begin_audit(
        &mut self,
        device: String,
        consent: AuditConsent,
        screen: &egui::Context,
    ) -> Result<()> {
        self.is_free()?;
        let Some(card) = self.seen.cards.iter().find(|card| card.id == device) else {
            bail!("{device} is not in range any more; search again");
        };
        let name = card.name.clone();
        let words = format!("Auditing the conduct of {name}");
        let settings = AuditSettings {
            consent: match consent {
                AuditConsent::ReadOnly => Consent::ReadOnly,
                AuditConsent::MayAsk => Consent::MayAsk,
                AuditConsent::MayChangeLoad => Consent::MayChangeLoad,
            },
            listen: LISTEN,
        };
        // The audit has a radio of its own, and a device has one link only.
        let before = self.scanner.take();
        self.seen = Seen::default();
        self.begin_job(words, screen, move |_| {
            drop(before);
            Ok(Done::Audited(view(name, &converse(&device, settings)?)))
        })
    }
}

fn view(device: String, audit: &Audit) -> AuditView {
    let mut rules: Vec<AuditLine> = audit
        .rules
        .iter()
        .map(|rule| AuditLine {
            title: rule.title.to_owned(),
            clause: rule.clause.to_owned(),
            outcome: rule.outcome.to_string(),
            words: rule.words.clone(),
            is_broken: rule.outcome == Outcome::Broken,
        })
        .collect();
    rules.sort_by_key(|rule| !rule.is_broken);
    let count = |outcome| audit.with(outcome).count();
    AuditView {
        device,
        identity: audit.identity.to_string(),
        rules,
        sentence: format!(
            "{} rules kept, {} broken, {} not observable. Observed conduct, not a certificate.",
            count(Outcome::Kept),
            count(Outcome::Broken),
            count(Outcome::NotObservable)
        ),
    }
}
