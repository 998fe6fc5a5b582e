//! A TOML file as plain values, with the line of every key and item.

use super::fault::{FileFault, Severity};
use serde_json::{Map, Number, Value};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A file's text taken apart, before anything about its structure is known.
#[derive(Debug, Clone)]
pub(super) struct Document {
    /// The file as it was named.
    pub(super) file: PathBuf,
    /// What stands in it.
    pub(super) value: Value,
    /// Line of each value, by its JSON pointer.
    lines: HashMap<String, usize>,
}

impl Document {
    /// Takes a TOML text apart.
    ///
    /// # Errors
    /// Every fault of syntax, and every number that is not finite.
    pub(super) fn parse(file: &Path, bytes: &[u8]) -> Result<Self, Vec<FileFault>> {
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text.strip_prefix('\u{feff}').unwrap_or(text),
            Err(error) => return Err(vec![not_utf8(file, bytes, error.valid_up_to())]),
        };
        let starts = LineStarts::new(text);
        let (table, errors) = DeTable::parse_recoverable(text);
        if !errors.is_empty() {
            let faults = errors
                .iter()
                .map(|error| syntax_fault(file, &starts, error));
            return Err(faults.collect());
        }
        let mut walk = Walk {
            file,
            starts: &starts,
            lines: HashMap::from([(String::new(), 1)]),
            faults: Vec::new(),
        };
        let value = walk.table(table.get_ref(), "");
        if walk.faults.is_empty() {
            let lines = walk.lines;
            Ok(Self {
                file: file.to_owned(),
                value,
                lines,
            })
        } else {
            Err(walk.faults)
        }
    }

    /// Line of a value, or of the nearest table round it.
    pub(super) fn line(&self, pointer: &str) -> usize {
        let mut place = pointer;
        loop {
            if let Some(line) = self.lines.get(place) {
                return *line;
            }
            place = place.rsplit_once('/').map_or("", |(parent, _)| parent);
        }
    }
}

/// A JSON pointer written as people write a place in TOML: `cuts[3].feature.depth`, counted from 0.
pub(super) fn toml_path(pointer: &str) -> String {
    let mut path = String::new();
    for segment in pointer.split('/').skip(1) {
        let key = segment.replace("~1", "/").replace("~0", "~");
        if !key.is_empty() && key.bytes().all(|byte| byte.is_ascii_digit()) {
            path.push_str(&format!("[{key}]"));
            continue;
        }
        if !path.is_empty() {
            path.push('.');
        }
        let bare = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'_' || byte == b'-';
        if !key.is_empty() && key.bytes().all(bare) {
            path.push_str(&key);
        } else {
            path.push_str(&format!("{key:?}"));
        }
    }
    path
}

/// One key added to a JSON pointer.
pub(super) fn child(pointer: &str, key: &str) -> String {
    format!("{pointer}/{}", key.replace('~', "~0").replace('/', "~1"))
}

/// Byte offsets at which lines begin.
struct LineStarts(Vec<usize>);

impl LineStarts {
    fn new(text: &str) -> Self {
        let after_breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        Self(
            std::iter::once(0)
                .chain(after_breaks.map(|(at, _)| at + 1))
                .collect(),
        )
    }

    fn line(&self, offset: usize) -> usize {
        self.0.partition_point(|start| *start <= offset).max(1)
    }
}

fn not_utf8(file: &Path, bytes: &[u8], at: usize) -> FileFault {
    let line = 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
    let message = "the text is not UTF-8; save the file as UTF-8".to_owned();
    FileFault {
        file: file.to_owned(),
        line: Some(line),
        severity: Severity::Error,
        message,
    }
}

fn syntax_fault(file: &Path, starts: &LineStarts, error: &toml::de::Error) -> FileFault {
    let said = error.message().lines().collect::<Vec<_>>().join(", ");
    let hint = if said.contains("escape") {
        "; in double quotes a backslash is written twice: use '...' or / in paths"
    } else {
        ""
    };
    FileFault {
        file: file.to_owned(),
        line: error.span().map(|span| starts.line(span.start)),
        severity: Severity::Error,
        message: format!("not TOML: {said}{hint}"),
    }
}

/// Walks through the values and notes where each stands.
struct Walk<'a> {
    file: &'a Path,
    starts: &'a LineStarts,
    lines: HashMap<String, usize>,
    faults: Vec<FileFault>,
}

impl Walk<'_> {
    fn table(&mut self, table: &DeTable<'_>, pointer: &str) -> Value {
        let mut map = Map::new();
        for (key, value) in table {
            let place = child(pointer, key.get_ref());
            self.lines
                .insert(place.clone(), self.starts.line(key.span().start));
            map.insert(key.get_ref().to_string(), self.value(value, &place));
        }
        Value::Object(map)
    }

    fn value(&mut self, value: &Spanned<DeValue<'_>>, pointer: &str) -> Value {
        match value.get_ref() {
            DeValue::String(text) => Value::String(text.to_string()),
            DeValue::Boolean(flag) => Value::Bool(*flag),
            DeValue::Datetime(time) => Value::String(time.to_string()),
            DeValue::Integer(number) => {
                match i64::from_str_radix(number.as_str(), number.radix()) {
                    Ok(number) => Value::Number(number.into()),
                    Err(_) => self.not_finite(number.as_str(), pointer),
                }
            }
            DeValue::Float(number) => self.float(number.as_str(), pointer),
            DeValue::Table(table) => self.table(table, pointer),
            DeValue::Array(array) => {
                let items = array.iter().enumerate().map(|(index, item)| {
                    let place = format!("{pointer}/{index}");
                    self.lines
                        .insert(place.clone(), self.starts.line(item.span().start));
                    self.value(item, &place)
                });
                Value::Array(items.collect())
            }
        }
    }

    /// Whole numbers become integers, so that `tool = 3.0` reads as 3.
    fn float(&mut self, text: &str, pointer: &str) -> Value {
        let number: f64 = text.parse().unwrap_or(f64::NAN);
        if number.fract() == 0.0 && number.abs() < 9.0e15 {
            #[expect(clippy::cast_possible_truncation, reason = "a whole number below 2^53")]
            return Value::Number((number as i64).into());
        }
        match Number::from_f64(number) {
            Some(number) => Value::Number(number),
            None => self.not_finite(text, pointer),
        }
    }

    fn not_finite(&mut self, text: &str, pointer: &str) -> Value {
        self.faults.push(FileFault {
            file: self.file.to_owned(),
            line: self.lines.get(pointer).copied(),
            severity: Severity::Error,
            message: format!(
                "`{}`: {text} is not a number that can be used; write a finite number",
                toml_path(pointer)
            ),
        });
        Value::Null
    }
}
