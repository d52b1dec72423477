//! The mechanisms of the door against tables of an independent program, virtual work, and random geometry.
//!
//! The tables lie in `tests/data/door/`; their comment lines name source and parameters.

mod common;
mod support;

use common::{Record, number, records};
use dooryard::scenario::door::*;
use dooryard::shelter::actuator::Actuator;
use dooryard::shelter::contact::{Contact, Notice};
use dooryard::shelter::loads::Loads;
use dooryard::shelter::mechanism::linkage::Linkage;
use dooryard::shelter::mechanism::survey::{self, STEPS};
use dooryard::shelter::mechanism::{self, Direction, Force, GRAVITY_M_S2, Jam, curtain, flap, leaf, trammel};
use dooryard::shelter::stroke::{self, Outcome, Stall, StrokeTable};
use proptest::prelude::*;

/// To 1e-6 of the value; values below 1e-3 to 1e-9.
#[track_caller]
fn same(actual: f64, row: &Record, key: &str) {
    let expected = number(row, key);
    assert!((actual - expected).abs() <= 1e-6 * expected.abs().max(1e-3), "{actual} not {expected}: {key} of {row:?}");
}

fn way(row: &Record) -> Direction {
    if row["dir"] == "open" { Direction::Opening } else { Direction::Closing }
}

/// A panel without seal, wind or ice.
fn bare(mechanism: Mechanism, mass_kg: f64) -> Door {
    Door { mechanism, mass_kg, seal_n: 0.0, seal_zone_m: 0.0, breakaway: 1.0, ice_n: 0.0, ..support::base().door }
}

fn rod() -> Rod {
    Rod { frame_out_m: -0.3, frame_along_m: 0.2, panel_along_m: 0.13, panel_behind_m: 0.02 }
}

fn a_flap() -> TopFlap {
    TopFlap {
        opens: Swing::Outwards,
        length_m: 0.4,
        hinge_height_m: 0.45,
        mass_at: 0.5,
        open_angle_deg: 90.0,
        hinge_friction: 0.0,
        pin_radius_m: 0.006,
        rod: rod(),
        gas_spring: None,
    }
}

fn a_leaf() -> SideLeaf {
    SideLeaf {
        opens: Swing::Outwards,
        thickness_m: 0.03,
        open_angle_deg: 90.0,
        hinge_friction: 0.2,
        pin_radius_m: 0.004,
        thrust_radius_m: 0.006,
        hinge_span_m: 0.35,
        lean_deg: 0.0,
        rod: rod(),
    }
}

fn a_slider(drive: PanelDrive) -> DoubleSlider {
    DoubleSlider {
        length_m: 0.6,
        overhang_m: 0.0,
        mass_at: 0.5,
        friction_vertical: 0.15,
        friction_horizontal: 0.15,
        shut_angle_deg: 0.0,
        open_angle_deg: 70.0,
        drive,
        counterweight_kg: 0.0,
        spring_n: 0.0,
        spring_travel_m: 0.0,
    }
}

fn a_curtain() -> RollerCurtain {
    RollerCurtain { stroke_m: 0.5, bar_kg: 1.0, tube_radius_m: 0.02, thickness_m: 0.008, guide_friction: 0.25 }
}

fn a_slide() -> HorizontalSlide {
    HorizontalSlide {
        stroke_m: 0.6,
        roller_friction: 0.03,
        side_friction: 0.15,
        slope_deg: 0.0,
        guide_length_m: 0.5,
        drive_offset_m: 0.0,
    }
}

// ---- tables -----------------------------------------------------------------------------------------------------

