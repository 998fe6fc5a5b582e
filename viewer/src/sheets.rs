//! What all panels share: sheets, chips, colours.

use kiss3d::egui::{
    self, Align2, Color32, Context, CornerRadius, FontId, Frame, Id, Margin, Pos2, Rect, Sense,
    Stroke, Ui, Vec2,
};
use lapidary::answer::check::model::Verdict;
use lapidary::report::mark;

/// Text and lines.
pub const INK: Color32 = Color32::from_rgb(0x22, 0x26, 0x2A);

/// Second text: still 7 to 1 on white.
pub const FADED: Color32 = Color32::from_rgb(0x50, 0x56, 0x5C);

/// A quiet surface.
pub const PALE: Color32 = Color32::from_rgb(0xE3, 0xE6, 0xE9);

/// The sheet itself.
const PAPER: Color32 = Color32::from_rgb(0xFB, 0xFB, 0xFA);

/// The colour of a verdict, from its one home.
#[must_use]
pub fn verdict_colour(verdict: Verdict) -> Color32 {
    let colour = mark::colour(verdict);
    Color32::from_rgb(colour.0, colour.1, colour.2)
}

/// The colour of a mark on the colour of its verdict: white on blue and vermillion, dark on the
/// lighter two.
#[must_use]
pub fn on_colour(verdict: Verdict) -> Color32 {
    match verdict {
        Verdict::Clear | Verdict::Clash => Color32::WHITE,
        Verdict::Close | Verdict::Unknown => INK,
    }
}

/// Light sheets, dark text, a little larger than the library has it.
pub fn style(context: &Context) {
    let mut visuals = egui::Visuals::light();
    visuals.override_text_color = Some(INK);
    visuals.selection.bg_fill = Color32::from_rgb(0xC9, 0xD3, 0xDB);
    visuals.selection.stroke = Stroke::new(1.0, INK);
    // Without a GPU a frame can take a second: a press and a release in two frames are a click still.
    context.options_mut(|options| options.input_options.max_click_duration = 5.0);
    context.set_theme(egui::Theme::Light);
    context.set_visuals_of(egui::Theme::Light, visuals);
}

/// Between the edge of a sheet and what it holds.
pub const MARGIN: f32 = 8.0;

/// Width of a bar to scroll with.
pub const BAR: f32 = 14.0;

/// Size of small words.
pub const SMALL: f32 = 11.5;

/// A sheet in a fixed place; the pointer over it does not reach the scene.
pub fn sheet(context: &Context, name: &str, at: Rect, content: impl FnOnce(&mut Ui)) {
    egui::Window::new(name)
        .id(Id::new(("sheet", name)))
        .title_bar(false)
        .resizable(false)
        .movable(false)
        .collapsible(false)
        .fixed_pos(at.min)
        .fixed_size(at.size())
        .constrain(false)
        .frame(
            Frame::new()
                .fill(PAPER)
                .stroke(Stroke::new(1.0, Color32::from_gray(0xB8)))
                .corner_radius(CornerRadius::same(3))
                .inner_margin(Margin::same(MARGIN as i8)),
        )
        .show(context, |ui| {
            let behind = ui.id().with("behind");
            let whole = ui.max_rect().expand(MARGIN);
            let _ = ui.interact(whole, behind, Sense::click_and_drag());
            ui.set_min_size(ui.max_rect().size());
            content(ui);
        });
}

/// Remembers where something is on the screen, for whoever drives the window by its log.
pub fn remember(context: &Context, name: &str, at: Rect) {
    let place = [at.center().x, at.center().y, at.width(), at.height()];
    context.data_mut(|data| data.insert_temp(Id::new(("place", name)), place));
}

/// Middle, width and height of what was remembered, in points.
#[must_use]
pub fn remembered(context: &Context, name: &str) -> Option<[f32; 4]> {
    context.data(|data| data.get_temp(Id::new(("place", name))))
}

/// The heading of a part of a sheet.
pub fn heading(ui: &mut Ui, text: &str) {
    ui.label(egui::RichText::new(text).size(12.0).color(FADED));
}

/// A chip with its mark, and a word beside it.
pub fn verdict_label(ui: &mut Ui, verdict: Verdict, text: &str, size: f32) {
    ui.horizontal(|ui| {
        let side = size + 4.0;
        let (response, painter) = ui.allocate_painter(Vec2::splat(side), Sense::hover());
        crate::dial::chip(&painter, response.rect.center(), side / 2.0 - 1.0, verdict);
        let text = egui::RichText::new(text).size(size).strong();
        ui.add(egui::Label::new(text).wrap());
    });
}

/// Text with a light ground, readable over the scene.
pub fn note(painter: &egui::Painter, at: Pos2, anchor: Align2, text: &str, size: f32) -> Rect {
    note_within(painter, at, anchor, text, size, f32::INFINITY)
}

/// The same in as many lines as it takes within a width.
pub fn note_within(
    painter: &egui::Painter,
    at: Pos2,
    anchor: Align2,
    text: &str,
    size: f32,
    width: f32,
) -> Rect {
    let font = FontId::proportional(size);
    let galley = painter.layout(text.to_owned(), font, INK, width);
    let place = anchor.anchor_size(at, galley.size());
    painter.rect_filled(
        place.expand2(Vec2::new(5.0, 3.0)),
        CornerRadius::same(3),
        Color32::from_rgba_unmultiplied(0xFF, 0xFF, 0xFF, 0xE6),
    );
    painter.galley(place.min, galley, INK);
    place.expand2(Vec2::new(5.0, 3.0))
}
