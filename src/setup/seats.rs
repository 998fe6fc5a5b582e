//! Seats: places on the sides of the carrier.

use super::carrier::Sides;
use super::file::{JobFile, SeatFile};
use super::model::Seat;
use super::nearest::suggest;
use super::spot::Spot;
use crate::value::{Pose, Vec3, about_axis, translation};
use nalgebra::{Point3, Translation3};

/// Most seats of a job; more is a slip of the pen, and would only fill memory.
const MOST_SEATS: usize = 10_000;

/// Places nearer than this to each other are one place.
const ONE_PLACE_MM: f64 = 1.0e-6;

/// A place on a side, before it has its number.
struct Placed {
    side: u32,
    x_mm: f64,
    y_mm: f64,
    group: usize,
}

/// Checks and makes the seats, ordered by side, then along the rotary axis, then across.
pub(super) fn seats(list: &Spot<'_>, job: &JobFile, sides: &Sides) -> Vec<Seat> {
    let names: Vec<&str> = job.seats.iter().map(|file| file.name.as_str()).collect();
    list.unique(&names, "name");
    if job.seats.is_empty() {
        list.error("there is no seat; give at least one place on a side");
    }
    let mut placed = Vec::new();
    let mut groups = Vec::new();
    for (index, file) in job.seats.iter().enumerate() {
        let spot = list.item(index);
        groups.push(Group::new(&spot, file, job, sides));
        let places = places(&spot, file);
        for side in checked_sides(&spot.key("sides"), file, sides) {
            for &[x_mm, y_mm] in &places {
                placed.push(Placed {
                    side,
                    x_mm,
                    y_mm,
                    group: index,
                });
            }
        }
        if placed.len() > MOST_SEATS {
            spot.error(format!(
                "there are more than {MOST_SEATS} seats; give fewer"
            ));
            return Vec::new();
        }
        warn_of_overhang(&spot, &places, sides);
    }
    let order = |place: &Placed| {
        // Rounded, so that noise in the last digits of a unit cannot change the order.
        #[expect(
            clippy::cast_possible_truncation,
            reason = "lengths are below a kilometre"
        )]
        let rounded = |mm: f64| (mm / ONE_PLACE_MM).round() as i64;
        (place.side, rounded(place.y_mm), rounded(place.x_mm))
    };
    placed.sort_by_key(order);
    for pair in placed.windows(2) {
        if order(&pair[0]) == order(&pair[1]) {
            let spot = list.item(pair[1].group);
            let other = &job.seats[pair[0].group].name;
            spot.error(format!(
                "two seats stand at one place: x {} y {} mm on side {} (the other is of \
                 \"{other}\"); move or remove one",
                pair[1].x_mm, pair[1].y_mm, pair[1].side
            ));
        }
    }
    numbered(&placed, &groups, sides)
}

fn numbered(placed: &[Placed], groups: &[Group], sides: &Sides) -> Vec<Seat> {
    let mut seats: Vec<Seat> = Vec::with_capacity(placed.len());
    let mut number = 0;
    for (index, place) in placed.iter().enumerate() {
        let same_side = index > 0 && placed[index - 1].side == place.side;
        number = if same_side { number + 1 } else { 1 };
        let group = &groups[place.group];
        let carrier_from_side = sides.carrier_from_side(place.side);
        let out_mm = sides.flat_distance_mm + group.height_mm;
        let origin = carrier_from_side * Vec3::new(place.x_mm, place.y_mm, out_mm);
        seats.push(Seat {
            name: format!("{}.{number}", place.side),
            group: group.name.clone(),
            side: place.side,
            part: group.part,
            clamps: group.clamps.clone(),
            carrier_from_seat: Pose::from_parts(Translation3::from(origin), carrier_from_side),
            seat_from_part: group.seat_from_part,
        });
    }
    seats
}

/// What all seats of a group share.
struct Group {
    name: String,
    part: Option<usize>,
    clamps: Vec<(usize, usize)>,
    height_mm: f64,
    seat_from_part: Pose,
}

impl Group {
    fn new(spot: &Spot<'_>, file: &SeatFile, job: &JobFile, sides: &Sides) -> Self {
        let part = file.part.as_ref().and_then(|name| {
            let known: Vec<&str> = job.parts.iter().map(|part| part.name.as_str()).collect();
            find(&spot.key("part"), "part", name, &known)
        });
        if file.mirrored && part.is_some() {
            spot.key("mirrored").error(
                "a mesh is never mirrored: give a part with left-hand meshes and leave `mirrored` \
                 out",
            );
        }
        let clamps = file.clamps.iter().enumerate();
        let clamps = clamps
            .filter_map(|(index, name)| clamp(&spot.key("clamps").item(index), name, job))
            .collect();
        let height_mm = file
            .height
            .map_or(sides.pad_mm, |height| spot.key("height").length(height));
        let part_at = spot.key("part_at").point(file.part_at);
        let lay = about_axis(&Vec3::z(), &Point3::origin(), file.lay_deg);
        Self {
            name: file.name.clone(),
            part,
            clamps,
            height_mm,
            seat_from_part: translation(part_at.coords) * lay,
        }
    }
}

