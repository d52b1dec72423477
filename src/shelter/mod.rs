//! The shelter: what moves the door, what that costs, and what wears out.
//!
//! The physical half answers, for one stroke under given loads: does the panel move at all, how long does it take,
//! how much current, heat, energy and wear does it cost, and how hard would it hit something. The chain is
//!
//! ```text
//! loads (wind, frost) ─> mechanism (force over the stroke) ─> actuator (speed and current at that force)
//!                          └──────────── stroke (time, energy, heat, damage, margin) ────────────┘
//!                                            │            │            │           │
//!                                          heat         duty         wear       power, contact
//! ```
//!
//! Everything here is pure: figures in, figures out. A new way to guide the panel is one more file in
//! [`mechanism`] and one more arm where its kind is matched; nothing else in this room knows which mechanism it is.
//!
//! The deciding half is [`controller`], pure decision, with the rules of a strategy evaluated by [`condition`].
//!
//! The results are screening estimates for a maker. They do not replace the rules for powered doors; see
//! [`cautions`].

pub mod actuator;
pub mod battery;
pub mod blow;
pub mod bus;
pub mod cautions;
pub mod condition;
pub mod contact;
pub mod controller;
pub mod duty;
pub mod heat;
pub mod loads;
pub mod mechanism;
pub mod obstruction;
pub mod power;
pub mod rainflow;
pub mod stroke;
pub mod wear;

pub use actuator::{Actuator, Line};
pub use contact::Contact;
pub use duty::Duty;
pub use heat::{Heating, Winding};
pub use loads::Loads;
pub use mechanism::{Direction, Force, Jam};
pub use stroke::{Outcome, Stall, Stroke, StrokeTable};
