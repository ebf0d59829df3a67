//! What is on the stage in a scene.

use crate::sample::{self, LONG, instruments, papers};
use crate::stage::Stage;
use bench::model::Phase;
use desk::Searching;

pub fn choices() -> Stage {
    Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        shelf: sample::shelf(50),
        ..Stage::default()
    }
}

/// Scripts with claim sheets and the rule.
pub fn papers() -> Stage {
    Stage {
        sheets: papers::sheets(),
        rule: Some(papers::rule()),
        ..choices()
    }
}

pub fn own() -> Stage {
    let mut stage = papers();
    stage.scripts.insert(0, papers::own_script());
    stage
}

pub fn on(model: bench::Model) -> Stage {
    Stage {
        model: Some(model),
        ..choices()
    }
}

pub fn riding(phase: Phase) -> Stage {
    on(sample::in_phase(phase))
}

pub fn paused() -> Phase {
    Phase::Paused {
        reason: "you asked for it".into(),
    }
}

pub fn ended() -> Phase {
    Phase::Ended {
        reason: "the script is done".into(),
    }
}

pub fn replayed() -> Stage {
    Stage {
        replay: Some("Trainer 7, level sweep, run 4".into()),
        ..on(sample::riding(1480))
    }
}

pub fn searching() -> Stage {
    Stage {
        devices: instruments::devices(),
        searching: Searching::Yes,
        radio: Some(
            "The radio is switched off. Switch Bluetooth on in the settings of the system, then \
             search again."
                .into(),
        ),
        ..choices()
    }
}

pub fn auditing() -> Stage {
    Stage {
        audit: Some(instruments::audit()),
        ..choices()
    }
}

pub fn messages() -> Stage {
    Stage {
        failure: Some(
            "The file /home/somebody/Documents/workshop/prony/sessions/2025-03-28-level-sweep.prony \
             cannot be opened: it is no session file. Choose another one."
                .into(),
        ),
        notice: Some("Report saved as /home/somebody/level-sweep.html".into()),
        busy: Some("judging Trainer 9 after the new firmware, level sweep, run 34".into()),
        ..choices()
    }
}

/// A notice of many lines, as after an import.
pub fn long_message() -> Stage {
    let lines = (1..=16).map(|line| {
        format!("read {line}: CSV \"pedals-a.csv\": 2103 records, 2103 with power, mean 184.9 W")
    });
    Stage {
        notice: Some(lines.collect::<Vec<_>>().join("\n")),
        ..choices()
    }
}

pub fn shelf() -> Stage {
    Stage {
        shelf: sample::shelf(1000),
        ..choices()
    }
}

/// A shelf with interrupted recordings, long names, tags and notes.
pub fn torn_shelf() -> Stage {
    let mut shelf = sample::shelf(12);
    for row in &mut shelf[..3] {
        row.title = format!("{LONG}, {}", row.title);
        row.tags = vec!["cold room".into(), "firmware 3.1.4, the second try".into()];
        row.thumbnail = (0..96)
            .map(|i| 0.3 + 0.6 * ((i as f32) / 9.0).sin().abs())
            .collect();
    }
    Stage {
        shelf,
        interrupted: papers::interrupted(),
        ..choices()
    }
}

pub fn side_by_side(count: usize) -> Stage {
    Stage {
        compared: Some(sample::compared::compared(count)),
        ..shelf()
    }
}

/// Recordings made elsewhere, ready to be placed.
pub fn importing() -> Stage {
    Stage {
        importing: Some(sample::recordings::ready()),
        ..shelf()
    }
}

/// Recordings of which one cannot be read yet.
pub fn importing_at_length() -> Stage {
    Stage {
        importing: Some(sample::recordings::not_ready()),
        ..shelf()
    }
}

pub fn judged() -> Stage {
    let evidence = sample::findings::evidence(1.035);
    Stage {
        opened: Some((1, sample::findings::findings(&evidence), evidence)),
        flags: sample::flags(),
        ..choices()
    }
}

/// Findings with long names, forty flags and a self-test.
pub fn judged_at_length() -> Stage {
    let mut evidence = sample::findings::evidence(1.035);
    for stream in &mut evidence.streams {
        stream.name = format!("{}, {LONG}", stream.name);
    }
    Stage {
        opened: Some((1, sample::findings::findings(&evidence), evidence)),
        flags: sample::crowded().flags.to_vec(),
        label: format!("{LONG}, level sweep, run 34"),
        imported: true,
        self_test: Some(sample::self_test()),
        ..choices()
    }
}

/// Findings of a recording in which nothing was ridden.
pub fn judged_empty() -> Stage {
    let evidence = analysis::evidence::Evidence::default();
    Stage {
        opened: Some((1, sample::findings::findings(&evidence), evidence)),
        ..choices()
    }
}
