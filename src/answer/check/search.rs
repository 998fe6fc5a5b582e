//! The smallest number of steps that makes something true.

/// The smallest number of steps in `1..=limit` for which `holds`, where it holds from some number
/// on; doubling, then halving.
///
/// Where it does not hold from some number on, the result still holds, but may not be the
/// smallest.
///
/// # Errors
/// The first error of `holds`.
pub fn least_steps<E>(
    limit: u64,
    mut holds: impl FnMut(u64) -> Result<bool, E>,
) -> Result<Option<u64>, E> {
    let (mut fails, mut next) = (0, 1);
    loop {
        let tried = next.min(limit);
        if tried <= fails {
            return Ok(None);
        }
        if holds(tried)? {
            next = tried;
            break;
        }
        fails = tried;
        next = tried.saturating_mul(2);
    }
    while next - fails > 1 {
        let middle = fails + (next - fails) / 2;
        if holds(middle)? {
            next = middle;
        } else {
            fails = middle;
        }
    }
    Ok(Some(next))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(limit: u64, from: u64) -> Option<u64> {
        least_steps::<()>(limit, |steps| Ok(steps >= from)).unwrap()
    }

    #[test]
    fn finds_the_first_that_holds() {
        for from in [1, 2, 3, 7, 8, 9, 511, 512, 513] {
            assert_eq!(found(1000, from), Some(from));
        }
        assert_eq!(found(1000, 1000), Some(1000));
        assert_eq!(found(1000, 1001), None);
        assert_eq!(found(0, 1), None);
    }
}
