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

/// Whether a (tool, index) reaches a face: surely, or maybe.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Found {
    No,
    Maybe,
    Surely,
}

/// Which (tool, index) reaches which face.
type Table = Vec<[[Found; INDEXES]; TOOLS]>;

const INDEXES: usize = 4;
const TOOLS: usize = 3;

fn answer(table: &Table) -> ReachAnswer {
    let found = |index: usize, found: Found| IndexReach {
        index_deg: index as f64 * 90.0,
        share: match found {
            Found::No => Share::NONE,
            Found::Maybe => Share {
                certain: 0.9,
                undecided: 0.06,
            },
            Found::Surely => Share {
                certain: 0.95,
                undecided: 0.05,
            },
        },
        reasons: Vec::new(),
    };
    let tool = |number: usize, at: &[Found; INDEXES]| ToolReach {
        tool: number as u32,
        worst: Share::NONE,
        worst_seat: "1.1".to_owned(),
        seats: vec![SeatReach {
            seat: "1.1".to_owned(),
            best: None,
            indexes: (0..INDEXES).map(|i| found(i, at[i])).collect(),
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

fn is_reached(face: &[[Found; INDEXES]; TOOLS]) -> bool {
    face.iter().flatten().any(|found| *found == Found::Surely)
}

/// The least number of indexes, and with it of pairs, by trying every set of pairs.
fn exhaustive(table: &Table, counts: impl Fn(Found) -> bool) -> (usize, usize) {
    let pair = |bits: u32, t: usize, i: usize| bits & (1 << (t * INDEXES + i)) != 0;
    let covers = |bits: u32| {
        let mut faces = table.iter().filter(|face| is_reached(face));
        faces.all(|face| {
            (0..TOOLS).any(|t| (0..INDEXES).any(|i| counts(face[t][i]) && pair(bits, t, i)))
        })
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
    let mut less = 0;
    for case in 0..200 {
        let faces = 1 + random.below(9);
        let mut face = || {
            let mut tools = [[Found::No; INDEXES]; TOOLS];
            for at in tools.iter_mut().flatten() {
                *at = match random.below(8) {
                    0 | 1 => Found::Surely,
                    2 => Found::Maybe,
                    _ => Found::No,
                };
            }
            tools
        };
        let table: Table = (0..faces).map(|_| face()).collect();
        let choice = choose(&answer(&table), 0.95).unwrap();
        let found = (choice.indexes_deg.len(), choice.tools.len());
        assert_eq!(
            found,
            exhaustive(&table, |found| found == Found::Surely),
            "case {case} of seed 11: {table:?}"
        );
        assert_eq!(
            choice.indexes_at_least,
            exhaustive(&table, |found| found != Found::No).0,
            "case {case} of seed 11: {table:?}"
        );
        less += usize::from(choice.indexes_at_least < choice.indexes_deg.len());
        let reached = table.iter().filter(|face| is_reached(face)).count();
        assert_eq!(choice.reached, reached);
        assert_eq!(choice.not_reached.len(), table.len() - reached);
    }
    assert!(less > 10, "what is undecided must matter here: {less}");
}
