//! Where names of points go: beside their point, covering neither a point nor another name.

/// A rectangle, pixels; y grows downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Rect {
    /// Around a place, with half its width and height.
    pub fn around((x, y): (f64, f64), across: f64, up: f64) -> Rect {
        Rect { left: x - across, top: y - up, right: x + across, bottom: y + up }
    }

    /// Around two places and a pixel more.
    pub fn between(a: (f64, f64), b: (f64, f64)) -> Rect {
        let (x, y) = ((a.0.min(b.0), a.0.max(b.0)), (a.1.min(b.1), a.1.max(b.1)));
        Rect { left: x.0 - 1.0, top: y.0 - 1.0, right: x.1 + 1.0, bottom: y.1 + 1.0 }
    }

    /// Area that two have in common.
    pub fn common(&self, other: &Rect) -> f64 {
        let across = self.right.min(other.right) - self.left.max(other.left);
        let up = self.bottom.min(other.bottom) - self.top.max(other.top);
        across.max(0.0) * up.max(0.0)
    }

    fn within(&self, room: &Rect) -> bool {
        self.left >= room.left && self.right <= room.right && self.top >= room.top && self.bottom <= room.bottom
    }
}

/// Where a name goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// What it covers.
    pub area: Rect,
    /// Whether it stands so far off that a line has to lead to it.
    pub far: bool,
}

impl Place {
    /// The end of that line: the place of the name nearest to the point.
    pub fn near_end(&self, at: (f64, f64)) -> (i32, i32) {
        (at.0.clamp(self.area.left, self.area.right) as i32, at.1.clamp(self.area.top, self.area.bottom) as i32)
    }
}

/// Points nearer than this are one to the eye, pixels.
const SAME: f64 = 2.0;
/// Names that are told one by one where several points are one.
const TOLD_MOST: usize = 3;

/// Points that lie on each other share a name: `a, b, c and 2 more`.
pub fn gathered(points: &[(f64, f64)], names: &[&str]) -> Vec<((f64, f64), String)> {
    let mut groups: Vec<((f64, f64), Vec<&str>)> = Vec::new();
    for (at, name) in points.iter().zip(names).filter(|(_, name)| !name.is_empty()) {
        let same = |other: &(f64, f64)| (other.0 - at.0).abs() <= SAME && (other.1 - at.1).abs() <= SAME;
        match groups.iter_mut().find(|(other, _)| same(other)) {
            Some((_, all)) => all.push(name),
            None => groups.push((*at, vec![name])),
        }
    }
    let told = |all: Vec<&str>| match all.len() {
        count if count > TOLD_MOST => format!("{} and {} more", all[..TOLD_MOST].join(", "), count - TOLD_MOST),
        _ => all.join(", "),
    };
    groups.into_iter().map(|(at, all)| (at, told(all))).collect()
}

/// Distances from a point that are tried, pixels; from the second on a line leads to the name.
const RINGS: [f64; 5] = [8.0, 20.0, 34.0, 50.0, 68.0];

/// Finds a place in the `room` for each name, in their order: the nearest that covers no dot and no name before it, of equally
/// near ones the one that covers least of the crosses. None where there is no such place.
pub fn put(
    names: &[((f64, f64), String)],
    size: f64,
    room: Rect,
    dots: &[Rect],
    crosses: &[Rect],
) -> Vec<Option<Place>> {
    let mut taken: Vec<Rect> = dots.to_vec();
    let mut out = Vec::new();
    for (at, name) in names {
        // As `canvas::shortened` reckons, and a little air.
        let (wide, tall) = (0.56 * size * name.chars().count() as f64 + 4.0, size + 3.0);
        let found = RINGS.iter().enumerate().find_map(|(ring, off)| {
            let (near, aside) = (*off, 0.7 * off);
            let beside = [(at.0 + near, at.1), (at.0 - near - wide, at.1)];
            let slanted = [-1.0, 1.0].map(|up| [(at.0 + aside, up), (at.0 - aside - wide, up)]);
            let slanted = slanted.into_iter().flatten().map(|(left, up)| (left, at.1 + up * (aside + 0.5 * tall)));
            let upright = [-1.0, 1.0].map(|up| (at.0 - 0.5 * wide, at.1 + up * (near + 0.5 * tall)));
            let areas = beside.into_iter().chain(slanted).chain(upright).map(|(left, middle)| Rect {
                left,
                top: middle - 0.5 * tall,
                right: left + wide,
                bottom: middle + 0.5 * tall,
            });
            let free = areas.filter(|area| area.within(&room) && taken.iter().all(|other| area.common(other) <= 0.0));
            let covers = |area: &Rect| crosses.iter().map(|cross| area.common(cross)).sum::<f64>();
            let best = free.min_by(|a, b| covers(a).total_cmp(&covers(b)));
            best.map(|area| Place { area, far: ring > 0 })
        });
        taken.extend(found.map(|place| place.area));
        out.push(found);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Rect = Rect { left: 0.0, top: 0.0, right: 600.0, bottom: 400.0 };

    fn dots(places: &[(f64, f64)]) -> Vec<Rect> {
        places.iter().map(|at| Rect::around(*at, 4.0, 4.0)).collect()
    }

    /// Twelve points in a bunch: each name has a place, and nothing covers anything.
    #[test]
    fn names_of_a_bunch_cover_nothing() {
        let places: Vec<(f64, f64)> =
            (0..12).map(|n| (300.0 + 9.0 * f64::from(n % 4), 200.0 + 9.0 * f64::from(n / 4))).collect();
        let names: Vec<String> = (0..12).map(|n| format!("{n}.25 m")).collect();
        let names = gathered(&places, &names.iter().map(String::as_str).collect::<Vec<_>>());
        let dots = dots(&places);
        let put = put(&names, 11.0, ROOM, &dots, &[]);
        let areas: Vec<Rect> = put.iter().map(|place| place.expect("room for each").area).collect();
        for (index, area) in areas.iter().enumerate() {
            assert!(area.within(&ROOM), "{area:?}");
            assert!(dots.iter().all(|dot| area.common(dot) == 0.0), "{area:?} covers a point");
            assert!(areas[..index].iter().all(|other| area.common(other) == 0.0), "{area:?} covers a name");
        }
    }

    #[test]
    fn points_on_each_other_share_a_name() {
        let places = [(10.0, 10.0), (50.0, 10.0), (10.5, 9.0), (10.0, 10.0), (11.0, 11.0)];
        let names = gathered(&places, &["a", "b", "c", "", "d"]);
        assert_eq!(names, [((10.0, 10.0), "a, c, d".to_string()), ((50.0, 10.0), "b".to_string())]);
        let many = gathered(&[(1.0, 1.0); 5], &["a", "b", "c", "d", "e"]);
        assert_eq!(many[0].1, "a, b, c and 2 more");
    }

    /// Beside a point at the right edge there is only room to the left; where there is none at all nothing is written.
    #[test]
    fn names_stay_in_the_room() {
        let at = [(595.0, 200.0)];
        let names = gathered(&at, &["a name"]);
        let place = put(&names, 11.0, ROOM, &dots(&at), &[])[0].expect("room to the left");
        assert!(place.area.right < 595.0 && !place.far, "{place:?}");
        let narrow = Rect { right: 30.0, ..ROOM };
        assert_eq!(put(&gathered(&[(15.0, 200.0)], &["far too long a name"]), 11.0, narrow, &[], &[]), [None]);
    }
}
