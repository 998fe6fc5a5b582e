//! The fewest indexes against exhaustive search.

use lapidary::answer::reach::choice::choose;
use lapidary::answer::reach::model::{
    FaceReach, IndexReach, PartReach, ReachAnswer, SeatReach, Share, ToolReach,
};

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
struct Random(u64);

impl Random {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % limit
    }
}

/// Which (tool, index) reaches which face.
type Table = Vec<[[bool; INDEXES]; TOOLS]>;

const INDEXES: usize = 4;
const TOOLS: usize = 3;

fn answer(table: &Table) -> ReachAnswer {
    let found = |index: usize| IndexReach {
        index_deg: index as f64 * 90.0,
        share: Share {
            certain: 1.0,
            undecided: 0.0,
        },
        reasons: Vec::new(),
    };
    let tool = |number: usize, at: &[bool; INDEXES]| ToolReach {
        tool: number as u32,
        worst: Share::NONE,
        worst_seat: "1.1".to_owned(),
        seats: vec![SeatReach {
            seat: "1.1".to_owned(),
            best: None,
            indexes: (0..INDEXES).filter(|&i| at[i]).map(found).collect(),
            reason: None,
            bands: None,
        }],
    };
    let faces = table.iter().enumerate().map(|(number, tools)| FaceReach {
        face: format!("flat-{number}"),
        area_mm2: 100.0,
        tools: tools
            .iter()
            .enumerate()
            .map(|(t, at)| tool(t, at))
            .collect(),
    });
    ReachAnswer {
        title: String::new(),
        machine: String::new(),
        sense_declared: true,
        tools: Vec::new(),
        indexes_deg: (0..INDEXES).map(|index| index as f64 * 90.0).collect(),
        parts: vec![PartReach {
            part: "housing".to_owned(),
            state: "finished".to_owned(),
            faces: faces.collect(),
            other_faces: 0,
            other_area_mm2: 0.0,
        }],
        assumes: Vec::new(),
        doubts: Vec::new(),
    }
}

/// The least number of indexes, and with it of pairs, by trying every set of pairs.
fn exhaustive(table: &Table) -> (usize, usize) {
    let pair = |bits: u32, t: usize, i: usize| bits & (1 << (t * INDEXES + i)) != 0;
    let reachable = |face: &[[bool; INDEXES]; TOOLS]| face.iter().flatten().any(|&reaches| reaches);
    let covers = |bits: u32| {
        table
            .iter()
            .filter(|face| reachable(face))
            .all(|face| (0..TOOLS).any(|t| (0..INDEXES).any(|i| face[t][i] && pair(bits, t, i))))
    };
    (0..1_u32 << (TOOLS * INDEXES))
        .filter(|&bits| covers(bits))
        .map(|bits| {
            let used = (0..INDEXES).filter(|&i| (0..TOOLS).any(|t| pair(bits, t, i)));
            (used.count(), bits.count_ones() as usize)
        })
        .min()
        .unwrap()
}

#[test]
fn as_few_as_an_exhaustive_search_finds() {
    let mut random = Random(11);
    for case in 0..200 {
        let faces = 1 + random.below(9);
        let mut face = || {
            let mut tools = [[false; INDEXES]; TOOLS];
            for at in tools.iter_mut().flatten() {
                *at = random.below(4) == 0;
            }
            tools
        };
        let table: Table = (0..faces).map(|_| face()).collect();
        let choice = choose(&answer(&table), 0.95).unwrap();
        let found = (choice.indexes_deg.len(), choice.tools.len());
        assert_eq!(
            found,
            exhaustive(&table),
            "case {case} of seed 11: {table:?}"
        );
        let reached = table
            .iter()
            .filter(|face| face.iter().flatten().any(|&r| r))
            .count();
        assert_eq!(choice.reached, reached);
        assert_eq!(choice.not_reached.len(), table.len() - reached);
    }
}
