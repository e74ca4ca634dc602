//! The readings format: every field it promises, with its type.

use serde_json::Value;

/// What a field may hold.
enum Kind {
    Words,
    Count,
    Flag,
    /// A finite number, or null.
    Number,
    /// A finite number, always.
    Certain,
    List,
    /// Words, or null.
    Name,
}
use Kind::{Certain, Count, Flag, List, Name, Number, Words};

/// Holds one object against `trimwatch.readings/1`.
pub fn assert_schema(readings: &Value) {
    for (path, kind) in FIELDS {
        let value = readings
            .pointer(path)
            .unwrap_or_else(|| panic!("{path} is missing in {readings:#}"));
        let fits = match kind {
            Words => value.is_string(),
            Count => value.is_u64(),
            Flag => value.is_boolean(),
            Number => value.is_null() || value.as_f64().is_some_and(f64::is_finite),
            Certain => value.as_f64().is_some_and(f64::is_finite),
            List => value.is_array(),
            Name => value.is_null() || value.is_string(),
        };
        assert!(fits, "{path} is {value}");
    }
    assert_eq!(readings["schema"], "trimwatch.readings/1");
    for notice in readings["notices"].as_array().into_iter().flatten() {
        assert!(
            notice["code"].is_string() && notice["message"].is_string(),
            "{notice}"
        );
    }
    assert_components(&readings["flutter"]["components"]);
    assert_line(&readings["phase"]["line"]);
    assert_no_number_without_status(readings);
}

/// Strongest first, each with its rate and size.
fn assert_components(components: &Value) {
    let mut before = f64::INFINITY;
    for component in components.as_array().into_iter().flatten() {
        assert!(
            component["rate_hz"].as_f64().is_some_and(|rate| rate > 0.0),
            "{component}"
        );
        let peak = component["peak_percent"].as_f64().unwrap();
        assert!(peak <= before, "strongest first: {components}");
        assert!(component.get("part").is_some() && component.get("order").is_some());
        before = peak;
    }
}

/// Null, or points by frequency and the line through them.
fn assert_line(line: &Value) {
    if line.is_null() {
        return;
    }
    assert!(line["verdict"].is_string(), "{line}");
    let mut before = 0.0;
    for point in line["points"].as_array().unwrap() {
        let hz = point["frequency_hz"].as_f64().unwrap();
        assert!(hz > before, "lowest first: {line}");
        before = hz;
        for field in ["degrees", "uncertainty_degrees"] {
            assert!(point[field].as_f64().is_some_and(f64::is_finite), "{point}");
        }
    }
    for field in [
        "delay_us",
        "delay_uncertainty_us",
        "intercept_degrees",
        "intercept_uncertainty_degrees",
    ] {
        let value = line.get(field).unwrap();
        assert!(
            value.is_null() || value.as_f64().is_some_and(f64::is_finite),
            "{line}"
        );
    }
}

/// Where the status is not `ok` the numbers of that group are null.
fn assert_no_number_without_status(readings: &Value) {
    for (group, fields) in [
        (
            "speed",
            &["/deviation_percent", "/measured_hz", "/uncertainty_percent"][..],
        ),
        (
            "flutter",
            &[
                "/weighted/rms_percent",
                "/weighted/quasi_peak_percent",
                "/weighted/two_sigma_percent",
                "/unweighted/rms_percent",
                "/bands/wow_rms_percent",
            ],
        ),
        ("phase", &["/degrees", "/delay_us", "/azimuth_arcmin"]),
    ] {
        let group_value = &readings[group];
        if group_value["status"] == "ok" {
            continue;
        }
        for field in fields {
            let value = group_value.pointer(field).unwrap();
            assert!(
                value.is_null(),
                "{group}{field} is {value}, status {}",
                group_value["status"]
            );
        }
    }
}

const FIELDS: &[(&str, Kind)] = &[
    ("/schema", Words),
    ("/source/kind", Words),
    ("/source/name", Words),
    ("/source/sample_rate_hz", Count),
    ("/source/channels", Count),
    ("/source/seconds", Certain),
    ("/source/lost_frames", Count),
    ("/tone/status", Words),
    ("/tone/left_hz", Number),
    ("/tone/right_hz", Number),
    ("/tone/snr_db", Number),
    ("/speed/status", Words),
    ("/speed/reference_hz", Number),
    ("/speed/measured_hz", Number),
    ("/speed/deviation_percent", Number),
    ("/speed/uncertainty_percent", Number),
    ("/speed/min_percent", Number),
    ("/speed/max_percent", Number),
    ("/speed/trend_percent_per_minute", Number),
    ("/speed/last_turn/seconds", Certain),
    ("/speed/last_turn/peak_to_peak_percent", Number),
    ("/speed/last_turn/min_percent", Number),
    ("/speed/last_turn/max_percent", Number),
    ("/flutter/status", Words),
    ("/flutter/weighted/quasi_peak_percent", Number),
    ("/flutter/weighted/quasi_peak_max_percent", Number),
    ("/flutter/weighted/two_sigma_percent", Number),
    ("/flutter/weighted/rms_percent", Number),
    ("/flutter/unweighted/quasi_peak_percent", Number),
    ("/flutter/unweighted/quasi_peak_max_percent", Number),
    ("/flutter/unweighted/two_sigma_percent", Number),
    ("/flutter/unweighted/rms_percent", Number),
    ("/flutter/bands/drift_rms_percent", Number),
    ("/flutter/bands/wow_rms_percent", Number),
    ("/flutter/bands/flutter_rms_percent", Number),
    ("/flutter/bands/scrape_rms_percent", Number),
    ("/flutter/components", List),
    ("/level/status", Words),
    ("/level/left/rms_dbfs", Number),
    ("/level/left/peak_dbfs", Number),
    ("/level/right/rms_dbfs", Number),
    ("/level/right/peak_dbfs", Number),
    ("/level/balance_db", Number),
    ("/level/steadiness_db_rms", Number),
    ("/level/dropouts", Count),
    ("/phase/status", Words),
    ("/phase/tone_hz", Number),
    ("/phase/degrees", Number),
    ("/phase/delay_us", Number),
    ("/phase/azimuth_arcmin", Number),
    ("/phase/tape_azimuth_arcmin", Number),
    ("/phase/ambiguous", Flag),
    ("/phase/cycles_settled_by", Name),
    ("/phase/wander_rms_degrees", Number),
    ("/phase/wander_peak_to_peak_degrees", Number),
    ("/phase/mono_sum_loss_db", Number),
    ("/phase/mono_sum_loss_10_khz_db", Number),
    ("/notices", List),
];
