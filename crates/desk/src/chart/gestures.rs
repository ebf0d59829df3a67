//! What the pointer and the keys do on time charts, and what they leave behind on the screen.
//!
//! Drag moves the view. With the shift key it selects a stretch; with the command key, or with
//! the second button, it draws a box that is then shown alone. A double click shows everything.

use super::graph::Drawn;
use super::pick::{Drag, DragKind, End, PointerMoved};
use super::time_axis::TimeAxis;
use crate::keys::Deed;
use crate::theme::{self, tokens};
use egui::{Align2, PointerButton, Pos2, Rect, Shape, Stroke, StrokeKind, Ui, pos2};

/// What the wheel does over a chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wheel {
    /// It shows more or less time.
    Zooms,
    /// It is left to the page; with the control key it zooms everywhere.
    Scrolls,
}

/// A box smaller than this is a click that slipped, points.
const SLIP: f32 = 4.0;

/// Does what a key asks of a set of linked charts. Everything that the pointer can do is among it.
pub fn obey_key(axis: &mut TimeAxis, deed: Deed, now_s: f64) {
    let [left, right] = axis.range(now_s);
    let length = right - left;
    match deed {
        Deed::Follow => axis.follow(),
        Deed::Back => axis.pan(-0.1 * length, now_s),
        Deed::Forth => axis.pan(0.1 * length, now_s),
        Deed::Closer => axis.zoom(0.8, left + 0.5 * length, now_s),
        Deed::Farther => axis.zoom(1.25, left + 0.5 * length, now_s),
        Deed::Fit => axis.fit(),
        Deed::CursorBack => axis.step_cursor(-1.0, now_s),
        Deed::CursorForth => axis.step_cursor(1.0, now_s),
        Deed::SelectFrom => axis.pick.select_end(End::A),
        Deed::SelectTo => axis.pick.select_end(End::B),
        Deed::ShowSelected => axis.show_selected(),
        Deed::ClearSelected => axis.pick.clear(),
        Deed::Copy => axis.pick.want_copy(),
        _ => {}
    }
}

/// Reads what the pointer did on `chart` and changes the axis.
pub(super) fn obey(ui: &Ui, drawn: &Drawn, axis: &mut TimeAxis, now_s: f64, chart: (&str, Wheel)) {
    let (chart, wheel) = chart;
    let response = &drawn.response;
    if response.double_clicked() {
        axis.fit();
        return;
    }
    begin(ui, drawn, axis, chart);
    let [left, right] = axis.range(now_s);
    let seconds_per_point = (right - left) / f64::from(drawn.area.width().max(1.0));
    match axis.pick.drag.clone().filter(|drag| drag.chart == chart) {
        Some(drag) => go_on(drawn, axis, &drag, chart),
        None if response.dragged_by(PointerButton::Primary) => {
            let by = f64::from(response.drag_delta().x);
            axis.pan(-by * seconds_per_point, now_s);
        }
        None => {}
    }
    if let Some(pointer) = drawn.pointer() {
        let moved = ui.input(|input| input.pointer.delta() != egui::Vec2::ZERO);
        let moved = if moved {
            PointerMoved::Yes
        } else {
            PointerMoved::No
        };
        axis.pick.set_pointer(pointer.x, moved);
        let (zoom, scroll) = ui.input(|input| (input.zoom_delta(), input.smooth_scroll_delta()));
        axis.zoom(1.0 / f64::from(zoom), pointer.x, now_s);
        axis.pan(-f64::from(scroll.x) * seconds_per_point, now_s);
        if scroll.y != 0.0 && wheel == Wheel::Zooms {
            axis.zoom((-f64::from(scroll.y) / 240.0).exp(), pointer.x, now_s);
        }
    }
}

