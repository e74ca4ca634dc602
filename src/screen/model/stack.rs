//! Sharing the height of a view among its parts: what is least needed goes first, nothing overlaps.

/// One part of a view, from top to bottom.
#[derive(Clone, Copy, Debug)]
pub struct Part {
    /// Not useful below this height, points.
    pub min: f32,
    /// Comfortable at this height, points.
    pub wanted: f32,
    /// Between those two it takes whole steps of this many points only; 0: any height.
    pub step: f32,
    /// Share of what is left when all have what they want; 0: takes none.
    pub grows: f32,
    /// 0: always there; the others are left out from the highest number down when room is short, and become
    /// comfortable from the lowest number up when there is some to spare.
    pub rank: u8,
}

impl Part {
    /// A part of one height that is always there.
    pub const fn of(height: f32) -> Self {
        Self {
            min: height,
            wanted: height,
            step: 0.0,
            grows: 0.0,
            rank: 0,
        }
    }

    /// Comfortable at this height, points.
    #[must_use]
    pub const fn wanting(self, wanted: f32) -> Self {
        Self { wanted, ..self }
    }

    /// Takes whole steps of this many points.
    #[must_use]
    pub const fn in_steps_of(self, step: f32) -> Self {
        Self { step, ..self }
    }

    /// Takes this share of what is left.
    #[must_use]
    pub const fn growing(self, grows: f32) -> Self {
        Self { grows, ..self }
    }

    /// Left out before all of a lower number.
    #[must_use]
    pub const fn ranked(self, rank: u8) -> Self {
        Self { rank, ..self }
    }
}

/// Top and height of each part from y = 0, or `None` where a part is left out. Parts of rank 0 keep their least
/// height even when that is more than `height`; the caller scrolls then.
pub fn share(height: f32, gap: f32, parts: &[Part]) -> Vec<Option<(f32, f32)>> {
    let mut shown: Vec<bool> = vec![true; parts.len()];
    while needed(parts, &shown, gap, |part| part.min) > height {
        let least = (0..parts.len())
            .filter(|&i| shown[i] && parts[i].rank > 0)
            .max_by_key(|&i| parts[i].rank);
        match least {
            Some(i) => shown[i] = false,
            None => break,
        }
    }
    let mut rest = (height - needed(parts, &shown, gap, |part| part.min)).max(0.0);
    let mut sizes: Vec<f32> = parts.iter().map(|part| part.min).collect();
    let mut by_rank: Vec<usize> = (0..parts.len()).filter(|&i| shown[i]).collect();
    by_rank.sort_by_key(|&i| parts[i].rank);
    for i in by_rank {
        let taken = whole_steps(rest.min(parts[i].wanted - parts[i].min), parts[i].step);
        sizes[i] += taken;
        rest -= taken;
    }
    let growth: f32 = total(parts, &shown, |part| part.grows);
    let mut top = 0.0;
    let mut places = Vec::with_capacity(parts.len());
    for ((part, size), shown) in parts.iter().zip(sizes).zip(shown) {
        if !shown {
            places.push(None);
            continue;
        }
        let grown = if growth > 0.0 {
            rest * part.grows / growth
        } else {
            0.0
        };
        places.push(Some((top, size + grown)));
        top += size + grown + gap;
    }
    places
}

fn whole_steps(height: f32, step: f32) -> f32 {
    if step > 0.0 {
        (height / step + 1e-3).floor() * step
    } else {
        height
    }
}

fn total(parts: &[Part], shown: &[bool], size: impl Fn(&Part) -> f32) -> f32 {
    parts
        .iter()
        .zip(shown)
        .filter(|(_, shown)| **shown)
        .map(|(part, _)| size(part))
        .sum()
}

fn needed(parts: &[Part], shown: &[bool], gap: f32, size: impl Fn(&Part) -> f32) -> f32 {
    let count = shown.iter().filter(|shown| **shown).count();
    total(parts, shown, size) + gap * count.saturating_sub(1) as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn a_part() -> impl Strategy<Value = Part> {
        let step = prop_oneof![Just(0.0_f32), 5.0_f32..60.0];
        (1.0_f32..200.0, 0.0_f32..200.0, step, 0.0_f32..3.0, 0_u8..4).prop_map(
            |(min, more, step, grows, rank)| Part {
                min,
                wanted: min + more,
                step,
                grows,
                rank,
            },
        )
    }

    proptest! {
        #[test]
        fn parts_never_overlap_and_never_shrink_below_use(
            height in 0.0_f32..2000.0,
            parts in proptest::collection::vec(a_part(), 1..7),
        ) {
            let gap = 6.0;
            let places = share(height, gap, &parts);
            let mut free_from = 0.0_f32;
            for (place, part) in places.iter().zip(&parts) {
                match place {
                    Some((top, size)) => {
                        prop_assert!(*top >= free_from - 1e-2);
                        prop_assert!(*size >= part.min - 1e-2);
                        free_from = top + size + gap;
                    }
                    None => prop_assert!(part.rank > 0),
                }
            }
            let used = free_from - gap;
            let something_could_still_go =
                places.iter().zip(&parts).any(|(place, part)| place.is_some() && part.rank > 0);
            prop_assert!(used <= height + 1e-1 || !something_could_still_go);
        }
    }

    #[test]
    fn what_is_least_needed_goes_first_and_the_rest_fills_the_height() {
        let part = |rank, grows| Part::of(100.0).growing(grows).ranked(rank);
        let parts = [part(0, 0.0), part(1, 1.0), part(2, 0.0)];
        let all = share(400.0, 10.0, &parts);
        assert_eq!(
            all,
            [
                Some((0.0, 100.0)),
                Some((110.0, 180.0)),
                Some((300.0, 100.0))
            ]
        );
        let two = share(300.0, 10.0, &parts);
        assert_eq!(two, [Some((0.0, 100.0)), Some((110.0, 190.0)), None]);
        let stepped = Part::of(50.0).wanting(150.0).in_steps_of(50.0).ranked(1);
        let two_rows = share(245.0, 10.0, &[part(0, 1.0), stepped]);
        assert_eq!(two_rows, [Some((0.0, 135.0)), Some((145.0, 100.0))]);
        let one = share(50.0, 10.0, &parts);
        assert_eq!(one, [Some((0.0, 100.0)), None, None]);
    }
}
