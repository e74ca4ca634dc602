//! How large a number on the screen is to the eye of somebody who stands at the deck.
//!
//! The visual angle of something of height h at distance d is 2·atan(h / 2d) (geometry). For reading, ISO 9241-303
//! wants characters (the height of a capital or a digit) of 20 to 22 minutes of arc, and never less than 16 (from
//! memory of the standard; not checked against its text).

/// From the eye to the screen: the laptop stands behind the deck on the bench, millimetres.
pub const DISTANCE_MM: f32 = 1500.0;
/// The diagonal of the laptop's panel, millimetres (13 inches, 16:10).
pub const DIAGONAL_MM: f32 = 13.0 * 25.4;
/// What the window has there, full screen, points.
pub const PANEL: [f32; 2] = [1280.0, 800.0];
/// No character that answers 'how far, which way, done' is smaller than this, minutes of arc.
pub const LEAST_ARCMIN: f32 = 16.0;
/// The number itself is not smaller than this, minutes of arc.
pub const COMFORTABLE_ARCMIN: f32 = 20.0;
/// Height of a digit or a capital of the strong type, in sizes.
pub const DIGIT_HEIGHT: f32 = 0.73;

/// The visual angle of a digit or capital of the strong type of this size (points) on that laptop at that distance,
/// minutes of arc.
pub fn digit_arcmin(size: f32) -> f32 {
    let height_mm = size * DIGIT_HEIGHT * millimetres_a_point();
    2.0 * (height_mm / (2.0 * DISTANCE_MM)).atan().to_degrees() * 60.0
}

/// The size of the strong type whose digits have this visual angle, points.
pub fn size_of(arcmin: f32) -> f32 {
    let height_mm = 2.0 * DISTANCE_MM * (arcmin / 120.0).to_radians().tan();
    height_mm / (DIGIT_HEIGHT * millimetres_a_point())
}

/// How large a point is on that panel.
fn millimetres_a_point() -> f32 {
    DIAGONAL_MM / PANEL[0].hypot(PANEL[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_of_a_thirteen_inch_panel_is_half_a_minute_of_arc() {
        // 330.2 mm over 1509.4 points; 1 mm at 1.5 m is 3437.75 / 1500 = 2.2918 minutes of arc.
        assert!((millimetres_a_point() - 0.218_76).abs() < 1e-4);
        assert!((digit_arcmin(1.0 / DIGIT_HEIGHT) - 0.5014).abs() < 1e-3);
        // A size whose digits are 7 mm high.
        let size = 7.0 / 0.218_76 / DIGIT_HEIGHT;
        assert!((digit_arcmin(size) - 16.04).abs() < 0.02);
    }

    #[test]
    fn size_and_angle_are_inverse() {
        for arcmin in [LEAST_ARCMIN, COMFORTABLE_ARCMIN, 60.0] {
            assert!((digit_arcmin(size_of(arcmin)) - arcmin).abs() < 1e-3);
        }
        assert!((43.0..44.0).contains(&size_of(LEAST_ARCMIN)));
    }
}
