//! Triangles seen along one direction: cells of a grid with their greatest heights, and a pyramid
//! of greatest heights over them.

use crate::value::Vec3;

/// A vertex that is not there.
pub(super) const NOTHING: u32 = u32::MAX;

/// A triangle in a cell, with the greatest height that it has over the cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item {
    pub triangle: u32,
    pub top_mm: f32,
}

/// One layer of the pyramid; the lowest one is the cells.
#[derive(Debug, Default)]
pub(super) struct Level {
    pub columns: usize,
    pub rows: usize,
    /// Greatest height over each node, rounded up; minus infinity where nothing is.
    pub tops_mm: Vec<f32>,
    /// The highest vertex over each node.
    pub peaks: Vec<u32>,
}

/// Triangles with their cells. Heights count along z.
#[derive(Debug, Default)]
pub(super) struct Field {
    pub corners: Vec<Vec3>,
    pub triangles: Vec<[u32; 3]>,
    /// A triangle that has the vertex.
    pub triangle_of_corner: Vec<u32>,
    pub low: [f64; 2],
    pub cell_mm: f64,
    pub levels: Vec<Level>,
    starts: Vec<u32>,
    items: Vec<Item>,
    /// Greatest coordinate.
    pub size_mm: f64,
}

/// Items for each triangle that a grid may cost.
const ITEMS_EACH: f64 = 5.0;

/// Share of a cell by which a triangle's cells are taken more widely than it is.
const WIDER: f64 = 1e-6;

impl Field {
    /// Sorts triangles into cells.
    pub(super) fn new(corners: Vec<Vec3>, triangles: Vec<[u32; 3]>) -> Self {
        let mut field = Self {
            triangle_of_corner: vec![NOTHING; corners.len()],
            size_mm: corners.iter().map(|c| c.amax()).fold(0.0, f64::max),
            corners,
            triangles,
            ..Self::default()
        };
        for (number, triangle) in field.triangles.iter().enumerate() {
            for &corner in triangle {
                field.triangle_of_corner[corner as usize] = number as u32;
            }
        }
        if !field.triangles.is_empty() {
            let grid = Grid::over(&field);
            field.low = grid.low;
            field.cell_mm = grid.cell_mm;
            field.fill(&grid);
            field.raise();
        }
        field
    }

    pub(super) fn triangle(&self, number: u32) -> [Vec3; 3] {
        self.triangles[number as usize].map(|corner| self.corners[corner as usize])
    }

    /// The triangles of a cell, the highest first.
    pub(super) fn items(&self, cell: usize) -> &[Item] {
        &self.items[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    fn fill(&mut self, grid: &Grid) {
        let cells = grid.columns * grid.rows;
        let mut found: Vec<(u32, Item)> = Vec::with_capacity(self.triangles.len() * 3);
        for number in 0..self.triangles.len() as u32 {
            grid.cover(&self.triangle(number), self.size_mm, |cell, top| {
                let top_mm = up(top);
                found.push((
                    cell as u32,
                    Item {
                        triangle: number,
                        top_mm,
                    },
                ));
            });
        }
        let mut starts = vec![0_u32; cells + 1];
        for (cell, _) in &found {
            starts[*cell as usize + 1] += 1;
        }
        for cell in 0..cells {
            starts[cell + 1] += starts[cell];
        }
        let mut next = starts.clone();
        let nothing = Item {
            triangle: NOTHING,
            top_mm: 0.0,
        };
        let mut items = vec![nothing; found.len()];
        for (cell, item) in found {
            items[next[cell as usize] as usize] = item;
            next[cell as usize] += 1;
        }
        let mut tops_mm = vec![f32::NEG_INFINITY; cells];
        for cell in 0..cells {
            let of_cell = &mut items[starts[cell] as usize..starts[cell + 1] as usize];
            of_cell.sort_unstable_by(|p, q| {
                q.top_mm
                    .total_cmp(&p.top_mm)
                    .then(p.triangle.cmp(&q.triangle))
            });
            if let Some(first) = of_cell.first() {
                tops_mm[cell] = first.top_mm;
            }
        }
        let mut peaks = vec![NOTHING; cells];
        for (number, corner) in self.corners.iter().enumerate() {
            if self.triangle_of_corner[number] != NOTHING {
                let cell = grid.row(corner.y) * grid.columns + grid.column(corner.x);
                peaks[cell] = self.higher(peaks[cell], number as u32);
            }
        }
        (self.starts, self.items) = (starts, items);
        self.levels = vec![Level {
            columns: grid.columns,
            rows: grid.rows,
            tops_mm,
            peaks,
        }];
    }

    fn higher(&self, one: u32, other: u32) -> u32 {
        if one == NOTHING {
            return other;
        }
        if other == NOTHING || self.corners[one as usize].z >= self.corners[other as usize].z {
            one
        } else {
            other
        }
    }

    /// Four nodes to one, up to a single one.
    fn raise(&mut self) {
        while let Some(below) = self.levels.last().filter(|l| l.columns * l.rows > 1) {
            let (columns, rows) = (below.columns.div_ceil(2), below.rows.div_ceil(2));
            let mut level = Level {
                columns,
                rows,
                tops_mm: vec![f32::NEG_INFINITY; columns * rows],
                peaks: vec![NOTHING; columns * rows],
            };
            for row in 0..below.rows {
                for column in 0..below.columns {
                    let (from, to) = (row * below.columns + column, row / 2 * columns + column / 2);
                    level.tops_mm[to] = level.tops_mm[to].max(below.tops_mm[from]);
                    level.peaks[to] = self.higher(level.peaks[to], below.peaks[from]);
                }
            }
            self.levels.push(level);
        }
    }
}

/// The least single-precision number that is not less.
fn up(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) < value {
        near.next_up()
    } else {
        near
    }
}

/// Where the cells lie.
struct Grid {
    low: [f64; 2],
    cell_mm: f64,
    columns: usize,
    rows: usize,
}

impl Grid {
    /// A grid with about as many cells as triangles, coarser where these are long.
    fn over(field: &Field) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let (mut widths, mut areas) = (0.0, 0.0);
        for number in 0..field.triangles.len() as u32 {
            let t = field.triangle(number);
            let mut sides = [0.0; 2];
            for axis in 0..2 {
                let from = t[0][axis].min(t[1][axis]).min(t[2][axis]);
                let to = t[0][axis].max(t[1][axis]).max(t[2][axis]);
                low[axis] = low[axis].min(from);
                high[axis] = high[axis].max(to);
                sides[axis] = to - from;
            }
            widths += sides[0] + sides[1];
            areas += 0.5 * sides[0] * sides[1];
        }
        let count = field.triangles.len() as f64;
        let sides = [high[0] - low[0], high[1] - low[1]];
        let least_mm = (sides[0].max(sides[1]) / 4000.0).max(1e-6);
        let mut cell_mm = (sides[0] * sides[1] / count).sqrt().max(least_mm);
        while widths / cell_mm + areas / (cell_mm * cell_mm) > (ITEMS_EACH - 1.0) * count {
            cell_mm *= 1.25;
        }
        let cells = |side: f64| (side / cell_mm) as usize + 1;
        Self {
            low,
            cell_mm,
            columns: cells(sides[0]),
            rows: cells(sides[1]),
        }
    }

