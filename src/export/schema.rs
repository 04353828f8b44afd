//! The Table Schema (Frictionless Standards, Table Schema 1) of a CSV file: the name, type and format of each column.

use super::columns::{Column, Kind};
use serde_json::{Value, json};

/// The schema of a table with these columns. `primary_key` names the column in which no value comes twice, if any.
pub fn table(columns: &[Column], primary_key: Option<&str>) -> Value {
    let fields: Vec<Value> = columns.iter().map(field).collect();
    let mut schema = json!({ "fields": fields, "missingValues": [""] });
    if let Some(key) = primary_key.filter(|key| columns.iter().any(|column| column.name == *key)) {
        schema["primaryKey"] = json!([key]);
    }
    schema
}

fn field(column: &Column) -> Value {
    let (name, about) = (column.name, column.about);
    match column.kind {
        Kind::Text => json!({ "name": name, "title": about, "type": "string" }),
        Kind::Whole => json!({ "name": name, "title": about, "type": "integer" }),
        Kind::Number => json!({ "name": name, "title": about, "type": "number" }),
        Kind::Moment => json!({ "name": name, "title": about, "type": "datetime", "format": "%Y-%m-%dT%H:%M:%S.%fZ" }),
        Kind::Flag => {
            json!({ "name": name, "title": about, "type": "boolean", "trueValues": ["true"], "falseValues": ["false"] })
        }
    }
}
