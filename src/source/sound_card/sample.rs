//! Samples of every format a device may deliver, brought to one scale. Real-time safe.

/// A sample as a device delivers it.
pub trait CaptureSample: Copy + Send + 'static {
    /// The sample with full scale at ±1.0.
    fn to_full_scale(self) -> f32;
}

/// Full scale of a sample held in the upper bits of 32.
const FULL_SCALE_32: f32 = 2_147_483_648.0;

impl CaptureSample for f32 {
    fn to_full_scale(self) -> f32 {
        self
    }
}

impl CaptureSample for f64 {
    fn to_full_scale(self) -> f32 {
        self as f32
    }
}

impl CaptureSample for i32 {
    fn to_full_scale(self) -> f32 {
        self as f32 / FULL_SCALE_32
    }
}

impl CaptureSample for i16 {
    fn to_full_scale(self) -> f32 {
        f32::from(self) / 32_768.0
    }
}

impl CaptureSample for i8 {
    fn to_full_scale(self) -> f32 {
        f32::from(self) / 128.0
    }
}

impl CaptureSample for u32 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 31)) as i32).to_full_scale()
    }
}

impl CaptureSample for u16 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 15)) as i16).to_full_scale()
    }
}

impl CaptureSample for u8 {
    fn to_full_scale(self) -> f32 {
        ((self ^ (1 << 7)) as i8).to_full_scale()
    }
}

/// The lower three bytes count; what a driver leaves in the fourth (sign, zeros, rubbish) does not.
impl CaptureSample for cpal::I24 {
    fn to_full_scale(self) -> f32 {
        (self.inner() << 8).to_full_scale()
    }
}

/// As for the signed kind.
impl CaptureSample for cpal::U24 {
    fn to_full_scale(self) -> f32 {
        ((self.inner() << 8) as u32).to_full_scale()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn full_scale_of<T: CaptureSample>(samples: &[T]) -> Vec<f32> {
        samples
            .iter()
            .map(|&sample| sample.to_full_scale())
            .collect()
    }

    #[test]
    fn every_format_has_full_scale_at_one_and_zero_in_the_middle() {
        assert_eq!(full_scale_of(&[-1.5_f32, 0.0, 0.25]), [-1.5, 0.0, 0.25]);
        assert_eq!(full_scale_of(&[-1.0_f64, 0.0, 0.25]), [-1.0, 0.0, 0.25]);
        assert_eq!(full_scale_of(&[i32::MIN, 0, 1 << 30]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[i16::MIN, 0, 1 << 14]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[i8::MIN, 0, 1 << 6]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u32, 1 << 31, 3 << 30]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u16, 1 << 15, 3 << 14]), [-1.0, 0.0, 0.5]);
        assert_eq!(full_scale_of(&[0_u8, 1 << 7, 3 << 6]), [-1.0, 0.0, 0.5]);
        let smallest = 1.0 / 8_388_608.0;
        assert_eq!(full_scale_of(&[1 << 8_i32]), [smallest]);
        assert_eq!(full_scale_of(&[1_i16]), [256.0 * smallest]);
    }

    #[test]
    fn the_fourth_byte_of_a_24_bit_sample_does_not_matter() {
        let i24 = |bits: u32| cpal::I24::new_unchecked(bits as i32);
        let minus_one_step = -1.0 / 8_388_608.0;
        let samples = [
            0x00_FF_FF_FF,
            0xFF_FF_FF_FF,
            0x5A_FF_FF_FF,
            0x00_80_00_00,
            0xFF_40_00_00,
        ]
        .map(i24);
        let expected = [minus_one_step, minus_one_step, minus_one_step, -1.0, 0.5];
        assert_eq!(full_scale_of(&samples), expected);
        let u24 = |bits: u32| cpal::U24::new_unchecked(bits as i32);
        let samples = [0x00_00_00_00, 0xAA_80_00_00, 0x00_C0_00_00].map(u24);
        assert_eq!(full_scale_of(&samples), [-1.0, 0.0, 0.5]);
    }
}
