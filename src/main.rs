//! The `lapidary` program: parse, run, report. All work is in the library.

fn main() -> std::process::ExitCode {
    lapidary::cli::main()
}
