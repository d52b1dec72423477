//! `[controller]` and a strategy's own `controller` as they are resolved.

use super::{Fields, Typed};
use crate::math::time::Span;
use crate::scenario::care::{
    AfterRetries, BrownOut, Care, ClosingTimeout, OpeningTimeout, TimeoutOf, Unhealthy, ZeroTracking,
};
use crate::scenario::strategy::{AfterPowerLoss, Controller, OnDeadSensor};

/// A strategy's own settings, where given, over the scenario's `[controller]`.
pub(super) fn controller(own: &Fields, defaults: &Fields) -> Option<Controller> {
    let of = |key: &str| if own.given(key) { own } else { defaults };
    let span = |key: &str| of(key).number(key).map(Span::from_seconds);
    let at_most = of("open_at_most").number_or("open_at_most", f64::INFINITY)?;
    Some(Controller {
        open_at_least: span("open_at_least")?,
        open_at_most: at_most.is_finite().then(|| Span::from_seconds(at_most)),
        warning: span("warning")?,
        stroke_timeout: of("stroke_timeout").number("stroke_timeout")?,
        retry_after: span("retry_after")?,
        retries: of("retries").count("retries")?,
        fault_cleared_after: span("fault_cleared_after")?,
        obstruction_force_n: of("obstruction_force").number("obstruction_force")?,
        obstruction_reaction: span("obstruction_reaction")?,
        after_power_loss: match of("after_power_loss").text("after_power_loss")? {
            "open" => AfterPowerLoss::Open,
            _ => AfterPowerLoss::Stay,
        },
        on_dead_sensor: match of("on_dead_sensor").text("on_dead_sensor")? {
            "hold open" => OnDeadSensor::HoldOpen,
            "drop vote" => OnDeadSensor::DropVote,
            _ => OnDeadSensor::Ignore,
        },
        dead_after: span("dead_after")?,
        care: care(&of)?,
    })
}

fn care<'f>(of: &impl Fn(&str) -> &'f Fields) -> Option<Care> {
    let span = |key: &str| of(key).number(key).map(Span::from_seconds);
    let number = |key: &str| of(key).number(key);
    let flag = |key: &str| of(key).flag(key);
    let word = |key: &str| of(key).text(key);
    Some(Care {
        interlock: flag("interlock")?,
        doorway_clear_for: span("doorway_clear_for")?,
        self_test: flag("self_test")?,
        self_test_ok_for: span("self_test_ok_for")?,
        hold_open_for: span("hold_open_for")?,
        close_after_in: span("close_after_in")?,
        close_after_gone: span("close_after_gone")?,
        turns_back: flag("turns_back")?,
        opening_warning: span("opening_warning")?,
        back_off_m: number("back_off")?,
        soft_seal_m: number("soft_seal")?,
        timeout_of: TimeoutOf::named(word("stroke_timeout_of")?)?,
        opening_timeout: OpeningTimeout::named(word("opening_timeout")?)?,
        closing_timeout: ClosingTimeout::named(word("closing_timeout")?)?,
        retry_growth: number("retry_growth")?,
        retry_at_most: span("retry_at_most")?,
        after_retries: AfterRetries::named(word("after_retries")?)?,
        power_stable_for: span("power_stable_for")?,
        startup_listens: span("startup_listens")?,
        homing_clear_for: span("homing_clear_for")?,
        homing_speed: number("homing_speed")?,
        brown_out: BrownOut::named(word("brown_out")?)?,
        manual_at_most: span("manual_at_most")?,
        manual_reminder: span("manual_reminder")?,
        unhealthy: unhealthy(of("unhealthy").value("unhealthy")?)?,
        dead_samples: of("dead_samples").count("dead_samples")?,
        frozen_samples: of("frozen_samples").count("frozen_samples")?,
        noisy_beyond: number("noisy_beyond")?,
        drifted_beyond: number("drifted_beyond")?,
        contradiction_after_s: of("contradiction_after").number_or("contradiction_after", f64::INFINITY)?,
        disagreement_after_s: of("disagreement_after").number_or("disagreement_after", f64::INFINITY)?,
        reopening_reserve: number("reopening_reserve")?,
        message_at_most_s: of("message_at_most").number_or("message_at_most", f64::INFINITY)?,
        zero_tracking: ZeroTracking::named(word("zero_tracking")?)?,
        zero_per_hour_kg: number("zero_per_hour")?,
        zero_at_most_kg: number("zero_at_most")?,
    })
}

fn unhealthy(signs: &Typed) -> Option<Unhealthy> {
    let Typed::Choices(places) = signs else { return None };
    let mut flags = [false; Unhealthy::WORDS.len()];
    for place in places {
        *flags.get_mut(*place)? = true;
    }
    Some(Unhealthy::of(flags))
}
