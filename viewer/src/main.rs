//! The `lapidary-viewer` program: arguments, files, then a window or a picture.

use clap::Parser;
use lapidary_viewer::args::Args;
use lapidary_viewer::{job, picture, ready, timing, window};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let begun = Instant::now();
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(fault) => {
            let code = if fault.use_stderr() { 2 } else { 0 };
            // A closed pipe is no reason to fail.
            let _ = fault.print();
            return ExitCode::from(code);
        }
    };
    match run(&args, begun) {
        Ok(()) => ExitCode::SUCCESS,
        Err(lines) => {
            for line in lines {
                eprintln!("{}", lapidary::report::shown(&line));
            }
            ExitCode::from(2)
        }
    }
}

fn run(args: &Args, begun: Instant) -> Result<(), Vec<String>> {
    let error = |message: String| vec![format!("error: {message}")];
    let job = job::read(&args.job).map_err(|mut faults| {
        faults.push("nothing is shown: mend the errors above and run it again".to_owned());
        faults
    })?;
    for warning in &job.warnings {
        eprintln!("{}", lapidary::report::shown(&warning.to_string()));
    }
    if let Some(name) = &args.cut
        && !job.setup.cuts.iter().any(|cut| cut.name == *name)
    {
        return Err(error(format!("the job has no cut `{name}`")));
    }
    let Some(file) = &args.picture else {
        ready::display().map_err(error)?;
        ready::driver().map_err(error)?;
        return window::run(args, job, begun).map_err(error);
    };
    if let Some(frames) = args.frames {
        let times = timing::run(args, job, begun, frames, file).map_err(error)?;
        println!("{times}");
        return Ok(());
    }
    let mut prepared = picture::prepare(args, job).map_err(error)?;
    let drawn = picture::draw(&mut prepared, args.size).map_err(error)?;
    drawn
        .save(file)
        .map_err(|fault| error(format!("cannot write {}: {fault}", file.display())))
}
