//! The panels: answer and lists on the left, what stands here on the right, walks below.

use crate::act::{Act, Course, KEYS, List};
use crate::sheets::{FADED, heading, sheet, verdict_label};
use crate::state::{Look, State};
use crate::views::{Sides, View};
use crate::{dial, words};
use kiss3d::egui::{
    Align, Button, Context, DragValue, Grid, Label, Layout, Rect, RichText, ScrollArea, Slider, Ui,
    pos2, vec2,
};
use lapidary::answer::check::model::Verdict;
use lapidary::answer::moment::Group;
use lapidary::answer::moment::find::Spot;
use lapidary::answer::otherwise::gauge_limits_mm;
use lapidary::answer::scene::Scene;
use lapidary::report::mark;

/// Width of the columns at the sides.
const COLUMN: f32 = 268.0;

/// Room between sheets, and to the edge.
const GAP: f32 = 8.0;

/// Height of the strip below.
const STRIP: f32 = 86.0;

/// Height of the sheet with the dial.
const DIAL_SHEET: f32 = 412.0;

/// Height of a row of a list.
const ROW: f32 = 19.0;

/// Where the scene is free of sheets.
#[must_use]
pub fn free(screen: Rect) -> Rect {
    let side = COLUMN + 2.0 * GAP;
    Rect::from_min_max(
        pos2(screen.min.x + side, screen.min.y),
        pos2(screen.max.x - side, screen.max.y - STRIP - 2.0 * GAP),
    )
}

/// Draws every sheet; what the person did is added to `acts`.
pub fn show(
    context: &Context,
    state: &State,
    scene: &Scene<'_>,
    sides: &Sides,
    acts: &mut Vec<Act>,
) {
    let screen = context.content_rect();
    let tall = (screen.height() - 2.0 * GAP).max(200.0);
    let left = Rect::from_min_size(screen.min + vec2(GAP, GAP), vec2(COLUMN, tall));
    sheet(context, "answer", left, |ui| {
        answer(ui, state, acts);
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
            heading(ui, "Dial: the sides by their numbers");
            dial::show(ui, state, scene, sides, acts);
            // Two lines whatever there is to say, so that nothing below them moves.
            for line in words::reached(state) {
                ui.add(Label::new(RichText::new(line).color(FADED)).truncate());
            }
            ui.separator();
            what_if(ui, state, acts);
        });
    });
    let free = free(screen);
    let strip = Rect::from_min_max(
        pos2(free.min.x, screen.max.y - STRIP - GAP),
        pos2(free.max.x, screen.max.y - GAP),
    );
    if strip.width() > 120.0 {
        sheet(context, "strip", strip, |ui| {
            ScrollArea::horizontal().show(ui, |ui| {
                walk(ui, state, acts);
                look(ui, state, acts);
            });
        });
    }
    over_scene(context, state, free, acts);
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
    lists(ui, state, acts);
}

fn lists(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
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
        .auto_shrink([false, false])
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

/// Length, index and wanted gaps set otherwise.
fn what_if(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    heading(ui, "What if");
    let number = |ui: &mut Ui, word: &str, value: f64, range: [f64; 2], step: f64| {
        let mut changed = value;
        ui.horizontal(|ui| {
            ui.label(word);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let drag = DragValue::new(&mut changed)
                    .speed(step)
                    .range(range[0]..=range[1])
                    .max_decimals(3);
                let response = ui.add(drag);
                if word.ends_with("gauge length, mm") {
                    crate::sheets::remember(ui.ctx(), "gauge length", response.rect);
                }
            });
        });
        (changed != value).then_some(changed)
    };
    if let Some(tool) = state.tool().and_then(|tool| state.setup.tools.get(tool)) {
        let (low_mm, high_mm) = gauge_limits_mm(tool);
        let range = [low_mm, high_mm.unwrap_or(low_mm + 500.0)];
        let word = format!("T{} gauge length, mm", tool.number);
        let length = number(ui, &word, tool.gauge_length_mm, range, 0.5);
        acts.extend(length.map(Act::Length));
    }
    if state.stood.cut.is_some() && state.stood.seat.is_some() {
        let index_deg = state.stood.moment.index_deg;
        let index = number(ui, "index of this cut", index_deg, [-360.0, 360.0], 1.0);
        acts.extend(index.map(Act::Index));
    }
    let wanted = state.setup.wanted.holder;
    let word = "wanted at rest, mm";
    acts.extend(number(ui, word, wanted.rest_mm, [0.0, 50.0], 0.1).map(Act::WantedRest));
    let word = "wanted in index moves, mm";
    acts.extend(number(ui, word, wanted.index_mm, [0.0, 50.0], 0.1).map(Act::WantedIndex));
    let changed = !state.otherwise.is_nothing();
    if ui
        .add_enabled(changed, Button::new("as in the job"))
        .clicked()
    {
        acts.push(Act::AsInJob);
    }
}

