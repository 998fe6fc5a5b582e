//! Facets: triangles that lie in one plane, gathered before faces grow, so that no face depends on
//! how a plane was cut into triangles.

use super::bonds::NONE;
use super::corners::{Corner, corners};
use super::geo::{Geo, Rim, Shape};
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;
use rayon::prelude::*;

/// The facets of a mesh, with their sizes, corners and neighbours.
///
/// Everything that grows faces works on these; [`Rim`]s told here name facets, not triangles.
pub(super) struct Facets<'a> {
    pub(super) geo: &'a Geo,
    /// Facet of each triangle.
    pub(super) of_triangle: Vec<u32>,
    pub(super) shape: Vec<Shape>,
    centre: Vec<Point3<f64>>,
    triangles: Lists<u32>,
    corners: Lists<Corner>,
    links: Lists<Link>,
}

/// A neighbour of a facet.
#[derive(Clone, Copy)]
pub(super) struct Link {
    pub(super) facet: u32,
    /// Length of all edges that the two share.
    pub(super) length_mm: f64,
}

/// Many short lists, one after the other.
pub(super) struct Lists<T> {
    start: Vec<u32>,
    items: Vec<T>,
}

impl<T: Copy> Lists<T> {
    /// From pairs of list and item, in any order; items keep theirs within a list.
    pub(super) fn new(count: usize, pairs: &[(u32, T)]) -> Self {
        let mut start = vec![0_u32; count + 1];
        for (list, _) in pairs {
            start[*list as usize + 1] += 1;
        }
        for list in 0..count {
            start[list + 1] += start[list];
        }
        let mut next = start.clone();
        let mut items: Vec<T> = pairs.iter().map(|(_, item)| *item).collect();
        for (list, item) in pairs {
            items[next[*list as usize] as usize] = *item;
            next[*list as usize] += 1;
        }
        Self { start, items }
    }

    pub(super) fn of(&self, list: u32) -> &[T] {
        let [from, to] = [self.start[list as usize], self.start[list as usize + 1]];
        &self.items[from as usize..to as usize]
    }
}

/// Height of a triangle, in steps of rounding, below which its normal says nothing.
const BLUR: f64 = 50.0;

/// Cosine between the normals of triangles of one plane: far less than rounding leaves it at.
const FACING: f64 = 0.9;

impl<'a> Facets<'a> {
    /// Gathers triangles whose corners lie within `off_mm` of one plane.
    pub(super) fn new(geo: &'a Geo, off_mm: f64) -> Self {
        let (of_triangle, members, planes) = gather(geo, off_mm);
        let count = planes.len();
        let triangles = Lists::new(count, &members);
        let sized = |facet: u32| sizes(geo, triangles.of(facet), planes[facet as usize]);
        let each = (0..index_u32(count)).into_par_iter().map(sized);
        let (shape, centre) = each.unzip();
        let mut this = Self {
            geo,
            of_triangle,
            shape,
            centre,
            triangles,
            corners: Lists::new(0, &[]),
            links: Lists::new(0, &[]),
        };
        this.links = this.find_links();
        this.corners = corners(&this);
        this
    }

    pub(super) fn len(&self) -> usize {
        self.shape.len()
    }

    pub(super) fn triangles(&self, facet: u32) -> &[u32] {
        self.triangles.of(facet)
    }

    /// Its corners; vertices inside a facet, or on a straight edge between two, are none.
    pub(super) fn corners(&self, facet: u32) -> &[Corner] {
        self.corners.of(facet)
    }

