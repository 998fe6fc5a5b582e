//! The panels: answer and lists on the left, what stands here on the right, walks below; in a small
//! window all of them one below the other.

use crate::act::{Act, List};
use crate::controls::{free_words, keys_in_column, look, over_scene, walk, what_if};
use crate::sheets::{FADED, SMALL, heading, sheet, verdict_label};
use crate::state::State;
use crate::views::Sides;
use crate::{dial, words};
use kiss3d::egui::{Button, Context, Label, Rect, RichText, ScrollArea, Ui, pos2, vec2};
use lapidary::answer::check::model::Verdict;
use lapidary::answer::moment::find::Spot;
use lapidary::answer::scene::Scene;
use lapidary::report::mark;

/// Width of the columns at the sides.
const COLUMN: f32 = 268.0;

/// Room between sheets, and to the edge.
pub(crate) const GAP: f32 = 8.0;

/// Height of the strip below.
const STRIP: f32 = 86.0;

/// Height of the sheet with the dial: all that is in it is seen in a window 800 high.
const DIAL_SHEET: f32 = 430.0;

/// Height of a row of a list.
const ROW: f32 = 19.0;

/// Length of the walk's slider in a column.
const SHORT_SLIDER: f32 = 50.0;

/// Height of a list in a column with all the rest.
const SHORT_LIST: f32 = 120.0;

/// Room that the scene must have between the columns, and height that they need.
const LEAST: [f32; 2] = [300.0, 420.0];

/// Whether a window is too small for sheets round the scene: all stands in one column then.
fn is_small(screen: Rect) -> bool {
    let least_width = 2.0 * (COLUMN + 2.0 * GAP) + LEAST[0];
    screen.width() < least_width || screen.height() < LEAST[1]
}

/// Where the scene is free of sheets.
#[must_use]
pub fn free(screen: Rect) -> Rect {
    let side = COLUMN + 2.0 * GAP;
    let left_top = pos2(screen.min.x + side, screen.min.y);
    if is_small(screen) {
        return Rect::from_min_max(left_top, screen.max);
    }
    let right_bottom = pos2(screen.max.x - side, screen.max.y - STRIP - 2.0 * GAP);
    Rect::from_min_max(left_top, right_bottom)
}

/// Draws every sheet; what the person did is added to `acts`.
pub fn show(
    context: &Context,
    state: &State,
    scene: &Scene<'_>,
    sides: &Sides,
    acts: &mut Vec<Act>,
) {
    crate::fields::begin(context);
    let screen = context.content_rect();
    if is_small(screen) {
        column(context, state, scene, sides, acts);
        return;
    }
    let tall = screen.height() - 2.0 * GAP;
    let left = Rect::from_min_size(screen.min + vec2(GAP, GAP), vec2(COLUMN, tall));
    sheet(context, "answer", left, |ui| {
        answer(ui, state, acts);
        lists(ui, state, f32::INFINITY, acts);
    });
    let right = pos2(screen.max.x - COLUMN - GAP, screen.min.y + GAP);
    // The dial stays where it is, however much there is to say above it.
    let low = DIAL_SHEET.min(tall - GAP - 160.0);
    let high = tall - low - GAP;
    let sheets = [
        Rect::from_min_size(right, vec2(COLUMN, high)),
        Rect::from_min_size(right + vec2(0.0, high + GAP), vec2(COLUMN, low)),
    ];
    sheet(context, "here", sheets[0], |ui| {
        ScrollArea::vertical().show(ui, |ui| here(ui, state));
    });
    sheet(context, "dial", sheets[1], |ui| {
        ScrollArea::vertical().show(ui, |ui| {
            dial_and_what_if(ui, state, scene, sides, acts);
        });
    });
    let free = free(screen);
    let strip = Rect::from_min_max(
        pos2(free.min.x, screen.max.y - STRIP - GAP),
        pos2(free.max.x, screen.max.y - GAP),
    );
    sheet(context, "strip", strip, |ui| {
        ScrollArea::horizontal().show(ui, |ui| {
            ui.horizontal(|ui| walk(ui, state, acts));
            look(ui, state, acts, false);
        });
    });
    over_scene(context, state, free, acts);
}

