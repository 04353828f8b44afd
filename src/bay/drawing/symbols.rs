//! Symbols of the trade, drawn after the ideas of IEC 60617: the cross of a circuit breaker, the bar of an isolator, the
//! crossed circle of a lamp.

use super::pen::{Pen, Spot};
use crate::bay::{Connection, DeviceKind, Setting};

/// Width of a pole between its ends.
pub(super) const POLE: f64 = 40.0;

/// Half the distance of the two strappers.
pub(super) const APART: f64 = 20.0;

impl Pen<'_> {
    /// One pole, from left to right; its blade lies in the line when on and stands off when off.
    pub fn pole(&mut self, (x, y): Spot, kind: DeviceKind, on: bool) {
        self.circle((x, y), 2.5, true);
        let tip = if on { (x + POLE, y) } else { (x + POLE - 4.0, y - 16.0) };
        self.stroke(&[(x, y), tip]);
        let end = x + POLE;
        match kind {
            DeviceKind::Breaker | DeviceKind::Rcbo | DeviceKind::Rcd => {
                self.stroke(&[(end - 5.0, y - 5.0), (end + 5.0, y + 5.0)]);
                self.stroke(&[(end - 5.0, y + 5.0), (end + 5.0, y - 5.0)]);
            }
            DeviceKind::MainSwitch | DeviceKind::Isolator => self.stroke(&[(end, y - 7.0), (end, y + 7.0)]),
            DeviceKind::FuseSwitch => self.fuse((x + 8.0, y), on),
        }
    }

    /// A fuse on the blade of its switch.
    fn fuse(&mut self, (x, y): Spot, on: bool) {
        if on {
            self.frame((x, y - 5.0), 20.0, 10.0);
        }
        self.stroke(&[(x + POLE - 8.0, y - 7.0), (x + POLE - 8.0, y + 7.0)]);
    }

    /// A one-way switch between two ends of one line.
    pub fn one_way(&mut self, (x, y): Spot, setting: Setting) {
        self.circle((x, y), 3.5, false);
        self.circle((x + POLE, y), 3.5, false);
        let tip = if setting == Setting::Second { (x + POLE - 4.0, y - 1.0) } else { (x + POLE - 6.0, y - 18.0) };
        self.stroke(&[(x + 3.0, y - 2.0), tip]);
    }

    /// A two-way switch: its common on the line, its other terminals on the strappers; to the right of the common at the
    /// first switch, to the left at the last.
    pub fn two_way(&mut self, common: Spot, strappers_at: f64, setting: Setting) {
        let (x, y) = common;
        let side = (strappers_at - x).signum();
        self.circle(common, 3.5, true);
        for height in [-APART, APART] {
            self.circle((strappers_at, y + height), 3.5, false);
        }
        let height = if setting == Setting::First { -APART } else { APART };
        self.stroke(&[common, (strappers_at - side * 3.0, y + height - height.signum() * 2.0)]);
    }

    /// An intermediate switch: straight through or crossed over.
    pub fn intermediate(&mut self, (x, y): Spot, width: f64, setting: Setting) {
        for height in [-APART, APART] {
            self.circle((x, y + height), 3.5, false);
            self.circle((x + width, y + height), 3.5, false);
            let far = if setting == Setting::First { height } else { -height };
            let lean = if setting == Setting::First { 0.0 } else { height.signum() * -1.5 };
            self.stroke(&[(x + 3.0, y + height + lean), (x + width - 3.0, y + far - lean)]);
        }
    }

    /// A lamp between two lines; an empty holder when the lamp is out.
    pub fn lamp(&mut self, (x, y): Spot, lamp_in: bool) {
        const RADIUS: f64 = 11.0;
        if lamp_in {
            self.circle((x, y), RADIUS, false);
            let arm = RADIUS * std::f64::consts::FRAC_1_SQRT_2;
            self.stroke(&[(x - arm, y - arm), (x + arm, y + arm)]);
            self.stroke(&[(x - arm, y + arm), (x + arm, y - arm)]);
        } else {
            let side = 9.0;
            self.linkage(&[
                (x - side, y - side),
                (x + side, y - side),
                (x + side, y + side),
                (x - side, y + side),
                (x - side, y - side),
            ]);
        }
    }

    /// A motor or an appliance.
    pub fn load(&mut self, (x, y): Spot, connection: Connection) {
        match connection {
            Connection::LineNeutral => self.frame((x - 7.0, y - 14.0), 14.0, 28.0),
            Connection::Star | Connection::Delta => {
                self.circle((x, y), 14.0, false);
                self.bold((x, y + 5.0), super::pen::Anchor::Middle, "M");
            }
        }
    }

    /// Where the earth conductor is earthed.
    pub fn earth(&mut self, (x, y): Spot) {
        for (at, half) in [(0.0, 9.0), (5.0, 6.0), (10.0, 3.0)] {
            self.stroke(&[(x - half, y + 10.0 + at), (x + half, y + 10.0 + at)]);
        }
        self.stroke(&[(x, y), (x, y + 10.0)]);
    }

    /// An exclamation mark in a circle: here is the fault that the text tells of.
    pub fn mark(&mut self, (x, y): Spot) {
        use std::fmt::Write;
        let _ = writeln!(self.out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"9\" fill=\"currentColor\"/>");
        let _ = writeln!(
            self.out,
            "<text x=\"{x}\" y=\"{}\" text-anchor=\"middle\" font-weight=\"700\" fill=\"Canvas\">!</text>",
            y + 4.5
        );
    }
}
