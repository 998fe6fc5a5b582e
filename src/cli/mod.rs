//! Arguments, files, progress, exit codes.
//!
//! - [`args`], [`lengths_args`], [`reach_args`]: the command line
//! - [`check`], [`lengths`], [`reach`]: load, ask, report; [`exit`]: what the program says to its caller
//! - [`features`]: faces and features of one mesh
//! - [`report`]: the page, with pictures by the viewer program where it is there
//! - [`output`]: a report written whole or not at all
//! - [`progress`] on a terminal, [`stop`] on Ctrl-C
//! - [`pages`]: schemas, completions, man pages
//! - [`view`]: starts the window, which is a program of its own

pub mod args;
pub mod check;
pub mod exit;
pub mod features;
pub mod lengths;
pub mod lengths_args;
pub mod output;
pub mod pages;
pub mod progress;
pub mod reach;
pub mod reach_args;
mod reached;
pub mod report;
pub mod stop;
pub mod view;

use args::{Cli, Command};
use clap::Parser;
use exit::Exit;
use std::fmt::Display;
use std::io::Write;

/// Runs the program with the process arguments.
#[must_use]
pub fn main() -> std::process::ExitCode {
    match Cli::try_parse() {
        Ok(cli) => run(&cli).code(),
        Err(fault) => {
            // A closed pipe is no reason to fail.
            let _ = fault.print();
            let exit = if fault.use_stderr() {
                Exit::BadInput
            } else {
                Exit::Clear
            };
            exit.code()
        }
    }
}

fn run(cli: &Cli) -> Exit {
    match &cli.command {
        Command::Check(args) => check::run(args),
        Command::Reach(args) => reach::run(args),
        Command::View(args) => view::run(args),
        Command::Features(args) => features::run(args),
        Command::Report(args) => report::run(args),
        Command::Lengths(args) => lengths::run(args),
        Command::Schema { file } => print(&pages::schema(*file)),
        Command::Completions { shell } => print(&pages::completions(*shell)),
        Command::Man { command } => match pages::man(command.as_deref()) {
            Ok(page) => print(&page),
            Err(fault) => {
                say(format_args!("error: {fault}"));
                Exit::BadInput
            }
        },
    }
}

fn print(text: &str) -> Exit {
    match output::to_stdout(text) {
        Ok(()) => Exit::Clear,
        Err(fault) => {
            say(format_args!("error: {fault}"));
            Exit::BadInput
        }
    }
}

/// One line on standard error. A closed standard error has no one to tell.
fn say(line: impl Display) {
    let line = crate::report::shown(&line.to_string());
    let _ = writeln!(std::io::stderr(), "{line}");
}