#[test]
fn flap_forces() {
    let door = Door { width_m: 0.6, ..bare(Mechanism::TopFlap(a_flap()), 50.0 / GRAVITY_M_S2) };
    let link = Linkage::new(&rod());
    let mut compared = 0;
    for row in records("door/flap_actuator.csv") {
        let angle = number(&row, "alpha_deg").to_radians();
        same(link.length_m(angle), &row, "actuator_length_m");
        same(link.lever_m(angle), &row, "lever_m");
        let wide = TopFlap { open_angle_deg: 179.0, ..a_flap() };
        let [_, edge] = flap::pose(&wide, (link.length_m(angle) - link.length_m(0.0)).abs());
        assert!((edge.0 - number(&row, "reach_m")).abs() < 1e-6 && (edge.1 - number(&row, "headroom_m")).abs() < 1e-6);
        // The table does not say where its gas spring is mounted; see `gas_spring_carries_the_flap` for that.
        if row["case"] == "gas_spring" {
            continue;
        }
        let rubs = row["case"] != "calm";
        let push = 137.925 * 0.24;
        let acting = flap::Acting {
            wind_n: match row["case"].as_str() {
                "wind_in" => 1.1 * push,
                "wind_out" => -0.8 * push,
                _ => 0.0,
            },
            seal_nm: if rubs && number(&row, "alpha_deg") < 5.0 { 3.0 } else { 0.0 },
            snow_pa: if row["case"] == "snow" { 300.0 } else { 0.0 },
            friction: if rubs { 0.2 } else { 0.0 },
            temperature_c: 20.0,
        };
        let force = flap::rod_force_n(&door, &a_flap(), way(&row), angle, &acting).expect("no toggle in the table");
        same(force, &row, "force_N");
        compared += 1;
    }
    assert_eq!(compared, 100);
}

#[test]
fn flap_mounting() {
    for row in records("door/flap_fit.csv") {
        let open = number(&row, "open_to_deg").to_radians();
        let link = Linkage::new(&rod());
        same(link.length_m(0.0), &row, "len_min_m");
        same(link.length_m(open), &row, "len_max_m");
        same(link.stroke_m(open), &row, "stroke_m");
        // The lever has one maximum between shut and open here, so its least is at an end.
        same(link.lever_m(open).min(link.lever_m(0.0)), &row, "min_lever_m");
        // Retracted it must hold its stroke and 110 mm of ends.
        let fits = link.length_m(0.0) >= link.stroke_m(open) + 0.11;
        assert_eq!(fits, row["fits"] == "1", "{row:?}");
    }
}

/// The gust that a thrust can just push against, found by bisection on the full model.
#[test]
fn flap_against_the_wind() {
    let door = Door { width_m: 0.6, ..bare(Mechanism::TopFlap(a_flap()), 50.0 / GRAVITY_M_S2) };
    let mut compared = 0;
    for row in records("door/flap_wind_limit.csv") {
        let angle = number(&row, "alpha_deg").to_radians();
        let force = |wind_n: f64| {
            let acting = flap::Acting { wind_n, seal_nm: 0.0, snow_pa: 0.0, friction: 0.0, temperature_c: 20.0 };
            flap::rod_force_n(&door, &a_flap(), Direction::Opening, angle, &acting).expect("no toggle")
        };
        let thrust = number(&row, "thrust_N");
        let area_pa = |v: f64, cp: f64| 0.5 * 1.25 * v * v * cp * 0.24;
        if row["status"] == "ok" {
            let v = number(&row, "v_open_against_m_s");
            assert!((force(area_pa(v, 1.3)) - thrust).abs() < 1e-5 * thrust, "{row:?}");
            compared += 1;
        } else {
            assert!(force(0.0) > thrust, "{row:?}");
        }
        let v = number(&row, "v_hold_m_s");
        assert!((force(-area_pa(v, 1.6)) + thrust).abs() < 1e-5 * thrust, "{row:?}");
    }
    assert!(compared >= 10);
}

#[test]
fn leaf_torques_and_clear_width() {
    for row in records("door/leaf_torque.csv") {
        let leaf = SideLeaf { lean_deg: number(&row, "lean_deg"), ..a_leaf() };
        let door = Door {
            width_m: 0.6,
            height_m: 0.5,
            wind_coefficient: 1.2,
            ..bare(Mechanism::SideLeaf(leaf), 45.0 / GRAVITY_M_S2)
        };
        // The table's pressure is 0.613 v^2, this is the gust that has it at 15 degC (1.22500 kg/m3).
        let wind_n = 2.0 * number(&row, "wind_Nm") / 0.6;
        same(leaf::friction_nm(&door, &leaf, wind_n, 0.2), &row, "friction_Nm");
        same(leaf::lean_nm(&door, &leaf), &row, "gravity_Nm");
        let pressure = wind_n / (1.2 * 0.3);
        let density = dooryard::shelter::loads::air_density_kg_m3(15.0);
        let loads = Loads { gust_m_s: (2.0 * pressure / density).sqrt(), temperature_c: 15.0, frozen: false };
        let torque = leaf::torque_nm(&door, &leaf, Direction::Opening, 0.1, &loads, false);
        same(torque, &row, "torque_Nm");
    }
    let door = Door { width_m: 0.6, ..bare(Mechanism::SideLeaf(a_leaf()), 4.5) };
    for row in records("door/leaf_clear.csv") {
        let angle = number(&row, "alpha_deg").to_radians();
        same(leaf::clear_width_at(&door, &a_leaf(), angle), &row, "clear_width_m");
        same(
            leaf::clear_width_at(&door, &SideLeaf { thickness_m: 0.0, ..a_leaf() }, angle),
            &row,
            "clear_width_thin_m",
        );
    }
}

