//! `[strategy.controller]` as text.

use super::page::{Page, text};
use crate::math::time::Span;
use crate::scenario::care::{Care, Unhealthy};
use crate::scenario::strategy::{AfterPowerLoss, Controller, OnDeadSensor};

pub(super) fn controller(page: &mut Page, controller: &Controller) {
    page.open("strategy.controller");
    page.number("open_at_least", controller.open_at_least.seconds());
    page.number("open_at_most", controller.open_at_most.map_or(f64::INFINITY, Span::seconds));
    page.number("warning", controller.warning.seconds());
    page.number("stroke_timeout", controller.stroke_timeout);
    page.number("retry_after", controller.retry_after.seconds());
    page.raw("retries", controller.retries.to_string());
    page.number("fault_cleared_after", controller.fault_cleared_after.seconds());
    page.number("obstruction_force", controller.obstruction_force_n);
    page.number("obstruction_reaction", controller.obstruction_reaction.seconds());
    let after = if controller.after_power_loss == AfterPowerLoss::Open { "open" } else { "stay" };
    page.raw("after_power_loss", text(after));
    let dead = match controller.on_dead_sensor {
        OnDeadSensor::HoldOpen => "hold open",
        OnDeadSensor::Ignore => "ignore",
        OnDeadSensor::DropVote => "drop vote",
    };
    page.raw("on_dead_sensor", text(dead));
    page.number("dead_after", controller.dead_after.seconds());
    care(page, &controller.care);
}

fn care(page: &mut Page, care: &Care) {
    page.raw("interlock", care.interlock.to_string());
    page.number("doorway_clear_for", care.doorway_clear_for.seconds());
    page.raw("self_test", care.self_test.to_string());
    page.number("self_test_ok_for", care.self_test_ok_for.seconds());
    page.number("hold_open_for", care.hold_open_for.seconds());
    page.number("close_after_in", care.close_after_in.seconds());
    page.number("close_after_gone", care.close_after_gone.seconds());
    page.raw("turns_back", care.turns_back.to_string());
    page.number("opening_warning", care.opening_warning.seconds());
    page.number("back_off", care.back_off_m);
    page.number("soft_seal", care.soft_seal_m);
    page.raw("stroke_timeout_of", text(care.timeout_of.word()));
    page.raw("opening_timeout", text(care.opening_timeout.word()));
    page.raw("closing_timeout", text(care.closing_timeout.word()));
    page.number("retry_growth", care.retry_growth);
    page.number("retry_at_most", care.retry_at_most.seconds());
    page.raw("after_retries", text(care.after_retries.word()));
    page.number("power_stable_for", care.power_stable_for.seconds());
    page.number("startup_listens", care.startup_listens.seconds());
    page.number("homing_clear_for", care.homing_clear_for.seconds());
    page.number("homing_speed", care.homing_speed);
    page.raw("brown_out", text(care.brown_out.word()));
    page.number("manual_at_most", care.manual_at_most.seconds());
    page.number("manual_reminder", care.manual_reminder.seconds());
    let signs = Unhealthy::WORDS.iter().zip(care.unhealthy.flags()).filter(|(_, is)| *is);
    let signs: Vec<String> = signs.map(|(word, _)| text(word)).collect();
    page.raw("unhealthy", format!("[{}]", signs.join(", ")));
    page.raw("dead_samples", care.dead_samples.to_string());
    page.raw("frozen_samples", care.frozen_samples.to_string());
    page.number("noisy_beyond", care.noisy_beyond);
    page.number("drifted_beyond", care.drifted_beyond);
    page.number("contradiction_after", care.contradiction_after_s);
    page.number("disagreement_after", care.disagreement_after_s);
    page.number("reopening_reserve", care.reopening_reserve);
    page.number("message_at_most", care.message_at_most_s);
    page.raw("zero_tracking", text(care.zero_tracking.word()));
    page.number("zero_per_hour", care.zero_per_hour_kg);
    page.number("zero_at_most", care.zero_at_most_kg);
}
