//! `lapidary features`: read a mesh, split it, report.

use super::args::{FeaturesArgs, FeaturesFormat, Units};
use super::exit::Exit;
use super::output::{self, OutputError};
use super::say;
use super::stop;
use crate::mesh::features::features;
use crate::mesh::{MeshFaults, ReadOptions, read_stl};
use crate::report::{FeaturesReport, JsonError, features_json, features_text, features_toml};
use crate::value::Unit;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
enum NoAnswer {
    #[error("error: {0}: cannot be read: {1}")]
    Unreadable(String, std::io::Error),
    #[error("{1}\nerror: {0}: no mesh that could be split; mend the errors above")]
    Faults(String, MeshFaults),
    #[error("error: {0}")]
    Output(#[from] OutputError),
    #[error("error: {0}; this is a fault of the program, not of the mesh")]
    Json(#[from] JsonError),
    #[error("error: {0}; this is a fault of the program, not of the mesh")]
    Toml(#[from] toml::ser::Error),
}

/// Splits a mesh and reports.
#[must_use]
pub fn run(args: &FeaturesArgs) -> Exit {
    // Nothing is written before all is known, so that this may end at any time.
    stop::end_on_ctrl_c();
    match answer_and_report(args) {
        Ok(()) => Exit::Clear,
        Err(reason) => {
            say(reason);
            Exit::BadInput
        }
    }
}

const fn unit(units: Units) -> Unit {
    match units {
        Units::Mm => Unit::Mm,
        Units::Inch => Unit::Inch,
    }
}

fn answer_and_report(args: &FeaturesArgs) -> Result<(), NoAnswer> {
    let name = args.mesh.display().to_string();
    if let Some(path) = &args.output {
        output::can_write(path, std::slice::from_ref(&args.mesh))?;
    }
    let bytes = std::fs::read(&args.mesh).map_err(|e| NoAnswer::Unreadable(name.clone(), e))?;
    let options = ReadOptions::new(unit(args.mesh_units).mm());
    let read = read_stl(&bytes, &options).map_err(|e| NoAnswer::Faults(name.clone(), e))?;
    let warnings: Vec<String> = read.faults.iter().map(ToString::to_string).collect();
    warnings
        .iter()
        .for_each(|warning| say(format_args!("{name}: {warning}")));
    let (faces, features) = features(&read.mesh);
    let report = FeaturesReport {
        file: &name,
        mesh: &read.mesh,
        faces: &faces,
        features: &features,
        warnings: &warnings,
    };
    let text = match args.format {
        FeaturesFormat::Text => features_text(&report, unit(args.units)),
        FeaturesFormat::Json => features_json(&report)?,
        FeaturesFormat::Toml => features_toml(&report, unit(args.units))?,
    };
    match &args.output {
        Some(path) => output::to_file(path, &text)?,
        None => output::to_stdout(&text)?,
    }
    Ok(())
}
