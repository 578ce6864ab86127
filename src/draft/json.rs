//! JSON lines become a grid of texts for the draft: one column a key, in the order in which keys are met.
//!
//! Only the start is looked at; a key that comes up later is not missed by a run, which reads the keys that the plan
//! names. A line that is no object is passed here and told by the run.

use crate::intake::SAMPLE_DELIMITER;
use serde_json::{Map, Value};

/// The text as delimited text; `None` where it does not begin with an object a line.
pub(super) fn table(text: &str) -> Option<String> {
    let lines = text.trim_start_matches('\u{feff}').lines().filter(|line| !line.trim().is_empty());
    let objects: Vec<Map<String, Value>> = lines.map_while(|line| serde_json::from_str(line).ok()).collect();
    let mut keys: Vec<&String> = Vec::new();
    for key in objects.iter().flat_map(Map::keys) {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    let mut writer = csv::WriterBuilder::new().delimiter(SAMPLE_DELIMITER).from_writer(Vec::new());
    writer.write_record(keys.iter().map(|key| key.trim())).ok()?;
    for object in &objects {
        writer.write_record(keys.iter().map(|key| object.get(*key).map_or(String::new(), cell))).ok()?;
    }
    let bytes = writer.into_inner().ok()?;
    (!objects.is_empty()).then_some(())?;
    String::from_utf8(bytes).ok()
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_become_columns() {
        let text =
            table("{\"well\": \"W, 1\", \"value\": 2.5}\n\n{\"value\": \"<1\", \"flag\": null}\n{\"cut").unwrap();
        let mark = char::from(SAMPLE_DELIMITER);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[0].contains("well") && lines[0].contains(mark) && lines[2].contains("<1"), "{text:?}");
        assert_eq!(table("Site,Value\n1,2\n"), None);
        assert_eq!(table("{\n  \"type\": 1\n}"), None);
    }
}
