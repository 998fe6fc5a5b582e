//! The answer of `reach` as comma separated values.

use super::words;
use crate::answer::reach::model::{Bands, IndexReach, ReachAnswer};

/// A line for every face, tool, seat and index at which something is or may be reached, as comma
/// separated values (RFC 4180) with a heading.
///
/// Where bands were asked for there are three more columns, and lines of their own for the bands,
/// whose columns from `index_deg` to `main_reason` are empty: what over a band is (`reached`,
/// `undecided`), where it begins and where it ends.
///
/// Characters of names that only steer the direction of writing are replaced: a table program would
/// turn its cells round.
///
/// # Errors
/// A text where a value cannot be written; memory never refuses one.
pub fn reach_csv(answer: &ReachAnswer) -> Result<String, String> {
    let faces = || answer.parts.iter().flat_map(|part| &part.faces);
    let seats = || {
        faces()
            .flat_map(|face| &face.tools)
            .flat_map(|tool| &tool.seats)
    };
    let has_bands = seats().any(|seat| seat.bands.is_some());
    let columns = if has_bands {
        CSV_HEADING.len()
    } else {
        CSV_HEADING.len() - BAND_COLUMNS
    };
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut write = |line: [String; CSV_HEADING.len()]| {
        let line = line.map(|cell| crate::report::shown(&cell));
        let written = writer.write_record(&line[..columns]);
        written.map_err(|fault| fault.to_string())
    };
    write(CSV_HEADING.map(str::to_owned))?;
    for part in &answer.parts {
        for face in &part.faces {
            for tool in &face.tools {
                for seat in &tool.seats {
                    let place = [
                        part.part.clone(),
                        face.face.clone(),
                        face.area_mm2.to_string(),
                        tool.tool.to_string(),
                        seat.seat.clone(),
                    ];
                    seat.indexes
                        .iter()
                        .map(index_line)
                        .chain(seat.bands.iter().flat_map(band_lines))
                        .try_for_each(|values| write(csv_line(&place, values)))?;
                }
            }
        }
    }
    let bytes = writer.into_inner().map_err(|fault| fault.to_string())?;
    String::from_utf8(bytes).map_err(|fault| fault.to_string())
}

/// All columns.
const CSV_HEADING: [&str; 12] = [
    "part",
    "face",
    "area_mm2",
    "tool",
    "seat",
    "index_deg",
    "certain",
    "undecided",
    "main_reason",
    "band",
    "band_from_deg",
    "band_to_deg",
];

/// The last of them, which are there only with bands.
const BAND_COLUMNS: usize = 3;

/// A line: the face, the tool and the seat, then what is told about them.
fn csv_line(place: &[String; 5], values: [String; 7]) -> [String; 12] {
    let mut columns = place.iter().cloned().chain(values);
    std::array::from_fn(|_| columns.next().unwrap_or_default())
}

fn index_line(found: &IndexReach) -> [String; 7] {
    let reason = found.reasons.first();
    let none = String::new;
    [
        found.index_deg.to_string(),
        found.share.certain.to_string(),
        found.share.undecided.to_string(),
        reason.map(|share| words(&share.reason)).unwrap_or_default(),
        none(),
        none(),
        none(),
    ]
}

fn band_lines(bands: &Bands) -> impl Iterator<Item = [String; 7]> + '_ {
    let line = |what: &str, [from, to]: &[f64; 2]| {
        let none = String::new;
        let band = [what.to_owned(), from.to_string(), to.to_string()];
        let [what, from, to] = band;
        [none(), none(), none(), none(), what, from, to]
    };
    let reached = bands
        .reached_deg
        .iter()
        .map(move |band| line("reached", band));
    let undecided = bands.undecided_deg.iter();
    reached.chain(undecided.map(move |band| line("undecided", band)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::reach::model::{FaceReach, PartReach, SeatReach, Share, ToolReach};

    fn answer(bands: Option<Bands>) -> ReachAnswer {
        let index = IndexReach {
            index_deg: 90.0,
            share: Share::NONE,
            reasons: Vec::new(),
        };
        let seat = SeatReach {
            seat: "1.1".to_owned(),
            best: None,
            indexes: vec![index],
            reason: None,
            bands,
        };
        let tool = ToolReach {
            tool: 3,
            worst: Share::NONE,
            worst_seat: "1.1".to_owned(),
            seats: vec![seat],
        };
        let face = FaceReach {
            face: "flat-1".to_owned(),
            area_mm2: 40.0,
            tools: vec![tool],
        };
        ReachAnswer {
            title: String::new(),
            machine: String::new(),
            sense_declared: true,
            tools: Vec::new(),
            indexes_deg: vec![90.0],
            parts: vec![PartReach {
                part: "part, left".to_owned(),
                state: "finished".to_owned(),
                faces: vec![face],
                other_faces: 0,
                other_area_mm2: 0.0,
            }],
            assumes: Vec::new(),
            doubts: Vec::new(),
        }
    }

    #[test]
    fn bands_have_lines_and_columns_of_their_own() {
        let bands = Bands {
            reached_deg: vec![[80.0, 100.5], [350.0, 370.0]],
            undecided_deg: vec![[100.5, 100.51]],
        };
        let told = reach_csv(&answer(Some(bands))).unwrap();
        let mut reader = csv::Reader::from_reader(told.as_bytes());
        assert_eq!(reader.headers().unwrap(), &CSV_HEADING[..]);
        let lines: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let place = ["part, left", "flat-1", "40", "3", "1.1"];
        let wanted = [
            ["90", "0", "0", "", "", "", ""],
            ["", "", "", "", "reached", "80", "100.5"],
            ["", "", "", "", "reached", "350", "370"],
            ["", "", "", "", "undecided", "100.5", "100.51"],
        ];
        assert_eq!(lines.len(), wanted.len(), "{told}");
        for (line, wanted) in lines.iter().zip(wanted) {
            assert_eq!(line, [&place[..], &wanted[..]].concat());
        }
    }

    #[test]
    fn without_bands_there_are_no_columns_for_them() {
        let told = reach_csv(&answer(None)).unwrap();
        assert!(!told.contains("band"), "{told}");
        assert_eq!(
            told.lines().nth(1),
            Some("\"part, left\",flat-1,40,3,1.1,90,0,0,")
        );
    }
}
