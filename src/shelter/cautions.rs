//! Cautions to print beside every result about the door.
//!
//! They name the kind of rule that applies to powered doors. The tool certifies nothing.

/// Cautions, in the order to print them.
pub const CAUTIONS: &[&str] = &[
    "These figures are a screening estimate for planning. They are not a safety assessment of a powered door.",
    "A powered panel can crush, shear and trap. Keep children and animals away while it moves; rules of the kind of EN 12453, UL 325 and IEC 60335-2-103 exist for this and are not checked here.",
    "Plan two independent protections, such as a contact edge and a light beam, and stop the door when either is lost. A force or current limit alone acts too late on a hard edge.",
    "Plan a manual release that works from inside and from outside without power.",
    "Do not stand or reach under a raised panel that is held only by a cord, a spring or a drive that is not self-locking.",
    "Counterweights and springs store energy: secure the panel before working on them.",
    "Leave mains wiring to a licensed electrician and keep the shelter side at extra-low voltage.",
    "A battery can give a short circuit hundreds of amperes and may not be charged in frost: fuse it at its terminal, house it as its maker says, and keep it away from where water stands.",
    "Glass and acrylic break into edges: a panel, a window or a solar panel within reach needs safety glazing of the kind that local codes ask for in doors.",
    "The mower's blade must stand still before the door moves and while the mower passes it.",
    "Local codes and licensed practice prevail over every number here.",
];
