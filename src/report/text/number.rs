//! Numbers for people, rounded to the safe side. Conversion to inches happens here and nowhere
//! else in the reports.

use crate::answer::check::model::GapValue;
use crate::value::Unit;

/// Width below which a difference is taken for noise, in units of the last decimal shown: 1e-7 mm.
///
/// Larger, and a true shortage would be rounded away; much smaller, and a gap of exactly 2, whose
/// bracket at rest may be 1e-7 mm wide, would be shown as 1.99 (tests `decimals_survive`,
/// `a_bracket_about_a_decimal_is_that_decimal` and `rounding_goes_to_the_safe_side`).
const NOISE: f64 = 1e-5;

/// Lengths as text in one unit: two decimals of a millimetre, four of an inch.
#[derive(Debug, Clone, Copy)]
pub struct Lengths {
    /// Unit shown.
    pub unit: Unit,
}

impl Lengths {
    /// Rounded down: for gaps and for what is left.
    #[must_use]
    pub fn down(self, length_mm: f64) -> String {
        self.rounded(length_mm, |scaled| (scaled + NOISE).floor())
    }

    /// Rounded up: for what is needed or missing.
    #[must_use]
    pub fn up(self, length_mm: f64) -> String {
        self.rounded(length_mm, |scaled| (scaled - NOISE).ceil())
    }

    /// Rounded to the nearest: for places, and for numbers that a person gave.
    #[must_use]
    pub fn near(self, length_mm: f64) -> String {
        self.rounded(length_mm, f64::round)
    }

    /// A least gap: one number where the bracket is narrower than the rounding, `lo..hi` where it
    /// is wider, and `>= lo` where only the lower end is known.
    #[must_use]
    pub fn gap(self, gap: &GapValue) -> String {
        let Some(hi_mm) = gap.hi_mm else {
            return format!(">= {}", self.down(gap.lo_mm));
        };
        if (hi_mm - gap.lo_mm) * self.scale() / self.unit.mm() <= 1.0 + NOISE {
            self.down(gap.lo_mm)
        } else {
            format!("{}..{}", self.down(gap.lo_mm), self.up(hi_mm))
        }
    }

    /// Name of the unit.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self.unit {
            Unit::Mm => "mm",
            Unit::Inch => "inches",
        }
    }

    const fn decimals(self) -> usize {
        match self.unit {
            Unit::Mm => 2,
            Unit::Inch => 4,
        }
    }

    const fn scale(self) -> f64 {
        match self.unit {
            Unit::Mm => 1e2,
            Unit::Inch => 1e4,
        }
    }

    fn rounded(self, length_mm: f64, round: impl Fn(f64) -> f64) -> String {
        if !length_mm.is_finite() {
            return "(no number)".to_owned();
        }
        let scaled = length_mm / self.unit.mm() * self.scale();
        // Adding zero turns -0.00 into 0.00.
        let shown = round(scaled) / self.scale() + 0.0;
        format!("{shown:.decimals$}", decimals = self.decimals())
    }
}

/// An angle in degrees without needless zeros, signed unless it is zero.
#[must_use]
pub fn angle(angle_deg: f64) -> String {
    if !angle_deg.is_finite() {
        return "(no number)".to_owned();
    }
    let text = format!("{:+.3}", (angle_deg * 1e3).round() / 1e3 + 0.0);
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "+0" || short == "-0" || short == "+" {
        "0".to_owned()
    } else {
        short.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MM: Lengths = Lengths { unit: Unit::Mm };
    const INCH: Lengths = Lengths { unit: Unit::Inch };

    fn gap(lo_mm: f64, hi_mm: Option<f64>) -> GapValue {
        GapValue { lo_mm, hi_mm }
    }

    #[test]
    fn rounding_goes_to_the_safe_side() {
        assert_eq!(MM.down(1.9999), "1.99");
        assert_eq!(MM.down(-0.001), "-0.01");
        assert_eq!(MM.up(46.0001), "46.01");
        assert_eq!(MM.up(-330.009), "-330.00");
        assert_eq!(MM.near(-0.001), "0.00");
        assert_eq!(INCH.down(25.4), "1.0000");
        assert_eq!(INCH.up(0.001), "0.0001");
    }

    #[test]
    fn a_bracket_about_a_decimal_is_that_decimal() {
        assert_eq!(MM.down(2.0 - 4e-10), "2.00");
        assert_eq!(MM.up(2.0 + 4e-10), "2.00");
        assert_eq!(MM.down(2.0 - 2e-7), "1.99");
    }

    #[test]
    fn decimals_survive() {
        for hundredths in -2000_i32..2000 {
            let length_mm = f64::from(hundredths) / 100.0;
            let plain = format!("{:.2}", length_mm + 0.0);
            assert_eq!(MM.down(length_mm), plain);
            assert_eq!(MM.up(length_mm), plain);
        }
    }

    #[test]
    fn brackets_are_one_number_where_narrow() {
        assert_eq!(MM.gap(&gap(4.4101, Some(4.411))), "4.41");
        assert_eq!(MM.gap(&gap(4.409, Some(4.411))), "4.40");
        assert_eq!(MM.gap(&gap(0.0, Some(3.203))), "0.00..3.21");
        assert_eq!(MM.gap(&gap(10.0, None)), ">= 10.00");
    }

    #[test]
    fn no_number_is_said_as_such() {
        assert_eq!(MM.down(f64::NAN), "(no number)");
        assert_eq!(angle(f64::INFINITY), "(no number)");
    }

    #[test]
    fn angles_are_short() {
        assert_eq!(angle(0.0), "0");
        assert_eq!(angle(-0.0), "0");
        assert_eq!(angle(90.0), "+90");
        assert_eq!(angle(-22.5), "-22.5");
        assert_eq!(angle(43.2104), "+43.21");
        assert_eq!(angle(-0.0001), "0");
    }
}
