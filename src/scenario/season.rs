//! `[site]` and `[season]`: where the shelter stands and which days are played.

use jiff::civil::Date;

const SECONDS_PER_DAY: i64 = 86_400;

/// `[site]`: place and orientation.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Geographic latitude, degrees, north positive, -90 to 90.
    pub latitude_deg: f64,
    /// Geographic longitude, degrees, east positive, -180 to 180.
    pub longitude_deg: f64,
    /// Time-zone name of the IANA database; its daylight-saving rules apply.
    pub time_zone: String,
    /// Compass direction that the door faces (outward, +x), degrees clockwise from north, 0 to 360.
    pub door_faces_deg: f64,
    /// Ratio of the wind at the door to the wind in the weather record (height and shelter), 0 to 2.
    pub wind_factor: f64,
}

/// `[season]`: the calendar that every season plays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calendar {
    /// First local day.
    pub first_day: Date,
    /// Last local day, played to its end.
    pub last_day: Date,
}

impl Calendar {
    /// Number of days; below 1 if the last day comes before the first.
    pub fn days(&self) -> i64 {
        self.last_day.duration_since(self.first_day).as_secs() / SECONDS_PER_DAY + 1
    }
}
