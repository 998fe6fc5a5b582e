//! ASCII STL: a token reader that keeps every solid and forgives case, tabs, and line ends.

use super::fault::{FaultKind, FaultLog, Place};
use super::weld::Welder;

/// Typical bytes of a triangle in text, to size the tables.
const BYTES_PER_TRIANGLE: usize = 200;

/// Reads all solids of a text that starts with `solid`.
pub(super) fn read_ascii(
    bytes: &[u8],
    mm_per_unit: f64,
    log: &mut FaultLog,
) -> (Welder, Vec<String>) {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut reader = AsciiReader {
        tokens: Tokens {
            bytes,
            at: 0,
            line: 1,
        },
        mm_per_unit,
        welder: Welder::with_capacity(bytes.len() / BYTES_PER_TRIANGLE),
        solids: Vec::new(),
        log,
    };
    reader.solids();
    (reader.welder, reader.solids)
}

/// Bytes as text: UTF-8 where valid, otherwise latin-1; without control characters.
pub(super) fn decode(bytes: &[u8]) -> String {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    };
    text.replace(char::is_control, " ").trim().to_owned()
}

/// Whitespace-separated words with their lines; CR, LF and CRLF each end one line.
struct Tokens<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> Tokens<'a> {
    /// The next word and its line; none at the end of the text.
    fn next(&mut self) -> Option<(&'a [u8], u64)> {
        while let Some(&byte) = self.bytes.get(self.at) {
            match byte {
                b'\n' => self.line += u64::from(self.at == 0 || self.bytes[self.at - 1] != b'\r'),
                b'\r' => self.line += 1,
                b' ' | b'\t' | 0x0B | 0x0C => {}
                _ => break,
            }
            self.at += 1;
        }
        let start = self.at;
        while self.bytes.get(self.at).is_some_and(|&byte| !is_space(byte)) {
            self.at += 1;
        }
        (start < self.at).then(|| (&self.bytes[start..self.at], self.line))
    }

    /// The next word, left in place.
    fn peek(&mut self) -> Option<(&'a [u8], u64)> {
        let token = self.next()?;
        self.at -= token.0.len();
        Some(token)
    }

    /// What is left of this line.
    fn rest_of_line(&mut self) -> &'a [u8] {
        let start = self.at;
        while self
            .bytes
            .get(self.at)
            .is_some_and(|byte| !matches!(byte, b'\n' | b'\r'))
        {
            self.at += 1;
        }
        &self.bytes[start..self.at]
    }
}

fn is_space(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\n' | b'\r' | 0x0B | 0x0C)
}

/// A fault was noted; the reader looks for the next facet.
struct Noted;

struct AsciiReader<'a, 'l> {
    tokens: Tokens<'a>,
    mm_per_unit: f64,
    welder: Welder,
    solids: Vec<String>,
    log: &'l mut FaultLog,
}

impl AsciiReader<'_, '_> {
    fn solids(&mut self) {
        while let Some((word, line)) = self.tokens.next() {
            if word.eq_ignore_ascii_case(b"solid") {
                self.solids.push(decode(self.tokens.rest_of_line()));
                self.facets_of_solid(line);
            } else {
                self.outside_of_solids(word, line);
            }
        }
    }

    /// Text between or after solids: ignored with a warning, unless it is geometry.
    fn outside_of_solids(&mut self, word: &[u8], line: u64) {
        const GEOMETRY: [&[u8]; 7] = [
            b"facet",
            b"outer",
            b"loop",
            b"vertex",
            b"endloop",
            b"endfacet",
            b"endsolid",
        ];
        let kind = if GEOMETRY
            .iter()
            .any(|known| word.eq_ignore_ascii_case(known))
        {
            FaultKind::BadSyntax
        } else {
            FaultKind::TrailingBytes
        };
        let shown = decode(word);
        self.log.add(kind, Place::Line(line), || {
            format!("\"{shown}\" stands outside any solid")
        });
    }

    fn facets_of_solid(&mut self, start_line: u64) {
        loop {
            let Some((word, line)) = self.tokens.peek() else {
                self.log
                    .add(FaultKind::Truncated, Place::Line(self.tokens.line), || {
                        format!(
                            "the text ends, but the solid of line {start_line} has no \"endsolid\""
                        )
                    });
                return;
            };
            if word.eq_ignore_ascii_case(b"endsolid") {
                self.tokens.next();
                self.tokens.rest_of_line();
                return;
            }
            if word.eq_ignore_ascii_case(b"solid") {
                self.log.add(FaultKind::Truncated, Place::Line(line), || {
                    format!("a solid starts, but that of line {start_line} has no \"endsolid\"")
                });
                return;
            }
            if self.facet().is_err() {
                self.skip_to_next_facet();
            }
        }
    }

