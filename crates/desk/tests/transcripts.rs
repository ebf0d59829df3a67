//! Whole workflows, written down: what the person did, what the desk wished for, what it then
//! said. Controls are found by the name that a screen reader says, or worked by key.

mod sample;
mod stage;

use bench::model::Phase;
use desk::Request;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use stage::{Play, Stage, open, place, shows, wishes};

/// A person at the desk whose deeds are counted and written down.
struct Person {
    play: Play,
    deeds: usize,
    lines: Vec<String>,
}

impl Person {
    /// Sits down at a window in which no list must be scrolled.
    fn sits_down(stage: Stage) -> Self {
        let mut play = open(stage, [1920.0, 1200.0]);
        play.run();
        Self {
            play,
            deeds: 0,
            lines: Vec::new(),
        }
    }

    fn clicks(&mut self, name: &str) {
        self.play.get_by_label(name).click();
        self.did(&format!("click {name}"));
    }

    /// Clicks the first thing whose name contains this.
    fn clicks_on(&mut self, part: &str) {
        let found = self.play.query_all_by_label_contains(part).next();
        found
            .unwrap_or_else(|| panic!("nothing is called {part:?}"))
            .click();
        self.did(&format!("click … {part} …"));
    }

    fn presses(&mut self, key: Key) {
        self.play.key_press(key);
        self.did(&format!("key {}", key.name()));
    }

    fn presses_with_command(&mut self, key: Key) {
        self.play.key_press_modifiers(Modifiers::COMMAND, key);
        self.did(&format!("key Ctrl {}", key.name()));
    }

    fn types(&mut self, field: &str, text: &str) {
        let node = self.play.get_by_label(field);
        node.focus();
        node.type_text(text);
        self.did(&format!("type {text:?} into {field}"));
    }

    fn did(&mut self, deed: &str) {
        self.deeds += 1;
        self.play.run();
        let wished: Vec<_> = wishes(&mut self.play).iter().map(words).collect();
        let place = place(&self.play).word();
        self.lines.push(match wished.as_slice() {
            [] => format!("{deed} @ {place}"),
            wished => format!("{deed} → {} @ {place}", wished.join(", ")),
        });
    }

    /// What the program around the desk does next.
    fn meanwhile(&mut self, what: &str, happens: impl FnOnce(&mut Stage)) {
        happens(self.play.state_mut());
        self.play.run();
        self.lines.push(format!("  ({what})"));
    }

    fn sees(&mut self, words: &str) {
        assert!(
            shows(&self.play, words),
            "{words:?} is not shown after\n{}",
            self.lines.join("\n")
        );
        self.lines.push(format!("  sees {words}"));
    }

    fn does_not_see(&mut self, words: &str) {
        assert!(
            !shows(&self.play, words),
            "{words:?} is shown after\n{}",
            self.lines.join("\n")
        );
        self.lines.push(format!("  does not see {words}"));
    }

    #[track_caller]
    fn wrote(self, transcript: &str) {
        // The transcripts stand eight columns in, as the code around them does.
        let lines = transcript.lines().map(str::trim_end);
        let expected: Vec<_> = lines.filter_map(|line| line.get(8..)).collect();
        let seen: Vec<_> = self
            .lines
            .iter()
            .map(|line| line.trim_end().replace('\u{a0}', " "))
            .collect();
        assert_eq!(seen, expected, "what happened:\n{}\n", seen.join("\n"));
    }
}

fn words(request: &Request) -> String {
    match request {
        Request::Bench(command) => format!("{command:?}"),
        other => format!("{other:?}"),
    }
}

fn choices() -> Stage {
    Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        shelf: sample::shelf(30),
        ..Stage::default()
    }
}

fn in_phase(phase: Phase) -> impl FnOnce(&mut Stage) {
    |stage| stage.model = Some(sample::in_phase(phase))
}

fn ended() -> Phase {
    Phase::Ended {
        reason: "the script is done".into(),
    }
}