#[test]
fn slide_forces() {
    for row in records("door/horizontal_slide.csv") {
        let slide = HorizontalSlide {
            slope_deg: number(&row, "slope_deg"),
            guide_length_m: number(&row, "guide_len_m"),
            drive_offset_m: number(&row, "offset_m"),
            ..a_slide()
        };
        let mut door = bare(Mechanism::HorizontalSlide(slide), 70.0 / GRAVITY_M_S2);
        (door.seal_n, door.seal_zone_m, door.wind_coefficient) = (6.0, 1.0, 1.0);
        (door.width_m, door.height_m) = (1.0, 1.0);
        let density = dooryard::shelter::loads::air_density_kg_m3(20.0);
        let gust_m_s = (2.0 * number(&row, "wind_P_N") / density).sqrt();
        let loads = Loads { gust_m_s, ..Loads::CALM };
        match mechanism::asked_force(&door, Direction::Opening, 0.1, &loads, false) {
            Force::Push(force) => same(force, &row, "force_N"),
            Force::Jammed(jam) => assert_eq!((jam, row["status"].as_str()), (Jam::Guide, "jam"), "{row:?}"),
        }
    }
}

#[test]
fn curtain_torques() {
    let curtain = a_curtain();
    let door = bare(Mechanism::RollerCurtain(curtain), 1.0 + 6.0 * 0.6 * 0.5);
    for row in records("door/roller_curtain.csv") {
        let wound = number(&row, "wound_m");
        let radius = curtain::radius_m(&curtain, wound);
        same(radius, &row, "radius_m");
        let wind_n = number(&row, "wind_Pa") * 0.6 * 0.5;
        let pull = curtain::pull_n(&door, &curtain, Direction::Opening, wound, wind_n, 0.0, 0.25);
        same(pull * radius, &row, "torque_Nm");
        // There and back between wound length and the tube's turn.
        let position = curtain::position_m(&curtain, wound);
        assert!((curtain::wound_m(&curtain, position) - wound).abs() < 1e-12);
    }
}

/// Strokes of the double slider as a door, against the table of an independent integration (motor line with a stall
/// force of 500 N; screw ratio 0.25 while the load drives).
#[test]
fn double_slider_positions() {
    for row in records("door/stroke_double_slider.csv") {
        let drive = if row["drive"] == "V" { PanelDrive::VerticalSlider } else { PanelDrive::HorizontalSlider };
        let slider = DoubleSlider {
            shut_angle_deg: number(&row, "theta_from_deg"),
            open_angle_deg: number(&row, "theta_to_deg"),
            friction_vertical: number(&row, "mu"),
            friction_horizontal: number(&row, "mu"),
            ..a_slider(drive)
        };
        same(trammel::stroke_m(&slider), &row, "stroke_m");
    }
}

// ---- what the mechanisms must say -------------------------------------------------------------------------------

fn zones(slider: DoubleSlider, direction: Direction) -> Vec<survey::DeadZone> {
    let mut door = bare(Mechanism::DoubleSlider(slider), 6.0);
    (door.seal_n, door.seal_zone_m) = (20.0, 0.3);
    survey::dead_zones(&door, &support::base().drive, direction, &Loads::CALM)
}

