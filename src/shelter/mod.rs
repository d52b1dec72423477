//! shelter
