//! JSON Schemas of the files, for editors and for the check of structure.

use super::file::{JobFile, MachineFile, ToolsFile};
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

/// Which file a schema describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SchemaKind {
    /// Job files.
    Job,
    /// Machine files.
    Machine,
    /// Tool files.
    Tools,
}

impl SchemaKind {
    /// All kinds.
    pub const ALL: [Self; 3] = [Self::Job, Self::Machine, Self::Tools];

    /// The text that `format` holds in such a file.
    #[must_use]
    pub const fn format(self) -> &'static str {
        match self {
            Self::Job => "lapidary/job",
            Self::Machine => "lapidary/machine",
            Self::Tools => "lapidary/tools",
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Self::Job => "Lapidary job file",
            Self::Machine => "Lapidary machine file",
            Self::Tools => "Lapidary tool file",
        }
    }
}

/// The version of all three formats.
pub const FORMAT_VERSION: u32 = 1;

/// JSON Schema (2020-12) of a file, with a title and a description of every key.
///
/// TOML has no null, so a key that may be left out never allows it.
#[must_use]
pub fn schema(which: SchemaKind) -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_deserialize()
        .into_generator();
    let schema = match which {
        SchemaKind::Job => generator.into_root_schema_for::<JobFile>(),
        SchemaKind::Machine => generator.into_root_schema_for::<MachineFile>(),
        SchemaKind::Tools => generator.into_root_schema_for::<ToolsFile>(),
    };
    let mut schema = Value::from(schema);
    tidy(&mut schema);
    schema["title"] = json!(which.title());
    let properties = &mut schema["properties"];
    let describe = |key: &str| properties[key]["description"].clone();
    let (format, version) = (describe("format"), describe("version"));
    properties["format"] = json!({ "const": which.format(), "description": format });
    properties["version"] = json!({ "const": FORMAT_VERSION, "description": version });
    if which == SchemaKind::Machine {
        // A machine inside a job takes these from the job; a file of its own must say them.
        if let Some(required) = schema["required"].as_array_mut() {
            required.splice(0..0, [json!("format"), json!("version"), json!("units")]);
        }
    }
    schema
}

/// Takes null out, joins wrapped descriptions, and bounds 32-bit numbers.
fn tidy(schema: &mut Value) {
    match schema {
        Value::Array(items) => items.iter_mut().for_each(tidy),
        Value::Object(_) => {
            drop_null(schema);
            if schema["format"] == "uint32" {
                schema["maximum"] = json!(u32::MAX);
            }
            if schema["default"].is_null()
                && let Some(map) = schema.as_object_mut()
            {
                map.remove("default");
            }
            if let Some(map) = schema.as_object_mut() {
                if let Some(Value::String(text)) = map.get_mut("description") {
                    *text = joined(text);
                }
                map.values_mut().for_each(tidy);
            }
        }
        _ => {}
    }
}

/// Wrapped lines of one paragraph in one line.
fn joined(text: &str) -> String {
    let paragraphs = text
        .split("\n\n")
        .map(|paragraph| paragraph.replace('\n', " "));
    paragraphs.collect::<Vec<_>>().join("\n\n")
}

fn drop_null(schema: &mut Value) {
    if let Some(types) = schema.get_mut("type").and_then(Value::as_array_mut) {
        types.retain(|name| name != "null");
        if let [only] = types.as_slice() {
            schema["type"] = only.clone();
        }
    }
    let Some(branches) = schema.get_mut("anyOf").and_then(Value::as_array_mut) else {
        return;
    };
    branches.retain(|branch| branch.get("type") != Some(&json!("null")));
    if let [Value::Object(only)] = branches.as_slice() {
        let only = only.clone();
        if let Some(map) = schema.as_object_mut() {
            map.remove("anyOf");
            for (key, value) in only {
                map.entry(key).or_insert(value);
            }
        }
    }
}