/// Everything in one column that scrolls, beside what is left for the scene.
fn column(context: &Context, state: &State, scene: &Scene<'_>, sides: &Sides, acts: &mut Vec<Act>) {
    let screen = context.content_rect();
    let size = screen.size() - vec2(2.0 * GAP, 2.0 * GAP);
    let size = vec2(size.x.min(COLUMN), size.y).max(vec2(60.0, 60.0));
    let at = Rect::from_min_size(screen.min + vec2(GAP, GAP), size);
    sheet(context, "answer", at, |ui| {
        // Above what scrolls, so that it is seen wherever that stands.
        free_words(ui, state, acts);
        ScrollArea::vertical().show(ui, |ui| {
            // In a row with what it belongs to it has no more room.
            ui.spacing_mut().slider_width = SHORT_SLIDER;
            keys_in_column(ui, state);
            answer(ui, state, acts);
            lists(ui, state, SHORT_LIST, acts);
            ui.separator();
            here(ui, state);
            ui.separator();
            dial_and_what_if(ui, state, scene, sides, acts);
            ui.separator();
            ui.horizontal_wrapped(|ui| walk(ui, state, acts));
            look(ui, state, acts, true);
        });
    });
}

fn dial_and_what_if(
    ui: &mut Ui,
    state: &State,
    scene: &Scene<'_>,
    sides: &Sides,
    acts: &mut Vec<Act>,
) {
    heading(ui, "Dial: the sides by their numbers");
    dial::show(ui, state, scene, sides, acts);
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 1.0;
        // As many lines whatever there is to say, so that nothing below them moves.
        for line in words::legend(state)
            .into_iter()
            .chain(words::reached(state))
        {
            let line = RichText::new(line).size(SMALL).color(FADED);
            ui.add(Label::new(line).truncate());
        }
    });
    ui.separator();
    what_if(ui, state, acts);
}

/// The verdict of the job and the lists.
fn answer(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    heading(ui, "Answer");
    match &state.answered {
        Some(answered) => {
            let verdict = answered.answer.verdict;
            verdict_label(ui, verdict, mark::word(verdict), 20.0);
            ui.label(words::name(&state.setup.title));
            ui.label(RichText::new(words::counts(&answered.answer)).color(FADED));
        }
        None => {
            let none = state.setup.cuts.is_empty();
            let text = if none { "no cuts" } else { "not asked yet" };
            ui.label(RichText::new(text).size(20.0));
            ui.label(words::name(&state.setup.title));
        }
    }
    let stage = match &state.stage {
        Some((name, done, steps)) if *steps > 0 => format!("checking: {name} {done} of {steps}"),
        Some((name, ..)) => format!("checking: {name}"),
        None if state.fresh => "checked".to_owned(),
        None => "not checked".to_owned(),
    };
    ui.label(RichText::new(stage).color(FADED));
    if !state.otherwise.is_nothing() {
        ui.label(RichText::new("with what is set under What if").strong());
    }
    ui.separator();
    ui.horizontal(|ui| {
        for (list, word) in [
            (List::Troubles, "Troubles"),
            (List::Cuts, "Cuts"),
            (List::Moves, "Moves"),
        ] {
            if ui.selectable_label(state.list == list, word).clicked() {
                acts.push(Act::List(list));
            }
        }
    });
}

fn lists(ui: &mut Ui, state: &State, height: f32, acts: &mut Vec<Act>) {
    let Some(answered) = &state.answered else {
        return;
    };
    let answer = &answered.answer;
    let line = |at: usize| -> (Spot, Verdict, String) {
        match state.list {
            List::Troubles => {
                let trouble = &answer.troubles[at];
                (Spot::Trouble(at), trouble.verdict, words::trouble(trouble))
            }
            List::Cuts => {
                let cut = &answer.cuts[at];
                let index = cut.index_deg.map_or("-".to_owned(), words::angle);
                let text = format!(
                    "{} T{} {} {index}",
                    cut.seat,
                    cut.tool,
                    words::name(&cut.cut)
                );
                (Spot::Cut(at), cut.verdict, text)
            }
            List::Moves => {
                let step = &answer.index_moves[at];
                let [from, to] = [step.from_deg, step.to_deg].map(words::angle);
                let text = format!(
                    "T{} {from} to {to}, {}",
                    step.tool,
                    words::name(&step.after)
                );
                (Spot::Move(at), step.verdict, text)
            }
        }
    };
    let count = match state.list {
        List::Troubles => answer.troubles.len(),
        List::Cuts => answer.cuts.len(),
        List::Moves => answer.index_moves.len(),
    };
    if count == 0 {
        ui.label(RichText::new("none").color(FADED));
    }
    // Only the rows in sight are laid out: a job may have thousands.
    ScrollArea::vertical()
        .id_salt("list")
        .max_height(height)
        .auto_shrink([false, height.is_finite()])
        .show_rows(ui, ROW, count, |ui, rows| {
            for at in rows {
                let (spot, verdict, text) = line(at);
                row(ui, state.spot == Some(spot), verdict, &text, || {
                    acts.push(Act::Go(spot));
                });
            }
        });
}