fn judged(stage: &mut Stage) {
    let evidence = sample::findings::evidence(1.035);
    stage.opened = Some((1, sample::findings::findings(&evidence), evidence));
    stage.flags = sample::flags();
}

fn rides(stage: Stage) -> Stage {
    Stage {
        model: Some(sample::riding(1480)),
        ..stage
    }
}

#[test]
fn a_newcomer_comes_from_the_start_to_a_verdict() {
    let mut person = Person::sits_down(choices());
    person.clicks("Ride on the simulated bench");
    person.meanwhile("instruments are linked", in_phase(Phase::Cautions));
    person.sees("no medical device");
    person.clicks("I have read this");
    person.meanwhile("everything is ready", in_phase(Phase::Ready));
    person.clicks("Start riding");
    person.meanwhile("the script is ridden", in_phase(ended()));
    person.meanwhile("the findings are computed", judged);
    person.clicks("See the findings");
    person.sees("Shown beyond");
    assert!(person.deeds <= 5, "{} deeds", person.deeds);
    person.wrote(
        r#"
        click Ride on the simulated bench → StartSession { script: "first-look", rig: "honest", pace: RealTime } @ Script
          (instruments are linked)
          sees no medical device
        click I have read this → AcceptCautions @ Run
          (everything is ready)
        click Start riding → Start @ Run
          (the script is ridden)
          (the findings are computed)
        click See the findings @ Findings
          sees Shown beyond
        "#,
    );
}

#[test]
fn a_tester_who_knows_the_bench_rides_after_three_keys() {
    let mut person = Person::sits_down(choices());
    person.presses(Key::Enter);
    person.meanwhile("instruments are linked", in_phase(Phase::Cautions));
    person.presses(Key::Enter);
    person.meanwhile("everything is ready", in_phase(Phase::Ready));
    person.presses(Key::Space);
    person.meanwhile("the first step begins", in_phase(Phase::Riding));
    person.sees("Release brake");
    assert!(person.deeds <= 4, "{} deeds", person.deeds);
    person.wrote(
        r#"
        key Enter → StartSession { script: "first-look", rig: "honest", pace: RealTime } @ Script
          (instruments are linked)
        key Enter → AcceptCautions @ Run
          (everything is ready)
        key Space → Start @ Run
          (the first step begins)
          sees Release brake
        "#,
    );
}

#[test]
fn a_ride_is_paused_repeated_lengthened_marked_and_ended() {
    let mut person = Person::sits_down(rides(choices()));
    person.presses(Key::Space);
    person.meanwhile(
        "the load is off",
        in_phase(Phase::Paused {
            reason: "you asked for it".into(),
        }),
    );
    person.sees("200 W at 90 rpm");
    person.clicks_on("Resume");
    person.meanwhile("the ride goes on", |stage| {
        stage.model = Some(sample::riding(1480))
    });
    person.presses(Key::R);
    person.presses(Key::E);
    person.presses(Key::M);
    person.presses(Key::S);
    person.presses(Key::Escape);
    person.presses(Key::X);
    person.sees("End this session? It cannot be continued afterwards.");
    person.presses(Key::Enter);
    person.wrote(
        r#"
        key Space → Pause @ Run
          (the load is off)
          sees 200 W at 90 rpm
        click … Resume … → Resume @ Run
          (the ride goes on)
        key R → Repeat @ Run
        key E → Extend(60) @ Run
        key M → Mark("") @ Run
        key S → Skip @ Run
        key Escape → Release @ Run
        key X @ Run
          sees End this session? It cannot be continued afterwards.
        key Enter → Stop @ Run
        "#,
    );
}

#[test]
fn the_brake_is_released_from_every_place() {
    let mut person = Person::sits_down(rides(choices()));
    for key in [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5] {
        person.presses(key);
        person.clicks("Release brake");
    }
    person.presses(Key::F);
    person.sees("Target, W");
    person.presses(Key::Escape);
    person.wrote(
        r#"
        key 1 @ Bench
        click Release brake → Release @ Bench
        key 2 @ Script
        click Release brake → Release @ Script
        key 3 @ Run
        click Release brake → Release @ Run
        key 4 @ Findings
        click Release brake → Release @ Findings
        key 5 @ Shelf
        click Release brake → Release @ Shelf
        key F @ Shelf
          sees Target, W
        key Escape → Release @ Shelf
        "#,
    );
}

