//! A figure from a gauge as it is typed: `45 g·cm`, `4,4 mNm ±5 %`, `380 ± 10 g`.

use crate::bench::{Check, Figure, Quantity};

/// A unit that gauges are marked with.
struct Unit {
    /// How it is written.
    name: &'static str,
    /// How it may be typed, in lower case, without spaces, dots and dashes.
    typed: &'static [&'static str],
    /// One of it in the kind's own unit.
    factor: f64,
    /// Decimals it is shown with.
    decimals: usize,
}

/// What a gauge measures.
struct Kind {
    name: &'static str,
    /// Its own unit first, then the one most gauges have.
    units: &'static [Unit],
}

/// 1 g·cm = 0.0980665 mN·m, by the standard acceleration of free fall; 1 oz·in = 72.00779 g·cm.
const TORQUE: Kind = Kind {
    name: "a torque",
    units: &[
        Unit {
            name: "mN·m",
            typed: &["mnm"],
            factor: 1.0,
            decimals: 2,
        },
        Unit {
            name: "g·cm",
            typed: &["gcm", "gfcm", "pcm"],
            factor: 0.098_066_5,
            decimals: 1,
        },
        Unit {
            name: "cN·cm",
            typed: &["cncm"],
            factor: 0.1,
            decimals: 1,
        },
        Unit {
            name: "N·cm",
            typed: &["ncm"],
            factor: 10.0,
            decimals: 3,
        },
        Unit {
            name: "oz·in",
            typed: &["ozin", "inoz"],
            factor: 7.061_552,
            decimals: 2,
        },
    ],
};

/// 1 g of force = 9.80665 mN.
const FORCE: Kind = Kind {
    name: "a force",
    units: &[
        Unit {
            name: "N",
            typed: &["n"],
            factor: 1.0,
            decimals: 2,
        },
        Unit {
            name: "g",
            typed: &["g", "gf", "p"],
            factor: 0.009_806_65,
            decimals: 0,
        },
        Unit {
            name: "kg",
            typed: &["kg", "kgf", "kp"],
            factor: 9.806_65,
            decimals: 3,
        },
        Unit {
            name: "mN",
            typed: &["mn"],
            factor: 0.001,
            decimals: 0,
        },
        Unit {
            name: "cN",
            typed: &["cn"],
            factor: 0.01,
            decimals: 0,
        },
    ],
};

const LENGTH: Kind = Kind {
    name: "a length",
    units: &[
        Unit {
            name: "mm",
            typed: &["mm"],
            factor: 1.0,
            decimals: 2,
        },
        Unit {
            name: "µm",
            typed: &["µm", "μm", "um"],
            factor: 0.001,
            decimals: 0,
        },
        Unit {
            name: "in",
            typed: &["in", "inch", "\""],
            factor: 25.4,
            decimals: 4,
        },
    ],
};

/// What is measured with a gauge; `None`: it is not.
fn kind(quantity: Quantity) -> Option<&'static Kind> {
    match quantity {
        Quantity::TakeUpTorque
        | Quantity::BackTorque
        | Quantity::WindTorque
        | Quantity::RewindTorque => Some(&TORQUE),
        Quantity::RollerForce => Some(&FORCE),
        Quantity::CapstanEndPlay => Some(&LENGTH),
        _ => None,
    }
}

/// The units a quantity may be typed in; empty where no gauge measures it.
pub fn units_of(quantity: Quantity) -> Vec<&'static str> {
    kind(quantity).map_or(Vec::new(), |kind| {
        kind.units.iter().map(|unit| unit.name).collect()
    })
}

