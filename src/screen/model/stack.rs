//! Sharing the height of a view among its parts: what is least needed goes first, nothing overlaps.

/// One part of a view, from top to bottom.
#[derive(Clone, Copy, Debug)]
pub struct Part {
    /// Not useful below this height, points.
    pub min: f32,
    /// Comfortable at this height, points.
    pub wanted: f32,
    /// Share of what is left when all have what they want; 0: takes none.
    pub grows: f32,
    /// 0: always there; the others are left out from the highest number down when room is short.
    pub rank: u8,
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
    let least = needed(parts, &shown, gap, |part| part.min);
    let comfort = needed(parts, &shown, gap, |part| part.wanted);
    let spare = (height - least).max(0.0);
    let comfortable = if comfort > least {
        (spare / (comfort - least)).min(1.0)
    } else {
        1.0
    };
    let rest = (height - comfort).max(0.0);
    let growth: f32 = total(parts, &shown, |part| part.grows);
    let mut top = 0.0;
    let mut places = Vec::with_capacity(parts.len());
    for (part, &shown) in parts.iter().zip(&shown) {
        if !shown {
            places.push(None);
            continue;
        }
        let grown = if growth > 0.0 {
            rest * part.grows / growth
        } else {
            0.0
        };
        let size = part.min + comfortable * (part.wanted - part.min) + grown;
        places.push(Some((top, size)));
        top += size + gap;
    }
    places
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
        (1.0_f32..200.0, 0.0_f32..200.0, 0.0_f32..3.0, 0_u8..4).prop_map(
            |(min, more, grows, rank)| Part {
                min,
                wanted: min + more,
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
        let part = |rank, grows| Part {
            min: 100.0,
            wanted: 100.0,
            grows,
            rank,
        };
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
        let one = share(50.0, 10.0, &parts);
        assert_eq!(one, [Some((0.0, 100.0)), None, None]);
    }
}
