//! The readings format and its like: JSON. A number that is not finite becomes `null`.

use super::ConsoleError;
use crate::readings::Readings;
use serde::Serialize;

/// One object, indented, with a line end.
pub fn object(what: &impl Serialize) -> Result<String, ConsoleError> {
    ended(serde_json::to_string_pretty(what))
}

/// One object on one line, with a line end.
pub fn line(readings: &Readings) -> Result<String, ConsoleError> {
    ended(serde_json::to_string(readings))
}

fn ended(json: serde_json::Result<String>) -> Result<String, ConsoleError> {
    let mut json = json.map_err(|error| ConsoleError::Output(error.into()))?;
    json.push('\n');
    Ok(json)
}

#[cfg(test)]
mod tests {
    use super::{super::example, *};

    #[test]
    fn what_is_no_number_is_null() {
        let text = line(&example::not_finite()).expect("serialises");
        assert_eq!(text.matches('\n').count(), 1);
        let readings: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        for (group, field) in [("speed", "deviation_percent"), ("phase", "delay_us")] {
            assert!(readings[group][field].is_null(), "{group} {field}");
        }
        assert!(readings["flutter"]["weighted"]["rms_percent"].is_null());
        assert!(readings["level"]["left"]["rms_dbfs"].is_null());
    }
}