/// Reads a figure from a gauge: a number with its unit, and after `±` what the gauge is good for, in the same unit or
/// in percent of the figure. A decimal comma is a point.
///
/// # Errors
/// In words: what is no number, which unit is missing or does not fit.
pub fn gauge(quantity: Quantity, text: &str) -> Result<Check, String> {
    let kind =
        kind(quantity).ok_or_else(|| format!("{} is not read from a gauge", quantity.name()))?;
    let shown: String = text.trim().chars().take(40).collect();
    let text = text.trim().replace("+/-", "±").replace("+-", "±");
    let (first, second) = match text.split_once('±') {
        Some((first, second)) => (first, Some(second)),
        None => (&*text, None),
    };
    let (typed, unit) = split(first).ok_or_else(|| not_read(quantity, kind, &shown))?;
    let (good_for, second_unit) = match second {
        Some(second) => {
            let (good_for, unit) = split(second).ok_or_else(|| {
                format!("'{shown}': after ± goes what the gauge is good for, such as ±5 %")
            })?;
            (Some(good_for), unit)
        }
        None => (None, String::new()),
    };
    let percent = second_unit == "%";
    // `380 ±10 g`: the unit of both stands at the end.
    let unit = if unit.is_empty() && !percent {
        &second_unit
    } else {
        &unit
    };
    let unit = unit_of(quantity, kind, unit, &shown)?;
    if !percent && !second_unit.is_empty() && !unit.typed.contains(&&*second_unit) {
        return Err(format!(
            "'{shown}': give what the gauge is good for in {} too, or in %",
            unit.name
        ));
    }
    let value = typed * unit.factor;
    let uncertainty = good_for.map(|good_for| {
        if percent {
            value * good_for / 100.0
        } else {
            good_for * unit.factor
        }
    });
    if !value.is_finite() || uncertainty.is_some_and(|uncertainty| !uncertainty.is_finite()) {
        return Err(not_read(quantity, kind, &shown));
    }
    Ok(Check::Gauge {
        figure: Figure {
            quantity,
            value,
            uncertainty,
        },
        typed,
        typed_unit: unit.name.to_owned(),
    })
}

/// A gauge's figure in its own unit and in the one most gauges have: `4.41 mN·m (45.0 g·cm)`; with its uncertainty where
/// that is known.
pub fn gauge_words(figure: &Figure) -> String {
    let Some(kind) = kind(figure.quantity) else {
        return format!(
            "{:.*} {}",
            figure.quantity.decimals(),
            figure.value,
            figure.quantity.unit()
        );
    };
    let in_unit = |unit: &Unit| {
        let number = |value: f64| format!("{:.*}", unit.decimals, value / unit.factor);
        match figure.uncertainty {
            Some(uncertainty) => format!(
                "{} ±{} {}",
                number(figure.value),
                number(uncertainty),
                unit.name
            ),
            None => format!("{} {}", number(figure.value), unit.name),
        }
    };
    match kind.units {
        [own, usual, ..] if own.name != "mm" => format!("{} ({})", in_unit(own), in_unit(usual)),
        [own, ..] => in_unit(own),
        [] => String::new(),
    }
}

/// A number that is not below zero, and what stands after it in the simple spelling of units.
fn split(text: &str) -> Option<(f64, String)> {
    let text = text.trim();
    let end = text
        .find(|letter: char| !(letter.is_ascii_digit() || ".,".contains(letter)))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let value: f64 = number.replace(',', ".").parse().ok()?;
    let unit = unit
        .to_lowercase()
        .chars()
        .filter(|&letter| !letter.is_whitespace() && !"·.⋅*-×".contains(letter))
        .collect();
    value.is_finite().then_some((value, unit))
}

fn unit_of(
    quantity: Quantity,
    kind: &'static Kind,
    typed: &str,
    shown: &str,
) -> Result<&'static Unit, String> {
    let fits = |unit: &&Unit| unit.typed.contains(&typed);
    if let Some(unit) = kind.units.iter().find(fits) {
        return Ok(unit);
    }
    let name = quantity.name();
    if typed.is_empty() {
        return Err(format!(
            "'{shown}': say the unit of {name} too: {}",
            names(kind)
        ));
    }
    let other = [&TORQUE, &FORCE, &LENGTH]
        .into_iter()
        .find(|other| other.units.iter().any(|unit| fits(&unit)));
    Err(match other {
        Some(other) => format!(
            "'{shown}' is {}, but {name} is {}: give it in {}",
            other.name,
            kind.name,
            names(kind)
        ),
        None => format!(
            "'{shown}': no such unit for {name}; use one of: {}",
            names(kind)
        ),
    })
}

fn not_read(quantity: Quantity, kind: &Kind, shown: &str) -> String {
    format!(
        "'{shown}': give {} as a number with its unit ({})",
        quantity.name(),
        names(kind)
    )
}