fn begin(ui: &Ui, drawn: &Drawn, axis: &mut TimeAxis, chart: &str) {
    let response = &drawn.response;
    let (held, origin) = ui.input(|input| (input.modifiers, input.pointer.press_origin()));
    let kind = if response.drag_started_by(PointerButton::Secondary) {
        DragKind::Box
    } else if !response.drag_started_by(PointerButton::Primary) {
        return;
    } else if held.command {
        DragKind::Box
    } else if held.shift {
        DragKind::Stretch
    } else {
        return;
    };
    let Some(origin) = origin.or(response.interact_pointer_pos()) else {
        return;
    };
    axis.pick.drag = Some(Drag {
        kind,
        chart: chart.to_owned(),
        from: value(drawn, origin),
    });
}

fn go_on(drawn: &Drawn, axis: &mut TimeAxis, drag: &Drag, chart: &str) {
    let response = &drawn.response;
    let at = response.interact_pointer_pos();
    let at = at.map(|at| inside(drawn, at));
    if let Some(at) = at.filter(|_| drag.kind == DragKind::Stretch) {
        axis.pick
            .select([drag.from[0].max(0.0), value(drawn, at)[0].max(0.0)]);
    }
    if response.dragged() {
        return;
    }
    axis.pick.drag = None;
    if let Some(at) = at.filter(|_| drag.kind == DragKind::Box) {
        let [x0, y0] = drag.from;
        let [x1, y1] = value(drawn, at);
        let size = at - pos2(drawn.x(x0), drawn.y(y0));
        if size.x.abs() > SLIP && size.y.abs() > SLIP {
            axis.show([x0.min(x1), x0.max(x1)]);
            axis.pick.hold_height(chart, [y0.min(y1), y0.max(y1)]);
        }
    }
}

/// The nearest place on the chart.
fn inside(drawn: &Drawn, at: Pos2) -> Pos2 {
    at.min(drawn.area.max).max(drawn.area.min)
}

fn value(drawn: &Drawn, at: Pos2) -> [f64; 2] {
    let at = inside(drawn, at);
    let value = drawn.transform.value_from_position(at);
    [value.x, value.y]
}

/// The ground of the selected stretch, to lie under the curves.
pub(super) fn stretch_ground(ui: &Ui, drawn: &Drawn, axis: &TimeAxis) -> Shape {
    let Some([from, to]) = axis.pick.stretch() else {
        return Shape::Noop;
    };
    let reach = drawn.x(from)..=drawn.x(to).max(drawn.x(from) + 1.0);
    let rect = Rect::from_x_y_ranges(reach, drawn.area.y_range());
    Shape::rect_filled(rect.intersect(drawn.area), 0.0, theme::tokens(ui).tint)
}

/// Draws the cursor, the ends of the selected stretch and the box that is being drawn.
pub(super) fn overlay(ui: &Ui, drawn: &Drawn, axis: &TimeAxis, chart: &str) {
    let t = theme::tokens(ui);
    let painter = drawn.painter(ui);
    let upright = |x: f32, stroke: Stroke| {
        if drawn.area.x_range().contains(x) {
            painter.vline(x, drawn.area.y_range(), stroke);
        }
    };
    if let Some(at) = axis.pick.cursor() {
        upright(drawn.x(at), Stroke::new(tokens::HAIR, t.edge));
    }
    for end in axis.pick.stretch().into_iter().flatten() {
        upright(drawn.x(end), Stroke::new(tokens::HAIR, t.text));
    }
    if let Some(end) = axis.pick.lone_end() {
        let x = drawn.x(end);
        upright(x, Stroke::new(tokens::HAIR, t.text));
        let at = pos2(x + 4.0, drawn.area.top() + 2.0);
        let font = theme::bold(tokens::BODY);
        painter.text(at, Align2::LEFT_TOP, "from here", font, t.text);
    }
    let drag = axis.pick.drag.as_ref();
    let drag = drag.filter(|drag| drag.chart == chart && drag.kind == DragKind::Box);
    if let Some((drag, at)) = drag.zip(drawn.response.interact_pointer_pos()) {
        let from = pos2(drawn.x(drag.from[0]), drawn.y(drag.from[1]));
        let rect = Rect::from_two_pos(from, at).intersect(drawn.area);
        let edge = Stroke::new(tokens::HAIR, t.text);
        painter.rect_stroke(rect, 0.0, edge, StrokeKind::Inside);
    }
}
