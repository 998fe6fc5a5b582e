//! The check of a file's structure against its schema, reworded so that it names key and remedy.

use super::document::{Document, child};
use super::nearest::{list, nearest};
use super::schema::{FORMAT_VERSION, SchemaKind, schema};
use super::spot::{Log, Spot};
use crate::value::Unit;
use jsonschema::error::{TypeKind, ValidationErrorKind};
use jsonschema::{ValidationError, Validator};
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Reads a file's structure.
///
/// `None`, and at least one error in the log, where it does not fit the schema.
pub(super) fn read<T: DeserializeOwned>(doc: &Document, kind: SchemaKind, log: &Log) -> Option<T> {
    let top = Spot::top(doc, log, Unit::Mm);
    if !right_format(doc, kind, &top) {
        return None;
    }
    let schema = schema(kind);
    let validator = match Validator::new(&schema) {
        Ok(validator) => validator,
        Err(error) => {
            top.error(format!("the schema of this file cannot be used: {error}"));
            return None;
        }
    };
    let reporter = Reporter {
        schema: &schema,
        top: &top,
    };
    let mut sound = true;
    for error in validator.iter_errors(&doc.value) {
        sound = false;
        reporter.report(&error);
    }
    if !sound {
        return None;
    }
    match serde_json::from_value(doc.value.clone()) {
        Ok(file) => Some(file),
        Err(error) => {
            top.error(format!("cannot be read: {error}"));
            None
        }
    }
}

/// Says what is wrong with `format` and `version`: a wrong file would give a flood of faults.
fn right_format(doc: &Document, kind: SchemaKind, top: &Spot<'_>) -> bool {
    let wanted = kind.format();
    match doc.value.get("format") {
        None => {
            top.error(format!(
                "the key `format` is missing; write format = \"{wanted}\""
            ));
            return false;
        }
        Some(Value::String(format)) if format == wanted => {}
        Some(other) => {
            top.key("format").error(format!(
                "is {other}, but this must be a file of format \"{wanted}\"; name the right file"
            ));
            return false;
        }
    }
    match doc.value.get("version") {
        None => top.error(format!(
            "the key `version` is missing; write version = {FORMAT_VERSION}"
        )),
        Some(version) if version.as_u64() == Some(u64::from(FORMAT_VERSION)) => return true,
        Some(version) => top.key("version").error(format!(
            "is {version}, but this program reads version {FORMAT_VERSION} only"
        )),
    }
    false
}

struct Reporter<'a> {
    schema: &'a Value,
    top: &'a Spot<'a>,
}

