//! What an evaluation says in rows of a label and words, the same on paper and on the screen.

use super::{Change, Evaluation, Trend, Verdict, WarmUp, events::span_words};

/// A label and what stands beside it.
type Row = (&'static str, String);

impl Evaluation {
    /// Trend and steadiness.
    pub fn speed_rows(&self) -> Vec<Row> {
        let mut rows = vec![("of", self.basis.clone())];
        for (label, trend) in [
            ("trend", &self.trend),
            ("trend, last half hour", &self.trend_lately),
        ] {
            rows.extend(trend.as_ref().map(|trend| (label, trend.words())));
        }
        let steady = &self.steady;
        match steady.since_s {
            Some(since_s) => {
                rows.push(("steady since", span_words(since_s)));
                if let (Some(mean), Some(off)) = (steady.mean_percent, steady.uncertainty_percent) {
                    let words = format!("{} ±{off:.4} %", signed(mean, 3));
                    rows.push(("mean since then", words));
                }
            }
            None => rows.push(("steady since", "not yet".into())),
        }
        let means = format!("{} ({})", steady.criterion, steady.source);
        rows.push(("steady means", means));
        rows
    }

    /// The warm-up, where there is one.
    pub fn warm_up_rows(&self) -> Vec<Row> {
        self.warm_up.as_ref().map_or_else(Vec::new, WarmUp::rows)
    }

    /// Other readings at the start and at the end.
    pub fn change_rows(&self) -> Vec<Row> {
        let changes = self.changes.iter();
        changes
            .map(|change| (change.what, change.words()))
            .collect()
    }

    /// How the run ended, or that it did not.
    pub fn ending(&self) -> &str {
        self.ended
            .as_deref()
            .unwrap_or("none yet: the run goes on, or was broken off")
    }
}

impl Trend {
    fn words(&self) -> String {
        let (slope, off) = (self.percent_per_hour, self.uncertainty_percent_per_hour);
        let none = if self.verdict() == Verdict::NoDifferenceShown {
            ": none shown"
        } else {
            ""
        };
        format!("{} ±{off:.4} % an hour{none}", signed(slope, 4))
    }
}

impl WarmUp {
    fn rows(&self) -> Vec<Row> {
        let to = if self.to_is_steady {
            "steady"
        } else {
            "last ten minutes; not steady yet"
        };
        let verdict = match Verdict::of(self.drift_percent, self.uncertainty_percent) {
            Verdict::Rose => ", became faster",
            Verdict::Fell => ", became slower",
            Verdict::NoDifferenceShown => ": none shown",
        };
        let mut rows = vec![
            (
                "first two minutes",
                format!("{} %", signed(self.from_percent, 3)),
            ),
            ("then", format!("{} % ({to})", signed(self.to_percent, 3))),
            (
                "drift",
                format!(
                    "{} ±{:.3} %{verdict}",
                    signed(self.drift_percent, 3),
                    self.uncertainty_percent
                ),
            ),
        ];
        if self.temperatures > 0 {
            rows.push(("with temperature", self.temperature_words()));
        }
        rows
    }

    fn temperature_words(&self) -> String {
        match (
            self.percent_per_celsius,
            self.percent_per_celsius_uncertainty,
        ) {
            (Some(percent), off) => {
                let off = off.map_or_else(String::new, |off| format!(" ±{off:.4}"));
                format!(
                    "{}{off} % per °C; what else settled meanwhile is in it",
                    signed(percent, 4)
                )
            }
            (None, _) => "the typed temperatures are too few or too alike".into(),
        }
    }
}

impl Change {
    fn words(&self) -> String {
        format!(
            "{} to {} {} ({} ±{:.3}): {}",
            unsigned(self.from, 3),
            unsigned(self.to, 3),
            self.unit,
            signed(self.to - self.from, 3),
            self.uncertainty,
            self.verdict.words()
        )
    }
}

/// With its sign, but none on what rounds to zero.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    match text.strip_prefix(['+', '-']) {
        Some(digits) if digits.bytes().all(|byte| matches!(byte, b'0' | b'.')) => digits.to_owned(),
        _ => text,
    }
}

/// A sign only where the value is negative.
fn unsigned(value: f64, decimals: usize) -> String {
    let text = signed(value, decimals);
    text.strip_prefix('+').unwrap_or(&text).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounds_to_zero_has_no_sign() {
        assert_eq!(signed(-0.0004, 3), "0.000");
        assert_eq!(signed(-0.0006, 3), "-0.001");
        assert_eq!(signed(0.25, 2), "+0.25");
        assert_eq!(unsigned(0.25, 2), "0.25");
        assert_eq!(unsigned(-12.5, 1), "-12.5");
    }
}