    fn facet(&mut self) -> Result<(), Noted> {
        let line = self.keyword(b"facet")?;
        self.normal()?;
        self.keyword(b"outer")?;
        self.keyword(b"loop")?;
        let corners_mm = [self.vertex()?, self.vertex()?, self.vertex()?];
        self.keyword(b"endloop")?;
        self.keyword(b"endfacet")?;
        // A coordinate that could not be read is noted already; the facet adds nothing to that.
        if let [Some(a), Some(b), Some(c)] = corners_mm {
            self.welder.add([a, b, c], self.log, || Place::Line(line));
        }
        Ok(())
    }

    /// Skips the normal, which may hold anything: some writers leave "nan" there.
    fn normal(&mut self) -> Result<(), Noted> {
        for _ in 0..4 {
            match self.tokens.peek() {
                Some((word, _)) if word.eq_ignore_ascii_case(b"outer") => break,
                Some(_) => self.tokens.next(),
                None => return Err(self.text_ends("outer loop")),
            };
        }
        Ok(())
    }

    /// A vertex; `None` within if a coordinate was noted as bad.
    fn vertex(&mut self) -> Result<Option<[f64; 3]>, Noted> {
        self.keyword(b"vertex")?;
        let (x, y, z) = (self.coordinate()?, self.coordinate()?, self.coordinate()?);
        Ok(x.zip(y)
            .zip(z)
            .map(|((x, y), z)| [x, y, z].map(|v| v * self.mm_per_unit)))
    }

    fn coordinate(&mut self) -> Result<Option<f64>, Noted> {
        let Some((word, line)) = self.tokens.peek() else {
            return Err(self.text_ends("a coordinate"));
        };
        let parsed = std::str::from_utf8(word)
            .ok()
            .and_then(|text| text.parse::<f64>().ok());
        if let Some(value) = parsed.filter(|value| value.is_finite()) {
            self.tokens.next();
            return Ok(Some(value));
        }
        let shown = decode(word);
        let Some(kind) = kind_of_bad_number(word, parsed.is_some()) else {
            self.log.add(FaultKind::BadSyntax, Place::Line(line), || {
                format!("expected a coordinate, found \"{shown}\"")
            });
            return Err(Noted);
        };
        self.tokens.next();
        self.log.add(kind, Place::Line(line), || match kind {
            FaultKind::CommaDecimal => format!("\"{shown}\" has a decimal comma"),
            FaultKind::NonFinite => format!("the coordinate \"{shown}\" is not finite"),
            _ => format!("\"{shown}\" is not a number"),
        });
        Ok(None)
    }

    /// Takes a keyword and gives its line.
    fn keyword(&mut self, wanted: &[u8]) -> Result<u64, Noted> {
        match self.tokens.peek() {
            Some((word, line)) if word.eq_ignore_ascii_case(wanted) => {
                self.tokens.next();
                Ok(line)
            }
            Some((word, line)) => {
                let (wanted, shown) = (decode(wanted), decode(word));
                self.log.add(FaultKind::BadSyntax, Place::Line(line), || {
                    format!("expected \"{wanted}\", found \"{shown}\"")
                });
                Err(Noted)
            }
            None => Err(self.text_ends(&decode(wanted))),
        }
    }

    fn text_ends(&mut self, wanted: &str) -> Noted {
        self.log
            .add(FaultKind::Truncated, Place::Line(self.tokens.line), || {
                format!("the text ends inside a facet, where {wanted} should be")
            });
        Noted
    }

    /// Goes on at the next facet or solid, so that more than one fault is found.
    fn skip_to_next_facet(&mut self) {
        // `facet` fails without taking a word only at one that is none of these three.
        while let Some((word, _)) = self.tokens.peek() {
            let resumes = [b"facet".as_slice(), b"endsolid", b"solid"]
                .iter()
                .any(|known| word.eq_ignore_ascii_case(known));
            if resumes {
                return;
            }
            self.tokens.next();
        }
    }
}

/// What a word that stands for a coordinate is; none if it is not meant as a number.
fn kind_of_bad_number(word: &[u8], parsed: bool) -> Option<FaultKind> {
    let unsigned = word
        .strip_prefix(b"-")
        .or_else(|| word.strip_prefix(b"+"))
        .unwrap_or(word);
    let starts = |text: &[u8]| {
        unsigned.len() >= text.len() && unsigned[..text.len()].eq_ignore_ascii_case(text)
    };
    // "1.#QNAN", "-nan(ind)" and "1.#INF" are how some writers print them.
    if parsed || unsigned.contains(&b'#') || starts(b"nan") || starts(b"inf") {
        return Some(FaultKind::NonFinite);
    }
    if !unsigned
        .first()
        .is_some_and(|&byte| byte.is_ascii_digit() || b".,".contains(&byte))
    {
        return None;
    }
    Some(if word.contains(&b',') {
        FaultKind::CommaDecimal
    } else {
        FaultKind::BadNumber
    })
}
