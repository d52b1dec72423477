//! The commented starter scenario.

/// A complete, commented scenario called `name` that loads without errors or warnings; characters that a name cannot
/// contain become `_`.
pub fn starter(name: &str) -> String {
    let good = |c: char| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '_' };
    let name: String = name.chars().take(64).map(good).collect();
    include_str!("starter.toml").replace("NAME", if name.is_empty() { "garden" } else { &name })
}
