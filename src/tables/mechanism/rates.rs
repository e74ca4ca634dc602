//! Once-round rates from diameters, ratios and what drives what.
//!
//! f = v/(π·D) where the tape turns a part or is turned by it; two surfaces in contact move equally fast, so
//! f₁·C₁ = f₂·C₂ with the circumferences C = π·D, and a belt of length L goes round f = v_belt/L times (textbook;
//! the worked examples of the tests are from the published exercises that the tests name).

use super::{Mechanism, MechanismError, Part};
use std::{
    collections::VecDeque,
    f64::consts::{PI, TAU},
};

/// Two ways to a part's rate may differ by this much beyond the tolerances before the file is refused, as a fraction.
const GROSS_DISAGREEMENT: f64 = 0.15;

/// A reel's pack: what makes its rate change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReelPack {
    /// +1 where the pack grows (take-up), −1 where it shrinks (supply).
    pub growth: f64,
    /// Tape thickness, metres.
    pub thickness_m: f64,
    /// Nominal tape speed, metres a second.
    pub speed_m_per_s: f64,
    /// Radius when the take begins, metres, where it is known.
    pub radius_m: Option<f64>,
}

impl ReelPack {
    /// How fast the once-round rate changes where it is `rate_hz` at this ratio of measured to nominal speed, Hz a
    /// second.
    ///
    /// A turn winds 2π·r of tape and adds one thickness h to the radius: dr/dt = h·f, and with f = v/(2π·r)
    /// df/dt = −2π·h·f³/v (take-up; the supply reel's is positive).
    pub fn rate_change_hz_per_s(&self, rate_hz: f64, speed_ratio: f64) -> f64 {
        let speed = self.speed_m_per_s * speed_ratio;
        -self.growth * TAU * self.thickness_m * rate_hz.powi(3) / speed
    }
}

/// The once-round rate of one part at the nominal tape speed.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRate {
    /// The rate, Hz; for a reel whose pack is not known the (geometric) middle of its range.
    pub nominal_hz: f64,
    /// Lowest rate by tolerance or pack, Hz.
    pub low_hz: f64,
    /// Highest rate, Hz.
    pub high_hz: f64,
    /// A reel's pack.
    pub pack: Option<ReelPack>,
    /// What the file says twice and not alike, where it does.
    pub remark: Option<String>,
}

/// The rates of all parts, in their order.
pub(super) fn rates(mechanism: &Mechanism) -> Result<Vec<PartRate>, MechanismError> {
    let parts = &mechanism.part;
    check_names(parts)?;
    let drivers = drivers(parts)?;
    let mut found: Vec<Option<PartRate>> = parts
        .iter()
        .enumerate()
        .map(|(index, part)| own_rate(index, part, mechanism.tape_speed_m_per_s))
        .collect::<Result<_, _>>()?;
    hand_on(parts, &drivers, &mut found)?;
    found
        .into_iter()
        .enumerate()
        .map(|(index, rate)| {
            rate.ok_or_else(|| {
                error(
                    index,
                    "name",
                    format!(
                        "the rate of '{}' cannot be found: give diameter_mm (the tape runs on it), rate_hz, or \
                         driven_by with ratio or with wheel_diameter_mm (a belt: length_mm) on both",
                        parts[index].name
                    ),
                )
            })
        })
        .collect()
}

fn error(part: usize, key: &'static str, message: String) -> MechanismError {
    MechanismError {
        part: Some(part),
        key,
        message,
    }
}

fn check_names(parts: &[Part]) -> Result<(), MechanismError> {
    let whole = |message: String| MechanismError {
        part: None,
        key: "part",
        message,
    };
    if parts.is_empty() {
        return Err(whole(
            "there is no [[part]]; give at least the capstan".into(),
        ));
    }
    if parts.len() > super::MOST_PARTS {
        return Err(whole(format!(
            "{} parts are too many; give at most {}",
            parts.len(),
            super::MOST_PARTS
        )));
    }
    for (index, part) in parts.iter().enumerate() {
        if part.name.trim().is_empty() {
            return Err(error(index, "name", "a part needs a name".into()));
        }
        if parts[..index].iter().any(|other| other.name == part.name) {
            return Err(error(
                index,
                "name",
                format!(
                    "there are two parts '{}'; give each its own name",
                    part.name
                ),
            ));
        }
    }
    Ok(())
}

