//! Sobol's low-discrepancy sequence (USSR Comput. Math. Math. Phys. 7, 1967, 86-112) in Gray-code order (Antonov & Saleev
//! 1979), with the direction numbers of Joe & Kuo (SIAM J. Sci. Comput. 30, 2008, 2635-2654, file new-joe-kuo-6).

use crate::math::random::Stream;

/// Most dimensions.
pub const MOST_DIMENSIONS: usize = 40;

/// Bits of a coordinate.
const BITS: usize = 32;

/// Primitive polynomial (all coefficients as bits, the leading one included) and initial direction integers of the
/// dimensions from the second on; the first one is van der Corput's sequence.
const DIRECTIONS: [(u32, &[u32]); MOST_DIMENSIONS - 1] = [
    (3, &[1]),
    (7, &[1, 3]),
    (11, &[1, 3, 1]),
    (13, &[1, 1, 1]),
    (19, &[1, 1, 3, 3]),
    (25, &[1, 3, 5, 13]),
    (37, &[1, 1, 5, 5, 17]),
    (41, &[1, 1, 5, 5, 5]),
    (47, &[1, 1, 7, 11, 19]),
    (55, &[1, 1, 5, 1, 1]),
    (59, &[1, 1, 1, 3, 11]),
    (61, &[1, 3, 5, 5, 31]),
    (67, &[1, 3, 3, 9, 7, 49]),
    (91, &[1, 1, 1, 15, 21, 21]),
    (97, &[1, 3, 1, 13, 27, 49]),
    (103, &[1, 1, 1, 15, 7, 5]),
    (109, &[1, 3, 1, 15, 13, 25]),
    (115, &[1, 1, 5, 5, 19, 61]),
    (131, &[1, 3, 7, 11, 23, 15, 103]),
    (137, &[1, 3, 7, 13, 13, 15, 69]),
    (143, &[1, 1, 3, 13, 7, 35, 63]),
    (145, &[1, 3, 5, 9, 1, 25, 53]),
    (157, &[1, 3, 1, 13, 9, 35, 107]),
    (167, &[1, 3, 1, 5, 27, 61, 31]),
    (171, &[1, 1, 5, 11, 19, 41, 61]),
    (185, &[1, 3, 5, 3, 3, 13, 69]),
    (191, &[1, 1, 7, 13, 1, 19, 1]),
    (193, &[1, 3, 7, 5, 13, 19, 59]),
    (203, &[1, 1, 3, 9, 25, 29, 41]),
    (211, &[1, 3, 5, 13, 23, 1, 55]),
    (213, &[1, 3, 7, 3, 13, 59, 17]),
    (229, &[1, 3, 1, 3, 5, 53, 69]),
    (239, &[1, 1, 5, 5, 23, 33, 13]),
    (241, &[1, 1, 7, 7, 1, 61, 123]),
    (247, &[1, 1, 7, 9, 13, 61, 49]),
    (253, &[1, 3, 3, 5, 3, 55, 33]),
    (285, &[1, 3, 1, 15, 31, 13, 49, 245]),
    (299, &[1, 3, 5, 15, 31, 59, 63, 97]),
    (301, &[1, 3, 1, 11, 11, 11, 77, 249]),
];

/// The sequence in some dimensions.
#[derive(Clone, Debug)]
pub struct Sobol {
    /// Direction numbers, one row of [`BITS`] per dimension.
    directions: Vec<[u32; BITS]>,
    point: Vec<u32>,
    shift: Vec<u32>,
    index: u64,
}

impl Sobol {
    /// The sequence from its first point, the origin. None for no dimension or more than [`MOST_DIMENSIONS`].
    pub fn new(dimensions: usize) -> Option<Sobol> {
        if !(1..=MOST_DIMENSIONS).contains(&dimensions) {
            return None;
        }
        Some(Sobol {
            directions: (0..dimensions).map(directions).collect(),
            point: vec![0; dimensions],
            shift: vec![0; dimensions],
            index: 0,
        })
    }

    /// The sequence with a random digital shift: it keeps its evenness, every point is uniformly distributed, and none
    /// lies on the edge but by chance.
    pub fn shifted(dimensions: usize, stream: &mut Stream) -> Option<Sobol> {
        let mut sobol = Sobol::new(dimensions)?;
        sobol.shift.iter_mut().for_each(|shift| *shift = (stream.bits() >> 32) as u32);
        Some(sobol)
    }

