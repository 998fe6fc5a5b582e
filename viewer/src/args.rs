//! The command line.

use clap::Parser;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  lapidary-viewer housing.toml
  lapidary-viewer housing.toml --cut \"finish pocket\" --picture pocket.png

Exit codes:
  0    the window was closed, or the picture was written
  2    no window: wrong arguments, faults in the files, no display, no driver";

/// Shows a setup at its worst place, in a window or as a picture.
#[derive(Debug, Clone, Parser)]
#[command(name = "lapidary-viewer", version, max_term_width = 80, after_help = EXAMPLES)]
pub struct Args {
    /// Job file (TOML)
    pub job: PathBuf,

    /// Write a picture to this file (PNG) instead of opening a window; needs no display
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,

    /// Begin at this cut, where it has the least room
    #[arg(long, value_name = "NAME")]
    pub cut: Option<String>,

    /// Begin with the carrier at this rotary angle
    #[arg(long = "index", value_name = "DEG", value_parser = angle_deg, allow_negative_numbers = true)]
    pub index_deg: Option<f64>,

    /// Size of the window or picture in pixels
    #[arg(long, value_name = "WxH", default_value = "1200x800", value_parser = size)]
    pub size: (u32, u32),

    /// Write what the panels show to this file, a line of JSON for each change
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,

    /// Draw this many frames after the answer, tell how long they took, and end; with `--picture`
    /// without a display
    #[arg(long, value_name = "N")]
    pub frames: Option<u32>,
}

fn angle_deg(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(angle_deg) if angle_deg.abs() <= 36_000.0 => Ok(angle_deg),
        _ => Err("an angle in degrees is needed, such as 90 or -22.5".to_owned()),
    }
}

/// Sizes that a driver can be expected to draw.
fn size(text: &str) -> Result<(u32, u32), String> {
    let parsed = text.split_once(['x', 'X']).and_then(|(width, height)| {
        let side = |text: &str| {
            let side = text.trim().parse::<u32>().ok();
            side.filter(|side| (64..=8192).contains(side))
        };
        Some((side(width)?, side(height)?))
    });
    parsed.ok_or_else(|| "a size such as 1200x800 is needed, each side 64 to 8192".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn arguments_are_tested_where_they_are_given() {
        Args::command().debug_assert();
        assert_eq!(size("1200x800"), Ok((1200, 800)));
        assert!(size("12").is_err() && size("0x9").is_err() && size("9000x100").is_err());
        assert_eq!(angle_deg("-90"), Ok(-90.0));
        assert!(angle_deg("nan").is_err() && angle_deg("inf").is_err());
    }
}
