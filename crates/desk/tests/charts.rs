//! What can be done on the linked charts, by key and with the pointer, as transcripts: the deed and
//! what the desk then says.

mod raster;
mod sample;
mod stage;

use egui::{Event, Key, Modifiers, PointerButton, Pos2, Rect, pos2};
use egui_kittest::kittest::Queryable;
use stage::{Play, Stage, open, press, said, shows};

/// A ride of 1480 s in a window where every chart has room.
fn riding() -> Play {
    let mut play = open(
        Stage {
            model: Some(sample::riding(1480)),
            ..Stage::default()
        },
        [1600.0, 1000.0],
    );
    play.run();
    play
}

/// The area of a chart: below its line of read-outs, right of its numbers.
fn area(play: &Play, title: &str) -> Rect {
    let head = play.get_by_label_contains(title).rect();
    Rect::from_min_max(
        head.left_bottom() + egui::vec2(48.0, 2.0),
        head.right_bottom() + egui::vec2(-2.0, 120.0),
    )
}

fn drag(play: &mut Play, from: Pos2, to: Pos2, button: PointerButton, modifiers: Modifiers) {
    let press = |pos, pressed| Event::PointerButton {
        pos,
        button,
        pressed,
        modifiers,
    };
    play.event_modifiers(Event::PointerMoved(from), modifiers);
    play.step();
    play.event_modifiers(press(from, true), modifiers);
    play.step();
    for part in [0.2, 0.6, 1.0] {
        play.event_modifiers(Event::PointerMoved(from.lerp(to, part)), modifiers);
        play.step();
    }
    play.event_modifiers(press(to, false), modifiers);
    play.step();
    play.run();
}

/// What comes to the clipboard in the next few frames.
fn copied(play: &mut Play) -> Option<String> {
    (0..6).find_map(|_| {
        play.step();
        let commands = &play.output().platform_output.commands;
        commands.iter().find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        })
    })
}

fn key(play: &mut Play, key: Key) {
    assert_eq!(press(play, key), vec![], "charts ask nothing of the bench");
}

/// Cursor, ends, read-out, close look, everything, nothing: all by key. The view is ten minutes
/// long, so a step of the cursor is five seconds and begins in the middle at 19:40.
#[test]
fn a_stretch_is_selected_and_summed_up_by_key() {
    let mut play = riding();
    key(&mut play, Key::Comma);
    assert!(shows(&play, "Power, W: "), "a chart says its values");
    key(&mut play, Key::A);
    assert!(!shows(&play, "selected: "));
    for _ in 0..13 {
        key(&mut play, Key::Period);
    }
    key(&mut play, Key::B);
    assert!(shows(&play, "19:35–20:40, 65\u{a0}s"));
    let mean = said(&play, "mean: ");
    // The reference was silent for ten seconds of it; everything else was complete.
    let pieces: Vec<_> = mean.trim_start_matches("mean: ").split(", ").collect();
    assert_eq!(pieces.len(), 6, "{mean}");
    assert!(
        pieces[..3].iter().all(|piece| piece.ends_with("\u{a0}W")),
        "{mean}"
    );
    assert!(
        pieces[3].ends_with("km/h") && pieces[4].ends_with("rpm"),
        "{mean}"
    );
    assert!(said(&play, "of reference: ").ends_with("\u{a0}%"));

    key(&mut play, Key::Z);
    assert!(!shows(&play, "follows the present"));
    key(&mut play, Key::Home);
    assert!(shows(&play, "follows the present"));
    key(&mut play, Key::Delete);
    assert!(!shows(&play, "selected: "));
}

