//! `lapidary report`: load, ask, draw, and write one page.

use super::args::ReportArgs;
use super::check::{self, NoAnswer};
use super::exit::Exit;
use super::reach_args::How;
use super::reached::{self, Asked};
use super::{output, say, stop};
use crate::answer::check::model::CheckAnswer;
use crate::answer::drawing::{drawings, reached_dials};
use crate::report::{CheckReport, Date, PageOptions, Picture, check_page};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

/// The program that makes pictures of a setup, where it is installed.
const VIEWER: &str = "lapidary-viewer";

/// Most pictures of a page: more indexes than sides are rare, and pictures are heavy.
const PICTURES: usize = 12;

/// A file that begins so is a PNG file (ISO/IEC 15948, 5.2).
const PNG: [u8; 8] = [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a];

/// Checks a job and writes its page.
#[must_use]
pub fn run(args: &ReportArgs) -> Exit {
    let stop = stop::on_ctrl_c();
    check::told(answer_and_page(args, &stop))
}

fn answer_and_page(args: &ReportArgs, stop: &AtomicBool) -> Result<Exit, NoAnswer> {
    let how = reached::how(&args.reached, How::Steps)?;
    let loaded = check::load_job(&args.ask.job, stop)?;
    output::can_write(
        &args.output,
        &check::files_of(&args.ask.job, &loaded.sources),
    )?;
    loaded.warnings.iter().for_each(say);
    let options = check::options(&args.ask);
    let answer = check::ask(&args.ask, &loaded.setup, &options, stop)?;
    let drawn = check::in_threads(args.ask.threads, || drawings(&loaded.setup, &answer))??;
    let reached = reached::ask(&args.reached, how, &args.ask, &loaded.setup, stop)?;
    let pictures = if args.no_pictures {
        Vec::new()
    } else {
        pictures(&args.ask.job, &answer, stop)
    };
    let report = CheckReport {
        answer: &answer,
        options: &options,
        accept_close: args.ask.accept_close,
        warnings: &loaded.warnings,
        sources: &loaded.sources,
        reached: reached.as_ref().map(Asked::told),
    };
    let page = PageOptions {
        unit: check::unit(args.ask.units),
        date: args.date.unwrap_or_else(today),
        pictures,
        reached: reached.as_ref().map(|asked| {
            let Asked { by, largest, .. } = *asked;
            reached_dials(&loaded.setup, &asked.answer, by, largest, &answer)
        }),
        names: loaded.setup.names().map(str::to_owned).collect(),
    };
    let text = check_page(&report, &drawn, &page);
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    output::to_file(&args.output, &text)?;
    Ok(Exit::of(&answer, args.ask.accept_close))
}

/// Today in universal time.
fn today() -> Date {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let days = since.map_or(0, |since| since.as_secs() / 86_400);
    day_of(days)
}

/// The day so many days after 1970-01-01.
///
/// # Source
/// Own derivation: years counted from March, so that the leap day is the last of a year; 146,097
/// days in 400 years.
fn day_of(days: u64) -> Date {
    let from_march = days + 719_468;
    let (era, day) = (from_march / 146_097, from_march % 146_097);
    let year = (day - day / 1_460 + day / 36_524 - day / 146_096) / 365;
    let day = day - (365 * year + year / 4 - year / 100);
    let month = (5 * day + 2) / 153;
    let day = day - (153 * month + 2) / 5 + 1;
    let january_on = month >= 10;
    let month = if january_on { month - 9 } else { month + 3 };
    let year = era * 400 + year + u64::from(january_on);
    // A clock beyond the year 65535 is no clock.
    Date {
        year: u16::try_from(year).unwrap_or(u16::MAX),
        month: u8::try_from(month).unwrap_or(1),
        day: u8::try_from(day).unwrap_or(1),
    }
}

/// A picture for each index that is used. Without the viewer program, or where it fails, there
/// are none, and that is no error.
fn pictures(job: &Path, answer: &CheckAnswer, stop: &AtomicBool) -> Vec<Picture> {
    let mut angles: Vec<f64> = answer.cuts.iter().filter_map(|cut| cut.index_deg).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup();
    let Ok(folder) = tempfile::tempdir() else {
        return Vec::new();
    };
    let mut pictures = Vec::new();
    for (number, index_deg) in angles.into_iter().take(PICTURES).enumerate() {
        if stop.load(Ordering::SeqCst) {
            break;
        }
        let file = folder.path().join(format!("{number}.png"));
        match picture(job, index_deg, &file) {
            Some(png) => pictures.push(Picture { index_deg, png }),
            // What failed once fails again.
            None => break,
        }
    }
    pictures
}

fn picture(job: &Path, index_deg: f64, file: &Path) -> Option<Vec<u8>> {
    let run = |program: PathBuf| {
        Command::new(program)
            .arg(job)
            .arg("--picture")
            .arg(file)
            .args(["--index", &index_deg.to_string()])
            .args(["--size", "896x640"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
    };
    let status = run(beside_us().unwrap_or_else(|| PathBuf::from(VIEWER))).ok()?;
    let png = std::fs::read(file).ok()?;
    (status.success() && png.starts_with(&PNG)).then_some(png)
}

/// The viewer in our own folder, where it is there.
fn beside_us() -> Option<PathBuf> {
    let own = std::env::current_exe().ok()?;
    let path = own.with_file_name(format!("{VIEWER}{}", std::env::consts::EXE_SUFFIX));
    path.is_file().then_some(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_become_dates() {
        let date = |days| day_of(days).to_string();
        assert_eq!(date(0), "1970-01-01");
        assert_eq!(date(59), "1970-03-01");
        assert_eq!(date(11_016), "2000-02-29");
        assert_eq!(date(20_543), "2026-03-31");
        assert_eq!(date(47_541), "2100-03-01");
    }
}
