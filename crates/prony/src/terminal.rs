//! A person at a terminal as the audience of a session: prompts on stderr, answers from stdin.
//!
//! Enter agrees to what is asked. One letter and Enter asks for something: `p` pause, `r` release,
//! `s` skip, `a` again, `q` stop, `m words` mark. When stdin ends, the session ends, and with it
//! the load.

use crate::cli::tell;
use crate::engine::Audience;
use anyhow::Result;
use bench::{Awaiting, Bench, Command};
use crossbeam_channel::{Receiver, Sender, TryRecvError, bounded};
use std::io::BufRead;

/// Lines that may wait.
const WAITING_LINES: usize = 16;

/// Somebody at a terminal.
pub struct Terminal {
    lines: Receiver<String>,
    asked: Option<Awaiting>,
    step: Option<String>,
    notices: usize,
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
            "Enter agrees. p pause, r release, s skip, a again, m WORDS mark, q stop; then Enter.",
        );
        Ok(Self {
            lines,
            asked: None,
            step: None,
            notices: 0,
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
            _ => return None,
        },
    )
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
    }
}
