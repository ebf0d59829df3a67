//! The look: one typeface, two text sizes and a tall one, a grid of eight points, few lines.

pub mod tokens;
pub mod typeface;

use egui::{Color32, CornerRadius, FontFamily, FontId, Margin, Shadow, Stroke, TextStyle, Visuals};
pub use tokens::Tokens;

/// Name of the bold family.
pub const BOLD: &str = "bold";

/// The bold cut of the typeface in a size.
pub fn bold(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(BOLD.into()))
}

/// The regular cut of the typeface in a size.
pub fn regular(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// The colours of the theme in use.
pub fn tokens(ui: &egui::Ui) -> &'static Tokens {
    Tokens::of(ui.visuals())
}

/// Gives a context the typeface and both themes.
pub fn install(ctx: &egui::Context) {
    ctx.set_fonts(typeface::definitions());
    for theme in [egui::Theme::Light, egui::Theme::Dark] {
        let tokens = match theme {
            egui::Theme::Light => tokens::LIGHT,
            egui::Theme::Dark => tokens::DARK,
        };
        ctx.set_visuals_of(theme, visuals(theme, &tokens));
    }
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (TextStyle::Small, regular(tokens::BODY)),
            (TextStyle::Body, regular(tokens::BODY)),
            (TextStyle::Monospace, regular(tokens::BODY)),
            (TextStyle::Button, regular(tokens::BODY)),
            (TextStyle::Heading, bold(tokens::HEADING)),
        ]
        .into();
        let spacing = &mut style.spacing;
        spacing.item_spacing = egui::vec2(tokens::GRID, tokens::GRID);
        spacing.button_padding = egui::vec2(2.0 * tokens::GRID, tokens::GRID);
        spacing.interact_size = egui::vec2(tokens::CONTROL, tokens::CONTROL);
        spacing.menu_margin = Margin::same(8);
        spacing.window_margin = Margin::same(24);
        spacing.tooltip_width = 40.0 * tokens::GRID;
        spacing.scroll = egui::style::ScrollStyle {
            bar_width: 6.0,
            floating_width: 4.0,
            // Pages have a margin wide enough for the bar.
            floating_allocated_width: 0.0,
            ..egui::style::ScrollStyle::floating()
        };
        style.interaction.selectable_labels = false;
        style.interaction.tooltip_delay = 0.3;
        // Things appear at once; only what moves on the bench moves on the screen.
        style.animation_time = 0.0;
        style.scroll_animation = egui::style::ScrollAnimation::none();
        style.explanation_tooltips = false;
    });
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
}

fn visuals(theme: egui::Theme, t: &Tokens) -> Visuals {
    let mut v = match theme {
        egui::Theme::Light => Visuals::light(),
        egui::Theme::Dark => Visuals::dark(),
    };
    v.panel_fill = t.paper;
    v.window_fill = t.raised;
    v.window_stroke = Stroke::new(tokens::HAIR, t.rule);
    v.window_corner_radius = CornerRadius::same(tokens::CORNER);
    v.menu_corner_radius = CornerRadius::same(tokens::CORNER);
    v.window_shadow = Shadow::NONE;
    v.popup_shadow = Shadow::NONE;
    v.extreme_bg_color = t.rail;
    v.faint_bg_color = t.rail;
    v.code_bg_color = t.rail;
    v.text_edit_bg_color = Some(t.rail);
    v.override_text_color = None;
    v.weak_text_color = Some(t.quiet);
    v.hyperlink_color = t.text;
    v.warn_fg_color = t.text;
    v.error_fg_color = t.alarm;
    v.selection.bg_fill = t.tint;
    v.selection.stroke = Stroke::new(2.0, t.text);
    v.text_cursor.stroke = Stroke::new(2.0, t.text);
    v.text_cursor.blink = false;
    let corner = CornerRadius::same(tokens::CORNER);
    let widget = |fill: Color32, edge: Color32, ink: Color32| egui::style::WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(tokens::HAIR, edge),
        corner_radius: corner,
        fg_stroke: Stroke::new(tokens::HAIR, ink),
        expansion: 0.0,
    };
    v.widgets.noninteractive = widget(t.paper, t.rule, t.text);
    v.widgets.inactive = widget(t.rail, t.edge, t.text);
    v.widgets.hovered = widget(t.tint, t.text, t.text);
    v.widgets.active = widget(t.tint, t.text, t.text);
    v.widgets.open = widget(t.tint, t.edge, t.text);
    v
}
