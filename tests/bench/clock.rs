//! Processor time, for machines that other work shares.

/// Processor time that this program has used, in steps of 10 ms; not a number elsewhere than Linux.
pub fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let fields: Vec<&str> = after_name.split_whitespace().collect();
    let ticks = |field: usize| {
        fields
            .get(field)
            .and_then(|ticks| ticks.parse::<f64>().ok())
    };
    match (ticks(11), ticks(12)) {
        (Some(user), Some(system)) => (user + system) / 100.0,
        _ => f64::NAN,
    }
}