    /// The next point; each coordinate in [0, 1). After 2^32 points it starts again.
    pub fn next_point(&mut self) -> Vec<f64> {
        let scale = 1.0 / (1_u64 << BITS) as f64;
        let point = self.point.iter().zip(&self.shift).map(|(word, shift)| f64::from(word ^ shift) * scale).collect();
        // The next point differs by the direction number of the lowest zero bit of the index.
        let bit = (!self.index).trailing_zeros() as usize;
        if bit < BITS {
            self.point.iter_mut().zip(&self.directions).for_each(|(word, rows)| *word ^= rows[bit]);
            self.index += 1;
        } else {
            self.point.fill(0);
            self.index = 0;
        }
        point
    }
}

/// Direction numbers of a dimension, scaled to [`BITS`] bits: m_k = 2 a_1 m_(k-1) xor ... xor 2^s m_(k-s) xor m_(k-s).
fn directions(dimension: usize) -> [u32; BITS] {
    let mut rows = [0_u32; BITS];
    let Some(&(polynomial, initial)) = dimension.checked_sub(1).and_then(|index| DIRECTIONS.get(index)) else {
        for (bit, row) in rows.iter_mut().enumerate() {
            *row = 1 << (BITS - 1 - bit);
        }
        return rows;
    };
    let degree = initial.len();
    for bit in 0..BITS {
        rows[bit] = if bit < degree {
            initial[bit] << (BITS - 1 - bit)
        } else {
            let mut row = rows[bit - degree] ^ (rows[bit - degree] >> degree);
            for term in 1..degree {
                if polynomial >> (degree - term) & 1 == 1 {
                    row ^= rows[bit - term];
                }
            }
            row
        };
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    /// First ten bits of some points of all forty dimensions, from the generator of a general-purpose numerical library
    /// (SciPy 1.x, `qmc.Sobol`, unscrambled, 32 bits), which reads the authors' own file.
    #[test]
    fn equals_an_independent_implementation() {
        let mut sobol = Sobol::new(MOST_DIMENSIONS).unwrap();
        let points: Vec<Vec<f64>> = (0..1024).map(|_| sobol.next_point()).collect();
        for (index, expected) in POINTS {
            let got: Vec<u32> = points[index].iter().map(|x| (x * 1024.0) as u32).collect();
            assert_eq!(got, expected, "point {index}");
        }
    }

    #[rustfmt::skip]
    const POINTS: [(usize, [u32; MOST_DIMENSIONS]); 3] = [
        (5, [896, 896, 128, 384, 896, 640, 896, 384, 384, 128, 384, 896, 896, 128, 896, 384, 896, 384, 384, 640, 640, 640, 896, 384, 384, 384, 896, 128, 640, 640, 896, 640, 384, 384, 128, 128, 128, 384, 896, 384]),
        (777, [709, 959, 167, 281, 651, 365, 195, 781, 357, 331, 763, 713, 393, 485, 583, 527, 413, 885, 379, 771, 243, 279, 969, 493, 353, 149, 61, 799, 65, 113, 555, 921, 115, 3, 825, 969, 473, 359, 351, 367]),
        (1023, [1, 771, 627, 149, 191, 449, 143, 633, 353, 871, 695, 37, 133, 681, 371, 475, 321, 897, 599, 327, 887, 19, 813, 201, 245, 385, 521, 779, 861, 445, 951, 629, 463, 895, 341, 885, 965, 1011, 923, 715]),
    ];

    /// The first 2^k points hit every interval of length 2^-k once, in every dimension, shifted or not.
    #[test]
    fn every_interval_is_hit_once() {
        let mut stream = Source::new(3, 0, "sobol").stream(0);
        for mut sobol in [Sobol::new(40).unwrap(), Sobol::shifted(40, &mut stream).unwrap()] {
            let points: Vec<Vec<f64>> = (0..256).map(|_| sobol.next_point()).collect();
            for dimension in 0..40 {
                let mut hit = [false; 256];
                points.iter().for_each(|point| hit[(point[dimension] * 256.0) as usize] = true);
                assert!(hit.iter().all(|hit| *hit), "dimension {dimension}");
            }
        }
    }

    #[test]
    fn dimensions_are_limited() {
        assert!(Sobol::new(0).is_none() && Sobol::new(41).is_none());
    }
}
