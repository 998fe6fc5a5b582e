//! Faults of meaning in job and machine: each with its line, its place and its remedy.

use super::fixture::Files;

const J: &str = "job.toml";
const M: &str = "shop/machine.toml";

/// File, what is exchanged for what, part of the line of the fault, words of the message.
type Case<'a> = (&'a str, &'a str, &'a str, &'a str, &'a [&'a str]);

fn errors(cases: &[Case<'_>]) {
    for (path, old, new, at, words) in cases {
        Files::with(path, old, new).one_error(path, at, words);
    }
}

/// Lengths that cannot be.
const LENGTHS: &[Case<'_>] = &[
    (
        J,
        "length = 440",
        "length = 0",
        "length = 0",
        &["`carrier.length`", "more than 0"],
    ),
    (
        J,
        "across_flats = 160",
        "across_flats = -160",
        "across",
        &["`carrier.across_flats`"],
    ),
    (
        J,
        "rest = 2.0",
        "rest = 0",
        "rest = 0",
        &["`wanted.rest`", "more than 0"],
    ),
    (
        J,
        "index = 6.0",
        "index = -6",
        "index",
        &["`wanted.elements.holder.index`"],
    ),
    (
        J,
        "rest = 2.0",
        "rest = 1e6",
        "rest = 1e6",
        &["`wanted.rest`", "more than 10 metres"],
    ),
    (
        J,
        "index = 6.0",
        "index = 10001",
        "index",
        &["`wanted.elements.holder.index`", "more than 10 metres"],
    ),
    (
        J,
        "z = [0, 3]",
        "z = [0, -3]",
        "-3",
        &["`parts[0].states[0].stock.z`", "negative"],
    ),
    (
        J,
        "[0, 130], pitch",
        "[0, 2e6], pitch",
        "2e6",
        &["`seats[0].grid.first`", "kilometre"],
    ),
    (
        J,
        "bore = 80",
        "bore = 190",
        "[carrier]",
        &["`carrier`", "bore"],
    ),
    (
        J,
        "width = 80,",
        "width = 170,",
        "pads",
        &["`carrier.pads.width`", "170", "160"],
    ),
    (
        M,
        "swing_radius = 300",
        "swing_radius = 0",
        "swing",
        &["`rotary.swing_radius`"],
    ),
    (
        M,
        "diameter = 150",
        "diameter = 0",
        "diameter",
        &["`bodies[0].shape.diameter`"],
    ),
    (
        M,
        "to = [175, 175, 300]",
        "to = [175, 175, 120]",
        "[175",
        &["`bodies[1].shape`"],
    ),
    (
        M,
        "[200, 0]]",
        "[200, -60]]",
        "-60",
        &["`bodies[2].shape.points[1]`", "falls"],
    ),
    (
        M,
        "[200, 0]]",
        "[200, -50]]",
        "[200",
        &["`bodies[2].shape.points`", "no body"],
    ),
];

#[test]
fn lengths_are_checked() {
    errors(LENGTHS);
}

/// Axes that cannot be.
const AXES: &[Case<'_>] = &[
    (
        M,
        "[-280, 280]",
        "[280, -280]",
        "[280",
        &["`axes[0].limits`", "280 is not below"],
    ),
    (
        M,
        "direction = [1, 0, 0]",
        "direction = [0, 0, 0]",
        "[0, 0, 0]",
        &["no length"],
    ),
    (
        M,
        "direction = [1, 0, 0]",
        "direction = [0, 1, 1]",
        "[[axes]]",
        &["in one plane"],
    ),
    (
        M,
        "[-560, 0]",
        "[-560, -10]",
        "[[axes]]#3",
        &["`axes[2].home`", "-560 to -10"],
    ),
    (
        M,
        "moves = \"work\"",
        "moves = \"work\"\nindex_at = 999",
        "999",
        &["outside the limits"],
    ),
    (
        M,
        "moves = \"work\"",
        "moves = \"work\"\ntool_change = 281",
        "281",
        &["`axes[0].tool_change`"],
    ),
    (
        M,
        "moves = \"work\"",
        "moves = \"work\"\nindex_at = 0\nindex_rule = \"home\"",
        "[[axes]]",
        &["`axes[0]`", "both given"],
    ),
    (
        M,
        "name = \"Y\"",
        "name = \"X\"",
        "name = \"X\"#2",
        &["\"X\" stands twice", "rename"],
    ),
    (
        M,
        "name = \"Y\"",
        "name = \"B\"",
        "name = \"B\"",
        &["name of the rotary too"],
    ),
];

#[test]
fn machine_axes_are_checked() {
    errors(AXES);
    let two = Files::with(M, "\n[[axes]]\nname = \"Y\"", "\n[[bodies]]\nname = \"Y\"");
    assert!(
        two.faults().len() > 1,
        "the keys of an axis are not those of a body"
    );
    let y =
        "[[axes]]\nname = \"Y\"\ndirection = [0, 1, 0]\nlimits = [-80, 640]\nmoves = \"tool\"\n";
    let two = Files::with(M, y, "");
    two.one_error(
        M,
        "[[axes]]",
        &["`axes`", "there are 2 linear axes; exactly three"],
    );
}

#[test]
fn the_rotary_is_checked() {
    let direction = "direction = [0, 1, 0]\ncentre";
    let none = "direction = [0, 0, 0]\ncentre";
    errors(&[
        (
            M,
            direction,
            none,
            "[0, 0, 0]",
            &["`rotary.direction`", "no length"],
        ),
        (
            M,
            "step_deg = 1",
            "step_deg = 7",
            "step_deg",
            &["7 does not divide 360"],
        ),
        (
            M,
            "step_deg = 1",
            "step_deg = -1",
            "step_deg",
            &["more than 0"],
        ),
        (
            M,
            "step_deg = 1",
            "limits_deg = [180, 0]",
            "limits_deg",
            &["180 is not below"],
        ),
        (
            J,
            "[0, 180]",
            "[0.5]",
            "index_deg",
            &["`cuts[1].index_deg[0]`", "step 1; the nearest is"],
        ),
        (J, "[0, 180]", "[]", "index_deg", &["empty"]),
        (
            J,
            "[wanted]",
            "start_index_deg = 0.1\n[wanted]",
            "start",
            &["`start_index_deg`"],
        ),
    ]);
    let files = Files::with(M, "step_deg = 1", "limits_deg = [0, 90]");
    files.one_error(
        J,
        "index_deg",
        &["`cuts[1].index_deg[1]`", "180", "limits 0 to 90 of axis B"],
    );
}

#[test]
fn what_a_machine_leaves_open_is_a_warning() {
    Files::with(M, "sense = \"iso-841\"\n", "").warning(M, "[rotary]", &["`sense`", "`unknown`"]);
    Files::with(M, "way = \"shortest\"\n", "").warning(M, "[rotary]", &["`way`", "both ways"]);
    let wall = Files::with(M, "group = \"base\"", "group = \"head\"");
    wall.warning(M, "[[bodies]]", &["`bodies`", "group base"]);
}

#[test]
fn contacts_and_index_poses_name_what_is_there() {
    let pose = |text: &str| format!("index_pose = [{text}]\n[wanted]");
    let at = |text: &str| Files::with(J, "[wanted]", &pose(text));
    errors(&[
        (
            M,
            "bed = \"pallet\"",
            "bed = \"palet\"",
            "palet\"",
            &["\"pallet\" meant?"],
        ),
        (
            M,
            "work = \"carrier\"",
            "work = \"part\"",
            "work = \"part\"",
            &["`contacts[0].work`"],
        ),
        (
            M,
            "along = [-1, 1]",
            "along = [1, -1]",
            "along = [1",
            &["`contacts[0].along`"],
        ),
    ]);
    at("{ axis = \"W\", at = 1 }").one_error(J, "index_pose", &["no axis \"W\"", "\"X\""]);
    at("{ axis = \"X\" }").one_error(J, "index_pose", &["`index_pose[0]`", "`at` or `rule`"]);
    at("{ axis = \"X\", at = 300 }").one_error(
        J,
        "index_pose",
        &["outside the limits -280 to 280"],
    );
    let twice = at("{ axis = \"X\", at = 3 }, { axis = \"X\", rule = \"home\" }");
    twice.one_error(J, "index_pose", &["\"X\" stands twice"]);
    let machine = at("{ axis = \"Z\", at = -345 }").good_setup().setup.machine;
    assert_eq!(
        machine.axes[2].index,
        crate::setup::model::IndexAt::At(-345.0)
    );
}

#[test]
fn one_machine_and_readable_files() {
    Files::with(J, "machine_file = \"shop/machine.toml\"\n", "").one_error(
        J,
        "format",
        &["there is no machine", "`machine_file` or `machine`"],
    );
    errors(&[
        (
            J,
            "shop/machine.toml",
            "shop/none.toml",
            "none",
            &["`machine_file`", "cannot read"],
        ),
        (
            J,
            "shop/tools.toml",
            "shop/tool.toml",
            "tool.toml",
            &["`tool_files[0]`", "cannot read"],
        ),
        (
            J,
            "part.stl",
            "parts.stl",
            "parts.stl",
            &["`parts[0].states[1].file`", "cannot read"],
        ),
    ]);
    let files = Files::with(J, "[wanted]", "machine = { name = \"m\" }\n[wanted]");
    assert!(
        files
            .faults()
            .iter()
            .all(|fault| fault.message.contains("`machine`"))
    );
}