fn row(ui: &mut Ui, chosen: bool, verdict: Verdict, text: &str, go: impl FnOnce()) {
    ui.horizontal(|ui| {
        let side = vec2(ROW - 4.0, ROW - 4.0);
        let (response, painter) = ui.allocate_painter(side, kiss3d::egui::Sense::hover());
        dial::chip(&painter, response.rect.center(), 6.5, verdict);
        let label = Button::selectable(chosen, text).truncate();
        if ui.add(label).clicked() {
            go();
        }
    });
}

/// What stands here, and its gap.
fn here(ui: &mut Ui, state: &State) {
    heading(ui, "Here");
    let trouble = match (state.spot, &state.answered) {
        (Some(Spot::Trouble(at)), Some(answered)) => answered.answer.troubles.get(at),
        _ => None,
    };
    if let Some(trouble) = trouble {
        verdict_label(ui, trouble.verdict, words::kind(trouble.kind), 16.0);
    } else if let Some(verdict) = state.verdict_here() {
        verdict_label(ui, verdict, mark::word(verdict), 16.0);
    }
    let moment = state.moment();
    if let Some(cut) = state.stood.cut.and_then(|cut| state.setup.cuts.get(cut)) {
        ui.label(words::name(&cut.name));
    }
    if let Some(tool) = moment.tool.and_then(|tool| state.setup.tools.get(tool)) {
        ui.label(format!("T{} {}", tool.number, words::name(&tool.name)));
    }
    let rotary = words::name(&state.setup.machine.rotary.name);
    let seat = state
        .stood
        .seat
        .and_then(|seat| state.setup.seats.get(seat));
    let seat = seat.map_or(String::new(), |seat| format!("seat {}, ", seat.name));
    let told_deg = state.stood.moment.index_deg;
    ui.label(format!("{seat}{rotary} {}", words::angle(told_deg)));
    if let Some(told) = state.measured() {
        ui.add_space(4.0);
        ui.label(words::pair(told));
        ui.label(format!(
            "least in the {}: {}",
            words::phase(told.phase),
            words::gap(&told.gap)
        ));
        ui.label(format!("wanted: {:.2} mm", told.wanted_mm));
    }
    if let Some(trouble) = trouble {
        if let Some(amount) = words::amount(trouble) {
            ui.label(RichText::new(amount).strong());
        }
        if let Some(note) = &trouble.note {
            ui.label(note);
        }
    }
    ui.add_space(4.0);
    if moment.index_deg != told_deg {
        let text = format!("carrier now at {rotary} {}", words::angle(moment.index_deg));
        ui.label(text);
    }
    now(ui, state);
    if let Some(picked) = &state.picked {
        ui.add_space(4.0);
        heading(ui, "Picked");
        ui.label(RichText::new(words::name(picked)).strong());
    }
    if let Some(trouble) = trouble.filter(|trouble| !trouble.remedies.is_empty()) {
        ui.add_space(4.0);
        heading(ui, "Remedies, each tried");
        for remedy in &trouble.remedies {
            ui.label(words::change(&remedy.change));
        }
    }
}

/// The gap at this moment, and the least of the walk.
fn now(ui: &mut Ui, state: &State) {
    if state.tool().is_none() {
        ui.label(RichText::new("no tool here: nothing is measured").color(FADED));
        return;
    }
    let Some(now) = &state.now else {
        ui.label(RichText::new("this moment: measuring").color(FADED));
        return;
    };
    let text = format!("this moment: {}", words::gap(&now.gap));
    verdict_label(ui, now.verdict, &text, 13.0);
    // Beyond the cap no two bodies are the nearest.
    if now.gap.hi_mm.is_some() {
        ui.label(RichText::new(words::pair(now)).color(FADED));
    }
    let walked = state.walk.as_ref().and_then(|walk| walk.walked.as_ref());
    if let Some((walked, least)) = walked.and_then(|walked| Some((walked, walked.least.as_ref()?)))
    {
        let text = format!("{}: {}", words::walked(walked), words::gap(&least.gap));
        verdict_label(ui, least.verdict, &text, 13.0);
    }
}
