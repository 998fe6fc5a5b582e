//! A picture drawn without a display, against the committed one.

#![allow(clippy::unwrap_used)]

use image::RgbImage;
use lapidary_viewer::args::Args;
use lapidary_viewer::{job, picture, ready};
use std::io::Write;
use std::path::PathBuf;

/// A channel that differs by less is the same: drivers round differently.
const SAME_BY: u8 = 24;

/// The share of the pixels that may differ.
const MAY_DIFFER: f64 = 0.02;

fn own(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn differing(one: &RgbImage, other: &RgbImage) -> f64 {
    assert_eq!(one.dimensions(), other.dimensions());
    let apart = one.pixels().zip(other.pixels()).filter(|(one, other)| {
        let channels = one.0.iter().zip(other.0);
        channels.into_iter().any(|(a, b)| a.abs_diff(b) > SAME_BY)
    });
    apart.count() as f64 / f64::from(one.width() * one.height())
}

/// One test: a thread can have one surface, and a second one after it panics.
#[test]
fn the_demo_is_drawn_as_committed() {
    if let Err(missing) = ready::driver() {
        // Past the capture of the test runner, so that it is seen.
        writeln!(
            std::io::stderr(),
            "left out: the picture of the demo: {missing}"
        )
        .unwrap();
        return;
    }
    let args = Args {
        job: own("../demo-models/horizontal.toml"),
        picture: None,
        cut: None,
        index_deg: None,
        size: (720, 480),
        log: None,
        frames: None,
    };
    let job = job::read(&args.job).unwrap();
    let mut prepared = picture::prepare(&args, job).unwrap();
    let drawn = picture::draw(&mut prepared, args.size).unwrap();
    let committed = own("tests/pictures/worst.png");
    if std::env::var_os("LAPIDARY_WRITE_PICTURES").is_some() {
        drawn.save(&committed).unwrap();
    }
    let committed = image::open(&committed).unwrap().to_rgb8();
    let share = differing(&drawn, &committed);
    println!("{:.3} % of the pixels differ", share * 100.0);
    if share > MAY_DIFFER {
        let seen = std::env::temp_dir().join("lapidary-worst.png");
        drawn.save(&seen).unwrap();
        panic!(
            "{:.1} % of the pixels differ; see {}",
            share * 100.0,
            seen.display()
        );
    }
    // The comparison can fail: an empty picture of the same size is another.
    let empty = RgbImage::from_pixel(720, 480, image::Rgb([233, 236, 238]));
    assert!(differing(&empty, &committed) > MAY_DIFFER);
}
