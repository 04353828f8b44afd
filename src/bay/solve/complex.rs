//! Complex numbers, as far as phasors need them.

use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// A phasor, an impedance or an admittance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Complex {
    pub re: f64,
    pub im: f64,
}

impl Complex {
    pub const ZERO: Self = Self { re: 0.0, im: 0.0 };
    pub const ONE: Self = Self { re: 1.0, im: 0.0 };

    pub const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// A real number.
    pub const fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    /// From magnitude and angle in degrees.
    pub fn polar(magnitude: f64, degrees: f64) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self { re: magnitude * cos, im: magnitude * sin }
    }

    /// The magnitude.
    pub fn abs(self) -> f64 {
        self.re.hypot(self.im)
    }

    /// One over it. The networks here keep every number that is inverted away from 0.
    pub fn inverse(self) -> Self {
        let square = self.re * self.re + self.im * self.im;
        Self { re: self.re / square, im: -self.im / square }
    }

    pub(super) fn is_zero(self) -> bool {
        self.re == 0.0 && self.im == 0.0
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { re: self.re + other.re, im: self.im + other.im }
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { re: self.re - other.re, im: self.im - other.im }
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}

impl Neg for Complex {
    type Output = Self;
    fn neg(self) -> Self {
        Self { re: -self.re, im: -self.im }
    }
}

impl AddAssign for Complex {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Complex {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}