/// The mean and the difference in the read-out are those of the recording, worked out here by hand
/// from the curves of the sample.
#[test]
fn the_read_out_is_the_mean_of_what_is_selected() {
    let mut play = riding();
    key(&mut play, Key::Comma);
    key(&mut play, Key::A);
    for _ in 0..6 {
        key(&mut play, Key::Comma);
    }
    key(&mut play, Key::B);
    assert!(shows(&play, "19:05–19:35, 30\u{a0}s"));
    let model = play.state().model.clone().expect("somebody rides");
    // Device at 4 Hz and reference at 1 Hz both fall on whole seconds here: plain means.
    let mean = |index: usize| {
        let from = units::Timestamp::from_secs(1145);
        let to = units::Timestamp::from_secs(1175);
        let points = model.instruments[index].power.between(from, to);
        let values: Vec<_> = points
            .filter(|point| point.at >= from && point.at < to)
            .map(|point| point.value)
            .collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let (device, reference) = (mean(0), mean(1));
    let line = said(&play, "mean: ");
    let expected = format!("mean: {device:.1}\u{a0}W, {reference:.1}\u{a0}W, ");
    assert!(
        line.starts_with(&expected),
        "{line} does not begin with {expected}"
    );
    let difference = device - reference;
    assert!(
        line.ends_with(&format!("{difference:+.1}\u{a0}W")),
        "{line}"
    );
    let share = format!(
        "of reference: {:+.1}\u{a0}%",
        100.0 * difference / reference
    );
    assert_eq!(said(&play, "of reference: "), share);
}

#[test]
fn values_are_copied_as_a_table() {
    let mut play = riding();
    key(&mut play, Key::Comma);
    // As the window system sends it.
    play.event(Event::Copy);
    let text = copied(&mut play).expect("the values at the cursor");
    let lines: Vec<_> = text
        .lines()
        .map(|line| line.split('\t').collect::<Vec<_>>())
        .collect();
    assert_eq!(
        lines[0],
        [
            "time_s",
            "device, W",
            "reference, W",
            "second reference, W",
            "flywheel, km/h",
            "cadence, rpm"
        ]
    );
    assert_eq!(lines[1][0], "1175.000");
    assert!(
        lines[1][1..]
            .iter()
            .all(|value| value.parse::<f64>().is_ok()),
        "{text}"
    );

    key(&mut play, Key::A);
    key(&mut play, Key::Period);
    key(&mut play, Key::B);
    // As a keyboard without such a window system sends it.
    play.event(Event::Key {
        key: Key::C,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::COMMAND,
    });
    let text = copied(&mut play).expect("the values of the stretch");
    assert!(
        text.starts_with("from_s\t1175.000\nto_s\t1180.000\n"),
        "{text}"
    );
    for name in [
        "device\tW\t",
        "reference\tW\t",
        "cadence\trpm\t",
        "device - reference\tW\t",
    ] {
        assert!(text.contains(name), "{name} is not in {text}");
    }
    play.run();
    assert!(shows(&play, "copied"));
}

#[test]
fn the_pointer_reads_out_pans_selects_boxes_and_fits() {
    let mut play = riding();
    let area = area(&play, "Power, W: ");
    let (left, right) = (
        pos2(area.left() + 200.0, area.center().y),
        pos2(area.left() + 400.0, area.center().y + 40.0),
    );
    // The cursor of one chart reads out the others.
    let before = said(&play, "Cadence, rpm");
    play.event(Event::PointerMoved(left));
    play.run();
    assert_ne!(said(&play, "Cadence, rpm"), before);

    drag(
        &mut play,
        left,
        right,
        PointerButton::Primary,
        Modifiers::SHIFT,
    );
    assert!(
        shows(&play, "selected: "),
        "a stretch is selected with shift"
    );
    assert!(shows(&play, "follows the present"), "and the view stays");
    play.get_by_label("Clear").click();
    play.run();
    assert!(!shows(&play, "selected: "));

    drag(
        &mut play,
        right,
        left,
        PointerButton::Primary,
        Modifiers::NONE,
    );
    assert!(
        !shows(&play, "follows the present"),
        "panning leaves the present"
    );
    key(&mut play, Key::End);

    for (button, held) in [
        (PointerButton::Primary, Modifiers::COMMAND),
        (PointerButton::Secondary, Modifiers::NONE),
    ] {
        drag(&mut play, left, right, button, held);
        assert!(!shows(&play, "follows the present"), "a box is shown alone");
        assert!(!shows(&play, "selected: "));
        for pressed in [true, false, true, false] {
            play.event(Event::PointerButton {
                pos: left,
                button: PointerButton::Primary,
                pressed,
                modifiers: Modifiers::NONE,
            });
        }
        play.run();
        assert!(
            shows(&play, "follows the present"),
            "a double click shows everything"
        );
    }
}

/// One switch for every stream: both figures are means over the same seconds, worked out here by
/// hand, and the difference strip stays what it is.
#[test]
fn both_streams_are_smoothed_or_neither() {
    let mut play = riding();
    let model = play.state().model.clone().expect("somebody rides");
    let mean = |index: usize, seconds: i64| {
        let (from, to) = (
            units::Timestamp::from_secs(1480 - seconds),
            units::Timestamp::from_secs(1480),
        );
        let points = model.instruments[index].power.between(from, to);
        let inside = points.filter(|point| point.at >= from && point.at < to);
        let values: Vec<_> = inside.map(|point| point.value).collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let before = said(&play, "Difference ");
    for (title, seconds) in [
        ("Power, W, means over 3\u{a0}s: ", 3),
        ("Power, W, means over 10\u{a0}s: ", 10),
        ("Power, W, means over 30\u{a0}s: ", 30),
    ] {
        key(&mut play, Key::W);
        let (device, reference) = (mean(0, seconds), mean(1, seconds));
        assert_eq!(said(&play, "Device "), format!("Device {device:.0} W"));
        assert_eq!(
            said(&play, "Reference "),
            format!("Reference {reference:.0} W")
        );
        let line = said(&play, title);
        assert!(
            line.contains(&format!("reference {reference:.0}\u{a0}W")),
            "{line}"
        );
        assert!(
            line.ends_with(&format!("device {device:.0}\u{a0}W")),
            "{line}"
        );
        assert_eq!(said(&play, "Difference "), before);
    }
    key(&mut play, Key::W);
    said(&play, "Power, W: ");
}

/// Flags by key: the newest first, then back and forth, never beyond the ends.
#[test]
fn flags_are_visited_by_key() {
    let mut play = riding();
    let mut shown = Vec::new();
    for deed in [Key::N, Key::P, Key::P, Key::P, Key::P, Key::N] {
        key(&mut play, deed);
        shown.push(
            play.state()
                .desk
                .as_ref()
                .map(desk::Desk::shown_s)
                .expect("there is a desk"),
        );
    }
    // Windows at 1200, 1130, 1010 and 610 s, each in the middle of a minute or of twice its length.
    let middles: Vec<_> = shown.iter().map(|[from, to]| (from + to) / 2.0).collect();
    assert_eq!(middles, [1205.0, 1160.0, 1013.0, 625.0, 625.0, 1013.0]);
}

/// A plot of the findings: a box, the keys, everything again, and its values as a table.
#[test]
fn a_plot_of_the_findings_is_looked_at_closely() {
    let evidence = sample::findings::evidence(1.035);
    let mut play = open(
        Stage {
            opened: Some((1, sample::findings::findings(&evidence), evidence)),
            ..Stage::default()
        },
        [1600.0, 1000.0],
    );
    play.run();
    play.get_by_label("Examinations").click();
    play.run();
    let picture = |play: &Play| raster::draw(&play.ctx, play.output(), [1600.0, 1000.0]);
    // The title of the plot stands over it, and the plot itself bears the same name.
    let plots: Vec<_> = play
        .query_all_by_role_and_label(egui::accesskit::Role::Image, "Difference against level")
        .map(|node| node.rect())
        .collect();
    let [area] = plots.as_slice() else {
        panic!("one such plot, not {}", plots.len())
    };
    let everything = picture(&play);
    let (from, to) = (
        area.center() - egui::vec2(100.0, 60.0),
        area.center() + egui::vec2(100.0, 60.0),
    );
    drag(
        &mut play,
        from,
        to,
        PointerButton::Secondary,
        Modifiers::NONE,
    );
    play.remove_cursor();
    play.run();
    assert!(
        picture(&play).share_unlike(&everything, 24) > 0.002,
        "a box is shown alone"
    );
    for pressed in [true, false, true, false] {
        play.event(Event::PointerButton {
            pos: area.center(),
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    play.run();
    play.remove_cursor();
    play.run();
    let focused = picture(&play);
    play.get_by_role_and_label(egui::accesskit::Role::Image, "Difference against level")
        .focus();
    play.run();
    assert!(shows(&play, "0 shows everything"));
    play.key_press(Key::Plus);
    play.key_press(Key::ArrowRight);
    play.run();
    assert!(picture(&play).share_unlike(&focused, 24) > 0.002);
    play.get_by_label("Copy values: Difference against level")
        .click();
    let text = copied(&mut play).expect("the values of the plot");
    assert!(
        text.starts_with("Difference against level\nreference, W\tdevice minus reference, W\t")
    );
    assert!(text.lines().count() > 6, "{text}");
}