/// Index of a name; a fault with the nearest one where there is none.
pub(super) fn find(spot: &Spot<'_>, what: &str, name: &str, known: &[&str]) -> Option<usize> {
    let found = known.iter().position(|other| *other == name);
    if found.is_none() {
        spot.error(format!(
            "there is no {what} \"{name}\"; {}",
            suggest(name, known)
        ));
    }
    found
}

fn clamp(spot: &Spot<'_>, named: &str, job: &JobFile) -> Option<(usize, usize)> {
    let known: Vec<&str> = job.clamps.iter().map(|clamp| clamp.name.as_str()).collect();
    // A clamp's own name may hold a slash.
    if let Some(index) = known.iter().position(|name| *name == named) {
        return Some((index, 0));
    }
    let (name, state) = match named.rsplit_once('/') {
        Some((name, state)) => (name, Some(state)),
        None => (named, None),
    };
    let index = find(spot, "clamp", name, &known)?;
    let states = &job.clamps[index].states;
    let known: Vec<&str> = states.iter().map(|state| state.name.as_str()).collect();
    let what = format!("state of the clamp \"{name}\" named");
    Some((
        index,
        state.map_or(Some(0), |state| find(spot, &what, state, &known))?,
    ))
}

fn checked_sides(spot: &Spot<'_>, file: &SeatFile, sides: &Sides) -> Vec<u32> {
    if file.sides.is_empty() {
        spot.error("there is no side; give the numbers of the sides that have these seats");
    }
    let mut good = Vec::new();
    for (index, &side) in file.sides.iter().enumerate() {
        if !(1..=sides.count).contains(&side) {
            let range = format!("the carrier has sides 1 to {}", sides.count);
            spot.item(index)
                .error(format!("there is no side {side}; {range}"));
        } else if good.contains(&side) {
            spot.item(index)
                .error(format!("side {side} stands twice; remove one"));
        } else {
            good.push(side);
        }
    }
    good
}

fn places(spot: &Spot<'_>, file: &SeatFile) -> Vec<[f64; 2]> {
    let at = spot.key("at");
    let mut places: Vec<[f64; 2]> = file
        .at
        .iter()
        .enumerate()
        .map(|(index, place)| place.map(|entry| at.item(index).length(entry)))
        .collect();
    if let Some(grid) = &file.grid {
        let spot = spot.key("grid");
        let [first_x, first_y] = grid.first.map(|entry| spot.key("first").length(entry));
        let [pitch_x, pitch_y] = grid.pitch.map(|entry| spot.key("pitch").length(entry));
        let [count_x, count_y] = grid.count;
        let count = u64::from(count_x) * u64::from(count_y);
        if count == 0 || count > MOST_SEATS as u64 {
            spot.key("count").error(format!(
                "the grid has {count} places; give 1 to {MOST_SEATS}"
            ));
            return places;
        }
        for row in 0..count_y {
            for column in 0..count_x {
                let x_mm = first_x + f64::from(column) * pitch_x;
                places.push([x_mm, first_y + f64::from(row) * pitch_y]);
            }
        }
    } else if file.at.is_empty() {
        spot.error("the seats have no place; give `at` or `grid`");
    }
    places
}

fn warn_of_overhang(spot: &Spot<'_>, places: &[[f64; 2]], sides: &Sides) {
    let outside = places.iter().find(|[x_mm, y_mm]| {
        x_mm.abs() > sides.width_mm / 2.0 || !(0.0..=sides.top_mm).contains(y_mm)
    });
    if let Some([x_mm, y_mm]) = outside {
        spot.warn(format!(
            "the seat at x {x_mm} y {y_mm} mm is off its side, which is {} mm wide and ends {} mm \
             above the foot; check the place",
            sides.width_mm, sides.top_mm
        ));
    }
}

/// The size expected of what stands on the seats of a group: its pitch, or the smaller extent of
/// a side.
pub(super) fn expected_size_mm(spot: &Spot<'_>, file: &SeatFile, sides: &Sides) -> f64 {
    let side_mm = sides.width_mm.min(sides.length_mm);
    let Some(grid) = &file.grid else {
        return side_mm;
    };
    let used = grid
        .pitch
        .iter()
        .zip(grid.count)
        .filter(|(_, count)| *count > 1);
    let pitch = used
        .map(|(pitch, _)| pitch.abs() * spot.unit().mm())
        .fold(f64::INFINITY, f64::min);
    if pitch > 0.0 {
        side_mm.min(pitch)
    } else {
        side_mm
    }
}
