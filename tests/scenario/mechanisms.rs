//! Every kind of mechanism, drive and supply is read, printed and read again.

use dooryard::scenario::door::{Gear, Mechanism, Source};
use dooryard::scenario::keys::SECTIONS;
use dooryard::scenario::{Scenario, print, starter};

/// The starter scenario with sections replaced, and how it is printed.
fn with(sections: &[(&str, &str)]) -> (Scenario, String) {
    let mut text = starter("garden");
    for (header, body) in sections {
        let list = if *header == "drive.part" { format!("[[{header}]]") } else { format!("[{header}]") };
        let start = text.find(&format!("{list}\n")).unwrap_or(text.len());
        let end = text[start..].find("\n[").map_or(text.len(), |end| start + end + 1);
        text.replace_range(start..end, &format!("{list}\n{body}\n"));
    }
    let loaded = super::load_bytes(text.as_bytes());
    let scenario = loaded.unwrap_or_else(|problems| panic!("{problems}\n{text}")).scenario;
    let printed = print(&scenario);
    let again =
        super::load_bytes(printed.as_bytes()).unwrap_or_else(|problems| panic!("{problems}\n{printed}")).scenario;
    assert_eq!(again, scenario, "{printed}");
    (scenario, printed)
}

const ROD: &str = "rod_frame_out = \"-300 mm\"\nrod_frame_along = \"200 mm\"\nrod_panel_along = \"130 mm\"\nrod_panel_behind = \"20 mm\"\n";

/// Every key of these sections has been printed.
fn all_keys(sections: &[&str], printed: &str) {
    for key in SECTIONS.iter().filter(|section| sections.contains(&section.path)).flat_map(|section| section.keys) {
        assert!(printed.contains(&format!("{} = ", key.name)), "{}", key.name);
    }
}

#[test]
fn mechanisms() {
    let kinds = [
        "kind = \"double slider\"\nlength = \"0.6 m\"\nopen_angle = \"75 deg\"\ndrive_at = \"point\"\npoint = 0.7\nspring = \"20 N\"".to_string(),
        "kind = \"double slider\"\nlength = \"0.6 m\"\nopen_angle = \"75 deg\"\ndrive_at = \"both sliders\"".to_string(),
        format!("kind = \"top flap\"\nlength = \"0.4 m\"\nhinge_height = \"0.45 m\"\nopen_angle = \"80 deg\"\n{ROD}gas_spring = \"60 N\""),
        format!("kind = \"side leaf\"\nhinge_span = \"0.3 m\"\nopen_angle = \"90 deg\"\nopens = \"inwards\"\n{ROD}"),
        "kind = \"horizontal slide\"\nstroke = \"0.6 m\"\nguide_length = \"0.5 m\"".to_string(),
        "kind = \"roller curtain\"\nstroke = \"0.4 m\"\nbar = \"1.5 kg\"".to_string(),
    ];
    let mut printed = with(&[]).1;
    for kind in &kinds {
        let (scenario, text) = with(&[("door.mechanism", kind)]);
        printed.push_str(&text);
        let name = match scenario.door.mechanism {
            Mechanism::VerticalLift(_) => "vertical lift",
            Mechanism::DoubleSlider(_) => "double slider",
            Mechanism::TopFlap(flap) => {
                assert!(flap.gas_spring.is_some_and(|spring| spring.force_n == 60.0));
                "top flap"
            }
            Mechanism::SideLeaf(_) => "side leaf",
            Mechanism::HorizontalSlide(_) => "horizontal slide",
            Mechanism::RollerCurtain(_) => "roller curtain",
        };
        assert!(kind.contains(name));
    }
    all_keys(&["door.mechanism"], &printed);
}

#[test]
fn drives_supplies_and_bus() {
    let motor =
        "motor_speed = \"50 Hz\"\nmotor_torque = \"0.15 N*m\"\nmotor_inertia = \"5e-6 kg*m2\"\ngear_ratio = 10\n";
    let rest = "nominal_voltage = \"24 V\"\nrated_force = \"200 N\"\nno_load_current = \"0.4 A\"\nstall_current = \"5 A\"\nduty_factor = 0.1\nsoft_start = \"0.3 s\"\n";
    let screw =
        format!("kind = \"screw\"\n{motor}lead = \"3 mm\"\nscrew_diameter = \"10.5 mm\"\npushes = true\n{rest}");
    let (scenario, mut printed) = with(&[
        ("drive", &screw),
        ("supply", "source = \"network\"\nclass = 6\nvoltage = \"24 V\"\nbuffer = \"5 J\""),
        (
            "drive.part",
            "name = \"bearing\"\nrated_strokes = 1e6\nrating = \"mean\"\n\n[[drive.part]]\nname = \"nut\"\nkind = \"nut\"\nwear_factor = \"2e-7 mm3/N/m\"\nlead = \"3 mm\"\nmean_diameter = \"10.5 mm\"\nthread_height = \"1.5 mm\"\nturns = 8\n\n[[drive.part]]\nname = \"relay\"\nkind = \"relay\"\nrated_current = \"5 A\"",
        ),
        ("bus", "mode = \"fast plus\"\n\n[[bus.device]]\nsensor = \"eye\"\naddress = 41"),
    ]);
    assert!(matches!(scenario.drive.gear, Gear::Screw(..)) && scenario.drive.self_locking);
    assert_eq!((scenario.supply.source, scenario.supply.limit_w), (Source::Network(6), 51.0));
    let bus = scenario.bus.expect("a bus");
    assert_eq!((bus.devices.len(), bus.devices[0].address), (1, 41));
    let drum = format!(
        "kind = \"drum\"\n{motor}drum_diameter = \"40 mm\"\npushes = false\nself_locking = false\n{}",
        // What 0.15 N m, ten turns and the gear give on a radius of 20 mm is less than a screw gives.
        rest.replace("200 N", "40 N")
    );
    let (scenario, text) = with(&[
        ("drive", &drum),
        (
            "supply",
            "source = \"solar\"\nlimit = \"100 W\"\nbattery = \"120 Wh\"\npanel = \"30 W\"\nsun = \"2 h\"\nvoltage = \"12 V\"",
        ),
    ]);
    assert!(matches!(scenario.drive.gear, Gear::Drum(..)) && scenario.bus.is_none());
    printed.push_str(&text);
    printed.push_str(&with(&[]).1);
    all_keys(&["drive", "drive.part", "supply", "bus", "bus.device"], &printed);
    assert!((scenario.drive.no_load_speed_m_s - std::f64::consts::PI * 0.04 * 5.0).abs() < 1e-12);
}