/// With sliders of friction mu each drive has its dead zone: below atan(mu) for the vertical, above 90 - atan(mu) degrees for the
/// horizontal one (statics of the ladder with friction). A chain to both has none.
#[test]
fn dead_zones_of_the_double_slider() {
    let whole = |drive| DoubleSlider {
        open_angle_deg: 90.0,
        friction_vertical: 0.2,
        friction_horizontal: 0.2,
        ..a_slider(drive)
    };
    let lock = 0.2_f64.atan();
    let vertical = whole(PanelDrive::VerticalSlider);
    for direction in [Direction::Opening, Direction::Closing] {
        let found = zones(vertical, direction);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!((found[0].from_m, found[0].jam), (0.0, Jam::Hanging));
        assert!((trammel::angle(&vertical, found[0].to_m) - lock).abs() < 1e-6, "{found:?}");
    }
    let horizontal = whole(PanelDrive::HorizontalSlider);
    let found = zones(horizontal, Direction::Opening);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].jam, Jam::Lying);
    let angle = trammel::angle(&horizontal, found[0].from_m);
    assert!((angle - (std::f64::consts::FRAC_PI_2 - lock)).abs() < 1e-6, "{found:?}");
    assert_eq!(zones(whole(PanelDrive::BothSliders), Direction::Opening), []);
    assert_eq!(zones(whole(PanelDrive::BothSliders), Direction::Closing), []);
    assert_eq!(zones(whole(PanelDrive::Point { at: 0.5, slope_deg: 45.0 }), Direction::Opening), []);
    // Wheels shrink the zone to about a degree.
    let wheels = DoubleSlider { friction_vertical: 0.02, friction_horizontal: 0.02, ..vertical };
    let zone = zones(wheels, Direction::Opening)[0];
    assert!((trammel::angle(&wheels, zone.to_m).to_degrees() - 1.1458).abs() < 1e-3);
    // A spring stronger than the seal lets the vertical drive out of its zone only within a window of force.
    let sprung = DoubleSlider { spring_n: 60.0, spring_travel_m: 0.3, ..vertical };
    assert!(zones(sprung, Direction::Opening).iter().all(|zone| zone.jam == Jam::Window));
}

#[test]
fn a_stroke_into_a_dead_zone_says_where() {
    let base = support::base();
    let slider = DoubleSlider { open_angle_deg: 90.0, ..a_slider(PanelDrive::HorizontalSlider) };
    let door = bare(Mechanism::DoubleSlider(slider), 6.0);
    let stroke = stroke::solve(&door, &base.drive, &base.supply, Direction::Opening, &Loads::CALM, 0.0);
    let Outcome::Stalled { at_m, reason, .. } = stroke.outcome else { panic!("{:?}", stroke.outcome) };
    // It may stall before the lock itself, where the force grows without bound.
    assert!(matches!(reason, Stall::Jammed(Jam::Lying) | Stall::TooWeak), "{reason:?}");
    let locks = trammel::position_m(&slider, std::f64::consts::FRAC_PI_2 - 0.15_f64.atan());
    assert!(at_m <= locks + 1e-9 && at_m > 0.8 * locks, "{at_m} {locks}");
}

#[test]
fn toggles_are_found() {
    // A rod pivot on the line that the panel's pivot passes through half-way: g reaches 180 degrees.
    let through = Rod { frame_out_m: -0.2, frame_along_m: -0.2, panel_along_m: 0.15, panel_behind_m: 0.0 };
    let link = Linkage::new(&through);
    let toggle = link.toggle(std::f64::consts::PI).expect("it passes a toggle");
    assert!(link.lever_m(toggle).abs() < 1e-12);
    let flap = TopFlap { rod: through, open_angle_deg: toggle.to_degrees() + 10.0, ..a_flap() };
    let door = bare(Mechanism::TopFlap(flap), 5.0);
    // The stroke ends at the toggle, and there it locks.
    assert!((flap::angle(&flap, mechanism::stroke_m(&door)) - toggle).abs() < 1e-6);
    let at_end = mechanism::asked_force(&door, Direction::Opening, mechanism::stroke_m(&door), &Loads::CALM, false);
    assert!(matches!(at_end, Force::Jammed(Jam::Toggle)) || matches!(at_end, Force::Push(f) if f.abs() > 1e5));
}

