//! The shelter: controller and rules, and (see the sibling modules) mechanism, actuator, heat, wear, power.

pub mod condition;
pub mod controller;
