//! Fewer points for a line, with every peak kept.

/// A stretch of a line without a gap, `(x, y)`.
pub type Stretch = Vec<(f64, f64)>;

/// The points of a line as stretches: cut where `NaN` lasts longer than `longest_gap` in x.
pub fn stretches(points: impl Iterator<Item = (f64, f64)>, longest_gap: f64) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    for (x, y) in points.filter(|(x, y)| x.is_finite() && y.is_finite()) {
        match out.last_mut() {
            Some(stretch) if x - stretch[stretch.len() - 1].0 <= longest_gap => {
                stretch.push((x, y))
            }
            _ => out.push(vec![(x, y)]),
        }
    }
    out
}

/// A stretch thinned to the lowest and the highest point in each column of width `column` in x;
/// both ends stay. Points in the middle of a level run are dropped: the line is the same.
pub fn thin(stretch: &[(f64, f64)], column: f64) -> Stretch {
    let (Some(&first), Some(&last)) = (stretch.first(), stretch.last()) else {
        return Vec::new();
    };
    let mut out = vec![first];
    for group in stretch.chunk_by(|a, b| cell(a.0 - first.0, column) == cell(b.0 - first.0, column))
    {
        let low = extreme(group, |candidate, best| candidate < best);
        let high = extreme(group, |candidate, best| candidate > best);
        for index in [low.min(high), low.max(high)] {
            push_unless_level(&mut out, group[index]);
        }
    }
    push_unless_level(&mut out, last);
    out
}

fn cell(x: f64, column: f64) -> i64 {
    if column > 0.0 {
        (x / column).floor() as i64
    } else {
        0
    }
}

fn extreme(group: &[(f64, f64)], better: impl Fn(f64, f64) -> bool) -> usize {
    let mut best = 0;
    for (i, point) in group.iter().enumerate() {
        if better(point.1, group[best].1) {
            best = i;
        }
    }
    best
}

fn push_unless_level(out: &mut Stretch, point: (f64, f64)) {
    let n = out.len();
    if out[n - 1] == point {
        return;
    }
    if n >= 2 && out[n - 1].1 == point.1 && out[n - 2].1 == point.1 {
        out[n - 1] = point;
    } else {
        out.push(point);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_of_one_sample_stay() {
        let mut line: Stretch = (0..10_000)
            .map(|i| (f64::from(i), f64::from(i % 7)))
            .collect();
        line[5_003].1 = 99.0;
        line[7_777].1 = -50.0;
        let thinned = thin(&line, 25.0);
        assert!(thinned.len() <= 2 * 400 + 2, "{}", thinned.len());
        assert!(thinned.contains(&(5_003.0, 99.0)) && thinned.contains(&(7_777.0, -50.0)));
        assert_eq!(
            (thinned[0], thinned[thinned.len() - 1]),
            (line[0], line[9_999])
        );
        assert!(thinned.windows(2).all(|w| w[0].0 < w[1].0));
    }

    #[test]
    fn a_level_line_is_two_points() {
        let line: Stretch = (0..100).map(|i| (f64::from(i), 4.0)).collect();
        assert_eq!(thin(&line, 1.0), [(0.0, 4.0), (99.0, 4.0)]);
    }

    #[test]
    fn long_gaps_cut_and_short_ones_do_not() {
        let y = [1.0, f64::NAN, 2.0, f64::NAN, f64::NAN, f64::NAN, 3.0];
        let cut = stretches(y.iter().enumerate().map(|(i, &y)| (i as f64, y)), 2.0);
        assert_eq!(cut, [vec![(0.0, 1.0), (2.0, 2.0)], vec![(6.0, 3.0)]]);
        assert!(thin(&[], 1.0).is_empty());
    }
}