    /// Where its corners are.
    pub(super) fn points(&self, facet: u32) -> impl Iterator<Item = Point3<f64>> + '_ {
        let corners = self.corners.of(facet).iter();
        corners.map(|corner| self.at(corner))
    }

    pub(super) fn at(&self, corner: &Corner) -> Point3<f64> {
        self.geo.canon.vertices[corner.vertex as usize]
    }

    pub(super) fn centre(&self, facet: u32) -> Point3<f64> {
        self.centre[facet as usize]
    }

    /// Its neighbours.
    pub(super) fn links(&self, facet: u32) -> &[Link] {
        self.links.of(facet)
    }

    /// Its neighbours by number.
    pub(super) fn of(&self, facet: u32) -> impl Iterator<Item = u32> + '_ {
        self.links.of(facet).iter().map(|link| link.facet)
    }

    pub(super) fn area_mm2(&self, facets: &[u32]) -> f64 {
        let areas = facets.iter().map(|f| self.shape[*f as usize].area_mm2);
        areas.sum()
    }

    /// In how many triangles the facets would be cut, if nothing but their corners were there.
    pub(super) fn least_triangles(&self, facets: &[u32]) -> usize {
        let least = |f: &u32| self.corners(*f).len().saturating_sub(2).max(1);
        facets.iter().map(least).sum()
    }

    /// Cosine of the angle by which the surface turns from one facet to another.
    pub(super) fn turn_cos(&self, one: u32, two: u32) -> f64 {
        let normal = |facet: u32| self.shape[facet as usize].normal;
        normal(one).dot(&normal(two))
    }

    /// How far a facet reaches from an edge of it.
    pub(super) fn width_mm(&self, facet: u32, from: Point3<f64>, to: Point3<f64>) -> f64 {
        let along = (to - from).normalize();
        let corners = self.corners(facet);
        if corners.len() > MANY_CORNERS {
            return self.shape[facet as usize].area_mm2.sqrt();
        }
        let off = |p: Point3<f64>| (p - from).cross(&along).norm();
        self.points(facet).map(off).fold(0.0, f64::max)
    }

    /// Each edge of a region of facets whose other facet is not in it.
    pub(super) fn rims(
        &self,
        region: &[u32],
        within: impl Fn(u32) -> bool,
        mut visit: impl FnMut(&Rim),
    ) {
        for &inside in region {
            for &triangle in self.triangles(inside) {
                let corners = self.geo.corners(triangle);
                for corner in 0..3 {
                    let outside = self.over(triangle, corner);
                    if outside == inside || (outside != NONE && within(outside)) {
                        continue;
                    }
                    let (from, to) = (corners[corner], corners[(corner + 1) % 3]);
                    visit(&Rim {
                        from,
                        to,
                        inside,
                        outside,
                    });
                }
            }
        }
    }

    /// Facet behind the edge of a triangle from corner `corner` to the next.
    pub(super) fn over(&self, triangle: u32, corner: usize) -> u32 {
        match self.geo.bonds.over(triangle, corner) {
            NONE => NONE,
            other => self.of_triangle[other as usize],
        }
    }

    /// Edges of a facet: what is behind, and its vertices.
    pub(super) fn outline(&self, facet: u32) -> impl Iterator<Item = (u32, u32, u32)> + '_ {
        let edges = move |triangle: &u32| {
            let triangle = *triangle;
            let vertices = self.geo.canon.triangles[triangle as usize];
            let edge = move |corner: usize| {
                let behind = self.over(triangle, corner);
                (behind, vertices[corner], vertices[(corner + 1) % 3])
            };
            (0..3).map(edge)
        };
        let all = self.triangles(facet).iter().flat_map(edges);
        all.filter(move |(behind, ..)| *behind != facet)
    }

    fn find_links(&self) -> Lists<Link> {
        let all = (0..index_u32(self.len())).into_par_iter();
        let of = |facet: u32| {
            self.links_of(facet)
                .into_iter()
                .map(move |link| (facet, link))
        };
        let links: Vec<(u32, Link)> = all.flat_map_iter(of).collect();
        Lists::new(self.len(), &links)
    }

    fn links_of(&self, facet: u32) -> Vec<Link> {
        let at = |vertex: u32| self.geo.canon.vertices[vertex as usize];
        let edges = self.outline(facet).filter(|(behind, ..)| *behind != NONE);
        let over_edges = edges.map(|(behind, from, to)| Link {
            facet: behind,
            length_mm: (at(to) - at(from)).norm(),
        });
        let seams = self.triangles(facet).iter();
        let beyond = seams.flat_map(|triangle| self.geo.bonds.over_seam(*triangle));
        let over_seams = beyond.map(|triangle| Link {
            facet: self.of_triangle[*triangle as usize],
            length_mm: 0.0,
        });
        let mut links: Vec<Link> = over_edges.chain(over_seams).collect();
        links.retain(|link| link.facet != facet);
        links.sort_by_key(|link| link.facet);
        links.dedup_by(|next, kept| {
            let same = next.facet == kept.facet;
            kept.length_mm += if same { next.length_mm } else { 0.0 };
            same
        });
        links
    }
}

