//! Shortest and longest gauge length of every tool.

use super::judge::Judge;
use super::model::ToolLengths;
use super::run::Judged;
use super::{CheckError, Progress};

pub(super) fn lengths(
    _judge: &Judge<'_>,
    _judged: &Judged,
    _progress: &dyn Progress,
) -> Result<Vec<ToolLengths>, CheckError> {
    Ok(Vec::new())
}
