//! `[door.mechanism]`: how the panel is guided, one struct per kind.
//!
//! The drive's figures (speed, force) hold at the place where the drive acts: the panel of a lift or a slide, the
//! driven slider or point of a double slider, the rod of a flap or a leaf, the bare tube of a roller curtain.

/// How the panel is guided. Each kind has its own file in `shelter::mechanism`.
#[derive(Clone, Debug, PartialEq)]
pub enum Mechanism {
    /// The panel rises in two side guides, balanced by a counterweight over a pulley.
    VerticalLift(VerticalLift),
    /// A rigid panel with one end on a vertical and the other on a horizontal guide (elliptic trammel).
    DoubleSlider(DoubleSlider),
    /// A flap hinged at its upper edge, pushed by a rod.
    TopFlap(TopFlap),
    /// A leaf hinged at its side, pushed by a rod.
    SideLeaf(SideLeaf),
    /// A panel that slides sideways on rollers.
    HorizontalSlide(HorizontalSlide),
    /// A curtain wound onto a tube above the opening.
    RollerCurtain(RollerCurtain),
}

/// Vertical lift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VerticalLift {
    /// Stroke, m; the clear height it gives.
    pub stroke_m: f64,
    /// Counterweight mass, kg (0 for none).
    pub counterweight_kg: f64,
    /// Number of pulleys the cord runs over.
    pub pulleys: u32,
    /// Efficiency of one pulley, 0.5 to 1.
    pub pulley_efficiency: f64,
    /// Friction coefficient of the guides.
    pub guide_friction: f64,
    /// Engaged guide length, m.
    pub guide_length_m: f64,
    /// Offset of the drive force from the guide axis, m.
    pub drive_offset_m: f64,
}

/// Where the drive takes hold of a double slider.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PanelDrive {
    /// It lifts the slider on the vertical guide.
    VerticalSlider,
    /// It pulls the slider on the horizontal guide inwards.
    HorizontalSlider,
    /// It pulls both with the same force: a chain or cord from one over the corner to the other, taken in between.
    BothSliders,
    /// It pulls a point along the panel in a fixed direction.
    Point {
        /// Where, as a share of the distance between the sliders from the vertical guide's, 0 to 1.
        at: f64,
        /// Direction above the horizontal, 0 (inwards) to 90 (upwards), degrees.
        slope_deg: f64,
    },
}

/// Double slider. Angles are those of the line between the sliders, from the vertical.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoubleSlider {
    /// Distance between the two sliders along the panel, m.
    pub length_m: f64,
    /// How far the panel reaches below the slider on the vertical guide, m.
    pub overhang_m: f64,
    /// Centre of mass along the panel, as a share of the length from the slider on the vertical guide, 0 to 1.
    pub mass_at: f64,
    /// Friction coefficient at the vertical guide (a wheel: 0.01 to 0.08).
    pub friction_vertical: f64,
    /// Friction coefficient at the horizontal guide.
    pub friction_horizontal: f64,
    /// Angle of the shut panel, degrees (0 hangs).
    pub shut_angle_deg: f64,
    /// Angle of the open panel, degrees (90 lies).
    pub open_angle_deg: f64,
    /// Where the drive takes hold.
    pub drive: PanelDrive,
    /// Counterweight that lifts the slider on the vertical guide, kg (0 for none).
    pub counterweight_kg: f64,
    /// Spring that pushes the slider on the horizontal guide inwards when the panel is shut, N (0 for none).
    pub spring_n: f64,
    /// Travel of that slider over which the spring's force fades to nothing, m.
    pub spring_travel_m: f64,
}

/// Which way a hinged panel opens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Swing {
    /// Away from the dock.
    Outwards,
    /// Into the shelter.
    Inwards,
}

/// A rod (linear actuator or gas spring) between a fixed pivot and one on a hinged panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rod {
    /// Fixed pivot: distance from the hinge in the direction in which the panel opens, m (negative: on the other side).
    pub frame_out_m: f64,
    /// Fixed pivot: distance from the hinge along the shut panel, m (negative: beyond the hinge).
    pub frame_along_m: f64,
    /// Panel pivot: distance from the hinge along the panel, m.
    pub panel_along_m: f64,
    /// Panel pivot: distance behind the panel, on the side away from the opening swing, m.
    pub panel_behind_m: f64,
}

/// A gas spring that helps to open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasSpring {
    /// Where it is mounted.
    pub rod: Rod,
    /// Force extended (panel open) at 20 degC, N.
    pub force_n: f64,
    /// Force compressed over force extended, 1 to 2.
    pub ratio: f64,
    /// Its own friction, N.
    pub friction_n: f64,
}

/// Flap hinged at the top.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TopFlap {
    /// Which way it opens.
    pub opens: Swing,
    /// Length of the flap below the hinge, m.
    pub length_m: f64,
    /// Height of the hinge above the sill, m.
    pub hinge_height_m: f64,
    /// Centre of mass as a share of the length from the hinge, 0 to 1.
    pub mass_at: f64,
    /// Opening angle, degrees.
    pub open_angle_deg: f64,
    /// Friction coefficient of the hinge.
    pub hinge_friction: f64,
    /// Radius of the hinge pin, m.
    pub pin_radius_m: f64,
    /// The actuator's rod.
    pub rod: Rod,
    /// Gas spring, if any.
    pub gas_spring: Option<GasSpring>,
}

/// Leaf hinged at the side, as wide and high as the opening. Its rod lies in plan, with "along" measured from the hinge across the opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideLeaf {
    /// Which way it opens.
    pub opens: Swing,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Opening angle, degrees.
    pub open_angle_deg: f64,
    /// Friction coefficient of the hinges.
    pub hinge_friction: f64,
    /// Radius of the hinge pins, m.
    pub pin_radius_m: f64,
    /// Mean radius of the hinge's thrust face, m.
    pub thrust_radius_m: f64,
    /// Distance between the two hinges, m.
    pub hinge_span_m: f64,
    /// Lean of the hinge axis that makes the leaf climb as it opens, degrees; its moment is taken as if always at its
    /// largest.
    pub lean_deg: f64,
    /// The actuator's rod.
    pub rod: Rod,
}

/// Panel that slides sideways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HorizontalSlide {
    /// Stroke, m; the clear width it gives.
    pub stroke_m: f64,
    /// Rolling friction coefficient of the rollers under the weight.
    pub roller_friction: f64,
    /// Friction coefficient of the side guides.
    pub side_friction: f64,
    /// Rise of the track in the opening direction, degrees.
    pub slope_deg: f64,
    /// Engaged guide length, m.
    pub guide_length_m: f64,
    /// Offset of the drive force from the guide axis, m.
    pub drive_offset_m: f64,
}

/// Roller curtain. The panel's mass is that of curtain and bottom bar together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollerCurtain {
    /// Height that is wound up when open, m; the clear height.
    pub stroke_m: f64,
    /// Mass of the bottom bar, kg.
    pub bar_kg: f64,
    /// Radius of the bare tube, m.
    pub tube_radius_m: f64,
    /// Thickness of the curtain, m.
    pub thickness_m: f64,
    /// Friction coefficient of the side guides under wind.
    pub guide_friction: f64,
}