/// Index of each part's driver.
fn drivers(parts: &[Part]) -> Result<Vec<Option<usize>>, MechanismError> {
    parts
        .iter()
        .enumerate()
        .map(|(index, part)| {
            let Some(name) = &part.driven_by else {
                return match part.ratio {
                    Some(ratio) => Err(error(
                        index,
                        "ratio",
                        format!(
                            "the ratio {ratio} needs driven_by: turns for one turn of which part?"
                        ),
                    )),
                    None => Ok(None),
                };
            };
            let driver = parts.iter().position(|other| other.name == *name);
            match driver {
                Some(driver) if driver != index => Ok(Some(driver)),
                Some(_) => Err(error(
                    index,
                    "driven_by",
                    format!("'{name}' cannot drive itself"),
                )),
                None => Err(error(
                    index,
                    "driven_by",
                    format!("there is no part '{name}'"),
                )),
            }
        })
        .collect()
}

/// The rate a part has by itself: from the tape, from its pack, or as given.
fn own_rate(
    index: usize,
    part: &Part,
    speed_m_per_s: f64,
) -> Result<Option<PartRate>, MechanismError> {
    let tolerance = part.tolerance();
    if part.kind.is_reel() {
        return reel_rate(index, part, speed_m_per_s);
    }
    for (value, key) in [
        (part.hub_radius_mm, "hub_radius_mm"),
        (part.full_radius_mm, "full_radius_mm"),
        (part.pack_radius_mm, "pack_radius_mm"),
    ] {
        if value.is_some() {
            let message = format!("only a supply_reel or take_up_reel has a {key}");
            return Err(error(index, key, message));
        }
    }
    let by_tape = part.diameter_mm.map(|mm| speed_m_per_s / (PI * mm * 1e-3));
    Ok(part
        .rate_hz
        .or(by_tape)
        .map(|hz| PartRate::near(hz, tolerance)))
}

fn reel_rate(
    index: usize,
    part: &Part,
    speed_m_per_s: f64,
) -> Result<Option<PartRate>, MechanismError> {
    if let Some(mm) = part.diameter_mm {
        let message = format!(
            "the tape of a reel runs on its pack, whose radius changes; give hub_radius_mm and full_radius_mm \
             instead of {mm} mm"
        );
        return Err(error(index, "diameter_mm", message));
    }
    let (Some(hub), Some(full)) = (part.hub_radius_mm, part.full_radius_mm) else {
        if part.rate_hz.is_some() {
            // Known as a rate only: how fast it changes is then not known either.
            return Ok(part.rate_hz.map(|hz| PartRate::near(hz, part.tolerance())));
        }
        return Err(error(
            index,
            "name",
            format!(
                "the reel '{}' needs hub_radius_mm, full_radius_mm and tape_thickness_um (or a rate_hz)",
                part.name
            ),
        ));
    };
    if full <= hub {
        let message = format!("the full pack ({full} mm) must be larger than the hub ({hub} mm)");
        return Err(error(index, "full_radius_mm", message));
    }
    let Some(thickness_um) = part.tape_thickness_um else {
        let message = format!(
            "the reel '{}' needs tape_thickness_um, which says how fast its rate changes",
            part.name
        );
        return Err(error(index, "name", message));
    };
    let rate_of = |radius_mm: f64| speed_m_per_s / (TAU * radius_mm * 1e-3);
    let pack = ReelPack {
        growth: if part.kind == super::PartKind::TakeUpReel {
            1.0
        } else {
            -1.0
        },
        thickness_m: thickness_um * 1e-6,
        speed_m_per_s,
        radius_m: part.pack_radius_mm.map(|mm| mm * 1e-3),
    };
    let mut rate = match part.pack_radius_mm {
        Some(radius) if (hub..=full).contains(&radius) => {
            PartRate::near(rate_of(radius), part.tolerance())
        }
        Some(radius) => {
            let message = format!(
                "a pack of {radius} mm does not lie between hub ({hub} mm) and full ({full} mm)"
            );
            return Err(error(index, "pack_radius_mm", message));
        }
        None => PartRate {
            nominal_hz: (rate_of(full) * rate_of(hub)).sqrt(),
            low_hz: rate_of(full) * (1.0 - part.tolerance()),
            high_hz: rate_of(hub) * (1.0 + part.tolerance()),
            pack: None,
            remark: None,
        },
    };
    rate.pack = Some(pack);
    Ok(Some(rate))
}

