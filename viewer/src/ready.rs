//! Whether there is a display and a driver: the window library panics where one is missing.

/// The words that go with every refusal.
const PACKAGES: &str = "on Debian: `apt-get install mesa-vulkan-drivers` draws without a GPU; \
                        `lapidary check` needs neither";

/// Whether a window can be opened at all.
///
/// # Errors
/// What is missing and how it is mended.
pub fn display() -> Result<(), String> {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let needs_one = cfg!(all(unix, not(target_os = "macos")));
    if needs_one && !set("DISPLAY") && !set("WAYLAND_DISPLAY") && !set("WAYLAND_SOCKET") {
        return Err(
            "no display: neither DISPLAY nor WAYLAND_DISPLAY is set; `--picture FILE.png` draws \
             without one"
                .to_owned(),
        );
    }
    Ok(())
}

/// The name of a driver that can draw.
///
/// # Errors
/// That there is none, and how it is mended.
pub fn driver() -> Result<String, String> {
    let descriptor = wgpu::InstanceDescriptor::new_without_display_handle();
    let instance = wgpu::Instance::new(descriptor);
    let options = wgpu::RequestAdapterOptions::default();
    let adapter = kiss3d::pollster::block_on(instance.request_adapter(&options));
    match adapter {
        Ok(adapter) => Ok(adapter.get_info().name),
        Err(fault) => Err(format!(
            "no graphics driver was found ({fault}); {PACKAGES}"
        )),
    }
}

/// Runs what may panic in the window library, and tells its last words as an error.
///
/// # Errors
/// The message of the panic.
pub fn guarded<T>(what: &str, work: impl FnOnce() -> T) -> Result<T, String> {
    let before = std::panic::take_hook();
    // The message is told once, by the caller.
    std::panic::set_hook(Box::new(|_| {}));
    let outcome = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
    std::panic::set_hook(before);
    outcome.map_err(|payload| {
        let words = payload
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| {
                payload
                    .downcast_ref::<&str>()
                    .map(|text| (*text).to_owned())
            })
            .unwrap_or_else(|| "no reason was given".to_owned());
        format!("{what}: {words}; {PACKAGES}")
    })
}

/// The library's words about a display that does not answer, in plainer ones.
#[must_use]
pub fn plainer(words: String) -> String {
    if !words.contains("event loop") {
        return words;
    }
    let name = std::env::var("DISPLAY").or_else(|_| std::env::var("WAYLAND_DISPLAY"));
    format!(
        "no window could be opened: the display {} does not answer; `--picture FILE.png` draws \
         without one",
        name.unwrap_or_default()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_of_the_library_becomes_a_message() {
        assert_eq!(guarded("drawing", || 3), Ok(3));
        let told = guarded("drawing", || -> u8 { panic!("device lost") }).unwrap_err();
        assert!(told.starts_with("drawing: device lost"), "{told}");
        assert_eq!(plainer(told.clone()), told);
        assert!(plainer("Failed to create event loop".to_owned()).contains("does not answer"));
    }
}
