//! More closed forms: fillets of the cutter's radius, a bore that leans, a wall beside the part.

use super::bodies::{block, rounded};
use super::shares::{about, ask, assert_share, bored, share};
use super::shop::{Shop, cuboid};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::{ReachOptions, reach};
use nalgebra::{Point3, Rotation3, Vector3};
use std::sync::atomic::AtomicBool;

type Triangles = Vec<[Point3<f64>; 3]>;

fn mills() -> String {
    let mill = |number: u32, diameter: u32| {
        format!(
            "\n[[tools]]\nnumber = {number}\nname = \"end mill {diameter}\"\nkind = \"end-mill\"\n\
             DC = {diameter}\nAPMX = 26\nLU = 26\nOAL = 90\nDMM = 10\nstick_out = 60\n\
             holder = [{{ diameter = 28, height = 80 }}]\n"
        )
    };
    [mill(31, 12), mill(32, 16), mill(33, 20)].concat()
}

#[test]
fn a_fillet_takes_a_cutter_up_to_its_own_radius() {
    let outline = rounded([35.0, 45.0], [44.0, 36.0], 8.0, 32);
    let moved = |p: Point3<f64>| Point3::new(p.x - 35.0, p.y - 45.0, p.z + 46.0);
    let solid: Triangles = block([70.0, 90.0], 46.0, outline, 20.0)
        .into_iter()
        .map(|triangle| triangle.map(moved))
        .collect();
    let shop = Shop::with_cuts("")
        .add("tools.toml", &mills())
        .mesh("finished.stl", &solid);
    let answer = ask(&shop, &[0.0]);
    // Four quarters of a cylinder of radius 8, 20 high, as facets whose middles are 0.0024 off: well
    // within the gouge tolerance.
    let quarter = std::f64::consts::FRAC_PI_2 * 8.0 * 20.0;
    let fillet = |area: f64| (area / quarter - 1.0).abs() < 0.01;
    assert_share(share(&answer, 31, fillet), 1.0, 0.0);
    assert_share(share(&answer, 32, fillet), 1.0, 0.0);
    let large = share(&answer, 33, fillet);
    assert_eq!(large.certain, 0.0, "{large:?}");
    // What stays undecided is a rim at the upper edge, where the cutter is nearly over the part.
    assert!(large.undecided < 0.05, "{large:?}");
}

#[test]
fn a_bore_that_leans_is_reached_at_its_own_angle_alone() {
    let lean = Rotation3::from_axis_angle(&Vector3::y_axis(), 15.0_f64.to_radians());
    let solid: Triangles = bored(48)
        .into_iter()
        .map(|triangle| triangle.map(|p| lean * p + Vector3::z() * 12.0))
        .collect();
    let shop = Shop::with_cuts("").mesh("finished.stl", &solid);
    let loaded = shop
        .load()
        .unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let options = ReachOptions {
        tools: vec![6],
        every_deg: 90.0,
        grain_mm: 0.25,
        ..ReachOptions::default()
    };
    let answer = reach(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let bore = answer.parts[0]
        .faces
        .iter()
        .find(|face| (380.0..420.0).contains(&face.area_mm2));
    let seat = &bore.expect("the bore is one face").tools[0].seats[0];
    let point = 2.5 / 70.0_f64.to_radians().tan();
    let [found] = &seat.indexes[..] else {
        panic!("one angle is expected: {:?}", seat.indexes);
    };
    // One of the two, by the rotary sense.
    let off = (found.index_deg - 15.0)
        .abs()
        .min((found.index_deg - 345.0).abs());
    assert!(off < 1e-3, "{}", found.index_deg);
    assert_share(found.share, (26.0 - point) / 26.0, 0.05);
}

#[test]
fn a_wall_beside_the_part_keeps_the_holder_off() {
    // It stands 64 over the top, from x = 20 on. The holder face is 50 over the tip, its radius 22,
    // its gap 2: tips up to x = -4, and the end of radius 8 covers up to x = 4.
    let shop = Shop::with_cuts("")
        .mesh(
            "finished.stl",
            &cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]),
        )
        .stand("bed", [20.0, 0.0, 140.0], [30.0, 260.0, 200.0]);
    let answer = ask(&shop, &[0.0]);
    let exact = (4.0 + 35.0) / 70.0;
    let top = answer.parts[0]
        .faces
        .iter()
        .find(|face| about(6300.0)(face.area_mm2) && face.tools[0].worst.certain > 0.0);
    let found = top.expect("the top is reached").tools[0].worst;
    assert_share(found, exact, 0.03);
}