impl PartRate {
    fn near(nominal_hz: f64, tolerance: f64) -> Self {
        Self {
            nominal_hz,
            low_hz: nominal_hz * (1.0 - tolerance),
            high_hz: nominal_hz * (1.0 + tolerance),
            pack: None,
            remark: None,
        }
    }
}

/// What runs on what: the circumference a part meets its neighbours with, mm.
fn circumference_mm(part: &Part) -> Option<f64> {
    part.wheel_diameter_mm.map(|mm| PI * mm).or(part.length_mm)
}

/// Turns of the driven part for one turn of its driver, where the file tells; a slipping or unknown coupling has none.
fn coupling(driven: &Part, driver: &Part) -> Option<f64> {
    driven
        .ratio
        .or_else(|| Some(circumference_mm(driver)? / circumference_mm(driven)?))
}

/// Hands rates on, from the parts that have one by themselves to those they drive and are driven by.
fn hand_on(
    parts: &[Part],
    drivers: &[Option<usize>],
    found: &mut [Option<PartRate>],
) -> Result<(), MechanismError> {
    let mut waiting: VecDeque<usize> = (0..parts.len()).filter(|&i| found[i].is_some()).collect();
    while let Some(from) = waiting.pop_front() {
        let Some(rate_hz) = found[from].as_ref().map(|rate| rate.nominal_hz) else {
            continue;
        };
        for to in 0..parts.len() {
            let (driven, driver, up) = if drivers[to] == Some(from) {
                (to, from, false)
            } else if drivers[from] == Some(to) {
                (from, to, true)
            } else {
                continue;
            };
            let Some(turns) = coupling(&parts[driven], &parts[driver]) else {
                continue;
            };
            let handed_hz = if up { rate_hz / turns } else { rate_hz * turns };
            match &mut found[to] {
                None => {
                    found[to] = Some(PartRate::near(handed_hz, parts[to].tolerance()));
                    waiting.push_back(to);
                }
                Some(known) => agree(to, known, handed_hz, parts, from)?,
            }
        }
    }
    Ok(())
}

