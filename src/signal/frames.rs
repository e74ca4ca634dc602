//! From interleaved 32-bit frames to a row of 64-bit samples for each channel.

use super::lanes::{Kernel, LANES, Lanes, on_widest};

/// Takes whole frames of as many channels (one or two) as there are rows; each row is as long as there are frames.
pub fn take_apart(interleaved: &[f32], rows: &mut [&mut [f64]]) {
    match rows {
        [row] => {
            for (sample, x) in row.iter_mut().zip(interleaved) {
                *sample = f64::from(*x);
            }
        }
        [left, right] => {
            let (frames, _) = interleaved.as_chunks();
            on_widest(TakeApart {
                frames,
                left,
                right,
            });
        }
        _ => debug_assert!(false, "a stream has one or two channels"),
    }
}

struct TakeApart<'a> {
    frames: &'a [[f32; 2]],
    left: &'a mut [f64],
    right: &'a mut [f64],
}

impl Kernel for TakeApart<'_> {
    type Output = ();

    #[inline(always)]
    fn run<L: Lanes>(self) {
        let (groups, rest) = self.frames.as_chunks::<LANES>();
        let (lefts, rest_left) = self.left.as_chunks_mut();
        let (rights, rest_right) = self.right.as_chunks_mut();
        for ((frames, left), right) in groups.iter().zip(lefts).zip(rights) {
            let lanes = L::from_frames(frames);
            lanes.0.store(left);
            lanes.1.store(right);
        }
        for ((frame, left), right) in rest.iter().zip(rest_left).zip(rest_right) {
            *left = f64::from(frame[0]);
            *right = f64::from(frame[1]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sample_comes_to_its_place() {
        for frames in 0..40_u16 {
            let interleaved: Vec<f32> = (0..2 * frames).map(f32::from).collect();
            let (mut left, mut right) = (vec![0.0; frames.into()], vec![0.0; frames.into()]);
            take_apart(&interleaved, &mut [&mut left, &mut right]);
            let even: Vec<f64> = (0..frames).map(|i| f64::from(2 * i)).collect();
            assert_eq!(left, even);
            assert!(
                right
                    .iter()
                    .zip(&even)
                    .all(|(right, even)| *right == even + 1.0)
            );
            let mut mono = vec![0.0; interleaved.len()];
            take_apart(&interleaved, &mut [&mut mono]);
            assert!(
                mono.iter()
                    .zip(&interleaved)
                    .all(|(a, b)| *a == f64::from(*b))
            );
        }
    }
}
