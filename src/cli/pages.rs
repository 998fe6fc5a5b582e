//! Schemas, shell completions and manual pages.

use super::args::{Cli, SchemaFile};
use crate::report::{check_schema, features_schema, lengths_schema};
use crate::setup::{SchemaKind, schema as file_schema};
use clap::CommandFactory;
use clap_complete::Shell;

/// What a manual page says that it comes from.
const SOURCE: &str = concat!("lapidary ", env!("CARGO_PKG_VERSION"));

/// JSON Schema of a file.
#[must_use]
pub fn schema(file: SchemaFile) -> String {
    let schema = match file {
        SchemaFile::Job => file_schema(SchemaKind::Job),
        SchemaFile::Machine => file_schema(SchemaKind::Machine),
        SchemaFile::Tools => file_schema(SchemaKind::Tools),
        SchemaFile::Check => check_schema(),
        SchemaFile::Lengths => lengths_schema(),
        SchemaFile::Features => features_schema(),
    };
    format!("{schema:#}\n")
}

/// Completions for a shell.
#[must_use]
pub fn completions(shell: Shell) -> String {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "lapidary", &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// Manual page of the program or of one of its commands, in roff.
///
/// # Errors
/// A text that names the commands there are.
pub fn man(command: Option<&str>) -> Result<String, String> {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let shown = match command {
        None => program,
        Some(name) => match program.find_subcommand(name) {
            Some(found) => found.clone(),
            None => return Err(unknown(&program, name)),
        },
    };
    let mut page = Vec::new();
    let rendered = clap_mangen::Man::new(shown)
        .source(SOURCE)
        .render(&mut page);
    rendered.map_err(|fault| format!("the manual page cannot be made: {fault}"))?;
    Ok(String::from_utf8_lossy(&page).into_owned())
}

fn unknown(program: &clap::Command, name: &str) -> String {
    let names: Vec<_> = program
        .get_subcommands()
        .map(clap::Command::get_name)
        .collect();
    format!("no command {name}; there are {}", names.join(", "))
}
