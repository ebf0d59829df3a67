//! Plays a scripted conversation and writes down what the controller says.
//!
//! A script is a transcript: the lines of the peer and the caller, and between them, marked `>`,
//! what the controller must say and when. The whole transcript is compared, so nothing may be said
//! that is not written there.

use sensor::assigned;
use sensor::control::{ControlMode, ControlOutput, Controller, Demand, Link};
use units::{AttError, Characteristic, Packet, SourceId, Timestamp, Watts};

/// Plays `script` and gives the transcript that came of it.
pub fn play(mode: ControlMode, script: &str) -> String {
    let mut talk = Talk {
        controller: Controller::new(mode),
        transcript: String::new(),
    };
    for line in script
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
    {
        if !line.starts_with('>') {
            talk.line(line);
        }
    }
    talk.transcript
}

/// The script without indentation and empty lines, to compare with.
pub fn tidy(script: &str) -> String {
    let lines = script
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty());
    lines.map(|line| format!("{line}\n")).collect()
}

struct Talk {
    controller: Controller,
    transcript: String,
}

impl Talk {
    fn line(&mut self, line: &str) {
        let (millis, rest) = line.split_once(' ').expect("a time and a verb");
        let now = Timestamp::from_millis(millis.parse().expect("milliseconds"));
        while let Some(due) = self.controller.poll_timeout().filter(|due| *due <= now) {
            self.controller.handle_time(due);
            let next = self.controller.poll_timeout();
            assert!(next.is_none_or(|next| next > due), "wakes at {due:?} again");
            self.note(due);
        }
        self.transcript.push_str(line);
        self.transcript.push('\n');
        let (verb, argument) = rest.split_once(' ').unwrap_or((rest, ""));
        self.obey(now, verb, argument);
        self.note(now);
        let next = self.controller.poll_timeout();
        assert!(
            next.is_none_or(|next| next > now),
            "wakes at {now:?} after {line:?}"
        );
    }

    fn obey(&mut self, now: Timestamp, verb: &str, argument: &str) {
        let controller = &mut self.controller;
        match verb {
            "want" => controller.want(now, demand(argument)),
            "shown" => controller.handle_evidence(now, demand(argument)),
            "ok" => controller.handle_write_result(now, &Ok(())),
            "error" => {
                let code = u8::from_str_radix(argument, 16).expect("an error code");
                controller.handle_write_result(now, &Err(AttError::Code(code)));
            }
            "says" => {
                let point = assigned::FITNESS_MACHINE_CONTROL_POINT;
                controller.handle_packet(&packet(now, point, argument));
            }
            "status" => {
                let status = assigned::FITNESS_MACHINE_STATUS;
                controller.handle_packet(&packet(now, status, argument));
            }
            "down" => controller.handle_link(now, Link::Down),
            "up" => controller.handle_link(now, Link::Up),
            "wait" => controller.handle_time(now),
            "state" => {
                let state = controller.state();
                let told = state
                    .told
                    .map_or("nothing".to_owned(), |told| told.to_string());
                let told = told.replace('\u{a0}', " ");
                let is = |flag: bool, word: &str| {
                    if flag {
                        format!(", {word}")
                    } else {
                        String::new()
                    }
                };
                self.transcript.push_str(&format!(
                    "> {told}{}{}{}{}\n",
                    is(state.confirmed, "confirmed"),
                    is(state.released, "released"),
                    is(state.has_control, "in control"),
                    is(state.needs_new_link, "needs a new link"),
                ));
            }
            other => panic!("unknown verb {other:?}"),
        }
    }

    fn note(&mut self, now: Timestamp) {
        let millis = now.as_nanos() / 1_000_000;
        while let Some(output) = self.controller.poll_output() {
            let words = match output {
                ControlOutput::Write(bytes) => {
                    let hex: Vec<_> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
                    format!("writes {}", hex.join(" "))
                }
                ControlOutput::Event(event) => event.to_string().replace('\u{a0}', " "),
            };
            self.transcript.push_str(&format!("> {millis} {words}\n"));
        }
    }
}

fn demand(argument: &str) -> Demand {
    let words: Vec<_> = argument.split(' ').collect();
    match words[..] {
        ["release"] => Demand::Release,
        [watts, "W"] => Demand::Power(Watts(watts.parse().expect("watts"))),
        ["level", level] => Demand::ResistanceLevel(level.parse().expect("a level")),
        ["slope", grade] => Demand::Slope {
            grade_pct: grade.parse().expect("a grade"),
            wind_m_per_s: 0.0,
            crr: 0.004,
            cw_kg_per_m: 0.51,
        },
        _ => panic!("unknown demand {argument:?}"),
    }
}

fn packet(at: Timestamp, characteristic: Characteristic, hex: &str) -> Packet {
    let byte = |text: &str| u8::from_str_radix(text, 16).expect("hexadecimal bytes");
    Packet {
        at,
        source: SourceId(1),
        epoch: 1,
        characteristic,
        bytes: hex.split_whitespace().map(byte).collect(),
    }
}