    fn column(&self, x: f64) -> usize {
        (((x - self.low[0]) / self.cell_mm).max(0.0) as usize).min(self.columns - 1)
    }

    fn row(&self, y: f64) -> usize {
        (((y - self.low[1]) / self.cell_mm).max(0.0) as usize).min(self.rows - 1)
    }

    /// Every cell that a triangle lies over, with the greatest height over it.
    fn cover(&self, t: &[Vec3; 3], size_mm: f64, mut each: impl FnMut(usize, f64)) {
        let wider = WIDER * self.cell_mm;
        let least = |axis: usize| t[0][axis].min(t[1][axis]).min(t[2][axis]) - wider;
        let most = |axis: usize| t[0][axis].max(t[1][axis]).max(t[2][axis]) + wider;
        let (first_row, last_row) = (self.row(least(1)), self.row(most(1)));
        let (first, last) = (self.column(least(0)), self.column(most(0)));
        let highest = t[0].z.max(t[1].z).max(t[2].z);
        if first_row == last_row && first == last {
            return each(first_row * self.columns + first, highest);
        }
        let plane = Plane::of(t, self.cell_mm * 0.5, size_mm);
        for row in first_row..=last_row {
            let (mut from, mut to) = (first, last);
            if first_row != last_row && first != last {
                let low_y = self.low[1] + row as f64 * self.cell_mm - wider;
                let (left, right) = across(t, low_y, low_y + self.cell_mm + 2.0 * wider);
                if left > right {
                    continue;
                }
                from = self.column(left - wider).max(first);
                to = self.column(right + wider).min(last);
            }
            let y = self.low[1] + (row as f64 + 0.5) * self.cell_mm;
            for column in from..=to {
                let x = self.low[0] + (column as f64 + 0.5) * self.cell_mm;
                each(row * self.columns + column, highest.min(plane.top_mm(x, y)));
            }
        }
    }
}

/// Least and greatest x of a triangle between two values of y.
fn across(t: &[Vec3; 3], low_y: f64, high_y: f64) -> (f64, f64) {
    let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..3 {
        let (a, b) = (&t[i], &t[(i + 1) % 3]);
        if (low_y..=high_y).contains(&a.y) {
            left = left.min(a.x);
            right = right.max(a.x);
        }
        for limit in [low_y, high_y] {
            if (a.y < limit) != (b.y < limit) {
                let x = a.x + (b.x - a.x) * ((limit - a.y) / (b.y - a.y));
                left = left.min(x);
                right = right.max(x);
            }
        }
    }
    (left, right)
}

/// The plane of a triangle, raised by as much as it rises within a cell.
struct Plane {
    slope: [f64; 2],
    base_mm: f64,
}

impl Plane {
    fn of(t: &[Vec3; 3], half_mm: f64, size_mm: f64) -> Self {
        let normal = (t[1] - t[0]).cross(&(t[2] - t[0]));
        let slope = [-normal.x / normal.z, -normal.y / normal.z];
        let steep = slope[0].abs() + slope[1].abs();
        if steep < 1e3 {
            // Rounding of a sliver's normal turns the plane about the sliver: its corners are held.
            let wider = half_mm * (1.0 + 4.0 * WIDER);
            let above = |c: &Vec3| c.z - slope[0] * c.x - slope[1] * c.y;
            let base = above(&t[0]).max(above(&t[1])).max(above(&t[2]));
            Self {
                slope,
                base_mm: base + steep * wider + 1e-12 * size_mm * (1.0 + steep),
            }
        } else {
            Self {
                slope: [0.0; 2],
                base_mm: f64::INFINITY,
            }
        }
    }

    fn top_mm(&self, x: f64, y: f64) -> f64 {
        self.base_mm + self.slope[0] * x + self.slope[1] * y
    }
}