impl Reporter<'_> {
    fn spot(&self, error: &ValidationError<'_>) -> Spot<'_> {
        self.top.at_pointer(error.instance_path().as_str())
    }

    fn report(&self, error: &ValidationError<'_>) {
        let spot = self.spot(error);
        match error.kind() {
            ValidationErrorKind::AdditionalProperties { unexpected }
            | ValidationErrorKind::UnevaluatedProperties { unexpected } => {
                let known = self.known_keys(error);
                for key in unexpected {
                    spot.key(key).error(unknown_key(key, &known));
                }
            }
            ValidationErrorKind::Required { property } => {
                let key = property.as_str().unwrap_or("?");
                spot.error(format!(
                    "the key `{key}` is missing{}",
                    self.purpose(error, key)
                ));
            }
            ValidationErrorKind::OneOfNotValid { context }
            | ValidationErrorKind::AnyOf { context } => self.report_branches(error, context),
            ValidationErrorKind::Enum { options } => {
                let options = options.as_array().map_or(&[][..], Vec::as_slice);
                spot.error(not_among(
                    error.instance(),
                    &options.iter().collect::<Vec<_>>(),
                ));
            }
            ValidationErrorKind::Constant { expected_value } => {
                spot.error(not_among(error.instance(), &[expected_value.as_ref()]));
            }
            ValidationErrorKind::Type { kind } => {
                let found = describe(error.instance());
                spot.error(format!("must be {}, but is {found}", wanted_type(kind)));
            }
            ValidationErrorKind::MinItems { limit } | ValidationErrorKind::MaxItems { limit } => {
                let count = error.instance().as_array().map_or(0, Vec::len);
                spot.error(format!("must have {limit} entries, but has {count}"));
            }
            ValidationErrorKind::Minimum { limit } => {
                spot.error(format!(
                    "must be at least {limit}, but is {}",
                    error.instance()
                ));
            }
            ValidationErrorKind::Maximum { limit } => {
                spot.error(format!(
                    "must be at most {limit}, but is {}",
                    error.instance()
                ));
            }
            _ => spot.error(error.to_string()),
        }
    }

    /// A choice of which no branch fits: report the branch that was meant.
    fn report_branches(
        &self,
        error: &ValidationError<'_>,
        context: &[Vec<ValidationError<'static>>],
    ) {
        let spot = self.spot(error);
        let here = error.instance_path().as_str();
        let constants = |path: &str| -> Vec<Value> {
            let of_branch = |errors: &Vec<ValidationError<'static>>| {
                errors.iter().find_map(|inner| match inner.kind() {
                    _ if inner.instance_path().as_str() != path => None,
                    ValidationErrorKind::Constant { expected_value } => {
                        Some(vec![expected_value.as_ref().clone()])
                    }
                    ValidationErrorKind::Enum { options } => options.as_array().cloned(),
                    _ => None,
                })
            };
            context.iter().filter_map(of_branch).flatten().collect()
        };
        let Some(table) = error.instance().as_object() else {
            let options = constants(here);
            if options.is_empty() {
                spot.error(format!(
                    "must be a table, but is {}",
                    describe(error.instance())
                ));
            } else {
                spot.error(not_among(
                    error.instance(),
                    &options.iter().collect::<Vec<_>>(),
                ));
            }
            return;
        };
        let kinds = self.tags(error);
        let kinds: Vec<&str> = kinds.iter().map(String::as_str).collect();
        match table.get("kind") {
            None => spot.error(format!(
                "the key `kind` is missing; give one of {}",
                list(&kinds)
            )),
            Some(kind) => {
                let meant = kinds.iter().position(|name| kind.as_str() == Some(name));
                match meant.and_then(|index| context.get(index)) {
                    Some(errors) => errors.iter().for_each(|inner| self.report(inner)),
                    None => {
                        let known: Vec<Value> = kinds.iter().map(|name| (*name).into()).collect();
                        let known: Vec<&Value> = known.iter().collect();
                        spot.key("kind").error(not_among(kind, &known));
                    }
                }
            }
        }
    }

    /// The schema that holds the keyword which failed.
    fn holder(&self, error: &ValidationError<'_>) -> Option<&Value> {
        let path = error.evaluation_path().as_str();
        let mut node = self.schema;
        for segment in path.rsplit_once('/')?.0.split('/').skip(1) {
            if segment == "$ref" {
                node = self.resolve(node)?;
            } else {
                let key = segment.replace("~1", "/").replace("~0", "~");
                node = match node {
                    Value::Array(items) => items.get(key.parse::<usize>().ok()?)?,
                    _ => node.get(key)?,
                };
            }
        }
        Some(node)
    }

    fn resolve(&self, node: &Value) -> Option<&Value> {
        let target = node.get("$ref")?.as_str()?;
        self.schema.pointer(target.strip_prefix('#')?)
    }

    fn known_keys(&self, error: &ValidationError<'_>) -> Vec<String> {
        let properties = self.holder(error).and_then(|node| node.get("properties"));
        let keys = properties.and_then(Value::as_object);
        keys.map_or_else(Vec::new, |keys| keys.keys().cloned().collect())
    }

    /// What a missing key is for, in the words of its description.
    fn purpose(&self, error: &ValidationError<'_>, key: &str) -> String {
        let node = self
            .holder(error)
            .and_then(|node| node.pointer(&child("/properties", key)));
        let text = node
            .and_then(|node| node.get("description"))
            .and_then(Value::as_str);
        text.map_or_else(String::new, |text| format!("; add it: {text}"))
    }

    /// The values of `kind` over the branches of a choice.
    fn tags(&self, error: &ValidationError<'_>) -> Vec<String> {
        let choice = self.holder(error);
        let branches = choice.and_then(|node| node.get("oneOf").or_else(|| node.get("anyOf")));
        let tag = |branch: &Value| {
            let constant = branch.pointer("/properties/kind/const");
            constant
                .and_then(Value::as_str)
                .unwrap_or_default()
                .to_owned()
        };
        let branches = branches.and_then(Value::as_array);
        branches.map_or_else(Vec::new, |branches| branches.iter().map(tag).collect())
    }
}

fn unknown_key(key: &str, known: &[String]) -> String {
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    match nearest(key, &known) {
        Some(name) => format!("there is no key `{key}` here; is `{name}` meant?"),
        None => {
            let known: Vec<String> = known.iter().map(|name| format!("`{name}`")).collect();
            format!(
                "there is no key `{key}` here; the keys are {}",
                known.join(", ")
            )
        }
    }
}

fn not_among(found: &Value, options: &[&Value]) -> String {
    let allowed: Vec<String> = options.iter().map(ToString::to_string).collect();
    format!(
        "is {}, which is not among {}",
        describe(found),
        allowed.join(", ")
    )
}

fn describe(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(flag) => format!("{flag}"),
        Value::Number(number) => format!("the number {number}"),
        Value::String(text) => format!("the text {text:?}"),
        Value::Array(items) => format!("a list of {}", items.len()),
        Value::Object(_) => "a table".to_owned(),
    }
}

fn wanted_type(kind: &TypeKind) -> String {
    let one = |name: &str| match name {
        "number" => "a number",
        "integer" => "a whole number",
        "string" => "text in quotes",
        "boolean" => "true or false",
        "array" => "a list",
        "object" => "a table",
        _ => "something else",
    };
    match kind {
        TypeKind::Single(single) => one(&single.to_string()).to_owned(),
        TypeKind::Multiple(set) => {
            let names: Vec<String> = set
                .iter()
                .map(|each| one(&each.to_string()).to_owned())
                .collect();
            names.join(" or ")
        }
    }
}
