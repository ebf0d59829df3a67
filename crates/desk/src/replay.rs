//! The strip of a replay: where it stands, how fast it goes, and the words that nothing of it is
//! real. It takes the place of the controls of a session, because there is nothing to release.

use crate::inputs::{Motion, ReplayView};
use crate::keys::Deed;
use crate::parts::{self, Voice, control, words};
use crate::request::{ReplayWish, Request};
use crate::theme::{self, tokens};
use egui::{Frame, Margin, Panel, Role, Sense, Stroke, Ui, WidgetInfo, vec2};
use units::{Span, Timestamp};

/// What a key moves a replay by.
const STEP: Span = Span::from_secs(60);

/// What a seeking key asks for.
pub(crate) fn step(replay: ReplayView<'_>, deed: Deed) -> Request {
    let to = match deed {
        Deed::SeekBack => replay.at - STEP,
        _ => replay.at + STEP,
    };
    let end = Timestamp::ZERO + replay.length;
    Request::Replay(ReplayWish::Seek(to.clamp(Timestamp::ZERO, end)))
}

/// What the space bar asks for.
pub(crate) fn turn(replay: ReplayView<'_>) -> Request {
    Request::Replay(match replay.motion {
        Motion::Playing => ReplayWish::Pause,
        Motion::Paused => ReplayWish::Play,
    })
}

/// The sentence above every place while a replay is shown.
pub(crate) fn sentence(replay: ReplayView<'_>) -> String {
    format!(
        "Replay of {}. Nothing is connected, nothing is recorded, no load is set.",
        replay.label
    )
}

/// Draws the strip.
pub(crate) fn replay_ui(ui: &mut Ui, replay: ReplayView<'_>, out: &mut Vec<Request>) {
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.rail)
        .inner_margin(Margin::symmetric(16, 12));
    Panel::bottom("replay")
        .exact_size(tokens::FOOTER)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            ui.horizontal_centered(|ui| strip(ui, replay, out));
        });
}

fn strip(ui: &mut Ui, replay: ReplayView<'_>, out: &mut Vec<Request>) {
    let turn_words = match replay.motion {
        Motion::Playing => "Pause",
        Motion::Paused => "Play",
    };
    if control::big_button(ui, turn_words, "Space", Voice::Plain).clicked() {
        out.push(turn(replay));
    }
    let names: Vec<String> = ReplayView::PACES
        .iter()
        .map(|pace| format!("×\u{a0}{pace}"))
        .collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let chosen = ReplayView::PACES.iter().position(|p| *p == replay.pace);
    let paces: f32 = names.len() as f32 * 5.0 * tokens::GRID;
    let close = control::button_width(ui, CLOSE, "X", Voice::Plain);
    if ui.available_width() > paces + close + 24.0 * tokens::GRID
        && let Some(index) = control::words_row(ui, &names, chosen)
    {
        out.push(Request::Replay(ReplayWish::Pace(ReplayView::PACES[index])));
    }
    let clock = format!(
        "{} of {}",
        words::moment(replay.at),
        words::clock(replay.length.as_secs_f64())
    );
    let font = theme::regular(tokens::BODY);
    let clock_width = control::text_width(ui, &clock, font) + tokens::GRID;
    let room = ui.available_width() - close - clock_width - 4.0 * tokens::GRID;
    if room > 4.0 * tokens::GRID {
        position(ui, replay, room, out);
    }
    parts::line(ui, &clock);
    if control::big_button(ui, CLOSE, "X", Voice::Plain).clicked() {
        out.push(Request::Replay(ReplayWish::Close));
    }
}

const CLOSE: &str = "Close the replay";

/// A line that can be clicked and dragged.
fn position(ui: &mut Ui, replay: ReplayView<'_>, width: f32, out: &mut Vec<Request>) {
    let size = vec2(width, tokens::CONTROL);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let length = replay.length.as_secs_f64().max(1e-9);
    let part = (replay.at.as_secs_f64() / length).clamp(0.0, 1.0) as f32;
    response.widget_info(|| {
        let mut info = WidgetInfo::slider(true, f64::from(part), "Position in the recording");
        info.role = Role::Slider;
        info
    });
    if let Some(at) = response.interact_pointer_pos() {
        let part = f64::from((at.x - rect.left()) / rect.width().max(1.0)).clamp(0.0, 1.0);
        let to = Timestamp::ZERO + Span::from_secs_f64(part * length);
        out.push(Request::Replay(ReplayWish::Seek(to)));
    }
    let t = theme::tokens(ui);
    let y = rect.center().y;
    let x = rect.left() + part * rect.width();
    let painter = ui.painter();
    painter.hline(rect.x_range(), y, Stroke::new(2.0, t.edge));
    painter.hline(rect.left()..=x, y, Stroke::new(4.0, t.text));
    painter.vline(x, y - 8.0..=y + 8.0, Stroke::new(2.0, t.text));
    control::focus_ring(ui, &response, rect);
    response.on_hover_cursor(egui::CursorIcon::PointingHand);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_stays_within_the_recording() {
        let replay = ReplayView {
            label: "x",
            at: Timestamp::from_secs(30),
            length: Span::from_secs(70),
            pace: 1,
            motion: Motion::Paused,
        };
        let seek = |at| Request::Replay(ReplayWish::Seek(Timestamp::from_secs(at)));
        assert_eq!(step(replay, Deed::SeekBack), seek(0));
        assert_eq!(step(replay, Deed::SeekForth), seek(70));
    }
}
