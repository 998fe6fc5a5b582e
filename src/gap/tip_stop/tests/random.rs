//! Random triangles and pieces against a fine search, and laws.

use super::*;
use crate::gap::{Freedom, tip_is_free, tips_are_free};

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: u64) -> u64 {
        self.next() % count
    }

    fn vector(&mut self, reach: f64) -> Vec3 {
        Vec3::from_fn(|_, _| self.within(-reach, reach))
    }

    fn rings(&mut self) -> Vec<Ring> {
        let radius = self.within(0.5, 8.0);
        match self.below(6) {
            0 => flat(radius),
            1 => ball(radius),
            2 => {
                let corner = radius * self.within(0.05, 0.95);
                bull(radius, corner)
            }
            3 => {
                let half = self.within(15.0, 80.0);
                drill(radius, half)
            }
            4 => vec![
                Ring::disc(radius * 0.3, 0.0),
                Ring::disc(radius, self.within(0.1, 9.0)),
                Ring::disc(radius, 30.0),
            ],
            _ => (0..3)
                .map(|_| Ring {
                    radius_mm: self.within(0.0, 6.0),
                    height_mm: self.within(0.0, 9.0),
                    ball_mm: self.within(0.0, 3.0),
                })
                .collect(),
        }
    }
}

/// The height of the underside at a radius: the least height of the hull of the rings there, by
/// its support lines.
fn underside_mm(rings: &[Ring], gap_mm: f64, radius: f64) -> f64 {
    let mut best = f64::NEG_INFINITY;
    for step in 0..9000 {
        let angle = f64::from(step) * 1e-2_f64.to_radians();
        let (sin, cos) = angle.sin_cos();
        let reach =
            |ring: &Ring| ring.radius_mm * sin - ring.height_mm * cos + ring.ball_mm + gap_mm;
        let reach = rings.iter().map(reach).fold(f64::NEG_INFINITY, f64::max);
        best = best.max((radius * sin - reach) / cos);
    }
    best
}

#[test]
fn undersides_agree_with_their_support_lines() {
    let mut random = Random(11);
    for number in 0..300 {
        let rings = random.rings();
        let gap_mm = if random.below(2) == 0 {
            0.0
        } else {
            random.within(0.0, 2.0)
        };
        let stack = stack(rings.clone(), gap_mm);
        let underside = &stack.pieces[0].underside;
        for share in [0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97] {
            let radius = underside.radius_mm * share;
            let (ours, lines) = (
                underside.height_mm(radius),
                underside_mm(&rings, gap_mm, radius),
            );
            assert!(
                ours > lines - 1e-9,
                "{number} {rings:?} {radius}: {ours} {lines}"
            );
            assert!(
                ours < lines + 1e-2,
                "{number} {rings:?} {radius}: {ours} {lines}"
            );
            let least = stack.lowest_beyond_mm(radius);
            assert!(least <= ours, "{number} {radius}: {least} {ours}");
            let real = stack.real_mm(radius);
            assert!(real >= ours - 1e-12, "{number} {radius}: {real} {ours}");
        }
    }
}

/// The greatest touching height over a fine grid of the triangle.
fn searched_mm(stack: &Stack, t: &[Vec3; 3]) -> f64 {
    let count = 120;
    let mut best = f64::NEG_INFINITY;
    for i in 0..=count {
        for j in 0..=count - i {
            let (u, v) = (
                f64::from(i) / f64::from(count),
                f64::from(j) / f64::from(count),
            );
            let at = t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v;
            for piece in &stack.pieces {
                best = best.max(at.z - piece.underside.height_mm(at.x.hypot(at.y)));
            }
        }
    }
    best
}

#[test]
fn random_triangles_have_tight_brackets() {
    let mut random = Random(5);
    let (mut touched, mut widest) = (0, 0.0_f64);
    for number in 0..3000 {
        let (reach, size) = (random.within(0.0, 12.0), random.within(0.01, 20.0));
        let centre = random.vector(reach);
        let mut t = [0, 1, 2].map(|_| centre + random.vector(size));
        match random.below(5) {
            // Upright, level, and with a corner on the axis.
            0 => t[1] = t[0] + Vec3::new(0.0, 0.0, random.within(-9.0, 9.0)),
            1 => t.iter_mut().for_each(|c| c.z = centre.z),
            2 => (t[0].x, t[0].y) = (0.0, 0.0),
            _ => {}
        }
        let gap_mm = if random.below(2) == 0 {
            0.0
        } else {
            random.within(0.0, 2.0)
        };
        let stack = stack(random.rings(), gap_mm);
        let stop = stop_at(&stack, &[t], [0.0, 0.0]);
        let searched = searched_mm(&stack, &t);
        assert!(
            stop.hi_mm >= searched - 1e-10,
            "{number}: {stop:?} {searched} {t:?}"
        );
        assert!(
            stop.lo_mm >= searched - 1e-9,
            "{number}: {stop:?} {searched} {t:?}"
        );
        if stop.lo_mm > f64::NEG_INFINITY {
            touched += 1;
            let width = stop.hi_mm - stop.lo_mm;
            if width > 1e-8 {
                println!(
                    "{number}: {width:e} {stop:?} {t:?} {:?}",
                    stack.pieces[0].underside
                );
            }
            widest = widest.max(width);
        }
    }
    assert!(touched > 1500, "{touched}");
    assert!(widest < 1e-7, "{widest:e}");
}

