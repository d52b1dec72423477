//! What happens around the shelter whatever the door does: time, sun, weather, visitors, faults, the timetable.
//!
//! Everything here is a pure function of (scenario, seed, season): the engine calls each once per season and gets a
//! list in time order. No strategy, no thread and no trace can change what is drawn, because every draw belongs to a
//! stream named after what it is for (see [`crate::math::random`]). The exceptions to "no input or output" are
//! [`weather::observed::ObservedRecord::read`], which reads a weather file, and [`mod@log`], which reads logs.
//!
//! * [`clock`]: local civil time, days, months, the time zone's changes of clocks
//! * [`sun`]: where the sun stands and its clear-sky light
//! * [`weather`]: rain, temperature, wind and clearness of a season, observed or generated
//! * [`mod@visits`]: who comes to the door besides the mower
//! * [`failures`]: when failures come, and what they change of a scenario
//! * [`faults`]: what stops working, when, for how long
//! * [`mod@log`]: readings and passes that were logged on site
//! * [`timetable`]: mowing windows and unscheduled starts
//! * [`spread`]: drawing a duration from a mean and a spread

pub mod clock;
pub mod failures;
pub mod faults;
pub mod log;
pub mod spread;
pub mod sun;
pub mod timetable;
pub mod visits;
pub mod weather;

pub use clock::{ClockError, LocalClock};
pub use faults::{Outage, outages};
pub use sun::{SolarDay, SunPosition};
pub use timetable::MowWindow;
pub use visits::{Visit, visits};
pub use weather::{Conditions, ObservedRecord, SeasonWeather, WeatherFileError, season_weather};