#[test]
fn a_prompt_waits_and_the_last_seconds_are_counted_down() {
    let mut person = Person::sits_down(Stage {
        model: Some(sample::prompted()),
        ..choices()
    });
    person.sees("Change to the big gear, then confirm");
    person.presses(Key::Enter);
    person.meanwhile("seven seconds are left", |stage| {
        let mut model = sample::riding(1473);
        if let Some(step) = &mut model.step {
            step.remaining = Some(units::Span::from_secs(7));
        }
        stage.model = Some(model);
    });
    person.sees("in 0:07: Hold 100 W");
    person.presses(Key::F);
    person.sees("in 0:07: Hold 100 W");
    person.wrote(
        r#"
          sees Change to the big gear, then confirm
        key Enter → Acknowledge @ Run
          (seven seconds are left)
          sees in 0:07: Hold 100 W
        key F @ Run
          sees in 0:07: Hold 100 W
        "#,
    );
}

#[test]
fn a_flag_is_looked_at_while_riding() {
    let mut person = Person::sits_down(rides(choices()));
    person.sees("Flags · 4");
    person.clicks("60 s mean +3.4 % ± 1.0 %: beyond ±2 %");
    person.does_not_see("follows the present");
    person.presses(Key::P);
    person.presses(Key::Comma);
    person.presses(Key::A);
    person.presses(Key::Period);
    person.presses(Key::B);
    person.sees("selected: ");
    person.clicks("Copy values");
    person.sees("Values copied");
    person.clicks("Back to the present");
    person.sees("follows the present");
    person.clicks("Clear");
    person.does_not_see("selected: ");
    person.wrote(
        r#"
          sees Flags · 4
        click 60 s mean +3.4 % ± 1.0 %: beyond ±2 % @ Run
          does not see follows the present
        key P @ Run
        key Comma @ Run
        key A @ Run
        key Period @ Run
        key B @ Run
          sees selected:
        click Copy values @ Run
          sees Values copied
        click Back to the present @ Run
          sees follows the present
        click Clear @ Run
          does not see selected:
        "#,
    );
}

#[test]
fn a_failing_record_is_said_aloud() {
    let mut person = Person::sits_down(rides(choices()));
    person.sees("recorded 24:40");
    person.meanwhile("the disk is slow", |stage| stage.waiting_rows = 2000);
    person.sees("the disk is behind: 2000 rows wait");
    person.meanwhile("the disk is full", |stage| {
        stage.recording_failure = Some("no space is left on the disk".into());
    });
    person.sees("not recorded: no space is left on the disk");
    person.wrote(
        r#"
          sees recorded 24:40
          (the disk is slow)
          sees the disk is behind: 2000 rows wait
          (the disk is full)
          sees not recorded: no space is left on the disk
        "#,
    );
}