fn rough_ground(random: &mut Random, side: u32) -> Soup {
    let count = side as usize + 1;
    let points: Vec<Vec3> = (0..count * count)
        .map(|at| {
            let (x, y) = ((at % count) as f64, (at / count) as f64);
            Vec3::new(x * 3.0, y * 3.0, random.within(0.0, 6.0))
        })
        .collect();
    let mut soup = Soup::new();
    for row in 0..count - 1 {
        for column in 0..count - 1 {
            let at = |i: usize, j: usize| points[(row + i) * count + column + j];
            soup.push([at(0, 0), at(0, 1), at(1, 1)]);
            soup.push([at(0, 0), at(1, 1), at(1, 0)]);
        }
    }
    soup
}

#[test]
fn the_search_finds_the_highest_stop_of_all_triangles() {
    let mut random = Random(23);
    for number in 0..60 {
        let mut soup = rough_ground(&mut random, 12);
        for _ in 0..6 {
            let centre = random.vector(40.0);
            soup.push([0, 1, 2].map(|_| centre + random.vector(30.0)));
        }
        let stack = Stack::new(&[
            element(&[random.rings()], 0.0),
            element(&[vec![Ring::disc(9.0, 12.0), Ring::disc(12.0, 40.0)]], 1.5),
        ])
        .unwrap();
        let land = landscape(&soup);
        for _ in 0..20 {
            let at = [random.within(-5.0, 45.0), random.within(-5.0, 45.0)];
            let shift = Vec3::new(at[0], at[1], 0.0);
            let mut alone = (f64::NEG_INFINITY, f64::NEG_INFINITY);
            for t in &soup {
                for piece in &stack.pieces {
                    let corners = t.map(|corner| corner - shift);
                    let stop = super::super::triangle::triangle_stop(
                        &piece.underside,
                        &corners,
                        100.0,
                        super::super::triangle::Aim::Over(f64::NEG_INFINITY),
                    );
                    alone = (alone.0.max(stop.lo_mm), alone.1.max(stop.hi_mm));
                }
            }
            let stop = tip_stop(&stack, &land, at, 0.0);
            assert!(
                (stop.lo_mm - alone.0).abs() < 1e-9,
                "{number} {at:?}: {stop:?} {alone:?}"
            );
            assert!(stop.hi_mm - stop.lo_mm < 1e-8, "{number}: {stop:?}");
            let coarse = tip_stop(&stack, &land, at, 0.5);
            assert!(coarse.lo_mm <= stop.hi_mm && coarse.hi_mm >= stop.lo_mm);
            assert!(coarse.hi_mm - coarse.lo_mm < 0.5 + 1e-8, "{coarse:?}");
            let free = |z: f64| tip_is_free(&stack, &land, &Vec3::new(at[0], at[1], z));
            assert_eq!(free(stop.hi_mm + 1e-9), Freedom::Free);
            let stopped = free(stop.lo_mm - 1e-9);
            assert!(matches!(stopped, Freedom::Stopped(_)), "{stopped:?}");
        }
    }
}

#[test]
fn a_larger_tool_never_comes_lower() {
    let mut random = Random(31);
    let soup = rough_ground(&mut random, 12);
    let land = landscape(&soup);
    for number in 0..300 {
        let at = [random.within(0.0, 36.0), random.within(0.0, 36.0)];
        let rings = random.rings();
        let larger: Vec<Ring> = rings
            .iter()
            .map(|ring| Ring {
                radius_mm: ring.radius_mm + 0.3,
                ..*ring
            })
            .collect();
        let before = tip_stop(&stack(rings.clone(), 0.0), &land, at, 0.0);
        let wider = tip_stop(&stack(larger, 0.0), &land, at, 0.0);
        assert!(
            wider.hi_mm >= before.lo_mm,
            "{number}: {wider:?} {before:?}"
        );
        let mut last = tip_stop(&stack(rings.clone(), -0.05), &land, at, 0.0);
        for gap_mm in [-0.01, 0.0, 0.5, 2.0] {
            let next = tip_stop(&stack(rings.clone(), gap_mm), &land, at, 0.0);
            assert!(
                next.hi_mm >= last.lo_mm,
                "{number} {gap_mm}: {next:?} {last:?}"
            );
            last = next;
        }
    }
}

#[test]
fn many_tips_are_answered_in_order() {
    let mut random = Random(47);
    let land = landscape(&rough_ground(&mut random, 12));
    let stack = stack(bull(3.0, 1.0), 0.1);
    let tips: Vec<Vec3> = (0..1000)
        .map(|_| {
            Vec3::new(
                random.within(0.0, 36.0),
                random.within(0.0, 36.0),
                random.within(0.0, 9.0),
            )
        })
        .collect();
    let answers = tips_are_free(&stack, &land, &tips);
    let alone: Vec<Freedom> = tips
        .iter()
        .map(|tip| tip_is_free(&stack, &land, tip))
        .collect();
    assert_eq!(answers, alone);
    let free = answers
        .iter()
        .filter(|answer| **answer == Freedom::Free)
        .count();
    assert!((100..900).contains(&free), "{free}");
}
