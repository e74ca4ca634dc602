//! The virtual screwdrivers: what can be adjusted on a running deck, and the handle that does it.

use super::plan::Plan;
use std::sync::{
    Arc,
    atomic::{AtomicU64, Ordering},
};

/// What an adjustment acts on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Setting {
    /// The speed trimmer, percent of nominal speed added to the speed as found.
    SpeedTrimmer,
    /// The azimuth screw, arc minutes added to the azimuth as found; positive moves the right channel later.
    AzimuthScrew,
    /// The left channel's output trimmer, dB added to the gain as found.
    LeftGain,
    /// The right channel's output trimmer, dB.
    RightGain,
    /// Hiss of both channels, 0 off, 1 on.
    Hiss,
    /// The tape's section under the head, as an index of its choices. Choosing winds to its start.
    Section,
    /// The state of the n-th replaceable part (belt, pinch roller), 0 as found, 1 replaced.
    Part(usize),
}

/// How an adjustment is made.
#[derive(Clone, Debug, PartialEq)]
pub enum Adjuster {
    /// Turned continuously.
    Turn {
        /// Least value.
        least: f64,
        /// Greatest value.
        greatest: f64,
        /// A sensible small step.
        step: f64,
        /// Unit of the values, for display.
        unit: &'static str,
    },
    /// One of several; the value is an index.
    Choose(Vec<String>),
}

/// One thing that can be adjusted.
#[derive(Debug)]
pub struct Control {
    /// What it acts on.
    pub setting: Setting,
    /// What a person calls it.
    pub name: String,
    /// How it is adjusted.
    pub adjuster: Adjuster,
    /// Where the deck came with it.
    pub as_found: f64,
    /// The bits of the present `f64` value.
    value: AtomicU64,
}

/// Why an adjustment is refused; one line that says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ControlError(String);

/// A handle on a deck's adjustments: clone it and use it from any thread while the deck plays. The deck takes new
/// values over at its next block and moves to them smoothly, as a motor or a screw does.
#[derive(Clone, Debug)]
pub struct DeckControls(Arc<[Control]>);

impl Control {
    fn new(setting: Setting, name: impl Into<String>, adjuster: Adjuster, as_found: f64) -> Self {
        Self {
            setting,
            name: name.into(),
            adjuster,
            as_found,
            value: AtomicU64::new(as_found.to_bits()),
        }
    }

    fn turn(setting: Setting, name: &str, range: f64, step: f64, unit: &'static str) -> Self {
        let adjuster = Adjuster::Turn {
            least: -range,
            greatest: range,
            step,
            unit,
        };
        Self::new(setting, name, adjuster, 0.0)
    }

    /// The value it is set to; the deck may still be on its way there.
    pub fn value(&self) -> f64 {
        f64::from_bits(self.value.load(Ordering::Relaxed))
    }

    /// Sets it.
    ///
    /// # Errors
    /// When the value is out of its range or no index of its choices.
    pub fn set(&self, value: f64) -> Result<(), ControlError> {
        let refuse = |what: String| Err(ControlError(format!("{}: {what}", self.name)));
        match &self.adjuster {
            Adjuster::Turn {
                least,
                greatest,
                unit,
                ..
            } if !(*least..=*greatest).contains(&value) => refuse(format!(
                "{value} {unit} is out of its range, {least} to {greatest} {unit}"
            )),
            Adjuster::Choose(choices)
                if value.fract() != 0.0 || !(0.0..choices.len() as f64).contains(&value) =>
            {
                refuse(format!(
                    "there is no choice {value}; they are 0 to {}",
                    choices.len() - 1
                ))
            }
            _ => {
                self.value.store(value.to_bits(), Ordering::Relaxed);
                Ok(())
            }
        }
    }
}

impl DeckControls {
    pub(super) fn new(plan: &Plan, start_section: usize) -> Self {
        let adjust = &plan.adjust;
        let gain_range_db = adjust.gain_range_db.get();
        let mut controls = vec![
            Control::turn(
                Setting::SpeedTrimmer,
                "speed trimmer",
                adjust.speed_trimmer_range_percent.get(),
                0.01,
                "%",
            ),
            Control::turn(
                Setting::AzimuthScrew,
                "azimuth screw",
                adjust.azimuth_screw_range_arcmin.get(),
                0.1,
                "arcmin",
            ),
            Control::turn(Setting::LeftGain, "left output", gain_range_db, 0.1, "dB"),
            Control::turn(Setting::RightGain, "right output", gain_range_db, 0.1, "dB"),
        ];
        let replaceable = plan
            .transport
            .part
            .iter()
            .filter(|part| part.replaced_scale.is_some());
        controls.extend(replaceable.enumerate().map(|(index, part)| {
            let states = Adjuster::Choose(vec!["as found".into(), "replaced".into()]);
            Control::new(Setting::Part(index), part.name.get_ref(), states, 0.0)
        }));
        let sections = plan.section.iter();
        let names = sections
            .map(|section| section.name.get_ref().clone())
            .collect();
        controls.push(Control::new(
            Setting::Section,
            "tape section",
            Adjuster::Choose(names),
            start_section as f64,
        ));
        let line_out = &plan.line_out;
        if line_out.left.hiss_dbfs.is_some() || line_out.right.hiss_dbfs.is_some() {
            let states = Adjuster::Choose(vec!["off".into(), "on".into()]);
            controls.push(Control::new(Setting::Hiss, "hiss", states, 1.0));
        }
        Self(controls.into())
    }

    /// All adjustments this deck has.
    pub fn all(&self) -> &[Control] {
        &self.0
    }

    /// The adjustment that acts on `setting`, if this deck has it.
    pub fn find(&self, setting: Setting) -> Option<&Control> {
        self.0.iter().find(|control| control.setting == setting)
    }

    /// The present value of a setting.
    pub fn value(&self, setting: Setting) -> Option<f64> {
        self.find(setting).map(Control::value)
    }

    /// Sets a setting.
    ///
    /// # Errors
    /// When this deck has no such adjustment, or the value is not one of it.
    pub fn set(&self, setting: Setting, value: f64) -> Result<(), ControlError> {
        match self.find(setting) {
            Some(control) => control.set(value),
            None => Err(ControlError(format!(
                "this deck has no {setting:?} to adjust"
            ))),
        }
    }

    /// Winds to the section of that name.
    ///
    /// # Errors
    /// Names the sections there are when there is none of that name.
    pub fn choose_section(&self, name: &str) -> Result<(), ControlError> {
        let sections = self.find(Setting::Section).map(|control| &control.adjuster);
        let names = match sections {
            Some(Adjuster::Choose(names)) => names.as_slice(),
            _ => &[],
        };
        match names.iter().position(|section| section == name) {
            Some(index) => self.set(Setting::Section, index as f64),
            None => Err(ControlError(format!(
                "no tape section '{name}'; use one of: {}",
                names.join(", ")
            ))),
        }
    }

    /// Tells that the tape has run on from one section to another, unless a third was chosen meanwhile.
    pub(super) fn section_ran_on(&self, from: usize, to: usize) {
        if let Some(control) = self.find(Setting::Section) {
            let [from, to] = [from, to].map(|index| (index as f64).to_bits());
            // A failed exchange is that choice, and it stands.
            let _chosen =
                control
                    .value
                    .compare_exchange(from, to, Ordering::Relaxed, Ordering::Relaxed);
        }
    }

    /// The present value, or 0 (nothing adjusted) for a setting this deck does not have.
    pub(super) fn value_or_zero(&self, setting: Setting) -> f64 {
        self.value(setting).unwrap_or(0.0)
    }
}
