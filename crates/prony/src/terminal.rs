//! A person at a terminal as the audience of a session: prompts on stderr, answers from stdin.
//!
//! Enter agrees to what is asked. One letter and Enter asks for something: `p` pause, `r` release,
//! `s` skip, `a` again, `q` stop, `m words` mark; while nothing is loaded `d` spin-down, `z 2` zero
//! offset of instrument 2, `k 2` its crank length, `k 2 172.5` to set it. When stdin ends, the
//! session ends, and with it the load.

use crate::cli::tell;
use crate::engine::Audience;
use anyhow::Result;
use bench::{Awaiting, Bench, Command};
use crossbeam_channel::{Receiver, Sender, TryRecvError, bounded};
use std::io::BufRead;

/// Lines that may wait.
const WAITING_LINES: usize = 16;

/// Lengths that a crank can have, tenths of a millimetre; anything else was mistyped.
const CRANKS_TENTH_MM: std::ops::RangeInclusive<f64> = 500.0..=3000.0;

/// Somebody at a terminal.
pub struct Terminal {
    lines: Receiver<String>,
    asked: Option<Awaiting>,
    step: Option<String>,
    notices: usize,
    introduced: Introduced,
}

/// Whether the numbers of the instruments were told.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Introduced {
    No,
    Yes,
}

impl Terminal {
    /// Starts to listen to stdin.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn listen() -> Result<Self> {
        let (said, lines) = bounded(WAITING_LINES);
        std::thread::Builder::new()
            .name("terminal".to_owned())
            .spawn(move || read_lines(&said))?;
        tell(
            "Enter agrees. p pause, r release, s skip, a again, m WORDS mark, q stop; then Enter.\n\
             While nothing is loaded: d spin-down, z N zero offset of instrument N, k N its crank \
             length, k N MM to set it.",
        );
        Ok(Self {
            lines,
            asked: None,
            step: None,
            notices: 0,
            introduced: Introduced::No,
        })
    }
}

fn read_lines(said: &Sender<String>) {
    for line in std::io::stdin().lock().lines() {
        let Ok(line) = line else { return };
        if said.send(line).is_err() {
            return;
        }
    }
}

impl Audience for Terminal {
    fn show(&mut self, bench: &Bench) {
        let model = bench.model();
        if self.introduced == Introduced::No {
            self.introduced = Introduced::Yes;
            for instrument in &model.instruments {
                tell(format_args!(
                    "{:>3}  {}",
                    instrument.source.0, instrument.name
                ));
            }
        }
        for notice in &model.notices[self.notices.min(model.notices.len())..] {
            tell(format_args!("{}  {}", notice.at, notice.words));
        }
        self.notices = model.notices.len();
        let step = model.step.as_ref().map(|step| step.title.clone());
        if step != self.step {
            if let Some(title) = &step {
                tell(format_args!("{}  {title}", model.now));
            }
            self.step = step;
        }
    }

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        let awaiting = bench.awaiting();
        if awaiting != self.asked {
            self.asked = awaiting;
            if let Some(awaiting) = awaiting {
                tell(question(awaiting));
            }
        }
        match self.lines.try_recv() {
            Ok(line) => command(line.trim(), awaiting),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) if bench.end_reason().is_none() => Some(Command::Stop),
            Err(TryRecvError::Disconnected) => None,
        }
    }
}

fn question(awaiting: Awaiting) -> String {
    match awaiting {
        Awaiting::Start => "Ready. Enter to begin.".to_owned(),
        Awaiting::Cautions => {
            format!(
                "{}\n\nEnter to say that you read this and can answer no to every question.",
                protocol::safety::readiness_text()
            )
        }
        Awaiting::Acknowledgement => "Do what is asked, then Enter.".to_owned(),
        Awaiting::Resume => "The load is off. Enter to go on from low load.".to_owned(),
        Awaiting::CoolDown => "Enter to cool down, s to end.".to_owned(),
    }
}

fn command(line: &str, awaiting: Option<Awaiting>) -> Option<Command> {
    Some(
        match (line.split_once(' ').unwrap_or((line, "")), awaiting) {
            (("", _), Some(Awaiting::Start)) => Command::Start,
            (("", _), Some(Awaiting::Cautions)) => Command::AcceptCautions,
            (("", _), Some(Awaiting::Resume)) => Command::Resume,
            (("", _), Some(_)) => Command::Acknowledge,
            (("p", _), _) => Command::Pause,
            (("r", _), _) => Command::Release,
            (("s", _), _) => Command::Skip,
            (("a", _), _) => Command::Repeat,
            (("q", _), _) => Command::Stop,
            (("m", words), _) => Command::Mark(words.to_owned()),
            (("d", ""), _) => Command::SpinDown,
            (("z", number), _) => Command::ZeroOffset(number.trim().parse().ok()?),
            (("k", words), _) => crank_length(words)?,
            _ => return None,
        },
    )
}

/// `2` asks instrument 2 for its crank length, `2 172.5` sets it.
fn crank_length(words: &str) -> Option<Command> {
    let mut words = words.split_whitespace();
    let source = words.next()?.parse().ok()?;
    let Some(length) = words.next() else {
        return Some(Command::ReadCrankLength(source));
    };
    let tenth_mm = (length.parse::<f64>().ok()? * 10.0).round();
    CRANKS_TENTH_MM
        .contains(&tenth_mm)
        .then_some(Command::WriteCrankLength {
            source,
            tenth_mm: tenth_mm as u16,
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn enter_agrees_to_what_is_asked_and_to_nothing_else() {
        assert_eq!(command("", None), None);
        assert_eq!(
            command("", Some(Awaiting::Cautions)),
            Some(Command::AcceptCautions)
        );
        assert_eq!(command("", Some(Awaiting::Resume)), Some(Command::Resume));
        assert_eq!(command("r", Some(Awaiting::Resume)), Some(Command::Release));
        assert_eq!(
            command("m chain noise", None),
            Some(Command::Mark("chain noise".to_owned()))
        );
        assert_eq!(command("what", None), None);
        assert_eq!(command("d", None), Some(Command::SpinDown));
        assert_eq!(command("z 2", None), Some(Command::ZeroOffset(2)));
        assert_eq!(command("z two", None), None);
        assert_eq!(command("k 2", None), Some(Command::ReadCrankLength(2)));
        let written = Command::WriteCrankLength {
            source: 2,
            tenth_mm: 1725,
        };
        assert_eq!(command("k 2 172.5", None), Some(written));
        assert_eq!(command("k 2 17250", None), None);
    }
}