/// A gas spring carries the flap near the top and pushes it open by itself near shut; at -20 degC it has 13.6 % less
/// force (ideal gas: 253.15/293.15).
#[test]
fn gas_spring_carries_the_flap() {
    let spring = GasSpring {
        rod: Rod { frame_out_m: -0.02, frame_along_m: 0.25, panel_along_m: 0.15, panel_behind_m: 0.01 },
        force_n: 120.0,
        ratio: 1.3,
        friction_n: 0.0,
    };
    let flap = TopFlap { gas_spring: Some(spring), ..a_flap() };
    let open = 90.0_f64.to_radians();
    let at = |angle: f64, celsius: f64| flap::gas_force_n(&flap, &spring, angle, celsius, Direction::Opening);
    let (open_n, shut_n) = (at(open, 20.0), at(0.0, 20.0));
    let link = Linkage::new(&spring.rod);
    assert!(link.length_m(open) > link.length_m(0.0), "this mounting extends as the flap opens");
    assert!((open_n - 120.0).abs() < 1e-9 && (shut_n - 156.0).abs() < 1e-9, "{open_n} {shut_n}");
    assert!((at(open, -20.0) / open_n - 0.8635).abs() < 1e-4);
}

#[test]
fn the_sill_multiplies_a_horizontal_pull() {
    let slider =
        DoubleSlider { friction_vertical: 0.0, friction_horizontal: 0.0, ..a_slider(PanelDrive::HorizontalSlider) };
    let door = bare(Mechanism::DoubleSlider(slider), 60.0 / GRAVITY_M_S2);
    // 5 mm gap of a 0.6 m panel: 7.4 degrees; 100 N there press with (1 - 0.5) 60 N + 100 N / tan 7.4 deg.
    let angle = (1.0_f64 - 0.005 / 0.6).acos();
    let position = trammel::position_m(&slider, angle);
    let force = mechanism::edge_force_n(&door, 100.0, position, &Loads::CALM);
    assert!((force - (30.0 + 100.0 / angle.tan())).abs() < 1e-6 * force, "{force}");
    assert!((force - 800.0).abs() < 5.0, "{force}");
    // So it does with the threshold: 60 N at the drive are 60 N / tan 7.4 deg at the edge.
    let scenario = support::base();
    let (line, loads) = (Actuator::at(&scenario.drive, &scenario.supply, 20.0), Loads::CALM);
    let felt = |force_n: f64| {
        let notice = Notice { force_n, reaction_s: 0.0 };
        Contact::at(&door, &scenario.drive, &loads, position, 0.001, &line, notice).peak_force_n
    };
    assert!(felt(60.0) > 60.0 / angle.tan(), "{}", felt(60.0));
    assert!(felt(5_000.0) > mechanism::edge_force_n(&door, line.available_n(), position, &loads) * (1.0 - 1e-9));
}

#[test]
fn a_light_curtain_hangs_up_in_the_wind() {
    let door = bare(Mechanism::RollerCurtain(RollerCurtain { bar_kg: 0.2, ..a_curtain() }), 1.5);
    let loads = Loads { gust_m_s: 25.0, ..Loads::CALM };
    let force = mechanism::asked_force(&door, Direction::Closing, 0.0, &loads, false);
    assert_eq!(force, Force::Jammed(Jam::Slack));
    assert!(mechanism::needs_push_to_close(&door, &loads) && !mechanism::needs_push_to_close(&door, &Loads::CALM));
}

#[test]
fn sweeps_and_bodies() {
    let flap = bare(Mechanism::TopFlap(a_flap()), 5.0);
    let sweep = survey::sweep(&flap);
    assert!((sweep.outside_m - 0.4).abs() < 1e-9 && sweep.inside_m == 0.0);
    // A mower that waits 0.3 m away is hit, one at 0.5 m is not.
    assert!(survey::hits(&flap, (0.3, 0.0), (0.9, 0.26)).is_some());
    assert!(survey::hits(&flap, (0.5, 0.0), (1.1, 0.26)).is_none());
    let leaf = bare(Mechanism::SideLeaf(a_leaf()), 5.0);
    // A leaf opens from its free side: the mower passes once it is out of the way up to the mower's far side.
    let leaf = Door { width_m: 0.6, height_m: 0.5, ..leaf };
    let clears = survey::clears_at_m(&leaf, 0.42, 0.26);
    assert!((mechanism::clear_width_m(&leaf, clears) - 0.51).abs() < 1e-9);
    assert!(!survey::passes(&leaf, clears - 1e-6, 0.42, 0.26));
    assert_eq!(mechanism::panel_deg(&leaf, clears), 0.0);
    let slider = bare(Mechanism::DoubleSlider(a_slider(PanelDrive::HorizontalSlider)), 5.0);
    assert!((mechanism::panel_deg(&slider, mechanism::stroke_m(&slider)) - 70.0).abs() < 1e-9);
    assert!((survey::sweep(&slider).inside_m - 0.6 * 70.0_f64.to_radians().sin()).abs() < 1e-9);
}