/// A part whose rate comes in two ways: small differences are remarked (the tape may slide, a belt slips), large
/// ones are mistakes.
fn agree(
    index: usize,
    known: &mut PartRate,
    handed_hz: f64,
    parts: &[Part],
    from: usize,
) -> Result<(), MechanismError> {
    let off = (handed_hz / known.nominal_hz).ln().abs();
    let allowed = parts[index].tolerance() + parts[from].tolerance();
    if off <= allowed {
        return Ok(());
    }
    let message = format!(
        "'{}' turns {:.3} times a second by its own figures and {handed_hz:.3} times by '{}'",
        parts[index].name, known.nominal_hz, parts[from].name
    );
    if off > allowed + GROSS_DISAGREEMENT {
        let message = format!("{message}; check the diameters of both");
        return Err(error(index, "name", message));
    }
    known.remark = Some(format!("{message}; its own are used"));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{
        super::{Mechanism, Part, PartKind},
        *,
    };

    fn with(speed_m_per_s: f64, part: Vec<Part>) -> Mechanism {
        Mechanism {
            name: "x".into(),
            title: "X".into(),
            tape_speed_m_per_s: speed_m_per_s,
            source: "test".into(),
            part,
        }
    }

    /// A published exercise on tape reels (its figures stand in the project's notes on standards, section 5): a tape
    /// at 9.53 cm/s runs off a pack of 2.5 cm radius at 0.6 turns a second and off one of 7 cm at 0.22.
    #[test]
    fn follows_the_published_exercise_on_a_reel() {
        for (radius_mm, turns_per_s, bar) in [(25.0, 0.6, 0.01), (70.0, 0.22, 0.005)] {
            let mut reel = Part::new("reel", PartKind::SupplyReel);
            reel.hub_radius_mm = Some(20.0);
            reel.full_radius_mm = Some(80.0);
            reel.tape_thickness_um = Some(50.0);
            reel.pack_radius_mm = Some(radius_mm);
            let rates = with(0.0953, vec![reel]).rates().expect("a sound reel");
            assert!(
                (rates[0].nominal_hz - turns_per_s).abs() < bar,
                "{radius_mm}: {}",
                rates[0].nominal_hz
            );
        }
    }

    #[test]
    fn a_belt_drive_hands_the_rate_on_both_ways() {
        let mut motor = Part::new("motor", PartKind::Motor);
        motor.wheel_diameter_mm = Some(10.0);
        let mut belt = Part::new("belt", PartKind::Belt);
        belt.length_mm = Some(250.0);
        belt.driven_by = Some("motor".into());
        let mut capstan = Part::new("capstan", PartKind::Capstan);
        capstan.diameter_mm = Some(2.5);
        capstan.wheel_diameter_mm = Some(60.0);
        capstan.driven_by = Some("belt".into());
        let mut gear = Part::new("gear", PartKind::Pulley);
        gear.driven_by = Some("motor".into());
        gear.ratio = Some(0.25);
        let rates = with(0.047_625, vec![gear, motor, belt, capstan])
            .rates()
            .expect("a sound drive");
        // By hand: 47.625/(π·2.5) = 6.0638 Hz; the belt moves at π·60·6.0638 = 1143.0 mm/s: 1143.0/250 = 4.5720 Hz,
        // and the motor turns 1143.0/(π·10) = 36.383 Hz.
        for (rate, by_hand_hz) in rates.iter().zip([9.0957, 36.3828, 4.5720, 6.0638]) {
            assert!(
                (rate.nominal_hz / by_hand_hz - 1.0).abs() < 1e-4,
                "{rate:?}"
            );
        }
    }

    /// The change of rate against the exact radius: r² = r₀² ± h·v·t/π (the tape's edge area is conserved).
    #[test]
    fn a_reel_changes_its_rate_as_its_pack_does() {
        let (speed, thickness, radius) = (0.0476, 18e-6, 0.0152_f64);
        for growth in [1.0, -1.0] {
            let pack = ReelPack {
                growth,
                thickness_m: thickness,
                speed_m_per_s: speed,
                radius_m: Some(radius),
            };
            let rate_at = |t: f64| {
                let r = (radius * radius + growth * thickness * speed * t / PI).sqrt();
                speed / (TAU * r)
            };
            let exact = (rate_at(0.5) - rate_at(-0.5)) / 1.0;
            let by_formula = pack.rate_change_hz_per_s(rate_at(0.0), 1.0);
            assert!(
                (by_formula / exact - 1.0).abs() < 1e-3,
                "{by_formula} {exact}"
            );
        }
    }

    #[test]
    fn figures_that_contradict_each_other_are_remarked_or_refused() {
        let drive = |flywheel_mm: f64| {
            let mut first = Part::new("take-up capstan", PartKind::Capstan);
            first.diameter_mm = Some(2.5);
            first.wheel_diameter_mm = Some(60.0);
            let mut second = Part::new("supply capstan", PartKind::Capstan);
            second.diameter_mm = Some(2.5);
            second.wheel_diameter_mm = Some(flywheel_mm);
            second.driven_by = Some("take-up capstan".into());
            with(0.047_625, vec![first, second]).rates()
        };
        let agreeing = drive(60.5).expect("within the tolerances");
        assert!(agreeing.iter().all(|rate| rate.remark.is_none()));
        let sliding = drive(63.0).expect("the tape slides");
        assert!(sliding.iter().any(|rate| {
            rate.remark
                .as_ref()
                .is_some_and(|remark| remark.contains("6.064") && remark.contains("5.775"))
        }));
        let error = drive(90.0).expect_err("a slip of the pen");
        assert!(error.message.contains("check the diameters"), "{error}");
    }
}