#[test]
fn a_verdict_is_followed_down_to_the_raw_traces_and_published() {
    let mut stage = choices();
    judged(&mut stage);
    let mut person = Person::sits_down(stage);
    person.sees("Shown beyond");
    person.sees("dominates the cell that decides");
    person.clicks_on("200\u{a0}W, 90\u{a0}rpm");
    person.sees("Raw traces · 200\u{a0}W");
    person.sees("was moved by that");
    person.presses(Key::Comma);
    person.presses(Key::A);
    person.presses(Key::Period);
    person.presses(Key::B);
    person.sees("selected: ");
    person.presses(Key::Z);
    person.presses(Key::Escape);
    person.does_not_see("Raw traces");
    person.clicks("Recording");
    person.clicks_on("the operator stopped to drink");
    person.sees("Raw traces · the operator stopped to drink");
    person.presses(Key::Escape);
    person.clicks_on("60 s mean +3.4 % ± 1.0 %: beyond ±2 %");
    person.sees("Raw traces · 60 s mean +3.4 % ± 1.0 %: beyond ±2 %");
    person.presses(Key::N);
    person.sees("Raw traces · no packets from Pedals A for 10 s");
    person.presses(Key::Escape);
    person.clicks("Examinations");
    person.clicks("Response to a new target");
    person.presses_with_command(Key::S);
    person.presses_with_command(Key::I);
    person.presses_with_command(Key::E);
    person.wrote(
        r#"
          sees Shown beyond
          sees dominates the cell that decides
        click … 200 W, 90 rpm … @ Findings
          sees Raw traces · 200 W
          sees was moved by that
        key Comma @ Findings
        key A @ Findings
        key Period @ Findings
        key B @ Findings
          sees selected:
        key Z @ Findings
        key Escape @ Findings
          does not see Raw traces
        click Recording @ Findings
        click … the operator stopped to drink … @ Findings
          sees Raw traces · the operator stopped to drink
        key Escape @ Findings
        click … 60 s mean +3.4 % ± 1.0 %: beyond ±2 % … @ Findings
          sees Raw traces · 60 s mean +3.4 % ± 1.0 %: beyond ±2 %
        key N @ Findings
          sees Raw traces · no packets from Pedals A for 10 s
        key Escape @ Findings
        click Examinations @ Findings
        click Response to a new target @ Findings
        key Ctrl S → SaveReport @ Findings
        key Ctrl I → SavePictures @ Findings
        key Ctrl E → SavePack @ Findings
        "#,
    );
}

#[test]
fn the_program_says_how_sure_it_is() {
    let mut stage = choices();
    judged(&mut stage);
    let mut person = Person::sits_down(stage);
    person.sees("This program has not tested itself on this computer yet");
    person.meanwhile("a self-test was stored", |stage| {
        stage.self_test = Some(sample::self_test())
    });
    person.sees("prony 0.1.0 rode 200 simulated sessions whose truth is known.");
    person.sees("Mean difference of the deciding condition: 191 of 200, often enough: yes");
    person.sees("One comparison missed it too often");
    person.wrote(
        r#"
          sees This program has not tested itself on this computer yet
          (a self-test was stored)
          sees prony 0.1.0 rode 200 simulated sessions whose truth is known.
          sees Mean difference of the deciding condition: 191 of 200, often enough: yes
          sees One comparison missed it too often
        "#,
    );
}

#[test]
fn an_older_session_is_found_on_the_shelf() {
    let mut person = Person::sits_down(choices());
    person.presses(Key::Num5);
    person.types("Search the shelf", "run 17");
    person.clicks_on("run 17,");
    person.clicks("Open");
    person.meanwhile("it is judged", judged);
    person.sees("Shown beyond");
    person.wrote(
        r#"
        key 5 @ Shelf
        type "run 17" into Search the shelf → Shelf(Show { words: "run 17", order: Order { by: Ridden, falling: true } }) @ Shelf
        click … run 17, … @ Shelf
        click Open → OpenShelved("session-13") @ Shelf
          (it is judged)
          sees Shown beyond
        "#,
    );
}

#[test]
fn theme_and_text_size_are_remembered() {
    let mut person = Person::sits_down(choices());
    person.presses_with_command(Key::Plus);
    person.presses_with_command(Key::Plus);
    person.presses_with_command(Key::Minus);
    person.presses_with_command(Key::Num0);
    person.presses(Key::L);
    person.presses(Key::L);
    let themes: Vec<_> = person.lines.split_off(4);
    assert_eq!(themes.len(), 2);
    assert!(
        themes
            .iter()
            .any(|line| line.contains("RememberTheme(Dark)"))
    );
    assert!(
        themes
            .iter()
            .any(|line| line.contains("RememberTheme(Light)"))
    );
    person.wrote(
        r#"
        key Ctrl Plus → RememberTextSize(110) @ Script
        key Ctrl Plus → RememberTextSize(120) @ Script
        key Ctrl Minus → RememberTextSize(110) @ Script
        key Ctrl 0 → RememberTextSize(100) @ Script
        "#,
    );
}