fn names(kind: &Kind) -> String {
    let names: Vec<_> = kind.units.iter().map(|unit| unit.name).collect();
    names.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(quantity: Quantity, text: &str) -> (f64, Option<f64>, f64, String) {
        match gauge(quantity, text) {
            Ok(Check::Gauge {
                figure,
                typed,
                typed_unit,
            }) => (figure.value, figure.uncertainty, typed, typed_unit),
            other => panic!("{text}: {other:?}"),
        }
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    #[test]
    fn the_unit_on_the_gauge_is_understood_however_it_is_typed() {
        for text in [
            "45 g·cm",
            "45gcm",
            "45 g cm",
            " 45.0 g-cm ",
            "45 gf.cm",
            "45 G·CM",
        ] {
            let (value, uncertainty, typed, unit) = read(Quantity::TakeUpTorque, text);
            assert!(near(value, 4.412_992_5), "{text}: {value}");
            assert_eq!((uncertainty, typed, &*unit), (None, 45.0, "g·cm"), "{text}");
        }
        for text in ["4.4 mNm", "4,4 mN·m", "4.4 mN m"] {
            let (value, _, _, unit) = read(Quantity::BackTorque, text);
            assert!(near(value, 4.4) && unit == "mN·m", "{text}: {value}");
        }
        assert!(near(read(Quantity::RollerForce, "380 g").0, 3.726_527));
        assert!(near(read(Quantity::RollerForce, "3.7 N").0, 3.7));
        assert!(near(read(Quantity::RollerForce, "370 cN").0, 3.7));
        assert!(near(read(Quantity::CapstanEndPlay, "0,2mm").0, 0.2));
        assert!(near(read(Quantity::CapstanEndPlay, "200 µm").0, 0.2));
        // 1 oz·in is 28.349523 g times 2.54 cm.
        let ounces = read(Quantity::WindTorque, "1 oz in").0;
        assert!((ounces - 28.349_523 * 2.54 * 0.098_066_5).abs() < 1e-5);
    }

    #[test]
    fn what_the_gauge_is_good_for_is_kept_in_the_same_unit() {
        for text in [
            "50 g·cm ±5 %",
            "50 ±2.5 g·cm",
            "50gcm+-5%",
            "50 gcm ± 2,5 gcm",
            "50 g·cm ±2.5",
        ] {
            let (value, uncertainty, ..) = read(Quantity::TakeUpTorque, text);
            assert!(near(value, 4.903_325), "{text}");
            assert!(near(uncertainty.expect("known"), 0.245_166_25), "{text}");
        }
    }

    #[test]
    fn what_does_not_fit_is_refused_in_words() {
        for (quantity, text, words) in [
            (
                Quantity::TakeUpTorque,
                "45",
                "say the unit of take-up torque",
            ),
            (Quantity::TakeUpTorque, "45 ±5 %", "say the unit"),
            (
                Quantity::TakeUpTorque,
                "45 g",
                "'45 g' is a force, but take-up torque is a torque: give it in mN·m, g·cm",
            ),
            (
                Quantity::RollerForce,
                "4 mm",
                "is a length, but pinch roller force is a force",
            ),
            (
                Quantity::CapstanEndPlay,
                "0.2 gcm",
                "is a torque, but capstan end play is a length",
            ),
            (Quantity::CapstanEndPlay, "0.2 parsec", "no such unit"),
            (
                Quantity::CapstanEndPlay,
                "some mm",
                "as a number with its unit",
            ),
            (
                Quantity::CapstanEndPlay,
                "-0.2 mm",
                "as a number with its unit",
            ),
            (Quantity::CapstanEndPlay, "", "as a number with its unit"),
            (
                Quantity::CapstanEndPlay,
                "1.2.3 mm",
                "as a number with its unit",
            ),
            (Quantity::CapstanEndPlay, "0.2 mm ± lots", "after ± goes"),
            (
                Quantity::TakeUpTorque,
                "45 g·cm ±1 mNm",
                "give what the gauge is good for in g·cm",
            ),
            (Quantity::SpeedDeviation, "1 %", "is not read from a gauge"),
        ] {
            let told = gauge(quantity, text).expect_err(text);
            assert!(told.contains(words), "{text}: {told}");
        }
        let long = "9".repeat(1 << 16) + " mm";
        let told = gauge(Quantity::CapstanEndPlay, &long).expect_err("no length");
        assert!(told.len() < 200, "{told}");
    }

    #[test]
    fn both_units_are_shown() {
        let words = |quantity, text| match gauge(quantity, text) {
            Ok(Check::Gauge { figure, .. }) => gauge_words(&figure),
            other => panic!("{other:?}"),
        };
        assert_eq!(
            words(Quantity::TakeUpTorque, "45 g·cm"),
            "4.41 mN·m (45.0 g·cm)"
        );
        assert_eq!(
            words(Quantity::RollerForce, "4 N ±5 %"),
            "4.00 ±0.20 N (408 ±20 g)"
        );
        assert_eq!(words(Quantity::CapstanEndPlay, "0.2 mm"), "0.20 mm");
        assert_eq!(units_of(Quantity::RollerForce)[..2], ["N", "g"]);
        assert!(units_of(Quantity::Azimuth).is_empty());
    }
}
