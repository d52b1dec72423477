//! `[mower]` as text.

use super::page::{Page, text};
use super::spread;
use crate::scenario::mower::{Mower, RainHabit, Window};
use crate::scenario::read::when::{DAY_WORDS, DAYS};

pub(super) fn mower(page: &mut Page, mower: &Mower) {
    page.open("mower");
    page.number("length", mower.length_m);
    page.number("width", mower.width_m);
    page.number("height", mower.height_m);
    page.number("mass", mower.mass_kg);
    page.number("reflectance", mower.reflectance);
    if let Some(axles) = &mower.axles {
        page.list("axles", &axles.behind_nose_m);
        page.number("rear_share", axles.rear_share);
    }
    spread(page, "run", mower.run);
    spread(page, "charge", mower.charge);
    page.number("lawn", mower.lawn_s);
    page.number("start_delay", mower.start_delay_s);
    page.number("unscheduled", mower.unscheduled_per_day);
    mower.windows.iter().for_each(|one| window(page, one));
    page.open("mower.approach");
    spread(page, "way_home", mower.approach.way_home);
    page.number("from", mower.approach.from_m);
    page.number("speed", mower.approach.speed_m_s);
    page.number("slow_from", mower.approach.slow_from_m);
    page.number("slow_speed", mower.approach.slow_speed_m_s);
    page.number("speed_spread", mower.approach.speed_spread);
    page.number("sideways", mower.approach.sideways_m);
    page.open("mower.departure");
    page.number("notice", mower.departure.notice_s);
    page.number("patience", mower.departure.patience_s);
    page.number("speed", mower.departure.speed_m_s);
    page.open("mower.shut_door");
    page.number("waits_at", mower.shut_door.waits_at_m);
    page.number("patience", mower.shut_door.patience_s);
    page.raw("retries", mower.shut_door.retries.to_string());
    page.number("back_off", mower.shut_door.back_off_m);
    page.raw("bumps", mower.shut_door.bumps.to_string());
    page.number("bump_force", mower.shut_door.bump_force_n);
    page.number("help_after", mower.shut_door.help_after_s);
    page.open("mower.dock");
    page.number("depth", mower.dock.depth_m);
    page.number("failure", mower.dock.failure);
    page.number("back_off", mower.dock.back_off_m);
    page.raw("attempts", mower.dock.attempts.to_string());
    page.open("mower.rain");
    let habit = match mower.rain.habit {
        RainHabit::GoHome => "go home",
        RainHabit::StayHome => "stay home",
        RainHabit::CarryOn => "carry on",
    };
    page.raw("habit", text(habit));
    page.number("reacts_after", mower.rain.reacts_after_s);
    page.number("resumes_after", mower.rain.resumes_after_s);
}

fn window(page: &mut Page, window: &Window) {
    page.open("mower.windows");
    let days = match DAY_WORDS.iter().find(|word| word.1 == window.days) {
        Some((word, _)) => text(word),
        None => {
            let days: Vec<String> =
                DAYS.iter().zip(window.days).filter(|day| day.1).map(|day| format!("\"{}\"", day.0)).collect();
            format!("[{}]", days.join(", "))
        }
    };
    page.raw("days", days);
    page.raw("from", time_of_day(window.from_s));
    page.raw("to", time_of_day(window.to_s));
}

fn time_of_day(seconds: i32) -> String {
    let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if second == 0 { format!("\"{hour:02}:{minute:02}\"") } else { format!("\"{hour:02}:{minute:02}:{second:02}\"") }
}