/// Facets with more corners than this are wide, however they lie.
const MANY_CORNERS: usize = 64;

/// Facet of each triangle; pairs of facet and triangle; the normal of each facet.
type Gathered = (Vec<u32>, Vec<(u32, u32)>, Vec<Vec3>);

/// From the largest triangle down: its plane is known best.
fn gather(geo: &Geo, off_mm: f64) -> Gathered {
    // Areas are not negative, so that their bits are in the same order.
    let down = |(shape, triangle): (&Shape, u32)| (!shape.area_mm2.to_bits(), triangle);
    let mut order: Vec<(u64, u32)> = geo.shape.iter().zip(0..).map(down).collect();
    order.par_sort_unstable();
    let mut of_triangle = vec![NONE; geo.len()];
    let mut members = Vec::with_capacity(geo.len());
    let mut planes = Vec::new();
    let mut region: Vec<u32> = Vec::new();
    for (_, seed) in order {
        if of_triangle[seed as usize] != NONE {
            continue;
        }
        let facet = index_u32(planes.len());
        of_triangle[seed as usize] = facet;
        region.clear();
        region.push(seed);
        let mut plane = plane_of(geo, &region);
        // A second look, with the plane of all that was found.
        for _ in 0..2 {
            let before = region.len();
            let mut next = 0;
            while next < region.len() {
                for other in geo.bonds.of(region[next]) {
                    let free = of_triangle[other as usize] == NONE;
                    if free && lies_in(geo, plane, other, off_mm) {
                        of_triangle[other as usize] = facet;
                        region.push(other);
                    }
                }
                next += 1;
            }
            if region.len() == before {
                break;
            }
            plane = plane_of(geo, &region);
        }
        planes.push(plane.1);
        members.extend(region.iter().map(|triangle| (facet, *triangle)));
    }
    (of_triangle, members, planes)
}

/// Area centre and area-weighted normal.
fn plane_of(geo: &Geo, region: &[u32]) -> (Point3<f64>, Vec3) {
    let (mut normal, mut moment, mut area) = (Vec3::zeros(), Vec3::zeros(), 0.0);
    for &triangle in region {
        let shape = &geo.shape[triangle as usize];
        normal += shape.normal * shape.area_mm2;
        moment += geo.centre(triangle).coords * shape.area_mm2;
        area += shape.area_mm2;
    }
    let normal = normal / normal.norm().max(f64::MIN_POSITIVE);
    (Point3::from(moment / area.max(f64::MIN_POSITIVE)), normal)
}

fn lies_in(geo: &Geo, (point, normal): (Point3<f64>, Vec3), triangle: u32, off_mm: f64) -> bool {
    let shape = &geo.shape[triangle as usize];
    let faces = shape.normal.dot(&normal) >= FACING || shape.altitude_mm < BLUR * off_mm;
    let corners = geo.corners(triangle);
    faces
        && corners
            .iter()
            .all(|p| (p - point).dot(&normal).abs() <= off_mm)
}

fn sizes(geo: &Geo, triangles: &[u32], normal: Vec3) -> (Shape, Point3<f64>) {
    let (mut moment, mut area_mm2, mut altitude_mm) = (Vec3::zeros(), 0.0, 0.0_f64);
    for &triangle in triangles {
        let shape = &geo.shape[triangle as usize];
        moment += geo.centre(triangle).coords * shape.area_mm2;
        area_mm2 += shape.area_mm2;
        altitude_mm = altitude_mm.max(shape.altitude_mm);
    }
    let shape = Shape {
        normal,
        area_mm2,
        altitude_mm,
    };
    (
        shape,
        Point3::from(moment / area_mm2.max(f64::MIN_POSITIVE)),
    )
}