// ---- random geometry --------------------------------------------------------------------------------------------

fn mechanisms() -> impl Strategy<Value = Mechanism> {
    let drive = prop_oneof![
        Just(PanelDrive::VerticalSlider),
        Just(PanelDrive::HorizontalSlider),
        Just(PanelDrive::BothSliders),
        (0.0..1.0_f64, 0.0..90.0_f64).prop_map(|(at, slope_deg)| PanelDrive::Point { at, slope_deg }),
    ];
    let rods = (-0.5..0.5_f64, -0.3..0.5_f64, 0.02..0.4_f64, -0.05..0.05_f64).prop_map(
        |(frame_out_m, frame_along_m, panel_along_m, panel_behind_m)| Rod {
            frame_out_m,
            frame_along_m,
            panel_along_m,
            panel_behind_m,
        },
    );
    let slider =
        (drive, 0.2..1.0_f64, 0.0..0.1_f64, 0.2..0.8_f64, 0.0..0.5_f64, 0.0..0.5_f64, 0.0..40.0_f64, 41.0..90.0_f64)
            .prop_map(|(drive, length_m, overhang_m, mass_at, va, vb, from, to)| {
                Mechanism::DoubleSlider(DoubleSlider {
                    length_m,
                    overhang_m,
                    mass_at,
                    friction_vertical: va,
                    friction_horizontal: vb,
                    shut_angle_deg: from,
                    open_angle_deg: to,
                    ..a_slider(drive)
                })
            });
    let flap = (rods.clone(), 20.0..110.0_f64, 0.0..0.4_f64).prop_map(|(rod, open_angle_deg, hinge_friction)| {
        Mechanism::TopFlap(TopFlap { rod, open_angle_deg, hinge_friction, ..a_flap() })
    });
    let leaf = (rods, 20.0..110.0_f64, -3.0..3.0_f64).prop_map(|(rod, open_angle_deg, lean_deg)| {
        Mechanism::SideLeaf(SideLeaf { rod, open_angle_deg, lean_deg, ..a_leaf() })
    });
    let slide = (0.1..1.0_f64, -5.0..5.0_f64, 0.0..2.0_f64).prop_map(|(stroke_m, slope_deg, drive_offset_m)| {
        Mechanism::HorizontalSlide(HorizontalSlide { stroke_m, slope_deg, drive_offset_m, ..a_slide() })
    });
    let curtain = (0.1..1.0_f64, 0.0..3.0_f64, 0.01..0.05_f64, 0.0..0.01_f64).prop_map(
        |(stroke_m, bar_kg, tube_radius_m, thickness_m)| {
            Mechanism::RollerCurtain(RollerCurtain { stroke_m, bar_kg, tube_radius_m, thickness_m, ..a_curtain() })
        },
    );
    prop_oneof![slider, flap, leaf, slide, curtain]
}

/// The mechanism without any friction.
fn smooth(mechanism: &Mechanism) -> Mechanism {
    match mechanism.clone() {
        Mechanism::VerticalLift(lift) => Mechanism::VerticalLift(VerticalLift { guide_friction: 0.0, ..lift }),
        Mechanism::DoubleSlider(slider) => {
            Mechanism::DoubleSlider(DoubleSlider { friction_vertical: 0.0, friction_horizontal: 0.0, ..slider })
        }
        Mechanism::TopFlap(flap) => Mechanism::TopFlap(TopFlap { hinge_friction: 0.0, ..flap }),
        Mechanism::SideLeaf(leaf) => Mechanism::SideLeaf(SideLeaf { hinge_friction: 0.0, ..leaf }),
        Mechanism::HorizontalSlide(slide) => {
            Mechanism::HorizontalSlide(HorizontalSlide { roller_friction: 0.0, side_friction: 0.0, ..slide })
        }
        Mechanism::RollerCurtain(curtain) => Mechanism::RollerCurtain(RollerCurtain { guide_friction: 0.0, ..curtain }),
    }
}

/// Angle of a leaf from shut, rad, from its ends in plan: shut, it lies along the door line.
fn leaf_angle(hinge: (f64, f64), edge: (f64, f64)) -> f64 {
    (edge.0 - hinge.0).abs().atan2(hinge.1 - edge.1)
}

