//! Which part of a single plot is shown, and its values as text.
//!
//! A plot shows everything until somebody looks closer: a box drawn with the command key or the
//! second button, the command key with the wheel, or, when the plot was reached with the tabulator,
//! plus, minus and the arrows. A double click, or the key 0, shows everything again.

use crate::chart::graph::Drawn;
use analysis::outcome::{Layer, Plot};
use egui::{EventFilter, Id, Key, PointerButton, Pos2, Ui};

/// Left and right end, bottom and top.
pub(super) type Ranges = [[f64; 2]; 2];

/// What is looked at; lives in the memory of the screen and nowhere else.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct View {
    /// The part that is shown, if it is not everything.
    pub(super) part: Option<Ranges>,
    /// Where a box was begun.
    from: Option<[f64; 2]>,
}

/// The view of a plot as it was left in the last frame.
pub(super) fn recall(ui: &Ui, id: Id) -> View {
    ui.data(|data| data.get_temp(id)).unwrap_or_default()
}

/// Reads what was done on the plot and keeps the view for the next frame.
pub(super) fn obey(ui: &Ui, id: Id, drawn: &Drawn, everything: Ranges) {
    let before = recall(ui, id);
    let mut view = before;
    let response = &drawn.response;
    let shown = view.part.unwrap_or(everything);
    if response.double_clicked() {
        view = View::default();
    } else if boxes(ui, drawn, &mut view) == Boxing::No && response.dragged() {
        let by = response.drag_delta();
        let part = moved(shown, drawn, [-by.x, by.y]);
        view.part = view.part.and(Some(part));
    }
    if let Some(pointer) = drawn.pointer() {
        let zoom = f64::from(ui.input(|input| input.zoom_delta()));
        if zoom != 1.0 {
            view.part = Some(zoomed(shown, [pointer.x, pointer.y], 1.0 / zoom));
        }
    }
    if response.has_focus() {
        keys(ui, drawn, &mut view, shown);
    }
    if view != before {
        ui.data_mut(|data| data.insert_temp(id, view));
        ui.ctx().request_repaint();
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Boxing {
    Yes,
    No,
}

fn boxes(ui: &Ui, drawn: &Drawn, view: &mut View) -> Boxing {
    let response = &drawn.response;
    let (held, origin) = ui.input(|input| (input.modifiers, input.pointer.press_origin()));
    let begins = response.drag_started_by(PointerButton::Secondary)
        || (response.drag_started_by(PointerButton::Primary) && held.command);
    if begins {
        view.from = origin.map(|at| value(drawn, at));
    }
    let Some(from) = view.from else {
        return Boxing::No;
    };
    let at = response.interact_pointer_pos();
    if response.dragged() {
        if let Some(at) = at {
            outline(ui, drawn, from, at);
        }
        return Boxing::Yes;
    }
    view.from = None;
    if let Some(at) = at {
        let to = value(drawn, at);
        let sides = [0, 1].map(|side| [from[side].min(to[side]), from[side].max(to[side])]);
        if sides.iter().all(|[low, high]| high > low) {
            view.part = Some(sides);
        }
    }
    Boxing::Yes
}

fn outline(ui: &Ui, drawn: &Drawn, from: [f64; 2], at: Pos2) {
    let from = egui::pos2(drawn.x(from[0]), drawn.y(from[1]));
    let rect = egui::Rect::from_two_pos(from, at).intersect(drawn.area);
    let tokens = crate::theme::tokens(ui);
    let edge = egui::Stroke::new(crate::theme::tokens::HAIR, tokens.text);
    let painter = drawn.painter(ui);
    painter.rect_stroke(rect, 0.0, edge, egui::StrokeKind::Inside);
}

fn value(drawn: &Drawn, at: Pos2) -> [f64; 2] {
    let at = at.min(drawn.area.max).max(drawn.area.min);
    let value = drawn.transform.value_from_position(at);
    [value.x, value.y]
}

fn keys(ui: &Ui, drawn: &Drawn, view: &mut View, shown: Ranges) {
    let all = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(drawn.response.id, all));
    let pressed = |key| ui.input(|input| input.key_pressed(key));
    let step = 0.1 * drawn.area.width();
    for (key, by) in [
        (Key::ArrowLeft, [-step, 0.0]),
        (Key::ArrowRight, [step, 0.0]),
        (Key::ArrowUp, [0.0, step]),
        (Key::ArrowDown, [0.0, -step]),
    ] {
        if pressed(key) {
            view.part = Some(moved(shown, drawn, by));
        }
    }
    let middle = shown.map(|[low, high]| 0.5 * (low + high));
    if pressed(Key::Plus) || pressed(Key::Equals) {
        view.part = Some(zoomed(shown, middle, 0.8));
    }
    if pressed(Key::Minus) {
        view.part = Some(zoomed(shown, middle, 1.25));
    }
    if pressed(Key::Num0) {
        view.part = None;
    }
}

/// The ranges moved by so many points to the right and up.
fn moved(shown: Ranges, drawn: &Drawn, [right, up]: [f32; 2]) -> Ranges {
    let [x, y] = shown;
    let across = f64::from(right / drawn.area.width().max(1.0)) * (x[1] - x[0]);
    let along = f64::from(up / drawn.area.height().max(1.0)) * (y[1] - y[0]);
    [x.map(|end| end + across), y.map(|end| end + along)]
}

/// The ranges made so many times as long around a point.
fn zoomed(shown: Ranges, around: [f64; 2], factor: f64) -> Ranges {
    [0, 1].map(|side| shown[side].map(|end| around[side] + (end - around[side]) * factor))
}

/// The part of a line that is in view, one point more on each side. A line that goes back and forth
/// is left whole.
pub(super) fn in_view(run: Vec<[f64; 2]>, [left, right]: [f64; 2]) -> Vec<[f64; 2]> {
    if run.windows(2).any(|pair| pair[1][0] < pair[0][0]) {
        return run;
    }
    let first = run.partition_point(|point| point[0] < left);
    let last = run.partition_point(|point| point[0] <= right);
    run[first.saturating_sub(1)..(last + 1).min(run.len())].to_vec()
}

/// Every value of a plot as lines of text, its columns divided by tabulators.
pub(super) fn values_text(plot: &Plot) -> String {
    let mut text = format!("{}\n{}\t{}\tseries\n", plot.title, plot.x, plot.y);
    for layer in &plot.layers {
        match layer {
            Layer::Line { label, runs, .. } => {
                for [x, y] in runs.iter().flatten() {
                    text.push_str(&format!("{x}\t{y}\t{label}\n"));
                }
            }
            Layer::Points { label, points, .. } => {
                for [x, y] in points {
                    text.push_str(&format!("{x}\t{y}\t{label}\n"));
                }
            }
            Layer::Intervals {
                label, intervals, ..
            } => {
                for [x, low, middle, high] in intervals {
                    text.push_str(&format!("{x}\t{middle}\t{label}, {low} to {high}\n"));
                }
            }
            Layer::Band {
                label, low, high, ..
            } => text.push_str(&format!("\t{low} to {high}\t{label}\n")),
            Layer::Level { label, at, .. } => text.push_str(&format!("\t{at}\t{label}\n")),
            Layer::Span {
                label, from, to, ..
            } => text.push_str(&format!("{from} to {to}\t\t{label}\n")),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::outcome::Ink;

    #[test]
    fn zooming_keeps_the_point_under_the_pointer() {
        let shown = [[0.0, 10.0], [-1.0, 1.0]];
        let closer = zoomed(shown, [2.0, 0.5], 0.5);
        assert_eq!(closer, [[1.0, 6.0], [-0.25, 0.75]]);
        assert_eq!(zoomed(closer, [2.0, 0.5], 2.0), shown);
    }

    #[test]
    fn what_is_out_of_view_is_left_out_but_for_one_neighbour() {
        let run: Vec<_> = (0..10).map(|i| [f64::from(i), 0.0]).collect();
        let seen = in_view(run.clone(), [3.5, 5.5]);
        assert_eq!(
            seen.iter().map(|p| p[0]).collect::<Vec<_>>(),
            [3.0, 4.0, 5.0, 6.0]
        );
        assert_eq!(in_view(run.clone(), [-5.0, 50.0]), run);
        assert!(in_view(Vec::new(), [0.0, 1.0]).is_empty());
        let back = vec![[0.0, 0.0], [5.0, 1.0], [2.0, 2.0]];
        assert_eq!(in_view(back.clone(), [4.0, 5.0]), back);
    }

    #[test]
    fn every_value_is_in_the_text() {
        let plot = Plot {
            name: "a",
            title: "Title".into(),
            x: "level, W".into(),
            y: "error, %".into(),
            layers: vec![
                Layer::Points {
                    ink: Ink::UnderTest,
                    label: "means".into(),
                    points: vec![[100.0, 1.5]],
                },
                Layer::Level {
                    ink: Ink::Tolerance,
                    label: "claim".into(),
                    at: 2.0,
                },
            ],
            caption: String::new(),
        };
        assert_eq!(
            values_text(&plot),
            "Title\nlevel, W\terror, %\tseries\n100\t1.5\tmeans\n\t2\tclaim\n"
        );
    }
}
