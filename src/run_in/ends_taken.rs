//! Both ends of the tape as the technician takes them: one reading at each place, when the tape is there.

use super::ends::{EndReading, Ends, EndsLimits, Place, on_one_side};
use crate::readings::Readings;
use serde::{Deserialize, Serialize};

/// The readings taken at start, middle and end of a side, as far as they are. Made to be stored.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct EndsTaken {
    /// Taken at the start.
    pub start: Option<TakenEnd>,
    /// Taken in the middle.
    pub middle: Option<TakenEnd>,
    /// Taken at the end.
    pub end: Option<TakenEnd>,
}

/// One of them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakenEnd {
    /// When, seconds of the input.
    pub at_s: f64,
    /// The reading.
    pub reading: EndReading,
}

impl EndsTaken {
    /// What was taken at a place.
    pub const fn at(&self, place: Place) -> Option<&TakenEnd> {
        match place {
            Place::Start => self.start.as_ref(),
            Place::Middle => self.middle.as_ref(),
            Place::End => self.end.as_ref(),
        }
    }

    /// Takes the reading of this moment for a place, instead of one that was taken there before.
    ///
    /// # Errors
    /// In words, when there is no valid reading to take.
    pub fn take(&mut self, place: Place, readings: &Readings) -> Result<(), String> {
        let reading = EndReading::of_snapshot(readings);
        if reading.is_empty() {
            return Err(format!(
                "{} not taken: {}",
                place.name(),
                readings.speed.status
            ));
        }
        let taken = Some(TakenEnd {
            at_s: readings.source.seconds,
            reading,
        });
        match place {
            Place::Start => self.start = taken,
            Place::Middle => self.middle = taken,
            Place::End => self.end = taken,
        }
        Ok(())
    }

    /// Whether nothing is taken yet.
    pub const fn is_empty(&self) -> bool {
        self.start.is_none() && self.middle.is_none() && self.end.is_none()
    }

    /// Whether whole cycles were open at one of the places, so that a delay is one of several that are possible.
    pub fn has_open_cycles(&self) -> bool {
        let all = Place::ALL.map(|place| self.at(place));
        all.iter()
            .flatten()
            .any(|taken| taken.reading.cycle_us.is_some())
    }

    /// The table with the differences, of what is there at start and end.
    pub fn ends(&self, limits: &EndsLimits) -> Ends {
        let readings = Place::ALL.map(|place| {
            self.at(place)
                .map_or_else(EndReading::default, |one| one.reading)
        });
        Ends::new(on_one_side(readings), limits)
    }
}

#[cfg(test)]
mod tests {
    use super::{
        super::{
            ends::{Compared, Significance},
            example::snapshot,
        },
        *,
    };
    use crate::readings::Validity;

    fn reading(speed_percent: f64, delay_us: f64) -> Readings {
        let mut readings = snapshot();
        readings.source.seconds = 60.0;
        readings.speed.long.deviation_percent = Some(speed_percent);
        readings.speed.long.uncertainty_percent = Some(0.01);
        readings.phase.tone_hz = Some(10_000.0);
        readings.phase.delay_us = Some(delay_us);
        readings.phase.delay_uncertainty_us = Some(0.05);
        readings.phase.azimuth_arcmin = Some(delay_us / 5.5);
        readings
    }

    #[test]
    fn two_places_make_a_difference_and_a_third_adds_its_own() {
        let limits = EndsLimits::default();
        let mut taken = EndsTaken::default();
        assert!(taken.is_empty());
        taken
            .take(Place::Start, &reading(0.1, 10.0))
            .expect("valid");
        assert!(taken.ends(&limits).differences.is_empty());
        taken.take(Place::End, &reading(-0.3, 11.0)).expect("valid");
        let ends = taken.ends(&limits);
        let speed = &ends.differences[0];
        assert_eq!((speed.of, speed.middle), (Compared::Speed, false));
        assert!((speed.value + 0.4).abs() < 1e-9);
        assert_eq!(speed.significance, Significance::WorthALook);
        taken
            .take(Place::Middle, &reading(-0.1, 10.5))
            .expect("valid");
        assert!(taken.ends(&limits).differences.iter().any(|one| one.middle));
    }

    #[test]
    fn without_a_reading_nothing_is_taken_and_what_was_taken_stays() {
        let mut taken = EndsTaken::default();
        taken
            .take(Place::Start, &reading(0.1, 10.0))
            .expect("valid");
        let before = taken.clone();
        let silent = Readings::unread(snapshot().source, Validity::NoTone);
        let told = taken.take(Place::Start, &silent).expect_err("no tone");
        assert!(told.starts_with("start not taken: no tone"), "{told}");
        assert_eq!(taken, before);
    }

    #[test]
    fn open_cycles_make_no_difference_of_azimuth() {
        let mut taken = EndsTaken::default();
        let open = |delay_us| {
            let mut readings = reading(0.1, delay_us);
            readings.phase.ambiguous = true;
            readings
        };
        // Half a cycle of 10 kHz is 50 µs: the same delay wanders across the border.
        taken.take(Place::Start, &open(49.0)).expect("valid");
        taken.take(Place::End, &open(-49.0)).expect("valid");
        assert!(taken.has_open_cycles());
        let ends = taken.ends(&EndsLimits::default());
        let azimuth = ends
            .differences
            .iter()
            .find(|one| one.of == Compared::Azimuth);
        let by = azimuth.expect("both ends").value;
        assert!((by - 2.0 / 5.5).abs() < 1e-9, "{by}");
    }

    #[test]
    fn it_is_stored_and_comes_back_as_it_was() {
        let mut taken = EndsTaken::default();
        // Figures that a decimal number holds exactly.
        let mut readings = reading(0.125, 11.0);
        readings.phase.delay_uncertainty_us = Some(5.5);
        readings.flutter.weighted.recent_two_sigma_percent = None;
        taken.take(Place::Middle, &readings).expect("valid");
        let text = serde_json::to_string(&taken).expect("plain values");
        assert_eq!(
            serde_json::from_str::<EndsTaken>(&text).expect("as written"),
            taken
        );
    }
}