/// Height of the centre of mass, m, times mass: from the poses alone, not from the forces.
fn lifted_j(door: &Door, position: f64) -> f64 {
    let g = GRAVITY_M_S2;
    let [one, other] = mechanism::pose(door, position);
    match &door.mechanism {
        Mechanism::DoubleSlider(slider) => {
            let full = slider.length_m + slider.overhang_m;
            let share = (slider.overhang_m + slider.mass_at * slider.length_m) / full;
            door.mass_kg * g * (one.1 + share * (other.1 - one.1))
        }
        Mechanism::TopFlap(flap) => door.mass_kg * g * (one.1 + flap.mass_at * (other.1 - one.1)),
        Mechanism::HorizontalSlide(slide) => door.mass_kg * g * position * slide.slope_deg.to_radians().sin(),
        Mechanism::RollerCurtain(curtain) => {
            // Hanging cloth of h = Hc - l has its middle at Hc - h/2; what is wound up counts at the tube.
            let hanging = curtain.stroke_m - one.1;
            let cloth = door.mass_kg - curtain.bar_kg;
            let lost = cloth * hanging * hanging / (2.0 * curtain.stroke_m);
            g * (curtain.bar_kg * one.1 - lost)
        }
        Mechanism::SideLeaf(leaf) => {
            // The centre of mass climbs by half the width times the sine of the lean for each radian: the moment at its
            // largest all the way.
            let turned = leaf_angle(one, other);
            door.mass_kg * g * 0.5 * door.width_m * leaf.lean_deg.to_radians().sin() * turned
        }
        // Checked by hand in the tests of the door.
        Mechanism::VerticalLift(_) => 0.0,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Without friction the force is the rate of the potential energy (virtual work), by a central difference.
    #[test]
    fn virtual_work(mechanism in mechanisms(), share in 0.1..0.9_f64) {
        let door = bare(smooth(&mechanism), 5.0);
        let full = mechanism::stroke_m(&door);
        prop_assume!(full > 0.02);
        let (at, h) = (share * full, 1e-5 * full);
        let expected = (lifted_j(&door, at + h) - lifted_j(&door, at - h)) / (2.0 * h);
        if let Force::Push(force) = mechanism::asked_force(&door, Direction::Opening, at, &Loads::CALM, false) {
            // The difference has an error of h^2 and of rounding over h.
            prop_assert!((force - expected).abs() <= 1e-6 * expected.abs().max(50.0), "{force} not {expected}: {mechanism:?}");
        }
        // Back and forth between position and pose.
        prop_assert!((mechanism::edge_gain(&door, at)).is_finite());
    }

    /// Whatever the geometry: no not-a-number, and friction never helps (opening plus closing force is its work, twice).
    #[test]
    fn friction_takes(mechanism in mechanisms(), gust in 0.0..25.0_f64, seal in 0.0..40.0_f64) {
        let mut door = bare(mechanism, 5.0);
        (door.seal_n, door.seal_zone_m, door.breakaway) = (seal, 0.02, 1.4);
        let loads = Loads { gust_m_s: gust, ..Loads::CALM };
        let full = mechanism::stroke_m(&door);
        prop_assert!(full.is_finite() && full >= 0.0);
        for step in 0..=24 {
            let at = full * f64::from(step) / 24.0;
            let ask = |direction, starting| mechanism::asked_force(&door, direction, at, &loads, starting);
            let forces = [ask(Direction::Opening, false), ask(Direction::Closing, false)];
            if let [Force::Push(open), Force::Push(close)] = forces {
                prop_assert!(open.is_finite() && close.is_finite());
                prop_assert!(open + close >= -1e-7 * (open.abs() + close.abs()).max(1.0), "{open} {close} at {at} of {door:?}");
            }
            if let (Force::Push(moving), Force::Push(starting)) = (ask(Direction::Opening, false), ask(Direction::Opening, true)) {
                prop_assert!(starting >= moving - 1e-7 * moving.abs().max(1.0), "{starting} {moving} at {at} of {door:?}");
            }
            for figure in [
                mechanism::clear_height_m(&door, at),
                mechanism::clear_width_m(&door, at),
                mechanism::panel_deg(&door, at),
                mechanism::panel_inertia_kg(&door, at),
                mechanism::edge_force_n(&door, 100.0, at, &loads),
            ] {
                prop_assert!(figure.is_finite() && figure >= -1e-9, "{figure} at {at} of {door:?}");
            }
            let scenario = support::base();
            let line = Actuator::at(&scenario.drive, &scenario.supply, 20.0);
            let notice = Notice { force_n: 60.0, reaction_s: 0.1 };
            let contact = Contact::at(&door, &scenario.drive, &loads, at, 0.02, &line, notice);
            prop_assert!(contact.peak_force_n.is_finite() && contact.peak_force_n >= 0.0);
            prop_assert!(mechanism::pose(&door, at).iter().all(|(x, z)| x.is_finite() && z.is_finite()));
        }
        prop_assert!(survey::dead_zones(&door, &support::base().drive, Direction::Opening, &loads).len() <= STEPS);
    }

    /// Clear height never falls as the door opens.
    #[test]
    fn opening_opens(mechanism in mechanisms()) {
        let door = bare(mechanism, 5.0);
        let full = mechanism::stroke_m(&door);
        let mut before = (0.0, 0.0);
        for step in 0..=50 {
            let at = full * f64::from(step) / 50.0;
            let now = (mechanism::clear_height_m(&door, at), mechanism::clear_width_m(&door, at));
            let wider = matches!(door.mechanism, Mechanism::TopFlap(_)) || now.1 >= before.1 - 1e-9;
            prop_assert!(now.0 >= before.0 - 1e-9 && wider, "{now:?} after {before:?} in {door:?}");
            before = now;
        }
    }
}

/// The electrical energy of a stroke is what it lifts, rubs and heats; without friction the work is the height gained, to 0.1 %,
/// on every mechanism (the balance over the panel, from the poses).
#[test]
fn energy_closes_on_every_mechanism() {
    let base = support::base();
    let kinds = [
        Mechanism::DoubleSlider(a_slider(PanelDrive::HorizontalSlider)),
        Mechanism::DoubleSlider(DoubleSlider {
            shut_angle_deg: 10.0,
            open_angle_deg: 85.0,
            ..a_slider(PanelDrive::VerticalSlider)
        }),
        Mechanism::DoubleSlider(a_slider(PanelDrive::BothSliders)),
        Mechanism::DoubleSlider(a_slider(PanelDrive::Point { at: 0.7, slope_deg: 45.0 })),
        Mechanism::TopFlap(a_flap()),
        Mechanism::SideLeaf(SideLeaf { lean_deg: 2.0, ..a_leaf() }),
        Mechanism::HorizontalSlide(HorizontalSlide { slope_deg: 3.0, ..a_slide() }),
        Mechanism::RollerCurtain(a_curtain()),
    ];
    for kind in kinds {
        let door = bare(smooth(&kind), 5.0);
        let stroke = stroke::solve(&door, &base.drive, &base.supply, Direction::Opening, &Loads::CALM, 0.0);
        assert!(stroke.finishes(), "{kind:?} {:?}", stroke.outcome);
        let gained = lifted_j(&door, mechanism::stroke_m(&door)) - lifted_j(&door, 0.0);
        assert!((stroke.work_j - gained).abs() < 1e-3 * gained.abs(), "{} {gained} {kind:?}", stroke.work_j);
        let rough = stroke::solve(&bare(kind, 5.0), &base.drive, &base.supply, Direction::Opening, &Loads::CALM, 0.0);
        assert!(rough.work_j >= stroke.work_j);
        let sum = rough.work_j + rough.copper_heat_j + rough.cable_heat_j + rough.friction_heat_j;
        assert!((sum - rough.energy_j).abs() < 1e-3 * rough.energy_j);
    }
}

/// A scenario with each mechanism plays a season, and its table of strokes is complete.
#[test]
fn every_mechanism_has_its_table() {
    let base = support::base();
    for kind in [
        Mechanism::DoubleSlider(a_slider(PanelDrive::BothSliders)),
        Mechanism::TopFlap(a_flap()),
        Mechanism::SideLeaf(a_leaf()),
        Mechanism::HorizontalSlide(a_slide()),
        Mechanism::RollerCurtain(a_curtain()),
    ] {
        let door = Door { mechanism: kind, ..base.door.clone() };
        let table = StrokeTable::of(&door, &base.drive, &base.supply);
        let calm = table.get(Direction::Opening, &Loads::CALM);
        assert!(calm.finishes() && calm.time_s > 1.0, "{:?}: {:?}", door.mechanism, calm.outcome);
    }
}