fn walk(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    ui.horizontal(|ui| {
        heading(ui, "Walk");
        for (course, word) in [
            (Course::Approach, "approach"),
            (Course::IndexMove, "index move"),
        ] {
            let on = state
                .walk
                .as_ref()
                .is_some_and(|walk| walk.course == course);
            let goes = on && state.walk.as_ref().is_some_and(|walk| walk.goes);
            let text = if goes {
                format!("rest ({word})")
            } else {
                word.to_owned()
            };
            if ui.selectable_label(on, text).clicked() {
                acts.push(Act::Walk(course));
            }
        }
        let mut share = state.walk.as_ref().map_or(0.0, |walk| walk.share);
        let slider = Slider::new(&mut share, 0.0..=1.0).show_value(false);
        if ui.add_enabled(state.walk.is_some(), slider).changed() {
            acts.push(Act::Share(share));
        }
        heading(ui, "speed");
        let mut speed = state.speed;
        let drag = DragValue::new(&mut speed).speed(0.05).range(0.1..=10.0);
        if ui.add(drag.prefix("x ")).changed() {
            acts.push(Act::Speed(speed));
        }
        heading(ui, "go to");
        if ui.button("worst place").clicked() {
            acts.push(Act::Worst);
        }
    });
}

fn look(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    ui.horizontal(|ui| {
        heading(ui, "Show");
        for (group, look) in Group::ALL.iter().zip(state.looks) {
            let word = words::group(*group);
            let text = match look {
                Look::Whole => RichText::new(word),
                Look::Faint => RichText::new(format!("{word} (faint)")).color(FADED),
                Look::Hidden => RichText::new(word).strikethrough().color(FADED),
            };
            if ui.selectable_label(look == Look::Whole, text).clicked() {
                acts.push(Act::Look(*group));
            }
        }
    });
    ui.horizontal(|ui| {
        heading(ui, "Look from");
        for (view, word) in [
            (View::Spindle, "spindle"),
            (View::RotaryAxis, "rotary axis"),
            (View::Operator, "operator's side"),
            (View::Corner, "corner"),
        ] {
            if ui.button(word).clicked() {
                acts.push(Act::From(view));
            }
        }
        ui.separator();
        if ui.selectable_label(state.open.is_some(), "open").clicked() {
            acts.push(Act::Open);
        }
        if let Some(turned_deg) = state.open {
            let mut turned = turned_deg;
            let drag = DragValue::new(&mut turned)
                .range(-180.0..=180.0)
                .suffix("\u{b0}");
            if ui.add(drag).changed() {
                acts.push(Act::OpenTurn(turned));
            }
        }
        ui.separator();
        if ui.button("picture").clicked() {
            acts.push(Act::Picture);
        }
        if ui.selectable_label(state.help, "keys").clicked() {
            acts.push(Act::Help);
        }
    });
}

/// The notice and the keys, over the scene.
fn over_scene(context: &Context, state: &State, free: Rect, acts: &mut Vec<Act>) {
    if let Some(notice) = &state.notice {
        let width = (free.width() - 2.0 * GAP).max(160.0);
        let at = Rect::from_min_size(free.min + vec2(GAP, GAP), vec2(width, 44.0));
        sheet(context, "notice", at, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(notice);
                if ui.button("seen").clicked() {
                    acts.push(Act::Seen);
                }
            });
        });
    }
    if state.help {
        let size = vec2(390.0, KEYS.len() as f32 * 21.0 + 20.0);
        let at = Rect::from_center_size(free.center(), size);
        sheet(context, "keys", at, |ui| {
            Grid::new("keys").num_columns(2).show(ui, |ui| {
                for (keys, what) in KEYS {
                    ui.label(RichText::new(keys).strong());
                    ui.label(what);
                    ui.end_row();
                }
            });
        });
    }
}
